"""Moments of a time line that stand for several: which do, which never do, and that none is lost."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.happening import Telling
from dashboard.moments import folded, moment_of
from gateway.told import Told
from rules.probe_events import ProbeKnocked, ProbeSeen, ProbeStands
from rules.probe_words import Fitness, Place
from rules.readings import SECOND
from tests.dashboard.conftest import LISBON
from tests.rules.feeder import instant

TELLING = Telling(LISBON, {})
PLACES = (Place.HOOK, Place.IN_HANDS)


def seen(number: int, at: float, probe: str = "curved-1", who: str | None = None) -> Told:
    measured = instant(at)
    event = ProbeSeen(at=measured, probe=probe, measured=measured, who=who, place=PLACES[number % 2], thing=None)
    return Told(number, number, measured, who, event)


def stands(number: int, at: float) -> Told:
    measured = instant(at)
    unsaid = {"at": measured, "measured": measured, "who": None, "owes": None, "thing": None, "why": ""}
    event = ProbeStands(probe="curved-1", fitness=Fitness.READY, place=Place.HOOK, **unsaid)  # type: ignore[arg-type]  # as named
    return Told(number, number, measured, None, event)


def knocked(number: int, at: float) -> Told:
    event = ProbeKnocked(at=instant(at), probe="curved-1", measured=instant(at), who=None, peak_mps2=30.0)
    return Told(number, number, instant(at), None, event)


def rows(told: list[Told]) -> list[tuple[int, list[int]]]:
    """The numbers that stand for themselves, each with those that it stands for."""
    shown = folded(told, [moment_of(item, TELLING) for item in told])
    return [(moment.number, [other.number for other in moment.alike]) for moment in shown]


@pytest.mark.parametrize(
    ("place", "thing", "who", "words"),
    [
        (Place.BASIN, "basin-1", None, "Seen in a basin (Basin 1)"),
        (Place.BASIN, "basin-1", "Tessa", "Said to be in Basin 1"),
        (Place.SINK, "room", "Tessa", "Said to be at room"),
        (Place.HOOK, "cart-1", "Tessa", "Said to be on its hook (cart-1)"),
        (Place.IN_HANDS, None, "Tessa", "Said to be in hands"),
    ],
)
def test_what_a_person_entered_is_said_and_what_a_sensor_told_is_seen(
    place: Place, thing: str | None, who: str | None, words: str
) -> None:
    event = ProbeSeen(at=instant(0), probe="curved-1", measured=instant(0), who=who, place=place, thing=thing)
    assert Telling(LISBON, {"basin-1": "Basin 1"}).words(event) == words


def test_a_bouncing_hook_is_two_rows_where_it_was_and_how_it_stood() -> None:
    # As a restart tells it: the hook said seven times within a millisecond, and so it stood within a tenth of a second.
    told = [*(seen(n, n / 1000) for n in range(1, 8)), *(stands(n, n / 100) for n in range(8, 15))]
    assert rows(told) == [(7, [1, 2, 3, 4, 5, 6]), (14, [8, 9, 10, 11, 12, 13])]
    assert rows(told[::-1]) == [(14, [13, 12, 11, 10, 9, 8]), (7, [6, 5, 4, 3, 2, 1])]


def test_they_are_found_among_others_and_the_newest_is_shown_in_its_place() -> None:
    assert rows([seen(1, 0), stands(2, 1), seen(3, 2), knocked(4, 3), seen(5, 4), seen(6, 9)]) == [
        (2, []),
        (4, []),
        (5, [1, 3]),
        (6, []),
    ]


@pytest.mark.parametrize(
    "told",
    [
        [seen(1, 0), seen(2, 1)],  # taken in hand and hung up again
        [seen(n, 6 * n) for n in range(5)],
        [seen(n, n, who="Ana") for n in range(5)],
        [seen(n, n, probe=f"curved-{n}") for n in range(5)],
        [knocked(n, n) for n in range(5)],
    ],
)
def test_what_people_told_what_lies_apart_and_what_is_of_others_stands_for_itself(told: list[Told]) -> None:
    assert rows(told) == [(item.number, []) for item in told]


@given(st.lists(st.tuples(st.floats(0, 60), st.booleans(), st.sampled_from(["curved-1", "curved-2"])), max_size=40))
def test_none_is_lost_and_none_stands_with_what_was_long_before(given_rows: list[tuple[float, bool, str]]) -> None:
    told = [
        seen(number, at, probe) if is_seen else knocked(number, at)
        for number, (at, is_seen, probe) in enumerate(sorted(given_rows), start=1)
    ]
    by_number = {item.number: item for item in told}
    shown = rows(told)
    assert sorted(number for first, others in shown for number in (first, *others)) == sorted(by_number)
    for first, others in shown:
        together = [by_number[number].measured for number in (first, *others)]
        assert max(together) - min(together) <= 5 * SECOND
        assert len(others) != 1
        assert by_number[first].measured == max(together)


def test_a_moment_without_others_is_as_it_was() -> None:
    (moment,) = folded([seen(1, 0)], [moment_of(seen(1, 0), TELLING)])
    assert moment == moment_of(seen(1, 0), TELLING)
