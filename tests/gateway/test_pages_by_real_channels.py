"""Senders and real channels together: what a pager's carrier, a mail server and a receiver do with a page is told."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from gateway.channel import Channel
from gateway.channels import channels_of
from gateway.sitefile import parse
from rules.alert_commands import Acknowledge, Decline, PageTold
from rules.alert_words import Confirmation, PageEnd
from rules.commands import Command
from sim_devices.answering.pager_book import Fate, Page, Pager, PagerBook
from sim_devices.answering.snpp_server import SnppServer
from tests.gateway.pages import asked
from tests.gateway.post_office import PATIENCE_SECONDS, Bureau
from tests.gateway.receiver import Receiver

SITE = """\
[site]
id = "mill-lane"
name = "Mill Lane"

[[channel]]
id = "pager"
kind = "snpp"
host = "127.0.0.1"
port = 4444
two_way = true
asks = "delivered"

[[channel]]
id = "mail"
kind = "webhook"
url = "http://127.0.0.1:8080/"
secret_env = "PAGES_SECRET"
"""


@pytest.fixture
def bureau(tmp_path: Path) -> Iterator[Bureau]:
    opened = Bureau(tmp_path)
    yield opened
    opened.close()


@pytest.fixture
def book(bureau: Bureau) -> PagerBook:
    return PagerBook(now=lambda: bureau.now, pagers={"5551212": Pager("5551212", two_way=True)})


def channels(pagers: int = 4444, receiver: int = 8080) -> dict[str, Channel]:
    return channels_of(parse(SITE.replace("4444", str(pagers)).replace("8080", str(receiver)), Path("site.toml")).file)


def shown(commands: list[Command]) -> list[object]:
    return [told.outcome if isinstance(told, PageTold) else type(told) for told in commands]


def first(book: PagerBook) -> Page:
    (page,) = book.wait_for(1, PATIENCE_SECONDS)
    return page


@pytest.mark.parametrize(("key", "deed"), [("01", Acknowledge), ("02", Decline)])
def test_a_carrier_s_key_answers_for_each_alert_of_the_page(
    bureau: Bureau, book: PagerBook, key: str, deed: type[Acknowledge | Decline]
) -> None:
    with SnppServer(book) as server:
        bureau.start(channels(pagers=server.port))
        bureau.ask(asked("page-1", channel="pager", alerts=("alert-1", "alert-2")))
        bureau.until_told(1)
        book.move(first(book).tag, Fate.READ)
        bureau.until_told(2)
        book.move(first(book).tag, Fate.ANSWERED, key)
        words = bureau.until_told(5)
        bureau.stop()
    assert shown(words)[:2] == [Confirmation.DELIVERED, Confirmation.READ]
    assert sorted(map(str, shown(words)[2:])) == sorted(map(str, (deed, deed, Confirmation.ANSWERED)))
    deeds = [word for word in words if isinstance(word, Acknowledge | Decline)]
    assert {(word.alert, word.page) for word in deeds} == {("alert-1", "page-1"), ("alert-2", "page-1")}


def test_a_pager_that_nobody_has_is_refused_at_once(bureau: Bureau, book: PagerBook) -> None:
    book.pagers = {"5559999": Pager("5559999", two_way=True)}
    with SnppServer(book) as server:
        bureau.start(channels(pagers=server.port))
        bureau.ask(asked("page-1", channel="pager"))
        (word,) = bureau.until_told(1)
        bureau.stop()
    assert isinstance(word, PageTold)
    assert word.outcome is PageEnd.REFUSED
    assert "550" in word.detail


def test_a_receiver_that_is_busy_gets_the_page_again_by_the_same_key(
    bureau: Bureau, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PAGES_SECRET", "rosebud-7")
    with Receiver(status=503, fields={"Retry-After": "0"}) as receiver:
        bureau.start(channels(receiver=receiver.port))
        bureau.ask(asked("page-1"))
        assert receiver.came.acquire(timeout=PATIENCE_SECONDS)
        receiver.status = 202
        (word,) = bureau.until_told(1)
        bureau.stop()
    assert shown([word]) == [Confirmation.ACCEPTED]
    assert len(receiver.posts) >= 2
    (key,) = {post.fields["idempotency-key"] for post in receiver.posts}
    assert key.startswith('"page-1')
