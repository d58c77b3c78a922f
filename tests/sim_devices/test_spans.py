from hypothesis import given, settings
from hypothesis import strategies as st

from rules.readings import Micros
from sim_devices.spans import Slots, SlottedState, Span

SLOTS = Slots(Micros(500), Micros(1000))


def every_third(slot: int) -> tuple[Span, ...]:
    start = SLOTS.start(slot)
    spans = (Span(Micros(start + 100), Micros(start + 300)), Span(Micros(start + 400), Micros(start + 900)))
    return spans if slot % 3 == 0 else ()


STATE = SlottedState(SLOTS, every_third)
INSTANTS = st.integers(-20_000, 20_000).map(Micros)


def test_an_instant_belongs_to_the_slot_that_it_starts() -> None:
    assert [SLOTS.index(Micros(t)) for t in (499, 500, 1499, 1500)] == [-1, 0, 0, 1]


@settings(deadline=None)  # the machine may be busy
@given(INSTANTS, INSTANTS)
def test_a_state_differs_from_before_exactly_where_it_changes(after: Micros, until: Micros) -> None:
    after, until = min(after, until), max(after, until)
    flips = [t for t in range(after + 1, until + 1) if STATE.at(Micros(t)) != STATE.at(Micros(t - 1))]
    assert STATE.changes(after, until) == flips


def test_the_state_outside_the_spans_is_the_other_one() -> None:
    assert not STATE.at(Micros(600 - 1))
    assert STATE.at(Micros(600))
    assert SlottedState(SLOTS, every_third, during=False).at(Micros(600 - 1))
