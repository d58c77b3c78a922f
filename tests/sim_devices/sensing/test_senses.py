from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.readings import SensorId
from sim_devices.sensing.sample import Sample
from sim_devices.ward import deeds
from sim_devices.ward.deeds import DEED, Deed
from sim_devices.ward.ward import Ward
from tests.sim_devices.sensing.sensed import EPOCH, a_ward, at, senses_of

HOUR = 3600

EVENTS: tuple[tuple[float, Deed], ...] = (
    (5, deeds.OpenLid(basin="basin-1")),
    (12, deeds.Pour(basin="basin-1", celsius=19)),
    (20, deeds.CloseLid(basin="basin-1")),
    (60, deeds.Mains(cart="cart-1", plugged_in=False)),
    (100, deeds.Roll(cart="cart-1")),
    (101.3, deeds.Roll(cart="cart-2")),
    (130, deeds.Halt(cart="cart-1")),
    (171, deeds.Halt(cart="cart-2")),
    (200, deeds.Bump(cart="cart-1")),
    (200.9, deeds.Bump(cart="cart-2")),
    (210, deeds.Drop(probe="curved-1")),
    (220, deeds.TakeDown(cart="cart-1", cord="a")),
    (240, deeds.Touch.model_validate({"probe": "curved-1", "surface": "skin", "marked": "button"})),
    (300, deeds.OpenLid(basin="basin-1")),
    (302, DEED.validate_python({"do": "bring", "probe": "curved-1", "place": "basin", "thing": "basin-1"})),
    (304, deeds.CloseLid(basin="basin-1")),
    (400, deeds.Power(thing="basin-1", on=False)),
    (409, deeds.Power(thing="basin-1", on=True)),
    (600, deeds.Defect(sensor=SensorId("basin-1/temperature"), how="stuck")),
    (700, deeds.Defect(sensor=SensorId("cart-1/hook-b"), how="silent")),
    (800, deeds.Defect(sensor=SensorId("basin-1/tags"), how="loses", by=0.5)),
    (900, deeds.Defect(sensor=SensorId("basin-1/temperature"), how="off", by=1.5)),
    (1000, deeds.Charge(thing="cart-1", percent=0.001)),
    (1300, deeds.Charge(thing="cart-1", percent=50)),
    (1400, deeds.Spill(station="soak-room", ppm=3)),
    (1490, deeds.OpenLid(basin="basin-1")),
    (1500, deeds.HangUp(cart="cart-1", cord="a")),
)


@pytest.fixture(scope="module")
def ward() -> Ward:
    """A ward in which a bit of everything happens within half an hour."""
    ward = a_ward()
    for seconds, deed in EVENTS:
        ward.do(at(seconds), deed)
    return ward


class Whole:
    """All samples of the hour, by thing, taken in one go."""

    of: dict[str, list[Sample]]

    def __init__(self, ward: Ward) -> None:
        senses = senses_of(ward)
        self.of = {thing: senses.samples(thing, EPOCH, at(HOUR)) for thing in senses.things}

    def __repr__(self) -> str:
        return "Whole"


@pytest.fixture(scope="module")
def whole(ward: Ward) -> Whole:
    return Whole(ward)


@given(st.lists(st.integers(0, HOUR * 1000), max_size=12), st.sampled_from(EVENTS))
@settings(max_examples=25, deadline=None, derandomize=True)
def test_the_samples_are_the_same_however_the_time_is_cut(
    ward: Ward, whole: Whole, cuts: list[int], event: tuple[float, Deed]
) -> None:
    # Cuts at and just after an event are the ones at risk: bounces and answers begin there.
    seconds = sorted({0, HOUR, *(cut / 1000 for cut in cuts), event[0], event[0] + 0.001, event[0] + 1})
    senses = senses_of(ward)
    for thing in senses.things:
        pieces = [s for a, b in pairwise(seconds) for s in senses.samples(thing, at(a), at(b))]
        assert pieces == whole.of[thing]


def test_what_happens_later_does_not_change_what_was_measured(whole: Whole) -> None:
    ward = a_ward()
    senses = senses_of(ward)
    told: dict[str, list[Sample]] = {thing: [] for thing in senses.things}
    since = 0.0
    for seconds, deed in EVENTS:
        ward.do(at(seconds), deed)
        for thing in senses.things:
            told[thing] += senses.samples(thing, at(since), at(seconds))
        since = seconds
    for thing in senses.things:
        assert told[thing] + senses.samples(thing, at(since), at(HOUR)) == whole.of[thing]


def test_a_ward_that_forgets_is_measured_as_one_that_does_not(whole: Whole) -> None:
    ward = a_ward()
    for seconds, deed in EVENTS:
        ward.do(at(seconds), deed)
    senses = senses_of(ward)
    told: dict[str, list[Sample]] = {thing: [] for thing in senses.things}
    for since in range(0, HOUR, 300):
        for thing in senses.things:
            told[thing] += senses.samples(thing, at(since), at(since + 300))
        ward.forget(at(since - 300))
    assert told == whole.of


def test_another_seed_measures_something_else(whole: Whole) -> None:
    ward = a_ward(seed=8)
    assert senses_of(ward).samples("basin-1", EPOCH, at(HOUR)) != whole.of["basin-1"]
