"""sim_devices/snpp_session.py by the text of RFC 1861: its printed dialogues, and what its sections say of order."""

import pytest

from rules.readings import Micros
from sim_devices.answering.pager_book import Fate, Page, Pager, PagerBook, Service
from sim_devices.answering.snpp_session import SnppSession
from tests.sim_devices.answering.rfc1861 import LEVEL_ONE, LEVEL_THREE, LEVEL_TWO, Turn

NOW = Micros(812_039_701_000_000)  # 1995-09-25 14:35:01 UTC
PAGERS = (
    Pager("5551212", pin="FOOBAR"),
    Pager("5552323", pin="XYZZY"),
    Pager("SHIRLEY", two_way=True),
    Pager("AWAY", two_way=True, is_on=False),
    Pager("BRIEF", two_way=True, reply_types=("NONE", "YESNO")),
)


@pytest.fixture
def session() -> SnppSession:
    return SnppSession(PagerBook(now=lambda: NOW, pagers={pager.number: pager for pager in PAGERS}))


def codes(session: SnppSession, *lines: str) -> list[int]:
    return [int(said[:3]) for line in lines for said in session.hear(line)]


def printed(dialogue: tuple[Turn, ...]) -> list[int]:
    return [int(turn.answer[:3]) for turn in dialogue if turn.answer]


def taken(session: SnppSession) -> Page:
    (page,) = session.book.pages()
    return page


# ---- the printed dialogues -------------------------------------------------------------------------------------------


def test_4_1_1_a_level_one_connection() -> None:
    session = SnppSession(PagerBook(now=lambda: NOW))
    assert session.greeting()[:3] == "220"
    assert codes(session, *(turn.said for turn in LEVEL_ONE)) == printed(LEVEL_ONE)
    assert (taken(session).draft.pagers, taken(session).draft.words) == (("5551212",), "Your network is hosed")
    assert session.is_over


def test_4_1_2_a_level_two_transaction_asks_each_pager_its_own(session: SnppSession) -> None:
    assert codes(session, *(turn.said for turn in LEVEL_TWO)) == printed(LEVEL_TWO)
    draft = taken(session).draft
    assert draft.pagers == ("5551212", "5552323")
    assert draft.services == (Service(coverage="2"), Service(held_until="9401152300 -0600"))
    assert (draft.subject, draft.words) == ("Seattle Meeting", "Please meet me tomorrow at\nthe Seattle office")


def test_4_1_3_a_two_way_transaction(session: SnppSession) -> None:
    assert codes(session, *(turn.said for turn in LEVEL_THREE)) == printed(LEVEL_THREE)
    draft = taken(session).draft
    assert (draft.pagers, draft.may_queue, draft.asks_read) == (("SHIRLEY",), False, True)
    assert [code for code, _ in draft.choices] == ["01", "02", "03", "04", "05"]


# ---- level 1 and 2 ---------------------------------------------------------------------------------------------------


def test_4_3_3_a_reset_is_as_a_fresh_connection_with_nobody_logged_in(session: SnppSession) -> None:
    session.book.login = ("fish", "ghoti")
    assert codes(session, "LOGI fish ghoti", "PAGE SHIRLEY", "RESE", "PAGE SHIRLEY") == [250, 250, 250, 550]


def test_4_5_2_what_is_asked_for_one_pager_is_not_asked_for_the_next(session: SnppSession) -> None:
    codes(session, "LEVE 0", "ALER 0", "PAGE SHIRLEY", "PAGE AWAY", "MESS x", "SEND")
    assert taken(session).draft.services == (Service(level=0, alerts=False), Service())


@pytest.mark.parametrize(
    ("moment", "said"),
    [
        ("9401152300", 250),  # as in 4.1.2
        ("940115230000", 250),  # as in 4.5.6
        ("940115230000 -0600", 250),
        ("941315230000", 550),
        ("940230230000", 550),
        ("9401152400", 550),
    ],
)
def test_4_5_6_a_held_page_s_time_is_one_that_there_is(session: SnppSession, moment: str, said: int) -> None:
    assert codes(session, f"HOLD {moment}") == [said]


# ---- level 3 ---------------------------------------------------------------------------------------------------------


def test_4_6_1_two_way_mode_ends_with_the_page(session: SnppSession) -> None:
    codes(session, "2WAY", "PAGE SHIRLEY", "MESS x", "SEND")
    asks = f"MSTA {taken(session).tag} {taken(session).code}"
    assert codes(session, asks, "2WAY", asks, asks) == [550, 250, 880, 880]


def test_4_6_1_two_way_mode_ends_with_a_reset_and_not_with_a_page_that_lacks_something(session: SnppSession) -> None:
    assert codes(session, "2WAY", "SEND", "ACKR 1", "RESE", "ACKR 1") == [250, 503, 250, 250, 550]


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        (["PING AWAY"], 920),  # 4.6.2
        (["NOQU", "PING AWAY"], 750),
        (["EXPT 12"], 250),  # 4.6.3
        (["PAGE SHIRLEY", "NOQU"], 550),  # 4.6.4: before the pager
        (["RTYP NONE", "RTYP TEXT"], 503),  # 4.6.6
        (["RTYP MULTICHOICE", "MCRE 1E2C Here is one response"], 250),  # 4.6.7, its examples
        (["RTYP MULTICHOICE", "MCRE 0002 This is another response"], 250),
        (["RTYP MULTICHOICE", "MCRE 1 One"], 550),
        (["RTYP MULTICHOICE", "MCRE 1X2C Not hex"], 550),
        (["RTYP YESNO", "MCRE 01 Yes"], 550),
        (["PAGE SHIRLEY", "PAGE AWAY"], 503),  # 4.6.8
        (["RTYP MULTICHOICE", "PAGE BRIEF"], 550),
        (["RTYP YESNO", "PAGE BRIEF"], 850),
        (["PAGE BRIEF", "RTYP MULTICHOICE"], 550),
    ],
)
def test_4_6_what_two_way_mode_allows_and_in_what_order(session: SnppSession, lines: list[str], said: int) -> None:
    assert codes(session, "2WAY", *lines)[-1] == said


def test_4_6_3_hours_until_a_page_expires_are_kept_with_it(session: SnppSession) -> None:
    codes(session, "2WAY", "EXPT 12", "PAGE AWAY", "MESS x", "SEND")
    assert taken(session).draft.expiry_hours == 12


@pytest.mark.parametrize(
    ("asks", "sent", "read"),
    [
        ([], 880, 880),
        (["ACKR 1"], 860, 881),
        (["ACKR 1", "ACKR 0"], 880, 880),
        (["RTYP NONE"], 880, 880),
        (["RTYP TEXT"], 861, 861),
        (["RTYP YESNO", "ACKR 1"], 860, 870),
    ],
)
def test_4_6_9_what_is_still_to_come_is_what_was_asked_for(
    session: SnppSession, asks: list[str], sent: int, read: int
) -> None:
    assert codes(session, "2WAY", "PAGE SHIRLEY", *asks, "MESS x", "SEND")[-1] == sent
    page = taken(session)
    session.book.move(page.tag, Fate.READ)
    assert codes(session, "2WAY", f"MSTA {page.tag} {page.code}") == [250, read]


def test_4_6_10_the_sequence_rises_with_each_change_and_the_time_has_its_hours_from_gmt(session: SnppSession) -> None:
    codes(session, "2WAY", "ACKR 1", "RTYP TEXT", "PAGE SHIRLEY", "MESS x", "SEND")
    page = taken(session)
    assert page.tag.isdecimal()
    session.hear("2WAY")
    told = []
    for fate, reply in ((Fate.READ, None), (Fate.ANSWERED, "On my way")):
        told += session.hear(f"MSTA {page.tag} {page.code}")
        session.book.move(page.tag, fate, reply)
    told += session.hear(f"MSTA {page.tag} {page.code}")
    # YYMMDDHHMMSS+GMT, its example 950925143501+7
    assert [said.split(" ", 3)[:3] for said in told] == [
        ["860", "1", "950925143501+0"],
        ["870", "2", "950925143501+0"],
        ["889", "3", "950925143501+0"],
    ]
