"""gateway/webhook.py: real requests to a real server, which checks the signature by RFC 9421's text on its own."""

import base64
import hashlib
import hmac
import json
import logging
import re
import socket
import ssl
import time
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from http_message_signatures import HTTPMessageSigner, HTTPSignatureKeyResolver, algorithms
from http_message_signatures.digests import ContentDigest

from gateway.channel import Message, NeverError, NotNowError, Receipt
from gateway.channel_settings import WebhookChannel
from gateway.webhook import Webhook
from rules.alert_words import Confirmation, PageWhy, Priority
from rules.readings import Micros
from tests.gateway.receiver import Post, Receiver
from tests.gateway.scripted import HANDSHAKE, Dripping, Scripted

SECRET = "rosebud-7"  # noqa: S105 - invented
ASKED = Micros(1_767_225_600_000_000)  # 2026-01-01 00:00:00 UTC
MESSAGE = Message(
    page="p7",
    address="charge",
    brief="Basin 1 too cold",
    text="Basin 1, soak room: 18 °C, its label asks for 20 °C.",
    link="https://s.example/p/abc",
    priority=Priority.HIGH,
    why=PageWhy.ESCALATION,
    alerts=("a1", "a2"),
    asked=ASKED,
    expires=Micros(ASKED + 600_000_000),
)


@pytest.fixture(autouse=True)
def secret(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PAGES_SECRET", SECRET)


def hook(port: int, path: str = "/pages?from=ward", scheme: str = "http", **settings: object) -> Webhook:
    given = {
        "id": "house",
        "kind": "webhook",
        "url": f"{scheme}://127.0.0.1:{port}{path}",
        "secret_env": "PAGES_SECRET",
    }
    return Webhook(WebhookChannel.model_validate({**given, **settings}), "mill-lane")


# ---- what it says ----------------------------------------------------------------------------------------------------


def test_a_page_arrives_as_json_with_all_that_a_program_needs() -> None:
    with Receiver() as receiver:
        assert hook(receiver.port).send(MESSAGE) == Receipt(
            Confirmation.ACCEPTED, f"127.0.0.1:{receiver.port} said 202 Accepted"
        )
    (post,) = receiver.posts
    assert (post.path, post.fields["content-type"]) == ("/pages?from=ward", "application/json")
    assert json.loads(post.body) == {
        "site": "mill-lane",
        "page": "p7",
        "to": "charge",
        "why": "escalation",
        "priority": "high",
        "alerts": ["a1", "a2"],
        "brief": MESSAGE.brief,
        "text": MESSAGE.text,
        "link": MESSAGE.link,
        "asked": "2026-01-01T00:00:00Z",
        "expires": "2026-01-01T00:10:00Z",
    }


def test_an_at_sign_in_a_path_is_nobody_s_password() -> None:
    with Receiver() as receiver:
        hook(receiver.port, path="/@ward").send(MESSAGE)
    assert receiver.posts[0].path == "/@ward"


def test_what_is_tried_again_has_the_same_key_and_the_same_body() -> None:
    with Receiver() as receiver:
        for page in ("p7", "p7", "p8"):
            hook(receiver.port).send(replace(MESSAGE, page=page))
    first, again, other = receiver.posts
    assert (
        first.fields["idempotency-key"] == '"p7.6474846204000"'
    )  # a Structured Field String: in quotes (IETF draft, 2.1)
    assert (first.body, first.fields["idempotency-key"]) == (again.body, again.fields["idempotency-key"])
    assert other.fields["idempotency-key"] == '"p8.6474846204000"'


# ---- the signature ---------------------------------------------------------------------------------------------------


def base_of(post: Post, url: str) -> tuple[str, str]:
    """The signature base of RFC 9421, 2.5, worked out by its text, and the parameters of the signature."""
    label, _, parameters = post.fields["signature-input"].partition("=")
    assert label == "sinkside"
    components = re.findall(r'"([^"]+)"', parameters.split(")")[0])
    derived = {"@method": "POST", "@target-uri": url}
    values = [f'"{name}": {derived.get(name) or post.fields[name]}' for name in components]
    return "\n".join([*values, f'"@signature-params": {parameters}']), parameters


def test_the_signature_can_be_checked_by_the_text_of_the_standard() -> None:
    before = int(time.time_ns() // 10**9)
    with Receiver() as receiver:
        hook(receiver.port, key_id="soak-room").send(MESSAGE)
    (post,) = receiver.posts
    base, parameters = base_of(post, f"http://127.0.0.1:{receiver.port}/pages?from=ward")
    expected = base64.b64encode(hmac.digest(SECRET.encode(), base.encode(), "sha256")).decode()
    assert post.fields["signature"] == f"sinkside=:{expected}:"
    covered = '("@method" "@target-uri" "content-type" "idempotency-key" "content-digest")'
    assert parameters.startswith(covered)
    assert ';keyid="soak-room"' in parameters
    assert ';alg="hmac-sha256"' in parameters
    assert int(re.findall(r";created=(\d+)", parameters)[0]) >= before
    digest = base64.b64encode(hashlib.sha256(post.body).digest()).decode()
    assert post.fields["content-digest"] == f"sha-256=:{digest}:"  # RFC 9530, 2


@dataclass
class Example:
    """RFC 9421, B.2: its test request."""

    method: str = "POST"
    url: str = "https://example.com/foo?param=Value&Pet=dog"

    def __post_init__(self) -> None:
        self.headers = {"Date": "Tue, 20 Apr 2021 02:07:55 GMT", "Content-Type": "application/json"}


class ExampleKey(HTTPSignatureKeyResolver):
    """RFC 9421, B.1.5: test-shared-secret."""

    def resolve_private_key(self, key_id: str) -> bytes:
        assert key_id == "test-shared-secret"
        return base64.b64decode(
            "uzvJfB4u3N0Jy4T7NZ75MDVcr8zSTInedJtkgcu46YW4XByzNJjxBdtjUkdJPBtbmHhIDi6pcl8jsasjlTMtDQ=="
        )


def test_the_library_signs_the_standard_s_own_example_as_the_standard_has_it() -> None:
    from datetime import UTC, datetime  # noqa: PLC0415 - for this one moment

    example = Example()
    signer = HTTPMessageSigner(signature_algorithm=algorithms.HMAC_SHA256, key_resolver=ExampleKey())
    signer.sign(
        example,
        key_id="test-shared-secret",
        created=datetime.fromtimestamp(1618884473, UTC),
        label="sig-b25",
        include_alg=False,
        covered_component_ids=("date", "@authority", "content-type"),
    )
    # RFC 9421, B.2.5
    assert example.headers["Signature-Input"] == (
        'sig-b25=("date" "@authority" "content-type");created=1618884473;keyid="test-shared-secret"'
    )
    assert example.headers["Signature"] == "sig-b25=:pxcQw6G3AjtMBQjwo8XzkZf/bws5LelbaMk5rGIGtE8=:"


def test_the_library_digests_the_standard_s_own_examples_as_the_standard_has_them() -> None:
    # RFC 9530, appendix B: the body is {"hello": "world"} and a line feed; RFC 9421, B.2, has it without one.
    assert ContentDigest.create(b'{"hello": "world"}\n') == "sha-256=:RK/0qy18MlBSVnWgjwz6lZEWjP/lF5HF9bvEF8FabDg=:"
    assert ContentDigest.create(b'{"hello": "world"}') == "sha-256=:X48E9qOokqqrvdts8nOJRJN3OWDUoyWxBf7kbu9DBPE=:"


def test_the_secret_is_shown_nowhere(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    with Receiver(status=500) as receiver:
        sender = hook(receiver.port)
        with pytest.raises(NotNowError) as caught:
            sender.send(MESSAGE)
    shown = f"{caught.value}{sender!r}{caplog.text}{receiver.posts}"
    assert SECRET not in shown


def test_a_secret_that_is_not_there_is_told_and_nobody_called(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("PAGES_SECRET")
    with pytest.raises(NeverError, match="secret_env names the environment variable 'PAGES_SECRET', which is not set"):
        hook(9).send(MESSAGE)


# ---- what is answered ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("status", [200, 201, 202, 204, 299])
def test_a_yes_is_a_yes_whatever_its_number(status: int) -> None:
    with Receiver(status=status) as receiver:
        assert hook(receiver.port).send(MESSAGE).confirmation is Confirmation.ACCEPTED


@pytest.mark.parametrize("status", [408, 409, 425, 429, 500, 502, 503, 504])
def test_what_may_pass_is_tried_again(status: int) -> None:
    with Receiver(status=status) as receiver, pytest.raises(NotNowError, match=f"said {status}"):
        hook(receiver.port).send(MESSAGE)


@pytest.mark.parametrize("status", [400, 401, 403, 404, 405, 410, 413, 422])
def test_what_will_not_pass_is_not(status: int) -> None:
    with Receiver(status=status) as receiver, pytest.raises(NeverError, match=f"said {status}"):
        hook(receiver.port).send(MESSAGE)


@pytest.mark.parametrize("status", [301, 302, 303, 307, 308])
def test_a_page_is_not_sent_on_to_another_address(status: int) -> None:
    with Receiver() as other, Receiver(status=status) as receiver:
        receiver.fields["Location"] = f"http://127.0.0.1:{other.port}/"
        with pytest.raises(NeverError, match="not sent on"):
            hook(receiver.port).send(MESSAGE)
    assert not other.posts


@pytest.mark.parametrize(
    ("asked", "seconds"),
    [
        ("7", 7),
        ("0", 0),
        ("999999999999", 3600),
        ("Thu, 01 Jan 2026 00:02:00 GMT", 120),
        ("Wed, 31 Dec 2025 00:00:00 GMT", 0),
        ("Fri, 01 Jan 2027 00:00:00 GMT", 3600),
        ("soon", None),
        ("-5", None),
        ("", None),
    ],
)
def test_a_wait_that_is_asked_for_is_passed_on_within_bounds(asked: str, seconds: float | None) -> None:
    # RFC 9110, 10.2.3: a number of seconds, or a date; that is taken by the receiver's own clock.
    answer = f"HTTP/1.1 503 busy\r\nDate: Thu, 01 Jan 2026 00:00:00 GMT\r\nRetry-After: {asked}\r\n\r\n"
    with Scripted(b"", answer.encode()) as server, pytest.raises(NotNowError) as caught:
        hook(server.port).send(MESSAGE)
    assert caught.value.after_seconds == seconds


def test_a_wait_until_a_date_of_no_known_clock_is_left_out() -> None:
    answer = b"HTTP/1.1 503 busy\r\nRetry-After: Thu, 01 Jan 2026 00:02:00 GMT\r\n\r\n"
    with Scripted(b"", answer) as server, pytest.raises(NotNowError) as caught:
        hook(server.port).send(MESSAGE)
    assert caught.value.after_seconds is None


@pytest.mark.parametrize(
    "answer",
    [
        b"hello\r\n",
        b"HTTP/1.1 abc\r\n\r\n",
        b"HTTP/1.1 200 " + b"x" * 100_000,
        b"HTTP/1.1 200 ok\r\n" + b"X: y\r\n" * 500,
    ],
    ids=["no HTTP", "no number", "no end", "no end of fields"],
)
def test_what_is_no_http_is_tried_again(answer: bytes) -> None:
    with Scripted(b"", answer) as server, pytest.raises(NotNowError):
        hook(server.port).send(MESSAGE)


def test_a_body_without_end_keeps_nobody_waiting() -> None:
    answer = b"HTTP/1.1 200 ok\r\nContent-Length: 1000000000\r\n\r\nx"
    with Scripted(b"", answer, holds=True) as server:
        assert hook(server.port).send(MESSAGE).confirmation is Confirmation.ACCEPTED


def test_a_receiver_that_says_nothing_is_left_when_the_time_is_over() -> None:
    with Scripted(holds=True) as server, pytest.raises(NotNowError, match=r"within 1 s|no answer in time"):
        hook(server.port, timeout_seconds=1).send(MESSAGE)


def test_a_receiver_that_never_comes_to_its_point_is_left_when_the_time_is_over() -> None:
    with Dripping(b"x") as server, pytest.raises(NotNowError, match="not done within 1 s"):
        hook(server.port, timeout_seconds=1).send(MESSAGE)


def test_a_receiver_that_never_ends_its_handshake_is_left_when_the_time_is_over() -> None:
    with Dripping(b"\0", HANDSHAKE) as server, pytest.raises(NotNowError, match=r"within 1 s|no answer in time"):
        hook(server.port, scheme="https", timeout_seconds=1).send(MESSAGE)


def test_a_receiver_that_hangs_up_is_tried_again() -> None:
    with Scripted(b"") as server, pytest.raises(NotNowError, match=r"ended the connection|reset"):
        hook(server.port).send(MESSAGE)


def test_nobody_at_the_port_is_told_and_tried_again() -> None:
    with socket.create_server(("127.0.0.1", 0)) as gone:
        port = gone.getsockname()[1]
    with pytest.raises(NotNowError, match="Connection refused"):
        hook(port).send(MESSAGE)


def test_https_is_verified(certificates: Path) -> None:
    with Receiver() as receiver:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(certificates / "broker.pem", certificates / "broker.key")
        receiver.server.socket = context.wrap_socket(receiver.server.socket, server_side=True)
        hook(receiver.port, scheme="https", ca_file=certificates / "ca.pem").send(MESSAGE)
        assert len(receiver.posts) == 1
        with pytest.raises(NotNowError, match="its certificate cannot be trusted"):
            hook(receiver.port, scheme="https", ca_file=certificates / "stranger.pem").send(MESSAGE)
    assert len(receiver.posts) == 1


def test_a_page_of_a_new_data_folder_is_another_one_though_it_has_the_same_number() -> None:
    with Receiver() as receiver:
        for asked in (ASKED, Micros(ASKED + 1)):
            hook(receiver.port).send(replace(MESSAGE, asked=asked))
    first, later = (post.fields["idempotency-key"] for post in receiver.posts)
    assert first != later
