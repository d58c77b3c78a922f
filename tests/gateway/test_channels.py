"""gateway/channels.py, channels_told.py, trying.py: what is made of [[channel]], said of it, and tried by hand."""

import json
import logging
from collections.abc import Iterator
from pathlib import Path

import pytest

from gateway.channel import AskableChannel
from gateway.channels import channels_of
from gateway.channels_told import channel_warnings
from gateway.check import describe
from gateway.sitefile import parse
from gateway.trying import TryError, try_channel
from rules.readings import Micros
from sim_devices.answering.pager_book import Pager, PagerBook
from sim_devices.answering.snpp_server import SnppServer
from tests.gateway.called import told
from tests.gateway.receiver import Receiver

SITE = """\
[site]
id = "mill-lane"
name = "Mill Lane"

[[channel]]
id = "mail"
kind = "smtp"
host = "mail.example.org"
sender = "sinkside@example.org"
username = "sinkside"
password_file = "mail-password"

[[channel]]
id = "plain-mail"
kind = "smtp"
host = "mail.example.org"
sender = "sinkside@example.org"
tls = "none"
deadline_seconds = 30
timeout_seconds = 40

[[channel]]
id = "pager"
kind = "snpp"
host = "127.0.0.1"
port = 4444
two_way = true
asks = "read"
most_letters = 80

[[channel]]
id = "old-pager"
kind = "snpp"
host = "127.0.0.1"
port = 4444

[[channel]]
id = "house"
kind = "webhook"
url = "http://127.0.0.1:8080/pages"
secret_env = "PAGES_SECRET"
ca_file = "ca.pem"

[[channel]]
id = "push"
kind = "apprise"
url_env = "PUSH_URL"
"""


@pytest.fixture(autouse=True)
def surroundings(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PAGES_SECRET", "rosebud-7")
    monkeypatch.delenv("PUSH_URL", raising=False)


def test_every_channel_of_the_file_is_ready_and_only_pagers_can_be_asked() -> None:
    channels = channels_of(parse(SITE, Path("site.toml")).file)
    assert list(channels) == ["mail", "plain-mail", "pager", "old-pager", "house", "push"]
    askable = [name for name, channel in channels.items() if isinstance(channel, AskableChannel)]
    assert askable == ["pager", "old-pager"]


def test_no_secret_is_in_what_a_channel_shows_of_itself() -> None:
    channels = channels_of(parse(SITE, Path("site.toml")).file)
    assert "rosebud" not in repr(channels)


def test_paths_of_a_channel_are_relative_to_the_site_file(tmp_path: Path) -> None:
    mail = parse(SITE, tmp_path / "site.toml").file.channel[0]
    assert mail.needs()[0].file == tmp_path / "mail-password"


# ---- what 'check' says -----------------------------------------------------------------------------------------------


def test_check_says_where_pages_go_and_what_each_channel_can_tell() -> None:
    said = describe(parse(SITE, Path("site.toml")), NOW)
    for line in (
        (
            "mail: mail from sinkside@example.org by mail.example.org port 587, STARTTLS; SMTP says only that"
            " the server has taken it (RFC 5321, 4.5.4.1)"
        ),
        (
            "pager: pagers by 127.0.0.1 port 4444, two-way, not encrypted; SNPP two-way says whether it was delivered,"
            " read and answered, where the pager can (RFC 1861)"
        ),
        (
            "old-pager: pagers by 127.0.0.1 port 4444, one way, not encrypted; SNPP one-way says only that the server"
            " has taken it (RFC 1861); two_way = true asks for more"
        ),
        "house: signed POST to http://127.0.0.1:8080/pages; a webhook says only that the receiver has taken it",
        "push: push, SMS or chat by the apprise library; a push service says only that it has taken it (RFC 8030, 5)",
        "told = 'read' within 60 s, at most 80 letters",
    ):
        assert line in said


def test_check_warns_of_what_is_not_there_and_of_what_is_most_likely_not_meant() -> None:
    said = describe(parse(SITE, Path("site.toml")), NOW)
    for line in (
        "Warning: channel 'mail', password_file: there is no file 'mail-password' on this machine",
        "Warning: channel 'plain-mail': tls = 'none' shows every page to the network",
        "Warning: channel 'plain-mail': one attempt may take 40 s, longer than the 30 s",
        "Warning: channel 'house', ca_file: there is no file 'ca.pem' here",
        "Warning: channel 'push', url_env: the environment variable 'PUSH_URL' is not set",
    ):
        assert line in said
    assert "PAGES_SECRET" not in said


def warnings(text: str, channel: str = "pager") -> list[str]:
    channels = parse(text, Path("site.toml")).file.channel
    return [said for said in channel_warnings(channels) if said.startswith(f"channel '{channel}'")]


def test_check_warns_of_a_pager_out_of_reach_that_counts_as_told() -> None:
    # RFC 1861, 4.6.9: 960 is a page that waits for its pager.
    assert warnings(SITE) == []
    (said,) = warnings(SITE.replace('asks = "read"\n', ""))
    assert said.startswith("channel 'pager': asks = 'accepted' takes a page for told that waits")


def test_mail_within_this_machine_needs_no_encryption() -> None:
    said = warnings(SITE.replace('host = "mail.example.org"', 'host = "localhost"'), "plain-mail")
    assert [one for one in said if "tls" in one] == []


def test_pagers_on_a_network_that_is_named_closed_are_not_warned_of() -> None:
    assert warnings(SITE.replace('host = "127.0.0.1"', 'host = "pagers.example.org"\ntls = "none"')) == []


def test_an_attempt_that_lasts_as_long_as_the_deadline_is_not_warned_of() -> None:
    assert "one attempt" in "".join(warnings(SITE, "plain-mail"))
    as_long = SITE.replace("timeout_seconds = 40", "timeout_seconds = 30")
    assert "one attempt" not in "".join(warnings(as_long, "plain-mail"))


def test_a_variable_that_is_empty_and_a_folder_are_no_secrets(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PAGES_SECRET", "")
    (said, *_) = warnings(SITE, "house")
    assert "secret_env: the environment variable 'PAGES_SECRET' is not set" in said
    (told,) = warnings(SITE.replace('"mail-password"', f'"{tmp_path}"'), "mail")
    assert "password_file: there is no file" in told


def test_encryption_of_pagers_is_named() -> None:
    text = SITE.replace("two_way = true", 'two_way = true\ntls = "tls"')
    assert "pagers by 127.0.0.1 port 4444, two-way, TLS;" in describe(parse(text, Path("site.toml")), NOW)


def test_a_file_without_channels_says_nothing_of_them() -> None:
    assert "Channels" not in describe(parse(SITE[: SITE.index("[[channel]]")], Path("site.toml")), NOW)


# ---- trying one by hand ----------------------------------------------------------------------------------------------


NOW = Micros(1_767_225_600_000_000)


def tried(text: str, channel: str, address: str) -> str:
    return try_channel(parse(text, Path("site.toml")), channel, address, NOW)


@pytest.fixture
def pagers() -> Iterator[tuple[PagerBook, str]]:
    """A paging terminal, and the site file that names its port."""
    known = {"5551212": Pager("5551212"), "5550001": Pager("5550001", two_way=True)}
    book = PagerBook(now=lambda: NOW, pagers=known)
    with SnppServer(book) as server:
        yield book, SITE.replace("port = 4444", f"port = {server.port}")


def test_a_channel_that_is_tried_sends_one_page_and_tells_what_was_said(pagers: tuple[PagerBook, str]) -> None:
    book, text = pagers
    done = tried(text, "old-pager", "5551212")
    assert done.startswith("Accepted: 250 Message sent. SNPP one-way says only that the server has taken it")
    (page,) = book.pages()
    assert page.draft.words == "Test from Sinkside, Mill Lane: nothing has happened, and nobody has to answer."
    assert "More can be asked" in tried(text, "pager", "5550001")


@pytest.mark.parametrize(
    ("channel", "address", "says"),
    [
        ("old-pager", "5559999", r"Channel 'old-pager' will not take it: 127\.0\.0\.1 said 550"),
        ("old-pager", "555 12 12", "Channel 'old-pager' will not take it: the address cannot be used"),
        ("pagers", "5551212", r"There is no \[\[channel\]\] 'pagers'; perhaps"),
        ("push", "5551212", "Channel 'push' will not take it: url_env names the environment variable"),
    ],
)
def test_what_goes_wrong_is_told_in_a_sentence(
    pagers: tuple[PagerBook, str], channel: str, address: str, says: str
) -> None:
    with pytest.raises(TryError, match=says):
        tried(pagers[1], channel, address)


def test_a_webhook_is_tried_without_telling_its_secret(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    text = SITE.replace('ca_file = "ca.pem"\n', "")
    with Receiver(status=403) as receiver, pytest.raises(TryError, match="said 403 Forbidden") as caught:
        tried(text.replace("8080", str(receiver.port)), "house", "charge")
    assert len(receiver.posts) == 1
    assert "rosebud" not in f"{caught.value}{caplog.text}"


def test_a_page_that_tries_a_channel_says_so_to_programs_too() -> None:
    text = SITE.replace('ca_file = "ca.pem"\n', "")
    with Receiver() as receiver:
        tried(text.replace("8080", str(receiver.port)), "house", "charge")
    said = json.loads(receiver.posts[0].body)
    assert (said["why"], said["priority"], said["alerts"], said["link"]) == ("test", "medium", [], None)
    assert (said["page"], said["asked"], said["expires"]) == (
        "try-1767225600",
        "2026-01-01T00:00:00Z",
        "2026-01-01T00:10:00Z",
    )


def test_a_site_without_channels_is_told_to_add_one() -> None:
    with pytest.raises(TryError, match=r"There is no \[\[channel\]\] 'mail'; add one\."):
        tried(SITE[: SITE.index("[[channel]]")], "mail", "charge@example.org")


def test_it_is_tried_from_the_command_line(pagers: tuple[PagerBook, str], tmp_path: Path) -> None:
    site = tmp_path / "site.toml"
    site.write_text(pagers[1], encoding="utf-8")
    answer = told("try-channel", site, "old-pager", "5559999")
    assert answer.returncode == 1
    assert answer.stderr.startswith("Error: Channel 'old-pager' will not take it")
    assert pagers[0].pages() == ()
