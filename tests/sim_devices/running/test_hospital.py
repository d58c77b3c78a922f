"""A hospital of any size, generated."""

import pytest

from gateway.recording import law_of
from sim_devices.running.hospital import hospital_text


@pytest.mark.parametrize(("carts", "basins"), [(1, 1), (60, 8)])
def test_a_generated_hospital_is_a_site_file_of_that_size(carts: int, basins: int) -> None:
    site = law_of(hospital_text(carts, basins)).site
    assert (len(site.cart), len(site.basin), len(site.probe)) == (carts, basins, 3 * carts)
    assert {probe.id: (probe.cart, probe.cord) for probe in site.probe}["linear-1"] == ("cart-1", "linear")


def test_the_same_numbers_give_the_same_hospital() -> None:
    assert hospital_text(4, 5) == hospital_text(4, 5)
    assert hospital_text(4, 5) != hospital_text(5, 4)
