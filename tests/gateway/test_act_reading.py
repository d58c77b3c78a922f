"""What people did, read back from the record: a list of it, in words, and as a table."""

import csv
from datetime import date
from pathlib import Path
from typing import get_args
from zoneinfo import ZoneInfo

import pytest

from gateway.act_log import KINDS, ActFilter, ActOrder
from gateway.act_reading import _ALL, _order
from gateway.days import of_days
from gateway.export import What, export
from gateway.found import RecordView
from gateway.logbook import NEWEST_ACTS, Logbook
from gateway.ordered import Turn, order_by
from gateway.schema import DATABASE
from rules.acts import Access, Act, Acted
from rules.alert_commands import Acknowledge, PageTold, PauseSound, Shelve, TakeOut
from rules.alert_words import Confirmation
from rules.commands import Command, Pour, Strike, WipedDown
from rules.figure_commands import SetFigures
from rules.readings import GATEWAY_LINK
from tests.gateway.books import Book
from tests.rules.feeder import instant, read

ANA, BO = "Ana", "Bo"
MIDNIGHT = 6400
"""Second 0 is 22:13:20 UTC on 14 Nov 2023; midnight comes so many seconds later."""

POURED = Pour(arrived=instant(20), measured=instant(10), who=ANA, basin="basin-1", lot="L1", label="opa-0.55-manual")


def acted(at: float, act: Act, about: str = "", who: str = ANA) -> Acted:
    key = f"{round(at):016x}"
    return Acted(
        arrived=instant(at), key=key, measured=instant(at), who=who, access=Access.ENGINEER, act=act, about=about
    )


DONE: list[Command] = [
    acted(10, Act.SIGNED_IN, "after 2 wrong tries"),
    POURED,
    WipedDown(arrived=instant(30), measured=instant(30), who=BO, cart="cart-1"),
    PageTold(arrived=instant(40), who="gateway", page="page-1", outcome=Confirmation.ACCEPTED),
    Acknowledge(arrived=instant(50), who=BO, alert="alert-1"),
    Shelve(arrived=instant(60), who=BO, alert="alert-1", minutes=5, why="the plumber is here"),
    TakeOut(arrived=instant(70), who=ANA, thing="basin-1", role="engineer", why="leaks"),
    PauseSound(arrived=instant(80), who=ANA, minutes=5),
    Strike(arrived=instant(90), who=BO, entry=POURED, why="other lot"),
    SetFigures(arrived=instant(100), who=ANA, role="engineer", values={"threshold.jump_celsius": 5}, why="noisy"),
    acted(MIDNIGHT, Act.EXPORTED, "soaks", BO),
]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("acts") / "d"
    Book(path).feed([read(GATEWAY_LINK, value=True, measured=0), *DONE]).closed()
    return path


@pytest.fixture
def book(folder: Path) -> Logbook:
    return Logbook(folder / DATABASE)


def test_every_command_and_every_act_has_its_word() -> None:
    union, *_ = get_args(Command)
    kinds = {model.model_fields["kind"].default for model in get_args(union)}
    assert set(KINDS) == (kinds - {"acted", "page told"}) | {act.value for act in Act}


def test_all_that_people_did_is_told_in_words_the_newest_first(book: Logbook) -> None:
    assert [(line.who, line.what, line.about) for line in book.acts().lines] == [
        (BO, "record exported", "soaks"),
        (ANA, "set figures", "threshold.jump_celsius = 5: noisy"),
        (BO, "strike", "pour, Basin 1, lot L1, opa-0.55-manual, 2023-11-14 22:13:30, entered by Ana: other lot"),
        (ANA, "pause sound", "for 5 minutes"),
        (ANA, "take out of service", "Basin 1, all rules: leaks"),
        (BO, "shelve", "alert-1 for 5 minutes: the plumber is here"),
        (BO, "acknowledge", "alert-1"),
        (BO, "wiped down", "Cart 1"),
        (ANA, "pour", "Basin 1, lot L1, opa-0.55-manual, 2023-11-14 22:13:30"),
        (ANA, "signed in", "after 2 wrong tries"),
    ]


@pytest.mark.parametrize(
    ("which", "whats"),
    [
        (ActFilter(who=BO, what="strike"), ["strike"]),
        (ActFilter(what="signed in"), ["signed in"]),
        (ActFilter(what="acted"), []),
        (ActFilter(text="PLUMBER"), ["shelve"]),
        (ActFilter(text="bo", what="wiped down"), ["wiped down"]),
        (ActFilter(who="' OR 1=1 --"), []),
        (
            ActFilter(during=of_days(date(2023, 11, 15), date(2023, 11, 16), ZoneInfo("Europe/Lisbon"))),
            ["record exported"],
        ),
        (
            ActFilter(
                during=of_days(date(2023, 11, 13), date(2023, 11, 14), ZoneInfo("Europe/Lisbon")),
                who=BO,
                what="acknowledge",
            ),
            ["acknowledge"],
        ),
        (ActFilter(during=of_days(date(2023, 11, 16), date(2023, 11, 17), ZoneInfo("Europe/Lisbon"))), []),
    ],
)
def test_acts_are_found_by_who_what_and_day(book: Logbook, which: ActFilter, whats: list[str]) -> None:
    assert [line.what for line in book.acts(which).lines] == whats


def test_the_list_is_paged_and_leads_on_and_back(book: Logbook) -> None:
    first = book.acts(most=4)
    assert first.next is not None
    second = book.acts(turn=first.next, most=4)
    assert second.next is not None
    third = book.acts(turn=second.next, most=4)
    assert [len(part.lines) for part in (first, second, third)] == [4, 4, 2]
    assert third.next is None
    assert third.previous is not None
    assert book.acts(turn=third.previous, most=4).lines == second.lines


def test_the_list_can_be_ordered_by_who(book: Logbook) -> None:
    names = [line.who for line in book.acts(turn=Turn(ActOrder.WHO, rising=True)).lines]
    assert names == sorted(names)


def test_the_list_is_read_by_the_index_and_nothing_is_sorted(folder: Path) -> None:
    view = RecordView.open(folder / DATABASE)
    query = f"SELECT seq FROM input AS listed WHERE {_ALL.all_of_it} ORDER BY {order_by(_order(NEWEST_ACTS))}"  # noqa: S608 - ours
    plan = " ".join(str(row) for row in view._db.execute(f"EXPLAIN QUERY PLAN {query}").fetchall())
    view.close()
    assert "input_by_sensor_and_time" in plan
    assert "TEMP B-TREE" not in plan


def test_an_act_is_known_by_its_key(book: Logbook) -> None:
    assert book.has_act(f"{10:016x}")
    assert not book.has_act("0" * 16)


def test_the_table_has_a_row_for_each(book: Logbook, tmp_path: Path) -> None:
    done = export(book, What.ACTIONS, tmp_path / "acts.csv")
    with (tmp_path / "acts.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert done.rows == len(rows) == 10
    assert (rows[-1]["by"], rows[-1]["access"], rows[-1]["what"]) == (ANA, "engineer", "signed in")
