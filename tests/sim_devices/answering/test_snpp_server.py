"""sim_devices/snpp_server.py, snpp_session.py, pager_book.py: the paging terminal says what RFC 1861 says it does."""

import socket
import struct
import threading
from collections.abc import Iterator
from contextlib import ExitStack

import pytest

from rules.readings import Micros
from sim_devices.answering.pager_book import Fate, Pager, PagerBook
from sim_devices.answering.snpp_server import LONGEST_LINE, MOST_CONVERSATIONS, SnppServer
from sim_devices.answering.snpp_session import MOST_ERRORS, MOST_LETTERS, MOST_PAGERS, SnppSession

PATIENCE_SECONDS = 10.0
NOW = Micros(812_727_296_000_000)  # 1995-10-03 13:34:56 UTC


def book(*pagers: Pager) -> PagerBook:
    return PagerBook(now=lambda: NOW, pagers={pager.number: pager for pager in pagers} or None)


@pytest.fixture
def session() -> SnppSession:
    return SnppSession(
        book(Pager("5551212"), Pager("5550001", two_way=True), Pager("5550002", two_way=True, is_on=False))
    )


def codes(session: SnppSession, *lines: str) -> list[int]:
    return [int(said[:3]) for line in lines for said in session.hear(line)]


# ---- pages at levels two and three; the RFC's own dialogues are in test_snpp_rfc1861.py ------------------------------


def test_a_page_at_level_two_with_lines(session: SnppSession) -> None:
    lines = ("LEVE 0", "CALL 5559999", "SUBJ Network", "PAGE 5551212", "DATA", "It is down.", "Again.", ".", "SEND")
    assert codes(session, *lines) == [250, 250, 250, 250, 354, 250, 250]
    (page,) = session.book.pages()
    assert (page.draft.words, page.draft.services[0].level) == ("It is down.\nAgain.", 0)
    assert (page.draft.caller, page.draft.subject) == ("5559999", "Network")


def test_a_two_way_page_with_choices_until_its_answer(session: SnppSession) -> None:
    lines = ("2WAY", "ACKR 1", "RTYP MULTICHOICE", "PAGE 5550001", "MESS Lunch?", "MCRE 01 Yes", "MCRE 02 No")
    assert codes(session, *lines) == [250, 250, 250, 850, 250, 250, 250]
    (taken,) = session.hear("SEND")
    code, tag, key, *_ = taken.split()
    assert code == "860"
    told = []
    for fate, reply in ((Fate.READ, None), (Fate.ANSWERED, "02")):
        session.book.move(tag, fate, reply)
        told += [*session.hear("2WAY"), *session.hear(f"MSTA {tag} {key}")][1:]
    # Sequence, date and time as YYMMDDHHMMSS with the offset, then what the code says (RFC 1861, 4.6.10).
    assert told == ["870 2 951003133456+0 Read, awaiting reply", "888 3 951003133456+0 02 Reply received"]
    assert codes(session, f"KTAG {tag} {key}", f"MSTA {tag} {key}") == [250, 550]


def test_a_pager_out_of_reach_is_queued_or_refused(session: SnppSession) -> None:
    assert codes(session, "2WAY", "PAGE 5550002", "MESS x", "SEND") == [250, 950, 250, 960]
    assert codes(session, "RESE", "2WAY", "NOQUEUEing", "PAGE 5550002") == [250, 250, 250, 750]


def test_a_page_that_expired_is_told_by_the_code_of_the_list(session: SnppSession) -> None:
    codes(session, "2WAY", "PAGE 5550002", "MESS x")
    _, tag, key, *_ = session.hear("SEND")[0].split()
    session.book.move(tag, Fate.EXPIRED)
    assert codes(session, "2WAY", f"MSTA {tag} {key}") == [250, 780]


# ---- what it refuses -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        (["SEND"], 503),
        (["PAGE 5551212", "SEND"], 503),
        (["MESS x", "SEND"], 503),
        (["PAGE 5550009"], 550),
        (["PAGE"], 550),
        (["PAGE 5551212", "PAGE 5551212"], 503),
        (["MESS"], 550),
        (["MESS x", "MESS y"], 503),
        (["MESS x", "DATA"], 503),
        (["MESS " + "x" * (MOST_LETTERS + 1)], 550),
        (["DATA", "x" * 400, "x" * 400, "."], 550),
        (["DATA", "."], 550),
        (["LEVE 12"], 550),
        (["LEVE -1"], 550),
        (["LEVE"], 550),
        (["ALER 2"], 550),
        (["HOLD 9510031334"], 250),
        (["HOLD 951003133456"], 250),
        (["HOLD 951003133456 -0600"], 250),
        (["HOLD tomorrow"], 550),
        (["HELO there"], 500),
        (["SEND now"], 550),
        (["MSTA 1 2"], 550),
        (["PING 5550001"], 550),
        (["2WAY", "PING 5550001"], 821),
        (["2WAY", "PING 5550002"], 920),
        (["2WAY", "PAGE 5551212"], 550),
        (["PAGE 5551212", "2WAY"], 550),
        (["2WAY", "MCRE 1 Yes"], 550),
        (["2WAY", "RTYP MULTICHOICE", "MCRE 01 Yes", "MCRE 01 No"], 502),
        (["2WAY", "RTYP MULTICHOICE", "MCRE 123 Yes"], 550),
        (["2WAY", "RTYP MULTICHOICE", "MCRE 01"], 550),
        (["2WAY", "RTYP PERHAPS"], 550),
        (["2WAY", "EXPT x"], 550),
        (["2WAY", "ACKR 2"], 550),
    ],
)
def test_what_is_allowed_and_what_is_not(session: SnppSession, lines: list[str], said: int) -> None:
    assert codes(session, *lines)[-1] == said


@pytest.mark.parametrize("word", ["page", "PaGeR", "PAGER", "PAGEr"])
def test_four_letters_of_a_command_count_in_either_case(session: SnppSession, word: str) -> None:
    assert codes(session, f"{word} 5551212") == [250]


def test_a_reset_forgets_what_was_entered(session: SnppSession) -> None:
    assert codes(session, "PAGE 5551212", "MESS x", "RESE", "SEND") == [250, 250, 250, 503]


def test_too_many_pagers_and_too_many_errors() -> None:
    crowded = SnppSession(book())
    assert codes(crowded, *(f"PAGE {number}" for number in range(MOST_PAGERS + 1)))[-1] == 552
    assert codes(crowded, *["HELO"] * (MOST_ERRORS - 1))[-1] == 421
    assert crowded.is_over


def test_a_terminal_with_a_login_takes_nothing_before_it() -> None:
    guarded = SnppSession(PagerBook(now=lambda: NOW, login=("sinkside", "rosebud-7")))
    lines = ("PAGE 1", "LOGI sinkside tulip", "PAGE 1", "LOGI sinkside rosebud-7", "PAGE 1")
    assert codes(guarded, *lines) == [550, 550, 550, 250, 250]


# ---- on a socket -----------------------------------------------------------------------------------------------------


@pytest.fixture
def line() -> Iterator[socket.socket]:
    with SnppServer(book()) as server, socket.create_connection(("127.0.0.1", server.port), 10) as connection:
        yield connection


def test_commands_come_in_pieces_and_several_at_once(line: socket.socket) -> None:
    line.sendall(b"PAGE 55")
    line.sendall(b"51212\r\nMESS x\nSEND\r\nQUIT\r\n")
    said = line.makefile("rb").read()
    assert [row[:3] for row in said.splitlines()] == [b"220", b"250", b"250", b"250", b"221"]


def test_the_longest_line_is_heard_to_its_end(line: socket.socket) -> None:
    line.sendall(b"x" * (LONGEST_LINE - 2) + b"\r\nQUIT\r\n")
    said = line.makefile("rb").read()
    assert [row[:3] for row in said.splitlines()] == [b"220", b"500", b"221"]


def connected(server: SnppServer) -> socket.socket:
    return socket.create_connection(("127.0.0.1", server.port), PATIENCE_SECONDS)


def first_word(connection: socket.socket) -> bytes:
    return connection.makefile("rb").readline()[:3]


def test_who_says_nothing_is_told_that_the_time_is_over() -> None:
    # RFC 1861, 4.8
    with SnppServer(book(), idle_seconds=0.01) as server, connected(server) as connection:
        assert connection.makefile("rb").read().splitlines()[1:] == [b"421 Timeout, goodbye"]


def test_a_terminal_talks_to_so_many_at_once_and_to_the_next_when_one_has_gone() -> None:
    with SnppServer(book()) as server, ExitStack() as stack:
        talking = [stack.enter_context(connected(server)) for _ in range(MOST_CONVERSATIONS)]
        assert {first_word(one) for one in talking} == {b"220"}
        with connected(server) as one_more:
            assert one_more.makefile("rb").read() == b"421 Too many conversations, goodbye\r\n"
        talking[0].sendall(b"QUIT\r\n")
        assert talking[0].makefile("rb").read() == b"221 OK, goodbye\r\n"
        assert server._listener.places.acquire(timeout=PATIENCE_SECONDS)


RESETS = struct.pack("ii", 1, 0)  # SO_LINGER: on, 0 s, so that what closes resets


@pytest.mark.parametrize("resets", [True, False])
def test_who_leaves_without_a_word_ends_the_conversation_and_nothing_else(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str], *, resets: bool
) -> None:
    ended = threading.Event()
    with SnppServer(book()) as server:
        ends = server._listener.shutdown_request

        def end(request: socket.socket) -> None:
            ends(request)
            ended.set()

        monkeypatch.setattr(server._listener, "shutdown_request", end)
        with connected(server) as connection:
            assert first_word(connection) == b"220"
            if resets:
                connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, RESETS)
        assert ended.wait(PATIENCE_SECONDS)
    assert capfd.readouterr().err == ""


def test_a_terminal_is_heard_on_this_machine_only() -> None:
    with SnppServer(book()) as server:
        assert server._listener.server_address[0] == "127.0.0.1"


def test_a_line_without_an_end_closes_the_connection(line: socket.socket) -> None:
    line.sendall(b"x" * (LONGEST_LINE + 1))
    assert b"421" in line.makefile("rb").read()
