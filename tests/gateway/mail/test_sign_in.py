"""gateway/smtp.py against real mail servers: encryption and sign-in."""

import logging
import ssl
import traceback
from pathlib import Path

import pytest
from aiosmtpd.smtp import SMTP, AuthResult, Envelope, LoginPassword, Session

from gateway.channel import NeverError, NotNowError
from gateway.channel_settings import SmtpChannel
from tests.gateway.mail.mail_server import LOGIN, MESSAGE, Post, Serve, channel
from tests.gateway.scripted import Scripted


def servers_end(certificates: Path) -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificates / "broker.pem", certificates / "broker.key")
    return context


def only_us(_server: SMTP, _session: Session, _envelope: Envelope, _mechanism: str, login: LoginPassword) -> AuthResult:
    return AuthResult(success=login == LoginPassword(b"sinkside", b"rosebud-7"), handled=False)


def test_signed_in_over_starttls_the_page_is_taken(
    post: Post, serve: Serve, certificates: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MAIL_PASSWORD", "rosebud-7")
    port = serve(
        tls_context=servers_end(certificates), require_starttls=True, auth_required=True, authenticator=only_us
    )
    channel(port, tls="starttls", ca_file=certificates / "ca.pem", **LOGIN).send(MESSAGE)
    assert len(post.taken) == 1


def test_a_wrong_password_is_refused_without_being_told(
    serve: Serve, certificates: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    monkeypatch.setenv("MAIL_PASSWORD", "tulip-9-wrong")
    port = serve(tls_context=servers_end(certificates), auth_required=True, authenticator=only_us)
    mail = channel(port, tls="starttls", ca_file=certificates / "ca.pem", **LOGIN)
    with pytest.raises(NeverError, match="said 535") as caught:
        mail.send(MESSAGE)
    assert "tulip" not in f"{caught.value}{mail!r}{caplog.text}"


def test_a_server_that_repeats_the_password_is_not_quoted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MAIL_PASSWORD", "tulip-9-wrong")
    says = (b"220 hi\r\n", b"250-hi\r\n250 AUTH PLAIN\r\n", b"535 no user with tulip-9-wrong\r\n")
    with Scripted(*says) as server, pytest.raises(NeverError) as caught:
        channel(server.port, **LOGIN).send(MESSAGE)
    assert str(caught.value) == "127.0.0.1 said 535 no user with ***"
    assert "tulip" not in "".join(traceback.format_exception(caught.value))


def test_a_password_that_is_not_there_is_told_and_nobody_called(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("MAIL_PASSWORD", raising=False)
    with pytest.raises(NeverError, match="password_env names the environment variable 'MAIL_PASSWORD', which is not"):
        channel(9, **LOGIN).send(MESSAGE)


def test_a_server_without_starttls_is_shown_nothing(post: Post, serve: Serve) -> None:
    with pytest.raises(NotNowError, match="STARTTLS"):
        channel(serve(), tls="starttls").send(MESSAGE)
    assert not post.taken


def test_a_stranger_s_certificate_is_not_trusted(post: Post, serve: Serve, certificates: Path) -> None:
    port = serve(tls_context=servers_end(certificates))
    with pytest.raises(NotNowError, match="its certificate cannot be trusted"):
        channel(port, tls="starttls", ca_file=certificates / "stranger.pem").send(MESSAGE)
    assert not post.taken


def test_encryption_from_the_first_octet(post: Post, serve: Serve, certificates: Path) -> None:
    port = serve(ssl_context=servers_end(certificates))
    channel(port, tls="tls", ca_file=certificates / "ca.pem").send(MESSAGE)
    assert len(post.taken) == 1
    with pytest.raises(NotNowError, match="its certificate cannot be trusted"):
        channel(port, tls="tls", ca_file=certificates / "stranger.pem").send(MESSAGE)


@pytest.mark.parametrize(("tls", "port"), [("starttls", 587), ("tls", 465), ("none", 25)])
def test_the_port_is_the_service_s_own_unless_another_is_given(tls: str, port: int) -> None:
    # RFC 6409, 3.1; RFC 8314, 7.3; RFC 5321, 4.5.4.2
    given = {"id": "mail", "kind": "smtp", "host": "127.0.0.1", "sender": "a@b.example", "tls": tls}
    assert SmtpChannel.model_validate(given).target_port == port
