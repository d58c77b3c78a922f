from gateway.sitefile import load
from sim_devices.demo import SITE_FILE


def test_the_demos_site_file_loads_with_its_labels() -> None:
    setup = load(SITE_FILE)
    assert {basin.label for basin in setup.file.basin} <= set(setup.book.labels)
