"""A probe's time line from the journal, in whatever order it is asked for."""

from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from gateway.days import of_days
from gateway.logbook import Logbook
from gateway.ordered import NoSuchRowError, Turn
from gateway.probe_log import TimeLineFilter, TimeLineOrder
from gateway.told import Told
from rules.probe_events import ProbeSoaked, ProbeTouched
from tests.gateway.books import book_of, worked
from tests.rules.bath import strike
from tests.rules.feeder import instant
from tests.rules.followed import PROBE, contact


def test_a_time_line_goes_back_page_by_page_with_struck_entries_as_struck(tmp_path: Path) -> None:
    wrong = contact(20, exam="WRONG")
    book = book_of(tmp_path, worked(0), [wrong, strike(wrong, 1500)]).closed()
    told, turn = [], Turn(TimeLineOrder.HAPPENED)
    while (page := book.probe(PROBE, turn=turn, most=4)) is not None:
        told += page.part.lines
        if page.part.next is None:
            break
        turn = page.part.next
    assert [one.measured for one in told] == sorted((one.measured for one in told), reverse=True)
    assert len({one.number for one in told}) == len(told)
    marks = {one.event.exam: one.struck for one in told if isinstance(one.event, ProbeTouched)}
    assert marks["A-17"] is None
    assert marks["WRONG"] is not None
    assert marks["WRONG"].why == "wrong basin"


KEYS: Mapping[TimeLineOrder, Callable[[Told], Any]] = {
    TimeLineOrder.HAPPENED: lambda one: (one.measured, one.number),
    TimeLineOrder.TOLD: lambda one: one.number,
    TimeLineOrder.WHAT: lambda one: one.event.kind,
}


def line(book: Logbook, which: TimeLineFilter, turn: Turn[TimeLineOrder]) -> list[Told]:
    """A time line from there to its end, five at a time."""
    told: list[Told] = []
    begin: Turn[TimeLineOrder] | None = turn
    while begin is not None:
        page = book.probe(PROBE, which, begin, most=5)
        assert page is not None
        told += page.part.lines
        begin = page.part.next
    return told


@pytest.fixture(scope="module")
def worked_twice(tmp_path_factory: pytest.TempPathFactory) -> Logbook:
    """Of a probe that went through two rounds."""
    return book_of(
        tmp_path_factory.mktemp("twice"), worked(0), worked(6000, soak_name="basin-1.2"), until=9000
    ).closed()


@pytest.mark.parametrize("order", TimeLineOrder)
@pytest.mark.parametrize("rising", [True, False])
def test_a_time_line_comes_in_each_order_and_back_again(
    worked_twice: Logbook, order: TimeLineOrder, *, rising: bool
) -> None:
    whole = line(worked_twice, TimeLineFilter(), Turn(TimeLineOrder.HAPPENED))  # the newest first, as ties come
    assert len(whole) > 10
    wanted = sorted(whole, key=KEYS[order], reverse=not rising)
    assert line(worked_twice, TimeLineFilter(), Turn(order, rising=rising)) == wanted
    back = worked_twice.probe(PROBE, TimeLineFilter(), Turn(order, rising=rising, before=wanted[9].number), most=4)
    assert back is not None
    assert list(back.part.lines) == wanted[5:9]


def test_a_time_line_is_filtered_by_kind_by_day_and_by_what_it_says(worked_twice: Logbook) -> None:
    newest = Turn(TimeLineOrder.HAPPENED)
    whole = line(worked_twice, TimeLineFilter(), newest)
    # Second 0 is 2023-11-14 22:13:20 UTC (`date -u -d @1700000000`, coreutils), so that midnight is second 6400.
    later = line(
        worked_twice,
        TimeLineFilter(during=of_days(date(2023, 11, 14), date(2023, 11, 14), ZoneInfo("Europe/Lisbon"))),
        newest,
    )
    assert later == [one for one in whole if one.measured < instant(6400)]
    assert 0 < len(later) < len(whole)
    soaked = line(worked_twice, TimeLineFilter(kind="probe soaked"), newest)
    assert soaked == [one for one in whole if isinstance(one.event, ProbeSoaked)]
    even = line(worked_twice, TimeLineFilter(says=lambda one: one.number % 2 == 0), newest)
    assert even == [one for one in whole if one.number % 2 == 0]


def test_a_time_line_is_not_opened_beside_what_is_none_of_a_probe(worked_twice: Logbook) -> None:
    with pytest.raises(NoSuchRowError):
        worked_twice.probe(PROBE, turn=Turn(TimeLineOrder.HAPPENED, after=99_999))
