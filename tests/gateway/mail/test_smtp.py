"""gateway/smtp.py against real mail servers on real sockets: letters, yes and no, what a server may offer."""

import email
import socket
from dataclasses import replace
from typing import cast

import pytest
from aiosmtpd.smtp import SMTP

from gateway.channel import NeverError, NotNowError
from rules.alert_words import Confirmation
from rules.readings import Micros
from tests.gateway.mail.mail_server import ASKED, MESSAGE, Post, Serve, channel
from tests.gateway.scripted import HANDSHAKE, Dripping, Scripted

# ---- the mail --------------------------------------------------------------------------------------------------------


def test_a_page_arrives_as_a_mail_that_says_what_sent_it_and_when(post: Post, serve: Serve) -> None:
    receipt = channel(serve()).send(MESSAGE)
    mail = post.mail()
    assert (receipt.confirmation, receipt.handle) == (Confirmation.ACCEPTED, None)  # RFC 5321, 4.5.4.1: queued, no more
    assert receipt.detail == "250 2.0.0 queued as 4F2"
    assert (mail["From"], mail["To"], mail["Subject"]) == (
        "sinkside@house.example",
        "charge@example.org",
        "Basin 1 too cold",
    )
    assert mail["Date"] == "Thu, 01 Jan 2026 00:00:00 +0000"
    assert mail["Auto-Submitted"] == "auto-generated"  # RFC 3834, 5
    assert (mail["Importance"], mail["Priority"]) == ("high", "urgent")  # RFC 2156, 5.3.4 and 5.3.6
    assert post.words() == f"{MESSAGE.text} {MESSAGE.link}"


def test_what_is_tried_again_is_the_same_mail_and_another_page_is_another(post: Post, serve: Serve) -> None:
    port = serve()
    for page in ("p7", "p7", "p8"):
        channel(port).send(replace(MESSAGE, page=page))
    first, again, other = (email.message_from_bytes(cast("bytes", mail.content)) for mail in post.taken)
    assert first.as_bytes() == again.as_bytes()
    assert first["Message-ID"] == "<page-p7.6474846204000.mill-lane@house.example>"
    assert other["Message-ID"] != first["Message-ID"]


def test_a_gateway_of_few_letters_gets_them_in_ascii_and_no_subject_that_it_would_count(
    post: Post, serve: Serve
) -> None:
    channel(serve(), most_letters=80, ascii_only=True).send(replace(MESSAGE, brief="Basin 1 below 20 °C"))
    mail = post.mail()
    assert "Subject" not in mail
    assert mail["Content-Transfer-Encoding"] == "7bit"
    assert post.words() == "Basin 1 below 20 degC https://s.example/p/abc"


def test_a_text_can_bring_no_header_and_end_no_mail(post: Post, serve: Serve) -> None:
    channel(serve()).send(replace(MESSAGE, brief="Cold\r\nBcc: all@example.org", text="Cold\r\n.\r\nQUIT"))
    mail = post.mail()
    assert (mail["Bcc"], mail["Subject"]) == (None, "Cold Bcc: all@example.org")
    assert post.words() == "Cold . QUIT https://s.example/p/abc"


@pytest.mark.parametrize(
    "address",
    [
        "a@b.example\r\nRCPT TO:<c@d.example>",
        "a@b.example>\n",
        "a b@c.example",
        "a@b@c.example",
        "@b.example",
        "a\x00@b",
    ],
)
def test_an_address_that_would_give_orders_is_refused_before_anybody_is_called(address: str) -> None:
    with pytest.raises(NeverError, match="the address cannot be used: expected a mailbox"):
        channel(9).send(replace(MESSAGE, address=address))


def test_a_mailbox_with_other_letters_needs_a_server_that_takes_them(post: Post, serve: Serve) -> None:
    message = replace(MESSAGE, address="stationsärztin@müller.example")
    channel(serve(enable_SMTPUTF8=True)).send(message)
    (envelope,) = post.taken
    assert envelope.rcpt_tos == ["stationsärztin@müller.example"]
    assert envelope.smtp_utf8
    with pytest.raises(NeverError, match="ASCII only"):
        channel(serve(enable_SMTPUTF8=False)).send(message)


def test_the_server_is_greeted_with_our_address(post: Post, serve: Serve) -> None:
    channel(serve()).send(MESSAGE)
    assert post.greeted_as == ["[127.0.0.1]"]  # RFC 5321, 4.1.3


# ---- yes and no ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "error"),
    [
        ("450 4.2.1 mailbox busy", NotNowError),
        ("451 4.3.0 local error", NotNowError),
        ("550 5.1.1 no such mailbox", NeverError),
        ("552 5.2.2 mailbox full", NeverError),
    ],
)
def test_a_recipient_is_refused_for_now_or_for_good(
    post: Post, serve: Serve, said: str, error: type[Exception]
) -> None:
    post.to_recipient = said
    with pytest.raises(error, match=f"127.0.0.1 said {said}"):
        channel(serve()).send(MESSAGE)
    assert not post.taken


@pytest.mark.parametrize(("said", "error"), [("452 4.3.1 no room", NotNowError), ("554 5.7.1 not wanted", NeverError)])
def test_so_is_a_text(post: Post, serve: Serve, said: str, error: type[Exception]) -> None:
    post.to_text = said
    with pytest.raises(error, match=said):
        channel(serve()).send(MESSAGE)


def test_a_recipient_that_is_forwarded_is_taken(post: Post, serve: Serve) -> None:
    post.to_recipient = "251 will forward"  # RFC 5321, 3.4
    channel(serve()).send(MESSAGE)
    assert len(post.taken) == 1


def test_a_server_that_is_closing_down_is_tried_again() -> None:
    with Scripted(b"421 closing down\r\n") as server, pytest.raises(NotNowError, match="said 421 closing down"):
        channel(server.port).send(MESSAGE)


def test_a_server_that_takes_no_mail_at_all_is_not_tried_again() -> None:
    with Scripted(b"554 no mail here\r\n") as server, pytest.raises(NeverError, match="said 554 no mail here"):
        channel(server.port).send(MESSAGE)


def test_a_server_that_hangs_up_is_tried_again() -> None:
    with Scripted(b"220 hello\r\n") as server, pytest.raises(NotNowError, match="it ended the connection"):
        channel(server.port).send(MESSAGE)


def test_a_server_that_speaks_something_else_is_tried_again() -> None:
    with Scripted(b"hello, this is no mail\r\n") as server, pytest.raises(NotNowError):
        channel(server.port).send(MESSAGE)


def test_a_server_that_says_ever_more_is_left() -> None:
    with Scripted(b"220-and\r\n" * 1000) as server, pytest.raises(NotNowError, match="more than it was asked for"):
        channel(server.port).send(MESSAGE)


def test_a_server_that_says_nothing_is_left_when_the_time_is_over() -> None:
    with Scripted(holds=True) as server, pytest.raises(NotNowError, match=r"within 1 s|no answer in time"):
        channel(server.port, timeout_seconds=1).send(MESSAGE)


def test_nobody_at_the_port_is_told_and_tried_again() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
    with pytest.raises(NotNowError, match=r"127\.0\.0\.1: Connection refused"):
        channel(port).send(MESSAGE)


def test_a_server_that_grumbles_at_the_end_has_taken_the_mail() -> None:
    answers = (
        b"220 hi\r\n",
        b"250 hi\r\n",
        b"250 ok\r\n",
        b"250 ok\r\n",
        b"354 go\r\n",
        b"250 taken\r\n",
        b"500 bye\r\n",
    )
    with Scripted(*answers) as server:
        assert channel(server.port).send(MESSAGE).detail == "250 taken"


def test_a_server_that_hangs_up_at_the_end_has_taken_the_mail() -> None:
    answers = (b"220 hi\r\n", b"250 hi\r\n", b"250 ok\r\n", b"250 ok\r\n", b"354 go\r\n", b"250 taken\r\n")
    with Scripted(*answers) as server:
        assert channel(server.port).send(MESSAGE).detail == "250 taken"


def test_a_server_that_never_comes_to_its_point_is_left_when_the_time_is_over() -> None:
    with Dripping(b"220-and\r\n") as server, pytest.raises(NotNowError, match="not done within 1 s"):
        channel(server.port, timeout_seconds=1).send(MESSAGE)


def test_a_server_that_never_ends_its_handshake_is_left_when_the_time_is_over() -> None:
    says = (b"220 hi\r\n", b"250-hi\r\n250 STARTTLS\r\n", b"220 go\r\n", HANDSHAKE)
    with Dripping(b"\0", *says) as server, pytest.raises(NotNowError, match=r"within 1 s|no answer in time"):
        channel(server.port, tls="starttls", timeout_seconds=1).send(MESSAGE)


# ---- what a server may offer -----------------------------------------------------------------------------------------


class Offering(SMTP):
    """Takes the parameters of DELIVERBY and DSN, which the library's does not, and keeps what it is asked."""

    asked: list[str | None]

    async def smtp_MAIL(self, arg: str | None) -> None:  # noqa: N802 - the library's name
        type(self).asked = [arg]
        await super().smtp_MAIL((arg or "").split(" ")[0])

    async def smtp_RCPT(self, arg: str | None) -> None:  # noqa: N802
        type(self).asked.append(arg)
        await super().smtp_RCPT((arg or "").split(" ")[0])


def test_a_server_that_offers_it_is_asked_to_return_what_comes_too_late_and_what_fails(
    post: Post, serve: Serve
) -> None:
    post.offers = ["250-DELIVERBY 30", "250-DSN"]
    channel(serve(Offering)).send(replace(MESSAGE, page="p7/é"))
    of_mail, of_recipient = Offering.asked
    # RFC 2852, 4: BY=seconds;R. RFC 3461, 4: RET, ENVID in xtext (4: '+' and two hex digits), NOTIFY.
    assert of_mail is not None
    assert of_mail.split(" ")[1:] == ["BY=600;R", "RET=HDRS", "ENVID=p7+2F+C3+A9.6474846204000"]
    assert of_recipient == "TO:<charge@example.org> NOTIFY=FAILURE,DELAY"
    assert len(post.taken) == 1


def test_less_than_the_server_s_least_time_is_not_asked_for(post: Post, serve: Serve) -> None:
    post.offers = ["250-DELIVERBY 30"]
    channel(serve(Offering)).send(replace(MESSAGE, expires=Micros(ASKED + 29_000_000)))
    assert "BY=" not in (Offering.asked[0] or "")
    channel(serve(Offering)).send(replace(MESSAGE, expires=Micros(ASKED + 30_000_000)))
    assert "BY=30;R" in (Offering.asked[0] or "")
