"""gateway/snpp.py and snpp_dialogue.py against a paging terminal that is strict by RFC 1861, and against poor ones."""

import logging
import socket
import ssl
import traceback
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from gateway.channel import AskableChannel, ChannelError, Message, NeverError, NotNowError, Receipt, Reply
from gateway.channel_settings import SnppChannel
from gateway.snpp import Snpp
from gateway.snpp_dialogue import Dialogue
from rules.alert_words import Confirmation, PageWhy, Priority
from rules.readings import Micros
from sim_devices.answering.pager_book import Fate, Page, Pager, PagerBook
from sim_devices.answering.snpp_server import SnppServer
from tests.gateway.scripted import Dripping, Replying, Scripted

NOW = Micros(1_767_225_600_000_000)
MESSAGE = Message(
    page="p7",
    address="5551212",
    brief="Basin 1 too cold",
    text="Basin 1, soak room: 18 °C, its label asks for 20 °C.",
    link="https://s.example/p/abc",
    priority=Priority.HIGH,
    why=PageWhy.FIRST,
    alerts=("a1",),
    asked=NOW,
    expires=Micros(NOW + 600_000_000),
)
TWO_WAY = replace(MESSAGE, address="5550001")


@pytest.fixture
def book() -> PagerBook:
    pagers = (
        Pager("5551212"),
        Pager("5550001", two_way=True),
        Pager("5550002", two_way=True, is_on=False),
        Pager("5550003", pin="1234"),
    )
    return PagerBook(now=lambda: NOW, pagers={pager.number: pager for pager in pagers})


@pytest.fixture
def port(book: PagerBook) -> Iterator[int]:
    with SnppServer(book) as server:
        yield server.port


def channel(port: int, **settings: object) -> Snpp:
    given = {"id": "pager", "kind": "snpp", "host": "127.0.0.1", "port": port}
    return Snpp(SnppChannel.model_validate({**given, **settings}))


def taken(book: PagerBook) -> Page:
    (page,) = book.pages()
    return page


# ---- one way ---------------------------------------------------------------------------------------------------------


def test_a_page_is_taken_and_nothing_more_is_claimed(port: int, book: PagerBook) -> None:
    receipt = channel(port, caller_id="ultrasound").send(MESSAGE)
    assert receipt == Receipt(Confirmation.ACCEPTED, "250 Message sent")
    page = taken(book)
    assert page.draft.pagers == ("5551212",)
    assert page.draft.words == "Basin 1, soak room: 18 degC, its label asks for 20 degC. https://s.example/p/abc"
    assert page.draft.caller == "ultrasound"


@pytest.mark.parametrize(("priority", "level"), [(Priority.HIGH, 0), (Priority.MEDIUM, 1), (Priority.LOW, 2)])
def test_the_priority_is_the_service_level(port: int, book: PagerBook, priority: Priority, level: int) -> None:
    channel(port).send(replace(MESSAGE, priority=priority))
    assert taken(book).draft.services[0].level == level  # RFC 1861, 4.5.3: 0 priority, 1 normal, 2 five minutes


def test_a_text_too_long_for_a_line_goes_as_lines_with_a_subject(port: int, book: PagerBook) -> None:
    channel(port).send(replace(MESSAGE, text="cold " * 32))
    assert taken(book).draft.subject == "Basin 1 too cold"
    assert (taken(book).draft.words or "").endswith("cold https://s.example/p/abc")


def test_a_pager_s_letters_bound_the_text(port: int, book: PagerBook) -> None:
    channel(port, most_letters=80).send(replace(MESSAGE, text="cold " * 32))
    assert taken(book).draft.words == "Basin 1 too cold https://s.example/p/abc"


def test_a_text_can_give_no_orders(port: int, book: PagerBook) -> None:
    channel(port).send(replace(MESSAGE, text="Cold\r\nPAGE 5550001\n.", link=None))
    assert (taken(book).draft.words, taken(book).draft.pagers) == ("Cold PAGE 5550001 .", ("5551212",))


def test_a_pin_goes_with_the_number(port: int, book: PagerBook) -> None:
    channel(port).send(replace(MESSAGE, address="5550003 1234"))
    assert taken(book).draft.pagers == ("5550003",)
    with pytest.raises(NeverError, match="said 550 Invalid pager ID or PIN"):
        channel(port).send(replace(MESSAGE, address="5550003 9"))


@pytest.mark.parametrize("address", ["5551212\r\nQUIT", "5551212\nQUIT", "555 12 12", "", "5551212\x00", "münchen"])
def test_an_address_that_would_give_orders_is_refused_before_anybody_is_called(address: str) -> None:
    with pytest.raises(NeverError, match="the address cannot be used: expected a pager's number"):
        channel(9).send(replace(MESSAGE, address=address))


def test_a_number_that_nobody_has_is_not_tried_again(port: int, book: PagerBook) -> None:
    with pytest.raises(NeverError, match=r"127\.0\.0\.1 said 550"):
        channel(port).send(replace(MESSAGE, address="5559999"))
    assert not book.pages()


def test_a_terminal_with_a_login_lets_us_in(
    port: int, book: PagerBook, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    book.login = ("sinkside", "rosebud-7")
    login = {"username": "sinkside", "password_env": "PAGER_PASSWORD"}
    monkeypatch.setenv("PAGER_PASSWORD", "rosebud-7")
    channel(port, **login).send(MESSAGE)
    assert taken(book)
    monkeypatch.setenv("PAGER_PASSWORD", "tulip-9-wrong")
    with pytest.raises(NeverError, match="said 550 Invalid login") as caught:
        channel(port, **login).send(MESSAGE)
    assert "tulip" not in f"{caught.value}{channel(port, **login)!r}{caplog.text}"


def test_a_password_is_in_no_traceback(monkeypatch: pytest.MonkeyPatch) -> None:
    login = {"username": "sinkside", "password_env": "PAGER_PASSWORD"}
    for password, says in (("tulip-9", "550 no user with tulip-9"), ("tulip\xfc", "250 ok")):
        monkeypatch.setenv("PAGER_PASSWORD", password)
        with Replying("220 hi", {"LOGI": says}) as server, pytest.raises(ChannelError) as caught:
            channel(server.port, **login).send(MESSAGE)
        shown = "".join(traceback.format_exception(caught.value))
        assert "tulip" not in shown
        assert "\\xfc" not in shown


def test_a_terminal_behind_tls_is_verified(book: PagerBook, certificates: Path, tmp_path: Path) -> None:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificates / "broker.pem", certificates / "broker.key")
    with SnppServer(book) as server:
        server._listener.socket = context.wrap_socket(server._listener.socket, server_side=True)
        channel(server.port, tls="tls", ca_file=certificates / "ca.pem").send(MESSAGE)
        assert taken(book)
        with pytest.raises(NotNowError, match="its certificate cannot be trusted"):
            channel(server.port, tls="tls", ca_file=certificates / "stranger.pem").send(MESSAGE)
        with pytest.raises(NotNowError, match=r"ca_file .* cannot be used"):
            channel(server.port, tls="tls", ca_file=tmp_path / "none.pem").send(MESSAGE)
    assert len(book.pages()) == 1


# ---- two-way ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def pager(port: int) -> Snpp:
    return channel(port, two_way=True)


def told(pager: Snpp, receipt: Receipt) -> Receipt:
    assert receipt.handle is not None
    return pager.poll(receipt.handle)


def test_a_two_way_page_is_followed_to_its_reply(pager: Snpp, book: PagerBook) -> None:
    assert isinstance(pager, AskableChannel)
    sent = pager.send(TWO_WAY)
    page = taken(book)
    assert (sent.confirmation, sent.handle) == (Confirmation.DELIVERED, f"{page.tag} {page.code}")
    assert page.draft.choices == (("01", "I go"), ("02", "Cannot"))
    book.move(page.tag, Fate.READ)
    assert told(pager, sent).confirmation is Confirmation.READ
    book.move(page.tag, Fate.ANSWERED, "01")
    answered = told(pager, sent)
    assert (answered.confirmation, answered.reply) == (Confirmation.ANSWERED, Reply.ACKNOWLEDGE)
    assert answered.handle is None


def test_who_cannot_go_declines(pager: Snpp, book: PagerBook) -> None:
    sent = pager.send(TWO_WAY)
    book.move(taken(book).tag, Fate.ANSWERED, "02")
    assert told(pager, sent).reply is Reply.DECLINE


def test_what_the_carrier_wrote_is_an_answer_and_is_not_kept(pager: Snpp, book: PagerBook) -> None:
    sent = pager.send(TWO_WAY)
    book.move(taken(book).tag, Fate.ANSWERED, "busy with Mrs Smith")
    answered = told(pager, sent)
    assert (answered.confirmation, answered.reply) == (Confirmation.ANSWERED, None)
    assert "Smith" not in answered.detail


def test_a_pager_out_of_reach_is_queued_and_told_no_better(pager: Snpp, book: PagerBook) -> None:
    sent = pager.send(replace(TWO_WAY, address="5550002"))
    assert sent.confirmation is Confirmation.ACCEPTED
    assert told(pager, sent).confirmation is Confirmation.ACCEPTED
    book.move(taken(book).tag, Fate.DELIVERED)
    assert told(pager, sent).confirmation is Confirmation.DELIVERED


def test_a_page_that_expired_is_lost(pager: Snpp, book: PagerBook) -> None:
    sent = pager.send(replace(TWO_WAY, address="5550002"))
    book.move(taken(book).tag, Fate.EXPIRED)
    with pytest.raises(NeverError, match="said 780"):
        told(pager, sent)


def test_what_is_known_no_longer_is_asked_no_more(pager: Snpp, book: PagerBook) -> None:
    sent = pager.send(TWO_WAY)
    assert sent.handle is not None
    pager.forget(sent.handle)
    assert not book.pages()
    assert pager.poll(sent.handle) == Receipt(Confirmation.ACCEPTED, "550 Unknown message tag or pass code")
    pager.forget(sent.handle)  # a courtesy never fails


def test_a_one_way_pager_is_paged_all_the_same(pager: Snpp, book: PagerBook) -> None:
    assert pager.send(MESSAGE) == Receipt(Confirmation.ACCEPTED, "250 Message sent")
    assert not taken(book).draft.two_way


def test_the_tag_s_pass_code_is_told_to_nobody(pager: Snpp, book: PagerBook) -> None:
    detail = pager.send(TWO_WAY).detail
    assert taken(book).code not in detail
    assert detail == "860 Delivered, awaiting read"


# ---- poor terminals, as bytes ----------------------------------------------------------------------------------------

HELLO, OK = b"220 hi\r\n", b"250 ok\r\n"
UNTIL_SEND = (HELLO, OK, OK, OK)  # greeting, then LEVE, PAGE, MESS


def test_the_least_that_a_terminal_may_be_gets_its_page() -> None:
    # RFC 1861, 4.3: PAGEr, MESSage, SEND, QUIT; what it does not know it refuses with 500 (4.7).
    with Scripted(HELLO, b"500 what\r\n", OK, OK, OK, b"221 bye\r\n") as server:
        assert channel(server.port).send(MESSAGE).confirmation is Confirmation.ACCEPTED
    assert [said.split()[0] for said in server.heard if said] == [b"LEVE", b"PAGE", b"MESS", b"SEND", b"QUIT"]
    assert all(said.endswith(b"\r\n") for said in server.heard if said)


@pytest.mark.parametrize(
    "said",
    [
        b"250-first\r\n250 and last\r\n",
        b"214 by the way\r\nanything\r\n250 ok\r\n",
        b"218 news\r\n250 ok\r\n",
        b"\r\n250 ok\r\n",
        b"250\r\n",
        b"250 \x00\xff\x1b[2J ok\r\n",
        b"299 whatever that is\r\n",
        b"250 ok\n",
    ],
)
def test_odd_ways_to_say_yes_are_understood(said: bytes) -> None:
    with Scripted(*UNTIL_SEND, said, b"221 bye\r\n") as server:
        receipt = channel(server.port).send(MESSAGE)
    assert receipt.confirmation is Confirmation.ACCEPTED
    assert receipt.detail.isprintable()


def test_a_greeting_in_pieces_is_heard_whole() -> None:
    with Scripted(*UNTIL_SEND, OK, b"221 bye\r\n", in_pieces=True) as server:
        assert channel(server.port).send(MESSAGE).confirmation is Confirmation.ACCEPTED


@pytest.mark.parametrize(
    ("said", "error", "words"),
    [
        (b"421 going down\r\n", NotNowError, "said 421 going down"),
        (b"503 message missing\r\n", NotNowError, "said 503"),
        (b"554 technical\r\n", NotNowError, "said 554"),
        (b"599 unheard of\r\n", NotNowError, "said 599"),
        (b"550 no\r\n", NeverError, "said 550 no"),
        (b"552 too much\r\n", NeverError, "said 552"),
        (b"354 go on\r\n", NotNowError, "said 354"),
        (b"hello\r\n", NotNowError, "a line without a code"),
        (b"x" * 3000, NotNowError, "a line that does not end"),
        (b"214 x\r\n" * 300, NotNowError, "more than it was asked for"),
        (b"", NotNowError, "it ended the connection"),
    ],
)
def test_ways_to_say_no(said: bytes, error: type[Exception], words: str) -> None:
    with Scripted(*UNTIL_SEND, *([said] if said else [])) as server, pytest.raises(error, match=words):
        channel(server.port).send(MESSAGE)


def test_a_terminal_that_is_full_is_tried_again() -> None:
    with Scripted(b"421 too many\r\n") as server, pytest.raises(NotNowError, match="said 421 too many"):
        channel(server.port).send(MESSAGE)


def test_a_terminal_that_says_nothing_is_left_when_the_time_is_over() -> None:
    with Scripted(HELLO, holds=True) as server, pytest.raises(NotNowError, match=r"within 1 s|no answer in time"):
        channel(server.port, timeout_seconds=1).send(MESSAGE)


def test_a_terminal_that_never_comes_to_its_point_is_left_when_the_time_is_over() -> None:
    with Dripping(b"2") as server, pytest.raises(NotNowError, match="not done within 1 s"):
        channel(server.port, timeout_seconds=1).send(MESSAGE)


def test_a_line_that_is_one_full_stop_does_not_end_the_lines(port: int, book: PagerBook) -> None:
    with socket.create_connection(("127.0.0.1", port), 10) as connection:
        dialogue = Dialogue(connection)
        for answer in (dialogue.greeted(), dialogue.ask("PAGE", "5551212"), dialogue.ask_with_lines("a", ".", "b")):
            assert answer.kind == 2
        assert dialogue.ask("SEND").kind == 2
    assert taken(book).draft.words == "a\n .\nb"


def test_nobody_at_the_port_is_told_and_tried_again() -> None:
    with socket.create_server(("127.0.0.1", 0)) as gone:
        port = gone.getsockname()[1]
    with pytest.raises(NotNowError, match=r"127\.0\.0\.1: Connection refused"):
        channel(port).send(MESSAGE)
    channel(port).forget("1 2")


def test_a_grumble_at_the_end_takes_nothing_back() -> None:
    with Scripted(*UNTIL_SEND, OK) as server:
        assert channel(server.port).send(MESSAGE).confirmation is Confirmation.ACCEPTED


@pytest.mark.parametrize(
    ("said", "confirmation", "reply"),
    [
        # Codes of RFC 1861, 4.6.10; a date and time of 12 digits with and without the offset, or of 10.
        (b"960 1 951003133456+0600 queued\r\n", Confirmation.ACCEPTED, None),
        (b"860 1 951003133456-0600 delivered, read awaited\r\n", Confirmation.DELIVERED, None),
        (b"861 1 951003133456 delivered, reply awaited\r\n", Confirmation.DELIVERED, None),
        (b"870 1 951003133456 read, reply awaited\r\n", Confirmation.READ, None),
        (b"880 1 951003133456 delivered\r\n", Confirmation.DELIVERED, None),
        (b"881 1 951003133456 read\r\n", Confirmation.READ, None),
        (b"888 1 951003133456+0000 1 reply received\r\n", Confirmation.ANSWERED, Reply.ACKNOWLEDGE),
        (b"888 17 951003133456 -0600 02 reply received\r\n", Confirmation.ANSWERED, Reply.DECLINE),
        (b"888 1 9510031334 1\r\n", Confirmation.ANSWERED, Reply.ACKNOWLEDGE),
        (b"888 1 951003133456 7 what is that\r\n", Confirmation.ANSWERED, None),
        (b"889 1 951003133456 on my way\r\n", Confirmation.ANSWERED, None),
        (b"899 1 951003133456 unheard of\r\n", Confirmation.ACCEPTED, None),
    ],
)
def test_what_is_told_of_a_page(said: bytes, confirmation: Confirmation, reply: Reply | None) -> None:
    with Scripted(HELLO, OK, said, b"221 bye\r\n") as server:
        receipt = channel(server.port, two_way=True).poll("tag 0001")
    assert (receipt.confirmation, receipt.reply) == (confirmation, reply)
    assert server.heard[1] == b"MSTA tag 0001\r\n"


@pytest.mark.parametrize(
    ("said", "error"),
    [
        (b"780 1 951003133456 expired\r\n", NeverError),  # 4.6.10
        (b"760 1 951003133456 expired\r\n", NeverError),  # 4.6.3
        (b"750 not in reach\r\n", NotNowError),
        (b"421 going down\r\n", NotNowError),
    ],
)
def test_what_is_told_of_a_page_that_is_lost(said: bytes, error: type[Exception]) -> None:
    with Scripted(HELLO, OK, said) as server, pytest.raises(error):
        channel(server.port, two_way=True).poll("tag 0001")


def test_a_terminal_of_one_way_only_is_spoken_to_in_one_way() -> None:
    with Scripted(HELLO, b"500 what\r\n", OK, OK, OK, OK, b"221 bye\r\n") as server:
        receipt = channel(server.port, two_way=True).send(MESSAGE)
    assert (receipt.confirmation, receipt.handle) == (Confirmation.ACCEPTED, None)
    assert [said.split()[0] for said in server.heard if said] == [b"2WAY", b"LEVE", b"PAGE", b"MESS", b"SEND", b"QUIT"]
