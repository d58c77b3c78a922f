"""The way of one page: handed to its channel, again if need be, until the engine knows what became of it."""

import asyncio
import logging
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass
from threading import Thread
from typing import Any, NamedTuple, TypeVar

from tenacity import AsyncRetrying, RetryCallState, retry_if_exception_type, retry_if_not_exception_type
from tenacity.wait import wait_base, wait_exponential, wait_random

from gateway.answer_link import AnswerLinks
from gateway.channel import DETAIL_LETTERS, Channel, Message, NeverError, NotNowError, Receipt, Reply
from gateway.outbox import Draft, FailedTries, Trying
from gateway.outbox_reading import OutboxView
from gateway.pump import StoppedError
from rules.alert_commands import Acknowledge, Decline, PageTold
from rules.alert_words import Confirmation, PageEnd
from rules.commands import Command
from rules.events import Event
from rules.readings import SECOND, Micros, micros

log = logging.getLogger(__name__)

GATEWAY = "gateway"
"""Who tells of pages."""

T = TypeVar("T")
Tell = Callable[[Command, Trying | None], Future[list[Event]]]
"""How a command reaches the pump; the answer comes once it is on disk."""


class SendPace(NamedTuple):
    """How pages are sent; all defaults are ours.

    at_once: how many may be under way over one channel. in_hand: how many may be under way or waiting for another try.
    first_seconds, slowest_seconds: wait after a try that failed; doubles from the one to the other, with some chance in
    it, so that not all come again at the same instant.
    hang_seconds: after so long without a word a try has failed, however the channel bounds its own waits; more than the
    longest bound that a site file can set. least_hang_seconds: so long it has even if the page's time is over before.
    poll_seconds: how often a channel is asked what became of what it took.
    stop_seconds: how long those under way may still take when the gateway stops.
    """

    at_once: int = 4
    in_hand: int = 200
    first_seconds: float = 1
    slowest_seconds: float = 60
    hang_seconds: float = 330
    least_hang_seconds: float = 30
    poll_seconds: float = 10
    stop_seconds: float = 5


class NotNeededError(Exception):
    """The page was withdrawn, or told of by somebody else."""


class EndingError(Exception):
    """The gateway stops: what is not under way yet is sent after the next start."""


class Wait(wait_base):
    """Ever longer, and at least as long as the other side asks."""

    def __init__(self, pace: SendPace) -> None:
        longer = wait_exponential(multiplier=pace.first_seconds, max=pace.slowest_seconds)
        self._own = longer + wait_random(0, pace.first_seconds)

    def __call__(self, retry_state: RetryCallState) -> float:
        """Seconds until the next try."""
        error = retry_state.outcome.exception() if retry_state.outcome is not None else None
        asked = error.after_seconds if isinstance(error, NotNowError) else None
        return max(self._own(retry_state), asked or 0)


class Slots:
    """How many may be in a channel's hands; a place is free again when its thread has ended, however long it hangs."""

    def __init__(self, count: int, freed: Callable[[], None]) -> None:
        self._free = asyncio.Semaphore(count)
        self._freed = freed
        self.count = count
        self.wanted = 0

    @property
    def spare(self) -> int:
        """How many more could begin at once."""
        return max(0, self.count - self.wanted)

    async def take(self, patience_seconds: float) -> None:
        """Take a place; ``run`` or ``give_back`` comes next.

        Raises:
            NotNowError: there was none in time.
        """
        self.wanted += 1
        try:
            async with asyncio.timeout(patience_seconds):
                await self._free.acquire()
        except TimeoutError:
            self.wanted -= 1
            raise NotNowError("the channel is held up by earlier pages") from None
        except BaseException:
            self.wanted -= 1
            raise

    def give_back(self) -> None:
        """Leave a place that was taken."""
        self.wanted -= 1
        self._free.release()
        self._freed()

    async def run(self, work: Callable[[], T], name: str, hang_seconds: float) -> T:
        """Do it in the place that was taken, in a thread of its own.

        Nothing can end a thread that hangs: it is a daemon, so that it holds up its place, and not the process.

        Raises:
            NotNowError: no word within ``hang_seconds``.
        """
        under_way = asyncio.wrap_future(_in_thread(work, name))
        under_way.add_done_callback(self._release)
        done, _ = await asyncio.wait({under_way}, timeout=hang_seconds)
        if not done:
            raise NotNowError(f"the channel has said nothing for {hang_seconds:.0f} s")
        return under_way.result()

    def _release(self, future: asyncio.Future[Any]) -> None:
        if not future.cancelled():
            future.exception()  # looked at, for whoever waited may have given it up
        self.give_back()


def _in_thread(work: Callable[[], T], name: str) -> Future[T]:
    future: Future[T] = Future()
    future.set_running_or_notify_cancel()

    def run() -> None:
        try:
            future.set_result(work())
        except BaseException as error:  # noqa: BLE001 - it belongs to whoever waits
            future.set_exception(error)

    try:
        Thread(target=run, name=name, daemon=True).start()
    except RuntimeError as error:
        future.set_exception(NotNowError(f"no thread could be started ({error})"))
    return future


@dataclass(frozen=True, slots=True)
class Delivery:
    """Brings pages over one channel; used in the event loop of its sender alone.

    tries: where those are noted that failed, but for the last one, which is told of.
    ending: set when the gateway stops.
    """

    name: str
    channel: Channel
    view: OutboxView
    slots: Slots
    tell: Tell
    now: Callable[[], Micros]
    tries: FailedTries
    links: AnswerLinks | None
    pace: SendPace
    ending: asyncio.Event

    async def bring(self, draft: Draft) -> None:
        """Send a page until its channel took or refused it, or its time is over; then tell the engine."""
        tries = self._retrying(draft)
        try:
            receipt: Receipt = await tries(self._attempt, draft)
        except NotNeededError:
            return
        except NeverError as error:
            await self.report_end(draft, PageEnd.REFUSED, str(error), _count(tries))
        except NotNowError as error:
            await self.report_end(draft, PageEnd.GIVEN_UP, str(error), _count(tries))
        else:
            attempts = _count(tries)
            log.info("%s: %s (%s)", _named(draft), receipt.confirmation.value, _times(attempts))
            await self.report(draft, receipt, 1)

    async def report(self, draft: Draft, receipt: Receipt, attempts: int) -> None:
        """Tell the engine what is known of a page, and what whoever was paged answered; attempts: not noted before.

        The answer first: where the gateway is killed in between, it is heard again, and the engine takes it once.
        """
        if receipt.reply is not None:
            kind = Acknowledge if receipt.reply is Reply.ACKNOWLEDGE else Decline
            for alert in draft.alerts:
                await self._told(kind(arrived=self.now(), who=draft.contact_name, alert=alert, page=draft.page))
        await self._told(self._word(draft, receipt.confirmation, receipt.detail), Trying(attempts, receipt.handle))

    async def report_end(self, draft: Draft, end: PageEnd, detail: str, attempts: int) -> None:
        """Tell the engine that no more is to be heard of a page; ``attempts``: of this run, 0 where there was none."""
        log.warning("%s: %s (%s): %s", _named(draft), end.value, _times(attempts), detail)
        await self._told(self._word(draft, end, detail), Trying(min(1, attempts), None))

    def _word(self, draft: Draft, outcome: Confirmation | PageEnd, detail: str) -> PageTold:
        return PageTold(
            arrived=self.now(), who=GATEWAY, page=draft.page, outcome=outcome, detail=detail[:DETAIL_LETTERS]
        )

    def _retrying(self, draft: Draft) -> AsyncRetrying:
        def is_over(state: RetryCallState) -> bool:
            return self.now() + micros(state.upcoming_sleep) >= draft.give_up

        def note(state: RetryCallState) -> None:
            error = state.outcome.exception() if state.outcome is not None else None
            self.tries.note(draft.page, str(error))

        return AsyncRetrying(
            retry=retry_if_exception_type(NotNowError),
            wait=Wait(self.pace),
            stop=is_over,
            before_sleep=note,
            sleep=self.sleep,
            reraise=True,
        )

    async def _attempt(self, draft: Draft) -> Receipt:
        if not draft.address:
            raise NeverError(f"the site file has no address of '{draft.contact}' for channel '{draft.channel}'")
        message = self._message(draft)
        await self.slots.take(max(0.0, (draft.give_up - self.now()) / SECOND))
        begins = False
        try:
            # Looked at last of all, for it may have waited long.
            if self.ending.is_set():
                raise EndingError
            if not self.view.waits(draft.page):
                raise NotNeededError
            begins = True
        finally:
            if not begins:
                self.slots.give_back()
        left_seconds = (draft.give_up - self.now()) / SECOND
        return await self._heard(
            lambda: self.channel.send(message),
            min(self.pace.hang_seconds, max(self.pace.least_hang_seconds, left_seconds)),
        )

    async def ask(self, work: Callable[[], T]) -> T:
        """Ask the channel something of a page that it took, in one of its places.

        Raises:
            NotNowError, NeverError: as the channel says; the former where it is held up, too.
        """
        await self.slots.take(self.pace.poll_seconds)
        return await self._heard(work, self.pace.hang_seconds)

    async def _heard(self, work: Callable[[], T], hang_seconds: float) -> T:
        """What the channel says; a fault of the program in it is no reason never to try again."""
        try:
            return await self.slots.run(work, f"send {self.name}", hang_seconds)
        except (NotNowError, NeverError):
            raise
        except Exception as error:
            log.exception("channel %s failed in a way that it should not", self.name)
            raise NotNowError(f"a fault of the program ({type(error).__name__}); the log has more") from error

    def _message(self, draft: Draft) -> Message:
        return Message(
            page=draft.page,
            address=draft.address,
            brief=draft.brief,
            text=draft.text,
            link=None if self.links is None else self.links.link_for(draft.page, draft.asked),
            priority=draft.priority,
            why=draft.why,
            alerts=draft.alerts,
            asked=draft.asked,
            expires=draft.give_up,
        )

    async def _told(self, command: Command, trying: Trying | None = None) -> None:
        """Have it written; a gateway that is busy is asked again, as long as it lives."""
        asking = AsyncRetrying(
            retry=retry_if_not_exception_type((StoppedError, asyncio.CancelledError)),
            wait=Wait(self.pace),
            reraise=True,
        )
        await asking(self._ask, command, trying)

    async def _ask(self, command: Command, trying: Trying | None) -> None:
        await asyncio.wrap_future(self.tell(command, trying))

    async def sleep(self, seconds: float) -> None:
        """Wait; raises EndingError when the gateway stops meanwhile."""
        try:
            async with asyncio.timeout(seconds):
                await self.ending.wait()
        except TimeoutError:
            return
        raise EndingError


def _count(tries: AsyncRetrying) -> int:
    return int(tries.statistics.get("attempt_number", 1))


def _times(attempts: int) -> str:
    return "not tried" if not attempts else "1 try" if attempts == 1 else f"{attempts} tries"


def _named(draft: Draft) -> str:
    """Whom it is for, without the address."""
    return f"{draft.page} to {draft.contact_name} over {draft.channel}"
