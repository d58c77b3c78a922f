"""A way by which pages leave the house: what it takes, what it tells, and how it fails."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol, runtime_checkable

from gateway.secret import SecretError
from rules.alert_words import Confirmation, PageWhy, Priority
from rules.readings import Micros

DETAIL_LETTERS = 200
"""Most characters of what a channel tells of a page; what ``PageTold`` takes."""


class ChannelError(Exception):
    """A page was not taken; one plain sentence without secrets, for the record and for whoever mends it."""


class NotNowError(ChannelError):
    """The page was not taken this time: the same may be tried again.

    after_seconds: how long the other side asks us to wait, None where it does not say.
    """

    def __init__(self, sentence: str, after_seconds: float | None = None) -> None:
        super().__init__(sentence[:DETAIL_LETTERS])
        self.after_seconds = after_seconds


class NeverError(ChannelError):
    """The page will never be taken as it is: to try again is of no use."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence[:DETAIL_LETTERS])


def without_secret(error: SecretError) -> ChannelError:
    """A page that cannot be sent for want of a secret: tried again where that may still come, as a file may."""
    return NeverError(str(error)) if error.final else NotNowError(str(error))


@dataclass(frozen=True, slots=True)
class Message:
    """One page, on its way to one contact.

    page: its id, the same however often it is tried.
    address: the number, mailbox or name by which the channel knows the contact.
    brief, text: the same, short and less short; which of them fits is the channel's to choose.
    link: where it is answered, None where the site has no address that phones can reach.
    alerts: ids of the alerts that it tells of, the most urgent first; empty in a test.
    asked, expires: when the engine asked for it, and after when nobody needs it any more.
    """

    page: str
    address: str
    brief: str
    text: str
    link: str | None
    priority: Priority
    why: PageWhy
    alerts: tuple[str, ...]
    asked: Micros
    expires: Micros

    @property
    def key(self) -> str:
        """By what the other side can tell a second try: pages are numbered anew with a data folder, this is not."""
        return f"{self.page}.{self.asked:x}"


class Reply(StrEnum):
    """What whoever was paged answered with a key of the device."""

    ACKNOWLEDGE = "acknowledge"
    DECLINE = "decline"


@dataclass(frozen=True, slots=True)
class Receipt:
    """What is known of a page that was taken.

    detail: what the other side said, without secrets, at most ``DETAIL_LETTERS``.
    handle: what to ask by for more, None where no more is to be heard.
    reply: what was answered, with ``Confirmation.ANSWERED`` only; None if that was in words of the sender's own.
    """

    confirmation: Confirmation
    detail: str = ""
    handle: str | None = None
    reply: Reply | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "detail", self.detail[:DETAIL_LETTERS])


class Channel(Protocol):
    """Sends pages, one at a time, and returns when the other side has said yes or no, or its time is over.

    It keeps nothing between calls, so that it may be asked again after a restart, and by several threads at once.
    """

    def send(self, message: Message) -> Receipt:
        """Hand the page over.

        Raises:
            NotNowError: to be tried again.
            NeverError: not to be tried again.
        """
        ...


@runtime_checkable
class AskableChannel(Channel, Protocol):
    """One that can be asked what became of a page that it took."""

    def poll(self, handle: str) -> Receipt:
        """What is known by now of the page with this handle.

        Where the other side knows the handle no longer, that says nothing of the page: it was taken, and no more is to
        be heard.

        Raises:
            NotNowError: cannot be told this time.
            NeverError: the page is lost on the other side.
        """
        ...

    def forget(self, handle: str) -> None:
        """Tell the other side, as a courtesy, that nobody will ask again; never fails."""
        ...
