"""A scenario at a real broker, in a journal, and in another ward than its own."""

from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from gateway.cli import main
from gateway.recording import Recording, law_of
from gateway.sitefile import parse
from rules.alert_events import AlertRaised
from rules.site import Site
from sim_devices.running.hospital import hospital_text
from sim_devices.scenarios.library import shipped
from sim_devices.scenarios.placed import site_text
from sim_devices.troubles.episode import Trouble
from sim_devices.troubles.table import TRUTH_FILE, read_truth
from tests.gateway.forked import Errors, command
from tests.sim_devices.running.test_at_broker import Heard

if TYPE_CHECKING:
    from tests.gateway.conftest import Listen, Mosquitto

PULLED = """
[scenario]
title = "A plug is pulled"
about = "At once."
lasts = "1:00"

[[step]]
at = "0:01"
do = "mains"
cart = "cart-2"
plugged_in = false
"""


def _said(*words: str | Path, code: int = 0) -> str:
    done = CliRunner().invoke(main, ["simulate", *map(str, words)])
    assert done.exit_code == code, done.output
    return done.output


def test_a_scenario_of_ones_own_happens_at_a_broker_at_once(
    tmp_path: Path, mosquitto: "Mosquitto", listen: "Listen"
) -> None:
    file = tmp_path / "pulled.toml"
    file.write_text(PULLED, encoding="utf-8")
    ear = listen(mosquitto.url, "sinkside/small/+/+")
    ear.await_link("up")
    with command(["simulate", "--scenario", file, "--mqtt", mosquitto.url], errors=Errors.OURS) as running:
        assert "Simulates Small ward" in running.stdout.readline()
        heard = Heard(law_of(site_text(shipped("quiet-night"))), ear)
        heard.await_reading("cart-2/mains", False)  # noqa: FBT003 - a reading's value


@pytest.fixture(scope="module")
def hospital(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("hospital") / "hospital.toml"
    path.write_text(hospital_text(1, 1), encoding="utf-8")
    return path


@pytest.mark.parametrize("own", [True, False])
def test_a_scenario_is_written_into_a_journal_with_the_truth_beside_it(
    tmp_path: Path, hospital: Path, *, own: bool
) -> None:
    folder = tmp_path / "data"
    site = [] if own else [hospital]
    _said(*site, "--scenario", "cord-down-rolling", "--into", folder)
    with Recording.open(folder) as days:
        raised = [event for event in days.alerts() if isinstance(event, AlertRaised)]
        assert days.laws[0].law.site.site.id == ("small" if own else "generated")
    assert ("cord-down-rolling", "cart cart-1") in {(alert.rule, alert.subject) for alert in raised}
    truths = read_truth(folder / TRUTH_FILE)
    assert truths.run.made_by == "scenario cord-down-rolling"
    assert Trouble.CORD_DOWN_ROLLING in {episode.trouble for episode in truths.episodes}


@pytest.mark.parametrize("name", ["wrong-basin", "wipe-down-forgotten", "heater-fails-mid-soak"])
def test_the_ward_of_a_scenario_is_a_site_file_that_reads_the_same(name: str) -> None:
    scenario = shipped(name)
    told = parse(site_text(scenario), Path("own.toml")).file
    assert {key: getattr(told, key) for key in Site.model_fields} == dict(scenario.site)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("HOSPITAL --scenario rolls-plugged-in", "'cart-2'"),
        (
            "HOSPITAL --scenario wrong-basin",
            "step 1 of scenario 'wrong-basin' cannot be done at 'generated': there is no",
        ),
        ("--scenario no-such-one", "no situation is called 'no-such-one'"),
        ("--scenario none.toml", "none.toml: cannot be read"),
        ("--scenario quiet-night --days 2", "leave --habits and --days out"),
        ("--carts 2 --scenario quiet-night", "Name a site file, or a hospital to be generated"),
    ],
)
def test_what_cannot_take_place_is_told_in_a_sentence(words: str, told: str, hospital: Path, tmp_path: Path) -> None:
    given = words.replace("HOSPITAL", str(hospital)).split()
    done = CliRunner().invoke(main, ["simulate", *given, "--into", str(tmp_path / "data")])
    assert done.exit_code in (1, 2)
    assert told in done.output
    assert "Traceback" not in done.output
    assert not (tmp_path / "data").exists()
