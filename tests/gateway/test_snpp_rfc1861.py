"""gateway/snpp.py by the text of RFC 1861: what its printed servers are told, and what is made of their answers."""

from dataclasses import replace

import pytest

from gateway.channel import Message, NeverError, NotNowError, Receipt, Reply
from gateway.channel_settings import SnppChannel
from gateway.snpp import Snpp
from rules.alert_words import Confirmation, PageWhy, Priority
from rules.readings import Micros
from sim_devices.answering.pager_book import Fate, Pager, PagerBook
from sim_devices.answering.snpp_server import SnppServer
from tests.gateway.scripted import Replying
from tests.sim_devices.answering.rfc1861 import LEVEL_ONE, LEVEL_THREE, LEVEL_TWO, answers_of

HANDLE = "00321 1234"
NOW = Micros(1_767_225_600_000_000)
MESSAGE = Message(
    page="p7",
    address="5551212",
    brief="Network",
    text="Your network is hosed",
    link=None,
    priority=Priority.HIGH,
    why=PageWhy.FIRST,
    alerts=("a1",),
    asked=NOW,
    expires=Micros(NOW + 600_000_000),
)
SHIRLEY = replace(MESSAGE, address="SHIRLEY")
LEVELS = answers_of(LEVEL_THREE) | {"LEVE": "250 OK, Alternate Service Level Accepted", "EXPT": "250 Changed"}


def channel(port: int, **settings: object) -> Snpp:
    given = {"id": "pager", "kind": "snpp", "host": "127.0.0.1", "port": port}
    return Snpp(SnppChannel.model_validate({**given, **settings}))


def told(says: dict[str, str], **settings: object) -> tuple[Receipt, list[str]]:
    """What is made of a two-way page that a terminal with these answers is given, and what it heard."""
    with Replying("220 SNPP (V3) Gateway Ready", says) as server:
        receipt = channel(server.port, two_way=True, **settings).send(SHIRLEY)
    return receipt, server.asked


# ---- the printed dialogues -------------------------------------------------------------------------------------------


def test_4_1_1_the_page_of_level_one_is_said_as_it_is_printed() -> None:
    with Replying("220 SNPP Gateway Ready", answers_of(LEVEL_ONE)) as server:
        receipt = channel(server.port).send(MESSAGE)
    assert receipt == Receipt(Confirmation.ACCEPTED, "250 Message Sent OK")
    assert server.asked == ["LEVE 0", *(turn.said for turn in LEVEL_ONE)]


def test_4_1_2_the_server_of_level_two_takes_a_long_page_as_lines() -> None:
    with Replying("220 SNPP Server Ready", answers_of(LEVEL_TWO)) as server:
        receipt = channel(server.port).send(replace(MESSAGE, text="cold " * 34))
    assert receipt == Receipt(Confirmation.ACCEPTED, "250 Message Sent OK")
    assert server.asked[2:] == ["SUBJ Network", "DATA", ("cold " * 34).strip(), ".", "SEND", "QUIT"]


def test_4_1_3_the_server_of_level_three_delivers_and_is_asked_on() -> None:
    receipt, asked = told(LEVELS | {"MESS": "250 Message OK"})
    assert receipt == Receipt(Confirmation.DELIVERED, "860 Message Delivered", HANDLE)
    assert asked == [
        "2WAY",
        "EXPT 1",
        "LEVE 0",
        "PAGE SHIRLEY",
        "ACKR 1",
        "MESS Your network is hosed",
        "RTYP MULTICHOICE",
        "MCRE 01 I go",
        "MCRE 02 Cannot",
        "SEND",
        "QUIT",
    ]


# ---- what not every terminal knows -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("minutes", "hours"), [(0, 1), (10, 1), (60, 1), (61, 2)])
def test_4_6_3_a_page_that_waits_for_its_pager_expires_when_nobody_needs_it_any_more(minutes: int, hours: int) -> None:
    book = PagerBook(now=lambda: NOW, pagers={"AWAY": Pager("AWAY", two_way=True, is_on=False)})
    late = replace(MESSAGE, address="AWAY", expires=Micros(NOW + minutes * 60_000_000))
    with SnppServer(book) as server:
        channel(server.port, two_way=True).send(late)
    assert book.pages()[0].draft.expiry_hours == hours


def test_4_6_6_a_pager_whose_carrier_cannot_choose_is_still_followed() -> None:
    book = PagerBook(now=lambda: NOW, pagers={"SHIRLEY": Pager("SHIRLEY", two_way=True, reply_types=("NONE",))})
    with SnppServer(book) as server:
        pager = channel(server.port, two_way=True)
        sent = pager.send(SHIRLEY)
        book.move(book.pages()[0].tag, Fate.READ)
        assert sent.handle is not None
        assert (sent.confirmation, pager.poll(sent.handle).confirmation) == (Confirmation.DELIVERED, Confirmation.READ)
    assert book.pages()[0].draft.choices == ()


def test_4_6_6_where_replies_are_refused_none_is_offered() -> None:
    _, asked = told(LEVELS | {"MESS": "250 OK", "RTYP": "550 Illegal Reply Type"})
    assert not [said for said in asked if said.startswith("MCRE")]


def test_4_6_7_a_terminal_that_wants_its_choices_in_hex_gets_them() -> None:
    _, asked = told(LEVELS | {"MESS": "250 OK", "MCRE": "550 Invalid MCResponse Code"})
    assert [said for said in asked if said.startswith("MCRE")] == [
        "MCRE 01 I go",
        "MCRE 0001 I go",
        "MCRE 02 Cannot",
        "MCRE 0002 Cannot",
    ]


@pytest.mark.parametrize("verb", ["2WAY", "EXPT", "LEVE", "CALL", "ACKR", "RTYP", "MCRE"])
def test_4_2_4_a_terminal_that_ends_the_session_is_quoted_wherever_it_does(verb: str) -> None:
    says = LEVELS | {"MESS": "250 OK", "CALL": "250 OK", verb: "421 SERVER DOWN, Goodbye"}
    with pytest.raises(NotNowError, match="said 421 SERVER DOWN"):
        told(says, caller_id="ward")


@pytest.mark.parametrize("verb", ["PAGE", "MESS", "SEND"])
def test_4_2_7_what_is_refused_for_a_technical_reason_is_tried_again(verb: str) -> None:
    with pytest.raises(NotNowError, match="said 554"):
        told(LEVELS | {"MESS": "250 OK", verb: "554 Error, failed"})


def test_4_6_8_a_pager_out_of_reach_of_a_terminal_that_queues_nothing_is_tried_again() -> None:
    with pytest.raises(NotNowError, match="said 750"):
        told(LEVELS | {"PAGE": "750 Two-Way Unit NOT Online; Transaction Denied"})


def test_4_3_3_after_a_reset_the_terminal_is_told_again_who_we_are(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PAGER_PASSWORD", "rosebud-7")
    book = PagerBook(now=lambda: NOW, pagers={"5551212": Pager("5551212")}, login=("sinkside", "rosebud-7"))
    with SnppServer(book) as server:
        login = {"username": "sinkside", "password_env": "PAGER_PASSWORD"}
        channel(server.port, two_way=True, **login).send(MESSAGE)
    assert [page.draft.two_way for page in book.pages()] == [False]


def test_4_4_1_a_full_stop_that_begins_a_line_ends_no_lines() -> None:
    with Replying("220 SNPP Server Ready", answers_of(LEVEL_TWO)) as server:
        channel(server.port).send(replace(MESSAGE, text=f"...{'cold ' * 34}"))
    assert [said[:5] for said in server.asked if "cold" in said] == [" ...c"]


# ---- what is told of a page ------------------------------------------------------------------------------------------


def polled(answer: str, begins: str = "250 Two-Way Mode Enabled") -> Receipt:
    with Replying("220 SNPP (V3) Gateway Ready", {"2WAY": begins, "MSTA": answer, "QUIT": "221 OK"}) as server:
        return channel(server.port, two_way=True).poll(HANDLE)


@pytest.mark.parametrize(
    ("answer", "confirmation", "handle"),
    [
        ("860 1 950925143501+7 Delivered, Awaiting Read Confirmation", Confirmation.DELIVERED, HANDLE),
        ("861 1 950925143501+7 Delivered, Awaiting Reply (MCR)", Confirmation.DELIVERED, HANDLE),
        ("862 1 950925143501+7 Delivered, awaiting what not", Confirmation.DELIVERED, HANDLE),  # 4.6.9: 86x
        ("870 2 950925143501+7 Delivered, Read, Awaiting Reply (MCR)", Confirmation.READ, HANDLE),
        ("880 2 950925143501+7 Message Delivered (No Reply Pending)", Confirmation.DELIVERED, None),
        ("881 2 950925143501+7 Message Delivered and Read by Recipient", Confirmation.READ, None),
        ("888 3 950925143501+7 01 MCR Reply Received", Confirmation.ANSWERED, None),
        ("889 3 950925143501+7 Whatever they write", Confirmation.ANSWERED, None),
        ("960 1 950925143501+7 Message Queued; Awaiting Delivery", Confirmation.ACCEPTED, HANDLE),
    ],
)
def test_4_6_10_what_is_told_and_whether_more_is_to_be_heard(
    answer: str, confirmation: Confirmation, handle: str | None
) -> None:
    receipt = polled(answer)
    assert (receipt.confirmation, receipt.handle) == (confirmation, handle)


@pytest.mark.parametrize("code", ["01", "0001", "1"])
def test_4_6_7_a_reply_is_known_in_each_form_of_its_code(code: str) -> None:
    assert polled(f"888 3 950925143501+7 {code} MCR Reply Received").reply is Reply.ACKNOWLEDGE


@pytest.mark.parametrize("code", [780, 760])  # the list of 4.6.10, and the text of 4.6.3
def test_4_6_3_a_page_that_expired_is_lost(code: int) -> None:
    with pytest.raises(NeverError, match=f"said {code} 1 950925143501"):
        polled(f"{code} 1 950925143501+7 MESSAGE EXPIRED Before Delivery!")


@pytest.mark.parametrize(
    ("answer", "begins"),
    [
        ("550 Unknown or Illegal Message_Tag or Pass_Code", "250 OK"),
        ("500 Command Not Implemented", "250 OK"),
        ("", "500 Command Not Implemented"),
    ],
)
def test_4_6_10_a_tag_that_the_terminal_has_forgotten_makes_no_page_a_lost_one(answer: str, begins: str) -> None:
    receipt = polled(answer, begins)
    assert (receipt.confirmation, receipt.handle) == (Confirmation.ACCEPTED, None)


def test_4_5_1_who_is_not_let_in_to_ask_has_lost_no_page(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PAGER_PASSWORD", "tulip-9-wrong")
    says = {"LOGI": "550 Error, Invalid LoginID or Password"}
    login = {"username": "sinkside", "password_env": "PAGER_PASSWORD"}
    with Replying("220 SNPP Gateway Ready", says) as server, pytest.raises(NotNowError, match="said 550"):
        channel(server.port, two_way=True, **login).poll(HANDLE)


def test_4_6_9_a_page_that_is_delivered_with_nothing_to_come_is_asked_after_no_more() -> None:
    receipt, _ = told(LEVELS | {"MESS": "250 OK", "SEND": "880 00321 1234 Message Delivered"})
    assert (receipt.confirmation, receipt.handle) == (Confirmation.DELIVERED, None)
