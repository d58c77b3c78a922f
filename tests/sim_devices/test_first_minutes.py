"""The demo's first minutes: what is certain to be seen, and what the engine makes of it."""

from collections import Counter
from collections.abc import Mapping
from itertools import groupby
from typing import get_args

import pytest

from rules.alert_events import AlertRaised
from rules.events import Event, PowerUpValue, SoakEnded
from rules.picture import Picture
from rules.probe_events import ProbeEvent, ProbeSeen, ProbeSoaked, ProbeStands
from rules.probe_words import Fitness, Place
from rules.readings import GATEWAY_LINK, SECOND, Micros, Reading, SensorKind
from rules.ruleset import load_book
from rules.site import Label, Site
from rules.solution import Reason
from rules.verdict import Outcome
from sim_devices.chance import Chance
from sim_devices.demo import SEED, first_minutes, opened, relived
from sim_devices.diary import Diary
from sim_devices.troubles.look import Look
from sim_devices.ward.first_deeds import first_deeds
from sim_devices.ward.ward import Ward
from tests.rules.feeder import LABELS, STANDARD
from tests.sim_devices.conftest import EPOCH
from tests.sim_devices.hearing import Hearing

MINUTES = Micros(EPOCH + 240 * SECOND)


def begun(site: Site, labels: Mapping[str, Label]) -> Hearing:
    """The demo as it starts: what people did before is entered now; what devices remember comes after."""
    diary = Diary(seed=SEED, epoch=EPOCH)
    simulation = relived(site, labels, diary, EPOCH)
    week = Hearing(simulation, load_book(site, STANDARD, LABELS), look=Micros(10 * SECOND))
    told = simulation.entries(opened(diary), EPOCH)
    week.apply([Reading(GATEWAY_LINK, EPOCH, EPOCH, value=True, timed=False)])
    week.apply(entry.model_copy(update={"arrived": EPOCH}) for entry in told)
    return week


@pytest.fixture(scope="module")
def week(site: Site, labels: Mapping[str, Label]) -> Hearing:
    found = begun(site, labels)
    for _ in found.run(EPOCH, MINUTES):
        pass
    return found


@pytest.fixture(scope="module")
def events(week: Hearing) -> list[Event]:
    return week.events


@pytest.fixture(scope="module")
def pictured(week: Hearing) -> Picture:
    return week.engine.picture()


def raised(events: list[Event], rule: str) -> list[str]:
    return [event.text for event in events if isinstance(event, AlertRaised) and event.rule == rule]


# ---- the demo's site ----------------------------------------------------------------------------------------------


def test_the_demo_has_carts_probes_basins_and_sensors_enough(site: Site, week: Hearing) -> None:
    assert len(site.cart) >= 6
    assert all(len([p for p in site.probe if p.cart == cart.id]) == 3 for cart in site.cart)
    assert sorted(b.station for b in site.basin) == ["reprocessing-room"] * 2 + ["trauma-bay-sink"] * 2
    assert len([s for s in site.sensors().values() if s.kind is not SensorKind.LINK]) >= 55
    mute = {s.thing for s in site.sensors().values()} - set(week.simulation.things)
    assert mute == {"gateway"}


def test_every_deed_of_the_first_minutes_can_be_done(site: Site, labels: Mapping[str, Label]) -> None:
    ward = Ward(site, labels, EPOCH, Chance(SEED))
    for deed in first_deeds(ward):
        ward.do(EPOCH, deed)
    steps = first_minutes(EPOCH)
    for at, deed in steps:
        ward.do(at, deed)
    assert len(steps) > 80


# ---- what the engine sees -----------------------------------------------------------------------------------------


def test_two_soaks_end_one_met_and_one_too_short(events: list[Event]) -> None:
    # 8 and 12 minutes: rules/labels.csv, hydrogen-peroxide-2.0 and opa-0.55-manual.
    ended = {event.basin: event.verdict.outcome for event in events if isinstance(event, SoakEnded)}
    assert ended == {"basin-1": Outcome.EXPOSURE_MET, "basin-2": Outcome.TOO_SHORT}


def test_a_soak_goes_on_that_nobody_read_a_strip_for(pictured: Picture) -> None:
    lacking = {basin.id: basin.soak.lacking for basin in pictured.basins if basin.soak is not None}
    assert lacking["basin-4"] == (Reason.STRIP_MISSING,)
    assert lacking["basin-2"] == lacking["basin-3"] == ()


def test_what_goes_wrong_is_told_once_each(events: list[Event]) -> None:
    rules = Counter(event.rule for event in events if isinstance(event, AlertRaised))
    expected = ("soak-cold", "soak-too-short", "cord-down-rolling", "probe-rolls-away", "probe-used-again")
    assert {rule: rules[rule] for rule in (*expected, "sensor-silent")} == dict.fromkeys(
        (*expected, "sensor-silent"), 1
    )
    assert raised(events, "sensor-silent") == ["Cart 5: no signal from hook of the linear cord"]
    others = {rule for rule in rules if rule.startswith(("probe", "soak", "wipe", "gel", "cord", "cart"))}
    assert others <= {*expected, "soak-never-done"}
    assert rules["sensor-implausible"] == 0


def test_a_probe_goes_from_its_exam_to_ready(events: list[Event]) -> None:
    of_probe = [event for event in events if isinstance(event, get_args(ProbeEvent)) and event.probe == "phased-1"]
    known = sorted((e for e in of_probe if not isinstance(e, ProbeStands)), key=lambda event: event.measured)
    seen = [event.place for event in known if isinstance(event, ProbeSeen) and event.place is not Place.IN_HANDS]
    assert [place for place, _ in groupby(seen)] == [Place.SINK, Place.BASIN, Place.SINK, Place.HOOK]
    assert any(isinstance(event, ProbeSoaked) and event.verdict.outcome.is_met for event in known)
    assert [event.fitness for event in of_probe if isinstance(event, ProbeStands)][-1] is Fitness.READY


def test_one_probe_is_used_again_while_it_owes(events: list[Event]) -> None:
    assert raised(events, "probe-used-again") == ["Curved probe 8: used again, disinfection not known (Cart 8)"]


def test_one_probe_is_hung_back_on_a_cart_that_rolls_away(events: list[Event]) -> None:
    assert raised(events, "probe-rolls-away") == ["Cart 7: moved, disinfection not known (Phased probe 7)"]


def test_a_thermometer_that_loses_power_is_not_taken_for_a_hot_basin(events: list[Event]) -> None:
    assert [event.sensor for event in events if isinstance(event, PowerUpValue)] == ["basin-3/temperature"]


def test_most_probes_are_ready(pictured: Picture) -> None:
    fitness = Counter(probe.standing.fitness for probe in pictured.probes)
    assert fitness[Fitness.READY] >= 16
    assert fitness[Fitness.NOT_PROVEN] <= 4


def test_a_probe_that_is_said_to_be_ready_is(week: Hearing, pictured: Picture) -> None:
    standings = Look.back(week.simulation.ward, Micros(MINUTES + 1)).standings
    for probe in pictured.probes:
        truth = standings[probe.id].truth(MINUTES)
        # Off its hook for 15 s, nobody can tell an exam from a cord put in order (rules/standard.toml).
        just_taken = truth.at_patient and truth.place is probe.standing.place is Place.IN_HANDS
        assert truth.is_fit or just_taken or probe.standing.fitness is not Fitness.READY
