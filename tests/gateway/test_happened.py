"""Everything that happened in a stretch of time: against all events of the record, sifted by hand."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from types import UnionType
from typing import Annotated, Union, get_args, get_origin

import pytest

from gateway.days import ALWAYS
from gateway.happened_log import GROUPS, Happening, HappeningFilter, HappeningOrder
from gateway.happened_reading import Happenings
from gateway.logbook import Logbook
from gateway.ordered import NoSuchRowError, Turn
from gateway.schema import DATABASE
from rules.alert_events import PageReported
from rules.alert_words import Cause, Confirmation
from rules.events import Event
from rules.exposure import Span
from rules.readings import SECOND, Micros
from tests.dashboard.logbooks import book
from tests.gateway.books import opened
from tests.gateway.pages import asked, commit, seconds, withdrawn
from tests.gateway.told_alerts import moved, raised
from tests.rules.cared import wiped_down
from tests.rules.feeder import instant

OLDEST = Turn(HappeningOrder.HAPPENED, rising=True)
NEWEST = Turn(HappeningOrder.HAPPENED)

Row = tuple[int, str, int, dict[str, object]]
"""Number, kind, when it was told, and what it says."""


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Soaks, a probe, strikes and alerts of the engine, a wipe-down, and pages with what became of them."""
    written = book(tmp_path_factory.mktemp("happened"))
    written.feed([wiped_down(4100)]).note(raised("alert-99", 4200, text="Cart 1: left"))
    pages = asked("page-1", at=0, alerts=("alert-99",)), asked("page-2", at=5, alerts=())
    commit(written.journal, *pages)
    reported = PageReported(at=seconds(20), page="page-1", outcome=Confirmation.DELIVERED, detail="", in_time=True)
    commit(written.journal, reported, withdrawn("page-2", at=30))
    written.closed()
    return written.path


@pytest.fixture(scope="module")
def logbook(path: Path) -> Logbook:
    return Logbook(path)


@pytest.fixture(scope="module")
def rows(path: Path) -> list[Row]:
    with opened(path) as view:
        found = view._db.execute("SELECT seq, kind, at, body FROM event").fetchall()
    return [(seq, kind, at, json.loads(body)) for seq, kind, at, body in found]


def happened(row: Row) -> int:
    """When it did: of a soak that is over, and of a probe in it, at its end; of one that begins, as its lid closed."""
    _, kind, at, body = row
    over = ("soak ended", "soak amended", "probe soaked")
    when = body["end"] if kind in over else body["start"] if kind == "soak started" else body.get("measured", at)
    assert isinstance(when, int)
    return when


def whole(logbook: Logbook, which: HappeningFilter, turn: Turn[HappeningOrder] = OLDEST) -> list[Happening]:
    lines, onward = list[Happening](), turn
    while True:
        part = logbook.happened(which, onward, most=7)
        lines += part.lines
        if part.next is None:
            return lines
        onward = part.next


def numbers(found: list[Happening]) -> list[int]:
    return [one.told.number for one in found]


def kinds_of(union: object) -> Iterator[str]:
    if get_origin(union) is Annotated:
        yield from kinds_of(get_args(union)[0])
    elif get_origin(union) in (Union, UnionType):
        for part in get_args(union):
            yield from kinds_of(part)
    else:
        yield union.model_fields["kind"].default  # type: ignore[attr-defined]  # an event's class


def test_every_kind_of_event_is_of_one_group() -> None:
    grouped = [kind for kinds in GROUPS.values() for kind in kinds]
    assert sorted(grouped) == sorted(kinds_of(Event))


@pytest.mark.parametrize("turn", [OLDEST, NEWEST])
@pytest.mark.parametrize("span", [ALWAYS, Span(instant(100), instant(900)), Span(instant(2000), instant(2400))])
def test_all_of_a_stretch_is_there_in_order_page_by_page(
    logbook: Logbook, rows: list[Row], span: Span, turn: Turn[HappeningOrder]
) -> None:
    wanted = sorted((row for row in rows if span.start <= happened(row) < span.end), key=lambda r: (happened(r), r[0]))
    found = whole(logbook, HappeningFilter(span), turn)
    assert numbers(found) == [row[0] for row in (wanted if turn.rising else wanted[::-1])]
    assert len(found) > 3
    assert {one.told.number: one.told.measured for one in found} == {row[0]: happened(row) for row in wanted}


def test_a_soak_that_ended_in_the_hour_is_there_though_it_began_before(logbook: Logbook) -> None:
    kinds = [one.told.event.kind for one in whole(logbook, HappeningFilter(Span(instant(2250), instant(2301))))]
    assert kinds == ["soak ended", "soak amended"]


def test_a_page_leads_back_to_a_row_that_is_gone_and_goes_on_before_one(logbook: Logbook) -> None:
    every = numbers(whole(logbook, HappeningFilter(ALWAYS)))
    part = logbook.happened(HappeningFilter(ALWAYS), OLDEST.preceding(every[20]), most=5)
    assert numbers(list(part.lines)) == every[15:20]
    with pytest.raises(NoSuchRowError):
        logbook.happened(HappeningFilter(ALWAYS), OLDEST.following(99_999))


@pytest.mark.parametrize("group", GROUPS)
def test_each_group_has_its_kinds(logbook: Logbook, rows: list[Row], group: str) -> None:
    wanted = {row[0] for row in rows if row[1] in GROUPS[group]}
    assert set(numbers(whole(logbook, HappeningFilter(ALWAYS, group=group)))) == wanted


@pytest.mark.parametrize("by_people", [True, False])
def test_what_people_told_is_told_apart(logbook: Logbook, rows: list[Row], by_people: bool) -> None:  # noqa: FBT001 - each of the two
    wanted = {row[0] for row in rows if (row[3].get("who") is not None) is by_people}
    assert set(numbers(whole(logbook, HappeningFilter(ALWAYS, by_people=by_people)))) == wanted
    assert wanted


@pytest.mark.parametrize(("exam", "surfaces"), [("EX-2291", ["mucosa"]), ("ex-2291", ["mucosa"]), ("EX-229", [])])
def test_an_exam_is_found_by_its_whole_reference(
    logbook: Logbook, rows: list[Row], exam: str, surfaces: list[str]
) -> None:
    found = whole(logbook, HappeningFilter(ALWAYS, exam=exam))
    wanted = [row for row in rows if str(row[3].get("exam")).lower() == exam.lower()]
    assert numbers(found) == [row[0] for row in wanted]
    assert [row[3]["surface"] for row in wanted] == surfaces


SUBJECTS = {
    "basin-1": lambda name: name in ("basin-1", "basin-1/temperature", "basin-1/lid", "basin-1.1", "basin-1.2"),
    "cart-1": lambda name: name in ("cart-1", "cart-1/hook-a", "cart-1/hook-b", "cart-1/motion"),
    "curved-1": lambda name: name == "curved-1",
    "basin": lambda _: False,
    "%": lambda _: False,
}


@pytest.mark.parametrize("thing", SUBJECTS)
def test_what_is_about_a_thing_is_found_with_its_alerts_and_their_pages(
    logbook: Logbook, rows: list[Row], thing: str
) -> None:
    is_it: Callable[[object], bool] = SUBJECTS[thing]
    subject_of = {row[3]["alert"]: str(row[3]["subject"]).partition(" ")[2] for row in rows if row[1] == "alert raised"}
    alerts_of = {row[3]["page"]: row[3]["alerts"] for row in rows if row[1] == "page asked"}

    def alerts(row: Row) -> list[object]:
        own = [row[3]["alert"]] if row[3].get("alert") else row[3].get("alerts")
        return own or alerts_of.get(row[3].get("page"), [])  # type: ignore[return-value]  # a list in JSON

    def is_about(row: Row) -> bool:
        entry = row[3].get("entry") or {}
        named = [row[3].get(key) for key in ("basin", "probe", "cart", "thing")]
        inside = [entry.get(key) for key in ("basin", "probe", "cart")]  # type: ignore[attr-defined]  # an object in JSON
        return thing in named + inside or any(is_it(subject_of[alert]) for alert in alerts(row))

    wanted = {row[0] for row in rows if is_about(row)}
    assert set(numbers(whole(logbook, HappeningFilter(ALWAYS, thing=thing)))) == wanted
    assert bool(wanted) is (thing not in ("basin", "%"))


def test_what_became_of_a_page_names_its_alert_and_whom_it_went_to(path: Path) -> None:
    found = {one.told.event.kind: one for one in whole(Logbook(path), HappeningFilter(ALWAYS, group="pages"))}
    delivered, gone = found["page reported"], found["page withdrawn"]
    assert (delivered.alert and delivered.alert.text, delivered.page and delivered.page.contact) == (
        "Cart 1: left",
        "phone-1",
    )
    assert (gone.alert, gone.page and gone.page.page) == (None, "page-2")


def test_an_alert_that_was_never_raised_is_found_by_its_thing(tmp_path: Path) -> None:
    written = book(tmp_path).note(moved("", 4300, Cause.SUPPRESSED, subject="cart cart-1"))
    written.closed()
    (found,) = whole(Logbook(tmp_path / DATABASE), HappeningFilter(Span(instant(4300), instant(4301)), thing="cart-1"))
    assert (found.told.event.kind, found.alert) == ("alert moved", None)


def test_a_search_goes_on_from_where_it_stopped(logbook: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("gateway.happened_reading.LOOKED_AT", 3)
    every = whole(logbook, HappeningFilter(ALWAYS))
    wanted = [one.told.number for one in every if one.told.event.kind == "soak ended"]
    says = HappeningFilter(ALWAYS, says=lambda one: one.told.event.kind == "soak ended")
    assert numbers(whole(logbook, says)) == wanted
    assert logbook.happened(says, OLDEST).lines == ()


@pytest.mark.parametrize("turn", [OLDEST, NEWEST, OLDEST.following(20), NEWEST.preceding(20)])
def test_an_hour_is_found_by_an_index_and_nothing_is_sorted(path: Path, turn: Turn[HappeningOrder]) -> None:
    queries = list[str]()
    hour = Span(instant(0), Micros(instant(0) + 3600 * SECOND))
    with opened(path) as view:
        reading = Happenings(view)
        view._db.conn.set_trace_callback(queries.append)
        reading.part(HappeningFilter(hour), turn, 5)
        view._db.conn.set_trace_callback(None)
        listed = [query for query in queries if "ORDER BY" in query]
        plan = [step for query in listed for *_, step in view._db.execute(f"EXPLAIN QUERY PLAN {query}").fetchall()]
    # SQLite's own words for what it reads by an index and what it sorts (sqlite.org, eqp.html).
    assert {step.partition(" (")[0].replace("COVERING ", "") for step in plan} == {
        "SEARCH event USING INDEX event_by_time"
    }
