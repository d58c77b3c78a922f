"""Channels that can be asked what became of the pages that they took: each word is told once, and answers count."""

import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from gateway.channel import Message, NeverError, Receipt, Reply
from rules.alert_commands import Acknowledge, Decline, PageTold
from rules.alert_words import Confirmation, PageEnd
from tests.gateway.pages import asked, seconds, told, withdrawn
from tests.gateway.post_office import PATIENCE_SECONDS, Bureau


@pytest.fixture
def bureau(tmp_path: Path) -> Iterator[Bureau]:
    opened = Bureau(tmp_path)
    yield opened
    opened.close()


@dataclass
class Asked:
    """A two-way channel: what it says of a page, word by word, each time it is asked."""

    words: list[Receipt]
    sends: int = 0
    polled: list[str] = field(default_factory=list)
    asked: threading.Event = field(default_factory=threading.Event)
    forgotten: threading.Event = field(default_factory=threading.Event)

    def send(self, message: Message) -> Receipt:
        self.sends += 1
        return Receipt(Confirmation.ACCEPTED, handle=f"tag-{message.page}")

    def poll(self, handle: str) -> Receipt:
        self.polled.append(handle)
        self.asked.set()
        return self.words.pop(0) if len(self.words) > 1 else self.words[0]

    def forget(self, handle: str) -> None:
        self.polled.append(f"forget {handle}")
        self.forgotten.set()


def test_what_a_channel_says_later_is_told_once_each(bureau: Bureau) -> None:
    handle = "tag-page-1"
    words = [Receipt(Confirmation.ACCEPTED, handle=handle), Receipt(Confirmation.DELIVERED, handle=handle)]
    channel = Asked([*words, words[1], Receipt(Confirmation.READ)])
    bureau.start({"mail": channel})
    bureau.ask(asked("page-1"))
    said = [word.outcome for word in bureau.until_told(3) if isinstance(word, PageTold)]
    assert said == [Confirmation.ACCEPTED, Confirmation.DELIVERED, Confirmation.READ]
    bureau.stop()
    assert (channel.polled, len(bureau.told)) == ([handle] * 4, 3)


@pytest.mark.parametrize(("reply", "kind"), [(Reply.ACKNOWLEDGE, Acknowledge), (Reply.DECLINE, Decline)])
def test_an_answer_by_the_device_is_one_to_each_alert_in_the_contacts_name(
    bureau: Bureau, reply: Reply, kind: type[Acknowledge | Decline]
) -> None:
    channel = Asked([Receipt(Confirmation.ANSWERED, "yes", reply=reply)])
    bureau.start({"mail": channel})
    bureau.ask(asked("page-1", alerts=("alert-1", "alert-2")))
    assert bureau.until_told(4)[1:] == [
        *(kind(arrived=seconds(0), who="Duty phone 1", alert=f"alert-{n}", page="page-1") for n in (1, 2)),
        told("page-1", Confirmation.ANSWERED, "yes"),
    ]


def test_a_channel_is_asked_on_after_a_restart_and_the_page_is_not_sent_again(bureau: Bureau) -> None:
    first = Asked([Receipt(Confirmation.ACCEPTED, handle="tag-page-1")])
    bureau.start({"mail": first})
    bureau.ask(asked("page-1"))
    bureau.until_told(1)
    bureau.stop()
    second = Asked([Receipt(Confirmation.READ)])
    bureau.start({"mail": second})
    bureau.until_told(2)
    assert (second.sends, second.polled[0]) == (0, "tag-page-1")


def test_a_channel_is_asked_about_a_page_for_twelve_hours_and_no_longer(bureau: Bureau) -> None:
    channel = Asked([Receipt(Confirmation.ACCEPTED, handle="same")])
    bureau.start({"mail": channel})
    bureau.ask(asked("page-1"), asked("page-2", at=0.000001))
    bureau.until_told(2)
    bureau.stop()
    bureau.now = seconds(12 * 3600)
    later = Asked([Receipt(Confirmation.ACCEPTED, handle="same")])
    bureau.start({"mail": later})
    assert later.asked.wait(PATIENCE_SECONDS)
    bureau.stop()
    assert set(later.polled) == {"tag-page-2"}


def test_an_answer_by_a_key_counts_though_one_in_words_came_before(bureau: Bureau) -> None:
    words = [Receipt(Confirmation.ANSWERED, "on my way", handle="tag-page-1")]
    channel = Asked([*words, Receipt(Confirmation.ANSWERED, "1", reply=Reply.ACKNOWLEDGE)])
    bureau.start({"mail": channel})
    bureau.ask(asked("page-1"))
    assert [type(word) for word in bureau.until_told(4)] == [PageTold, PageTold, Acknowledge, PageTold]


def test_a_page_that_the_other_side_has_lost_is_told_as_such_once_and_nobody_is_asked_to_forget_it(
    bureau: Bureau,
) -> None:
    @dataclass
    class Losing(Asked):
        """Has lost the first page."""

        def poll(self, handle: str) -> Receipt:
            with bureau.changed:
                self.polled.append(handle)
                bureau.changed.notify_all()
            if handle == "tag-page-1":
                raise NeverError("unknown tag")
            return Receipt(Confirmation.ACCEPTED, handle=handle)

    channel = Losing([])
    bureau.start({"mail": channel})
    bureau.ask(asked("page-1"), asked("page-2"))
    words = bureau.until_told(3)
    assert words.count(told("page-1", PageEnd.REFUSED, "unknown tag")) == 1
    with bureau.changed:
        assert bureau.changed.wait_for(lambda: channel.polled.count("tag-page-2") == 5, PATIENCE_SECONDS)
    bureau.stop()
    assert channel.polled.count("tag-page-1") == 1
    assert "forget tag-page-1" not in channel.polled
    assert len(bureau.told) == 3


def test_a_page_of_which_no_more_is_to_be_heard_is_not_asked_about_again(bureau: Bureau) -> None:
    @dataclass
    class Forgetful(Asked):
        """Has no more to say of the first page."""

        def poll(self, handle: str) -> Receipt:
            with bureau.changed:
                self.polled.append(handle)
                bureau.changed.notify_all()
            return Receipt(Confirmation.ACCEPTED, handle=None if handle == "tag-page-1" else handle)

    channel = Forgetful([])
    bureau.start({"mail": channel})
    bureau.ask(asked("page-1"), asked("page-2"))
    bureau.until_told(2)
    with bureau.changed:
        assert bureau.changed.wait_for(lambda: channel.polled.count("tag-page-2") == 5, PATIENCE_SECONDS)
    assert channel.polled.count("tag-page-1") == 1


def test_a_page_that_nobody_needs_any_more_is_not_asked_about(bureau: Bureau) -> None:
    channel = Asked([Receipt(Confirmation.ACCEPTED, handle="tag-page-1")])
    bureau.start({"mail": channel})
    bureau.ask(asked("page-1"))
    bureau.until_told(1)
    assert channel.asked.wait(PATIENCE_SECONDS)
    bureau.ask(withdrawn("page-1"))
    assert channel.forgotten.wait(PATIENCE_SECONDS)
    bureau.stop()
    assert channel.polled[-1] == "forget tag-page-1"
