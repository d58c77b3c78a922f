"""gateway/channel_settings.py at its bounds; what is said of each mistake is in mistakes.toml."""

import pytest
from pydantic import TypeAdapter, ValidationError

from gateway.channel_settings import LOOPBACK, ChannelSettings, SmtpChannel, SnppChannel, WebhookChannel
from rules.alert_words import Confirmation

KINDS: dict[str, dict[str, object]] = {
    "smtp": {"host": "mail.example.org", "sender": "a@example.org"},
    "snpp": {"host": "127.0.0.1"},
    "webhook": {"url": "https://pages.example.org/", "secret_env": "PAGES_SECRET"},
    "apprise": {"url_env": "PUSH_URL"},
}
LOGIN = {"username": "sinkside", "password_env": "MAIL_PASSWORD"}


def settings(kind: str, **given: object) -> ChannelSettings:
    adapter: TypeAdapter[ChannelSettings] = TypeAdapter(ChannelSettings)
    return adapter.validate_python({"id": "way", "kind": kind, **KINDS[kind], **given})


def refuses(kind: str, **given: object) -> bool:
    try:
        settings(kind, **given)
    except ValidationError:
        return True
    return False


@pytest.mark.parametrize(
    ("given", "seconds"),
    [({}, 20), ({"deadline_seconds": 5}, 5), ({"deadline_seconds": 300}, 20), ({"timeout_seconds": 40}, 40)],
)
def test_an_attempt_lasts_as_long_as_is_said_or_leaves_time(given: dict[str, object], seconds: int) -> None:
    assert settings("smtp", **given).attempt_seconds == seconds


def test_what_is_left_out_is_as_documented() -> None:
    pager, hook = settings("snpp"), settings("webhook")
    assert isinstance(pager, SnppChannel)
    assert isinstance(hook, WebhookChannel)
    assert (pager.port, pager.at_once, hook.key_id) == (444, 4, "sinkside")  # IANA: snpp, 444


@pytest.mark.parametrize(
    "given", [{"at_once": 0}, {"at_once": 17}, {"timeout_seconds": 0.9}, {"timeout_seconds": 301}, {"port": 65_536}]
)
def test_figures_have_their_bounds(given: dict[str, object]) -> None:
    assert refuses("smtp", **given)
    assert not refuses("smtp", at_once=1, timeout_seconds=300, port=65_535)


def test_a_channel_may_be_asked_for_the_most_that_it_can_tell() -> None:
    assert settings("snpp", two_way=True, asks="answered").asks is Confirmation.ANSWERED
    assert refuses("snpp", asks="delivered")


@pytest.mark.parametrize("host", LOOPBACK)
def test_within_this_machine_nothing_has_to_be_encrypted(host: str) -> None:
    assert not refuses("smtp", tls="none", host=host, **LOGIN)
    assert not refuses("snpp", host=host)
    assert not refuses("webhook", url=f"http://{f'[{host}]' if ':' in host else host}:8080/")


def test_elsewhere_what_is_shown_to_the_network_is_asked_for_and_a_password_never_is() -> None:
    assert LOOPBACK == ("127.0.0.1", "localhost", "::1")
    assert refuses("smtp", tls="none", **LOGIN)
    assert refuses("snpp", host="pagers.example.org")
    assert refuses("webhook", url="http://pages.example.org/")
    assert not refuses("smtp", tls="none")
    assert not refuses("snpp", host="pagers.example.org", tls="none")
    assert not refuses("webhook", url="http://pages.example.org/", tls="none")


@pytest.mark.parametrize(
    "url",
    [
        "https://pages.example.org:0/",
        "https://pages.example.org:99999/",
        "https://münchen.example.org/",
        "https://pages.example.org/a b",
        "https://pages.example.org/#part",
        "https://pages.example.org/\x7f",
        "ftp://pages.example.org/",
        "https:///pages",
        "https://me@pages.example.org/",
    ],
)
def test_what_is_no_address_of_a_receiver_is_refused(url: str) -> None:
    assert refuses("webhook", url=url)


def test_a_secret_has_one_place() -> None:
    assert refuses("webhook", secret_file="secret")  # noqa: S106 - a place
    assert refuses("apprise", url_file="url")
    assert refuses("smtp", **LOGIN, password_file="password")  # noqa: S106 - a place


@pytest.mark.parametrize(
    ("address", "is_usable"),
    [
        (f"{'x' * 64}@example.org", True),
        (f"{'x' * 65}@example.org", False),  # RFC 5321, 4.5.3.1.1
        ("münchen@example.org", True),
        ("a\u200b@example.org", False),
    ],
)
def test_a_mailbox_is_one_that_can_be_told_to_a_server(address: str, *, is_usable: bool) -> None:
    assert (settings("smtp").mistake_in(address) is None) == is_usable


def test_a_sender_is_in_ascii() -> None:
    assert refuses("smtp", sender="münchen@example.org")
    assert isinstance(settings("smtp", sender="a.b@example.org"), SmtpChannel)


@pytest.mark.parametrize(
    ("address", "is_usable"),
    [
        ("x" * 60, True),
        ("x" * 61, False),
        (f"5551212 {'x' * 20}", True),
        (f"5551212 {'x' * 21}", False),
        ("5551212  1", False),
    ],
)
def test_a_pager_is_known_by_a_word_and_its_pin(address: str, *, is_usable: bool) -> None:
    assert (settings("snpp").mistake_in(address) is None) == is_usable


@pytest.mark.parametrize("kind", ["webhook", "apprise"])
def test_an_address_has_no_signs_that_nobody_sees(kind: str) -> None:
    assert settings(kind).mistake_in("charge nurse") is None
    assert settings(kind).mistake_in("charge\u200bnurse") is not None
