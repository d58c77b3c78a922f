"""What people do at the basins of the demo."""

from collections.abc import Callable
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from rules.commands import BasinEntry, Entry, Pour, StripRead
from rules.picture import SolutionPicture
from rules.readings import SECOND, Micros
from rules.solution import Clocks, SolutionLot, Strip, Terms
from sim_devices.basins import BasinLife
from sim_devices.chance import Chance
from sim_devices.script import FirstSoak, Story
from sim_devices.upkeep import BasinUpkeep

At = Callable[[float], Micros]
DAY = 86_400
EMPTY = SolutionPicture(
    recorded=True,
    terms=Terms("opa-0.55-manual", ZoneInfo("UTC"), 14),
    lot=None,
    clocks=Clocks(None, None, None),
    topped_up=None,
    strip=None,
    lacking=(),
)


def upkeep(epoch: Micros, *, strip_read: bool = True, reuse_days: int = 14) -> BasinUpkeep:
    life = BasinLife("basin-1", epoch, 720, FirstSoak(Story.GOOD, -660, strip_read=strip_read), Chance(7))
    return BasinUpkeep(life, "opa-0.55-manual", reuse_days, "somebody")


def known(*entries: Entry) -> SolutionPicture:
    """The record once these were entered."""
    told = EMPTY
    for entry in entries:
        if isinstance(entry, Pour):
            lot = SolutionLot(entry.happened, entry.who, entry.lot, entry.label, None, None, None)
            told = replace(told, lot=lot, strip=None)
        elif isinstance(entry, StripRead):
            told = replace(told, strip=Strip(entry.happened, None, entry.result, None, None, entry.who))
    return told


def test_at_the_start_the_pour_and_the_strip_of_the_first_soak_are_entered(epoch: Micros, at: At) -> None:
    pour, strip = upkeep(epoch).due(EMPTY, at(1))
    assert isinstance(pour, Pour)
    assert isinstance(strip, StripRead)
    assert pour.happened < strip.happened < at(-660)


def test_a_strip_that_was_forgotten_is_not_entered(epoch: Micros, at: At) -> None:
    assert [type(entry) for entry in upkeep(epoch, strip_read=False).due(EMPTY, at(1))] == [Pour]


def test_what_is_in_the_record_is_not_entered_again(epoch: Micros, at: At) -> None:
    due = upkeep(epoch).due(EMPTY, at(1))
    assert upkeep(epoch).due(known(*due), at(2)) == []


def test_most_soaks_have_a_strip_before_they_begin_and_some_have_none(epoch: Micros, at: At) -> None:
    basin = upkeep(epoch)
    read = [e.happened for e in basin.due(EMPTY, at(DAY / 2)) if isinstance(e, StripRead)]
    starts = [basin.life.closed_spans(turn)[0].start for turn in range(basin.life.turns.index(at(DAY / 2)))]
    before = [any(start - 60 * SECOND <= at <= start for at in read) for start in starts]
    assert 0.75 < sum(before) / len(starts) < 1


@pytest.mark.parametrize("reuse_days", [0, 1, 14])
def test_fresh_solution_is_poured_before_its_days_are_over_and_never_over_a_soak(
    epoch: Micros, at: At, reuse_days: int
) -> None:
    basin = upkeep(epoch, reuse_days=reuse_days)
    pours = {e.happened for day in range(60) for e in basin.due(EMPTY, at(day * DAY)) if isinstance(e, Pour)}
    assert len(pours) >= 60 // max(reuse_days, 1)
    for day in range(60):
        now = at(day * DAY)
        newest = max(poured for poured in pours if poured <= now)
        assert now - newest <= max(reuse_days, 1) * DAY * SECOND
        assert not basin.life.lid.at(newest)


def test_nothing_is_entered_before_it_is_done_and_nothing_twice(epoch: Micros, at: At) -> None:
    # Looked at every second, as the demo's people do, over the turn in which the second soak begins.
    basin, entered = upkeep(epoch), list[BasinEntry]()
    for second in range(1, 3000):
        now = at(second)
        due = basin.due(known(*entered) if entered else EMPTY, now)
        assert all(entry.measured <= now for entry in due)
        entered += due
    strips = [entry.measured for entry in entered if isinstance(entry, StripRead)]
    assert len(strips) == len(set(strips)) > 1
