"""Lists of the record in any order: each part is what a plain sort of all rows says, and none is read whole."""

from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gateway.alert_log import AlertOrder
from gateway.alert_reading import AlertStories
from gateway.database import Database
from gateway.found import EVER, RecordView
from gateway.logbook import (
    EVERY_ALERT,
    EVERY_SOLUTION,
    EVERYTHING,
    NEWEST_ALERTS,
    NEWEST_SOAKS,
    NEWEST_SOLUTIONS,
    Logbook,
)
from gateway.ordered import NoSuchRowError, Rows, Term, Turn, in_order
from gateway.part import Listed, parts
from gateway.past import Past
from gateway.soak_list import SoakList
from gateway.soak_log import SoakFilter, SoakLine, SoakOrder
from gateway.solution_reading import Solutions
from gateway.strikes import Strikes
from rules.exposure import Span
from tests.gateway.books import Book, merged, opened, site_text
from tests.gateway.told_alerts import told_alerts
from tests.rules.bath import pour, strip
from tests.rules.feeder import instant, soak

# ---- the law, on a table of its own ----------------------------------------------------------------------------------

Row = tuple[int, str, int]
"""Number, word, size."""

WORDS = st.text(st.sampled_from("aAäß%'\"_;\N{SNOWMAN} 1"), max_size=3)
TABLES = st.lists(st.tuples(WORDS, st.integers(-2, 2)), max_size=12).map(
    lambda rows: [(number, *row) for number, row in enumerate(rows, 1)]
)
ORDERS = st.sampled_from(
    [
        (Term("number", rising=False),),
        (Term("number", rising=True),),
        (Term("size", rising=True), Term("number", rising=False)),
        (Term("size", rising=False), Term("number", rising=False)),
        (Term("word", rising=True), Term("size", rising=False), Term("number", rising=False)),
    ]
)


class Shelf:
    """Rows in a table of SQLite's own."""

    def __init__(self, rows: Sequence[Row]) -> None:
        self.db = Database(memory=True)
        self.db.execute("CREATE TABLE row (number INTEGER PRIMARY KEY, word TEXT NOT NULL, size INTEGER NOT NULL)")
        self.add(rows)

    def add(self, rows: Sequence[Row]) -> None:
        self.db.conn.executemany("INSERT INTO row VALUES (?, ?, ?)", rows)

    def in_order(self, rows: Rows, order: Sequence[Term], beside: int | None, most: int) -> list[int]:
        return in_order(self.db, "row", "number", rows, order, beside, most)

    def of_numbers(self, numbers: Sequence[int]) -> list[Row]:
        marks = ", ".join("?" * len(numbers))
        found = self.db.execute(f"SELECT * FROM row WHERE number IN ({marks})", numbers).fetchall()  # noqa: S608
        by_number = {row[0]: row for row in found}
        return [by_number[number] for number in numbers]


def plainly(rows: Sequence[Row], order: Sequence[Term], smallest: int, text: str) -> list[Row]:
    """Filter and sort without SQL: by the least important term first, for Python's sort is stable."""
    found = [row for row in rows if row[2] >= smallest and text in row[1]]
    for term in reversed(order):
        place = ("number", "word", "size").index(term.sql)
        # SQLite compares text by its UTF-8 octets (sqlite.org, datatype3, 4.2), as Python does by code points.
        found.sort(key=lambda row: row[place], reverse=not term.rising)
    return found


def listed(order: Sequence[Term], smallest: int, text: str, looked_at: int) -> Listed[Row, Row]:
    rows = Rows("number > 0").also("size >= ?", smallest)
    return Listed(rows, order, looked_at, list, (lambda row: text in row[1]) if text else None)


TURN = Turn(AlertOrder.RAISED)  # which of an enum's members it is does not matter to the list


@given(TABLES, ORDERS, st.integers(-2, 2), st.sampled_from(["", "a", "%", "'"]), st.integers(1, 4), st.integers(1, 5))
def test_the_parts_of_a_list_are_the_whole_of_it_in_order(
    rows: list[Row], order: tuple[Term, ...], smallest: int, text: str, most: int, looked_at: int
) -> None:
    shelf, asked = Shelf(rows), listed(order, smallest, text, looked_at)
    found = list(parts(lambda turn: asked.part(shelf, turn, most), TURN))
    assert [row for part in found for row in part.lines] == plainly(rows, order, smallest, text)
    assert all(len(part.lines) <= most for part in found)


@given(TABLES, ORDERS, st.integers(1, 4))
def test_the_way_back_leads_through_the_same_parts(rows: list[Row], order: tuple[Term, ...], most: int) -> None:
    shelf, asked = Shelf(rows), listed(order, -2, "", 100)
    found = list(parts(lambda turn: asked.part(shelf, turn, most), TURN))
    assert (found[0].previous, found[-1].next) == (None, None)
    for before, part in pairwise(found):
        assert part.previous is not None
        back = asked.part(shelf, part.previous, most)
        assert back.lines == before.lines
        assert back.next is not None
        assert asked.part(shelf, back.next, most).lines == part.lines


@given(TABLES, TABLES, ORDERS, st.integers(1, 4))
def test_no_row_comes_twice_or_is_lost_where_others_are_added_between_two_parts(
    rows: list[Row], later: list[Row], order: tuple[Term, ...], most: int
) -> None:
    shelf, asked, seen = Shelf(rows), listed(order, -2, "", 100), list[Row]()
    added = [(len(rows) + number, word, size) for number, word, size in later]
    turn: Turn[AlertOrder] | None = TURN
    while turn is not None:
        part = asked.part(shelf, turn, most)
        seen += part.lines
        turn = part.next
        shelf.add(added[:2])
        added = added[2:]
    assert [row for row in seen if row in rows] == plainly(rows, order, -2, "")
    assert len(seen) == len(set(seen))


def test_a_row_that_the_list_does_not_have_is_no_place_to_go_on_from() -> None:
    shelf = Shelf([(1, "a", 0)])
    with pytest.raises(NoSuchRowError):
        listed((Term("number", rising=True),), 0, "", 9).part(shelf, TURN.following(7), 5)


# ---- the record ------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Logbook:
    """Soaks in two basins, of which some are too short."""
    starts = range(100, 100 + 6 * 1500, 1500)
    soaks = (soak(720 if n % 2 else 300, 21, start=start) for n, start in enumerate(starts))
    said = merged([pour(0), pour(5000, lot="L2")], *soaks, *([strip(start - 20)] for start in starts))
    return Book(tmp_path_factory.mktemp("book"), site_text()).feed(said).until(20_000).closed()


KEYS: dict[SoakOrder, Callable[[SoakLine], object]] = {
    SoakOrder.BEGAN: lambda line: line.start,
    SoakOrder.BASIN: lambda line: line.place.basin,
    SoakOrder.VERDICT: lambda line: line.outcome.value,
    SoakOrder.COUNTED: lambda line: line.credited_seconds,
    SoakOrder.SOLUTION: lambda line: line.lot or "",
}


@pytest.mark.parametrize("order", SoakOrder)
@pytest.mark.parametrize("rising", [True, False])
def test_soaks_come_in_the_order_of_each_column(book: Logbook, order: SoakOrder, *, rising: bool) -> None:
    leaves = parts(lambda turn: book.soaks(turn=turn, most=2), Turn(order, rising))
    found = [line for leaf in leaves for line in leaf.lines]
    newest_first = sorted(found, key=lambda line: line.start, reverse=True)
    assert len(found) == 6
    assert found == sorted(newest_first, key=KEYS[order], reverse=not rising)  # type: ignore[arg-type]


# ---- what SQLite does for it ----------------------------------------------------------------------------------------

IN_ORDER: list[Callable[[RecordView, int], object]] = [
    lambda view, _: SoakList(view).part(EVERYTHING, NEWEST_SOAKS, 2),
    lambda view, row: SoakList(view).part(EVERYTHING, NEWEST_SOAKS.following(row), 2),
    lambda view, row: SoakList(view).part(EVERYTHING, NEWEST_SOAKS.preceding(row), 2),
    lambda view, _: SoakList(view).part(SoakFilter(during=Span(instant(0), EVER)), NEWEST_SOAKS, 2),
    lambda view, _: AlertStories(view).part(EVERY_ALERT, NEWEST_ALERTS, 2),
    lambda view, _: Solutions(view, Past(view), Strikes.of(view)).part(EVERY_SOLUTION, NEWEST_SOLUTIONS, 2),
]


@pytest.mark.parametrize("ask", IN_ORDER)
def test_the_newest_are_found_by_an_index_and_nothing_is_sorted(
    book: Logbook, ask: Callable[[RecordView, int], object]
) -> None:
    asked: list[str] = []
    row = book.soaks().lines[2].number
    with opened(book._journal) as view:
        view._db.conn.set_trace_callback(asked.append)
        ask(view, row)
        view._db.conn.set_trace_callback(None)
        queries = [query for query in asked if "AS listed" in query and "ORDER BY" in query]
        plan = [step for query in queries for *_, step in view._db.execute(f"EXPLAIN QUERY PLAN {query}").fetchall()]
    # SQLite's own words for what it reads by an index and what it sorts (sqlite.org, eqp.html).
    steps = {step.partition(" (")[0].replace("COVERING ", "") for step in plan}
    assert steps == {"SEARCH event USING INDEX event_by_kind"}


def test_what_is_told_of_an_alert_is_found_by_an_index(tmp_path: Path) -> None:
    path, asked = told_alerts(tmp_path), list[str]()
    with opened(path) as view:
        view._db.conn.set_trace_callback(asked.append)
        assert view.of_alert("alert-1")
        assert view.ends_of(["alert-1", "alert-2"])
        view._db.conn.set_trace_callback(None)
        plan = [step for query in asked for *_, step in view._db.execute(f"EXPLAIN QUERY PLAN {query}").fetchall()]
    assert [step for step in plan if "event_of_alert" not in step and "TEMP B-TREE" not in step] == []
