import logging
import socket
import ssl
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from gateway.broker import EmbeddedBroker
from gateway.broker_options import BrokerOptions
from gateway.endpoint import Endpoint, EndpointError
from gateway.stream import Stream

if TYPE_CHECKING:
    from tests.gateway.conftest import Listen, Mosquitto

LID = "sinkside/testing/basin-1/lid"


@pytest.fixture
def guarded(tmp_path: Path) -> Iterator[EmbeddedBroker]:
    """An embedded broker that lets only the user 'gateway' with password 'rosebud-7' in."""
    options = BrokerOptions(sync_interval="1s", users={"gateway": "rosebud-7"})
    with EmbeddedBroker(tmp_path / "guarded", options=options) as broker:
        yield broker


def test_a_wrong_password_is_named_without_being_told(
    guarded: EmbeddedBroker, listen: "Listen", caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    caplog.set_level(logging.DEBUG)
    monkeypatch.setenv("BROKER_PASSWORD", "tulip-9-wrong")
    ear = listen(Endpoint.of(guarded.url, username="gateway", password_env="BROKER_PASSWORD"))  # noqa: S106 - a name
    ear.await_link("down")
    assert "refused user 'gateway'" in caplog.text
    assert "tulip" not in caplog.text


def test_the_password_is_read_from_its_file_at_each_attempt(
    guarded: EmbeddedBroker, listen: "Listen", tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    secret = tmp_path / "password"
    ear = listen(Endpoint.of(guarded.url, username="gateway", password_file=secret))
    ear.await_link("down")
    assert f"password_file '{secret}' cannot be read" in caplog.text
    secret.write_text("rosebud-7\n")
    ear.await_link("down", "up")


def test_an_empty_password_is_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    secret = tmp_path / "password"
    secret.write_text("\nrosebud-7\n")
    with pytest.raises(EndpointError, match="has no password"):
        Endpoint.of("mqtt://x", username="gateway", password_file=secret).password()
    monkeypatch.setenv("BROKER_PASSWORD", "")
    with pytest.raises(EndpointError, match="which is empty"):
        Endpoint.of("mqtt://x", username="gateway", password_env="BROKER_PASSWORD").password()  # noqa: S106 - a name


def test_nobody_gets_into_a_guarded_broker_without_a_name(guarded: EmbeddedBroker, listen: "Listen") -> None:
    listen(guarded.url).await_link("down")


@pytest.fixture
def tls_port(strict_mosquitto: "Mosquitto", certificates: Path) -> int:
    """The port of a mosquitto that speaks TLS only."""
    strict_mosquitto.settings = (
        f"allow_anonymous true\ncertfile {certificates / 'broker.pem'}\nkeyfile {certificates / 'broker.key'}"
    )
    strict_mosquitto.start()
    return strict_mosquitto.port


def test_an_encrypted_link_carries_bursts_and_acknowledgements(
    tls_port: int, certificates: Path, listen: "Listen"
) -> None:
    endpoint = Endpoint.of(f"mqtts://127.0.0.1:{tls_port}", ca_file=certificates / "ca.pem")
    ear = listen(endpoint)
    ear.await_link("up")
    for number in range(200):
        assert ear.subscriber.publish(LID, str(number).encode() * 50, retain=False)
    for number in range(200):
        (heard,) = ear.hear(1)
        assert heard.payload == str(number).encode() * 50
        ear.acknowledge(heard)


@pytest.fixture
def encrypted(certificates: Path) -> Iterator[tuple[Stream, ssl.SSLSocket]]:
    """An encrypted stream and the broker's end of it."""
    brokers_end = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    brokers_end.load_cert_chain(certificates / "broker.pem", certificates / "broker.key")
    our_end = Endpoint.of("mqtts://127.0.0.1", ca_file=certificates / "ca.pem").tls_context()
    assert our_end is not None
    ours, theirs = socket.socketpair()
    with ThreadPoolExecutor(1) as pool:
        welcomed = pool.submit(brokers_end.wrap_socket, theirs, server_side=True)
        stream = Stream(our_end.wrap_socket(ours, server_hostname="127.0.0.1"))
        broker = welcomed.result(5)
    stream.setblocking(flag=False)
    yield stream, broker
    stream.close()
    broker.close()


def test_of_an_encrypted_link_one_reading_brings_what_the_broker_wrote_in_many(
    encrypted: tuple[Stream, ssl.SSLSocket],
) -> None:
    stream, broker = encrypted
    for _ in range(10):
        broker.send(b"packet")
    broker.close()
    assert [stream.receive(), stream.receive()] == [b"packet" * 10, b""]


def test_shutting_an_encrypted_link_does_not_take_the_encryption_off(encrypted: tuple[Stream, ssl.SSLSocket]) -> None:
    # As the library's own shutdown does: whatever another thread still sends or reads would then be plain.
    stream, broker = encrypted
    broker.send(b"packet")
    stream.shut()
    assert stream.receive() == b"packet"


def test_a_broker_with_a_strangers_certificate_is_not_trusted(
    tls_port: int, certificates: Path, listen: "Listen", caplog: pytest.LogCaptureFixture
) -> None:
    ear = listen(Endpoint.of(f"mqtts://127.0.0.1:{tls_port}", ca_file=certificates / "stranger.pem"))
    ear.await_link("down")
    assert "its certificate cannot be trusted: " in caplog.text
    assert "_ssl.c" not in caplog.text


def test_encryption_where_none_is_spoken_is_told(
    mosquitto: "Mosquitto", listen: "Listen", caplog: pytest.LogCaptureFixture
) -> None:
    listen(f"mqtts://127.0.0.1:{mosquitto.port}").await_link("down")
    assert "check whether mqtts is spoken there" in caplog.text


def test_a_ca_file_that_is_none_is_named(tmp_path: Path, listen: "Listen", caplog: pytest.LogCaptureFixture) -> None:
    wrong = tmp_path / "ca.pem"
    wrong.write_text("hello")
    listen(Endpoint.of("mqtts://127.0.0.1:9", ca_file=wrong)).await_link("down")
    assert f"ca_file '{wrong}' cannot be used" in caplog.text


def test_an_address_gives_host_port_and_encryption() -> None:
    assert Endpoint.of("mqtt://broker.example") == Endpoint("broker.example", 1883)
    assert Endpoint.of("mqtts://broker.example") == Endpoint("broker.example", 8883, tls=True)
    assert Endpoint.of("mqtt://[::1]:99") == Endpoint("::1", 99)


@pytest.mark.parametrize(
    "url",
    ["http://x", "mqtt://", "x:1883", "mqtt://x:port", "mqtt://x:70000", "mqtt://x/y", "mqtt://me@x", "mqtt://me:pw@x"],
)
def test_an_address_that_cannot_be_used_is_refused_without_telling_a_password(url: str) -> None:
    with pytest.raises(EndpointError) as caught:
        Endpoint.of(url)
    assert "pw" not in str(caught.value).replace("password", "")
