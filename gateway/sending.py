"""Who sends pages: for each channel a thread of its own, so that one that hangs delays no other.

The queue is the table of pages: a sender takes from it what it has room for, the most urgent first, so that nothing is
lost however much waits. What is in hand when the gateway ends, in peace or not, still stands there and is sent again.
"""

import asyncio
import logging
from collections.abc import Callable, Coroutine, Mapping
from contextlib import closing, suppress
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from threading import Event, Lock, Thread
from time import monotonic
from types import MappingProxyType
from typing import Self

from gateway.answer_link import AnswerLinks
from gateway.channel import AskableChannel, Channel, Message, NeverError, NotNowError, Receipt
from gateway.delivery import Delivery, EndingError, SendPace, Slots, Tell
from gateway.outbox import SURENESS, FailedTries, PageChanges
from gateway.outbox_reading import Followed, OutboxView
from gateway.pump import StoppedError
from rules.alert_words import PageEnd
from rules.readings import SECOND, Micros, micros

log = logging.getLogger(__name__)

NOWHERE: Mapping[str, int] = MappingProxyType({})

FOLLOWED = 50
"""So many pages, the newest, a channel is asked about; ours."""

FOLLOWED_FOR = micros(12 * 3600)
"""So long after it was asked for: a long shift; ours."""

FOLLOWING = "to ask what became of pages"
"""Among what is in hand, in the place of a page's id."""

REST_SECONDS = 5.0
"""After a fault of the program a sender begins anew so much later; ours."""

LEAST_WAIT_SECONDS = 0.5
"""Between two looks for pages whose time is over; ours."""


@dataclass(frozen=True, slots=True)
class NoChannel:
    """Stands for a channel that the site file does not have any more: what is still to go over it is refused."""

    name: str

    def send(self, message: Message) -> Receipt:
        """Raises NeverError."""
        raise NeverError(f"{message.page} cannot be sent: the site file has no channel '{self.name}' now")


@dataclass(frozen=True, slots=True)
class Office:
    """What every sender works with.

    journal: the file with the table of pages. tell: the way to the engine. tries: where those are noted that failed.
    """

    journal: Path
    tell: Tell
    now: Callable[[], Micros]
    tries: FailedTries
    links: AnswerLinks | None = None
    pace: SendPace = field(default_factory=SendPace)

    def for_as_many(self, at_once: int) -> Self:
        """The same for a channel over which so many attempts may be under way."""
        return replace(self, pace=self.pace._replace(at_once=at_once))


class Round:
    """What one sender has in hand; lives in the event loop of its thread."""

    def __init__(self, name: str, channel: Channel, office: Office, view: OutboxView) -> None:
        self.news = asyncio.Event()
        self._ending = asyncio.Event()
        self._name, self._channel, self._office, self._view = name, channel, office, view
        self._slots = Slots(office.pace.at_once, self.news.set)
        self._in_hand: dict[str, asyncio.Task[None]] = {}
        self._delivery = Delivery(
            name,
            channel,
            view,
            self._slots,
            office.tell,
            office.now,
            office.tries,
            office.links,
            office.pace,
            self._ending,
        )

    def end(self) -> None:
        """Take nothing new."""
        self._ending.set()
        self.news.set()

    async def serve(self) -> None:
        """Send until the end."""
        while not self._ending.is_set():
            self.news.clear()
            self._take_up()
            await self._pause()
        await self._finish()

    def _take_up(self) -> None:
        """Begin with what there is room for, and give up what has waited for too long."""
        if isinstance(self._channel, AskableChannel) and FOLLOWING not in self._in_hand:
            following = Following(self._name, self._channel, self._office, self._view, self._delivery)
            self._begin(FOLLOWING, following.run())
        room = min(self._slots.spare, self._office.pace.in_hand - len(self._in_hand))
        now = self._office.now()
        for draft in self._view.overdue(self._name, now, self._in_hand):
            told = self._delivery.report_end(draft, PageEnd.GIVEN_UP, "its time was over before it could be sent", 0)
            self._begin(draft.page, told)
        for draft in self._view.waiting(self._name, self._in_hand, room) if room > 0 else ():
            self._begin(draft.page, self._delivery.bring(draft))

    def _begin(self, page: str, work: Coroutine[None, None, None]) -> None:
        self._in_hand[page] = asyncio.get_running_loop().create_task(self._through(page, work))

    async def _through(self, page: str, work: Coroutine[None, None, None]) -> None:
        """A page's way; what goes wrong with one is no matter to the others, and it stays in the table."""
        try:
            await work
        except (EndingError, StoppedError):
            if page != FOLLOWING:
                log.info("%s is left for the next start", page)
        except Exception:
            log.exception("%s meets a fault of the program; it is tried again", page)
            with suppress(EndingError):
                await self._delivery.sleep(REST_SECONDS)
        finally:
            del self._in_hand[page]
            self.news.set()

    async def _pause(self) -> None:
        """Until something is new, or the time of a page that waits is over."""
        over = self._view.next_give_up(self._name)
        wait = None if over is None else max(LEAST_WAIT_SECONDS, (over - self._office.now()) / SECOND)
        with suppress(TimeoutError):
            async with asyncio.timeout(wait):
                await self.news.wait()

    async def _finish(self) -> None:
        """Let what is under way come to its end for a while; the rest is sent after the next start."""
        if self._in_hand:
            await asyncio.wait(self._in_hand.values(), timeout=self._office.pace.stop_seconds)
        for task in self._in_hand.values():
            task.cancel()


@dataclass(slots=True)
class Following:
    """Asks a channel, now and then, what became of the pages that it took."""

    name: str
    channel: AskableChannel
    office: Office
    view: OutboxView
    delivery: Delivery
    _asked: set[str] = field(default_factory=set)
    _silent: set[str] = field(default_factory=set)

    async def run(self) -> None:
        """Ask until the end, one page after the other."""
        while True:
            pages = self.view.followed(self.name, Micros(self.office.now() - FOLLOWED_FOR), FOLLOWED)
            known = {page.handle for page in pages}
            for handle in self._asked - known - self._silent:
                with suppress(NotNowError):
                    await self.delivery.ask(partial(self.channel.forget, handle))
            self._asked, self._silent = known, self._silent & known
            for page in pages:
                if page.handle not in self._silent:
                    await self._ask(page)
            await self.delivery.sleep(self.office.pace.poll_seconds)

    async def _ask(self, page: Followed) -> None:
        try:
            receipt = await self.delivery.ask(partial(self.channel.poll, page.handle))
        except NotNowError as error:
            log.info("channel %s cannot tell of %s now: %s", self.name, page.draft.page, error)
            return
        except NeverError as error:
            self._silent.add(page.handle)
            await self.delivery.report_end(page.draft, PageEnd.REFUSED, str(error), 0)
            return
        if receipt.handle is None:
            self._silent.add(page.handle)
        if SURENESS[receipt.confirmation] > page.sureness or receipt.reply is not None:
            await self.delivery.report(page.draft, receipt, 0)


class Sender:
    """The thread that sends over one channel, and asks it what became of what it took."""

    def __init__(self, name: str, channel: Channel, office: Office) -> None:
        self._name, self._channel, self._office = name, channel, office
        self._thread = Thread(target=self._live, name=f"pages {name}", daemon=True)
        self._stopped = Event()
        self._guard = Lock()
        self._round: tuple[Round, asyncio.AbstractEventLoop] | None = None

    def start(self) -> None:
        """Begin with what the table has."""
        self._thread.start()

    def wake(self) -> None:
        """There is something new in the table."""
        self._tell(lambda round_: round_.news.set())

    def end(self) -> None:
        """Take nothing new; what is under way may still come to its end."""
        self._stopped.set()
        self._tell(Round.end)

    def join(self, timeout_seconds: float) -> None:
        """Wait for its end."""
        self._thread.join(timeout_seconds)

    def _tell(self, what: Callable[[Round], None]) -> None:
        with self._guard:
            if self._round is not None:
                round_, loop = self._round
                loop.call_soon_threadsafe(what, round_)

    def _live(self) -> None:
        while not self._stopped.is_set():
            try:
                asyncio.run(self._serve())
            except Exception:
                log.exception("the sender of channel %s failed; it begins anew", self._name)
                self._stopped.wait(REST_SECONDS)

    async def _serve(self) -> None:
        with closing(OutboxView.open(self._office.journal)) as view:
            round_ = Round(self._name, self._channel, self._office, view)
            with self._guard:
                self._round = round_, asyncio.get_running_loop()
            try:
                if not self._stopped.is_set():
                    await round_.serve()
            finally:
                with self._guard:
                    self._round = None


class Senders:
    """All senders of a gateway: one for each channel of the site file, and one for each that it once had.

    at_once: how many attempts may be under way over a channel, where that is not as the pace has it.
    """

    def __init__(self, channels: Mapping[str, Channel], office: Office, at_once: Mapping[str, int] = NOWHERE) -> None:
        self._office = office
        self._guard = Lock()
        self._ended = False
        self._senders = {
            name: Sender(name, channel, office.for_as_many(at_once.get(name, office.pace.at_once)))
            for name, channel in channels.items()
        }

    def start(self) -> None:
        """Begin with what was left from the last run.

        Raises:
            JournalError: the table of pages cannot be read.
        """
        with closing(OutboxView.open(self._office.journal)) as view:
            left = view.channels()
        for sender in tuple(self._senders.values()):
            sender.start()
        for name in left:
            self._of(name)

    def wake(self, changes: PageChanges) -> None:
        """Something was asked for; called on the pump's thread after the commit, and never waits."""
        for name in {draft.channel for draft in changes.asked}:
            self._of(name).wake()

    def stop(self) -> None:
        """End all, those that hang too; what is not told by then is sent after the next start."""
        with self._guard:
            self._ended = True
            senders = tuple(self._senders.values())
        for sender in senders:
            sender.end()
        until = monotonic() + 2 * self._office.pace.stop_seconds
        for sender in senders:
            sender.join(max(0.0, until - monotonic()))

    def _of(self, name: str) -> Sender:
        with self._guard:
            sender = self._senders.get(name)
            if sender is None:
                sender = self._senders[name] = Sender(name, NoChannel(name), self._office)
                if not self._ended:
                    sender.start()
            return sender
