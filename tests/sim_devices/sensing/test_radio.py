from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim_devices.sensing.delivery import Sent
from sim_devices.sensing.radio_figures import RadioFigures
from sim_devices.ward import deeds
from sim_devices.ward.deeds import Deed
from sim_devices.ward.ward import Ward
from tests.sim_devices.sensing.sensed import EPOCH, a_ward, at, radio_of

HOUR = 3600

BUSY = RadioFigures(lost_share=0.05, doubled_share=0.05, late_share=0.05, dropout_every_hours=0.2, spoilt_share=0.05)

EVENTS: tuple[tuple[float, Deed], ...] = (
    (100, deeds.Network(thing="basin-1", up=False)),
    (110, deeds.Network(thing="cart-1", up=False)),
    (400, deeds.Network(thing="basin-1", up=True)),
    (402, deeds.Network(thing="basin-1", up=False)),
    (404, deeds.Network(thing="basin-1", up=True)),
    (900, deeds.Network(thing="cart-1", up=True)),
    (1000, deeds.Power(thing="", on=False)),
    (1003, deeds.Power(thing="", on=True)),
    (1500, deeds.SetClock(thing="basin-1", ahead_seconds=120)),
    (1800, deeds.SetClock(thing="basin-1", ahead_seconds=0)),
    (2000, deeds.Network(thing="", up=False)),
    (2050, deeds.Power(thing="basin-1", on=False)),
    (2060, deeds.Power(thing="basin-1", on=True)),
    (2500, deeds.Network(thing="", up=True)),
)


def lived(events: tuple[tuple[float, Deed], ...] = EVENTS) -> Ward:
    ward = a_ward()
    for seconds, deed in events:
        ward.do(at(seconds), deed)
    return ward


class Whole:
    """All that reaches the broker within the hour, by thing, taken in one go."""

    of: dict[str, list[Sent]]

    def __init__(self, ward: Ward, figures: RadioFigures) -> None:
        radio = radio_of(ward, figures)
        self.of = {thing: radio.sent(thing, EPOCH, at(HOUR)) for thing in radio.things}

    def __repr__(self) -> str:
        return "Whole"


@pytest.fixture(scope="module")
def ward() -> Ward:
    return lived()


@pytest.fixture(scope="module")
def whole(ward: Ward) -> Whole:
    return Whole(ward, BUSY)


@given(st.lists(st.integers(0, HOUR * 1000), max_size=8), st.sampled_from(EVENTS), st.sampled_from((1, -1)))
@settings(max_examples=25, deadline=None, derandomize=True)
def test_what_arrives_is_the_same_however_the_time_is_cut(
    ward: Ward, whole: Whole, cuts: list[int], event: tuple[float, Deed], order: int
) -> None:
    # Cuts around an event, and around what follows from it, are the ones at risk.
    near = (event[0] + seconds for seconds in (0, 0.5, 5, 22.5, 30))
    seconds = sorted({0, HOUR, *(cut / 1000 for cut in cuts), *near})
    radio = radio_of(ward, BUSY)
    for thing in radio.things:
        steps = list(pairwise(seconds))
        # Each call goes on from the one before it, or none does.
        pieces = {step: radio.sent(thing, at(step[0]), at(step[1])) for step in steps[::order]}
        assert [sent for step in steps for sent in pieces[step]] == whole.of[thing]


def test_what_happens_later_does_not_change_what_has_arrived(whole: Whole) -> None:
    ward = a_ward()
    radio = radio_of(ward, BUSY)
    told: dict[str, list[Sent]] = {thing: [] for thing in radio.things}
    since = 0.0
    for seconds, deed in EVENTS:
        ward.do(at(seconds), deed)
        for thing in radio.things:
            told[thing] += radio.sent(thing, at(since), at(seconds))
        since = seconds
    for thing in radio.things:
        assert told[thing] + radio.sent(thing, at(since), at(HOUR)) == whole.of[thing]
