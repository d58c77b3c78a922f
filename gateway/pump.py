"""The one thread that owns the engine and the journal: takes, judges, commits, and only then tells anybody."""

import logging
import threading
from collections.abc import Iterable

from gateway.admission import Admission, not_before
from gateway.clock import Bounds, Clock, ClockError
from gateway.course import Course, Numbered, resume
from gateway.hub import Feed, RecordHead
from gateway.inbox import Asked, Delivery, Inbox, Item, LinkChange
from gateway.journal import Batch, Checkpoint, Journal, StoreError
from gateway.law import Law
from gateway.outbox import Drafting, Outcome
from gateway.rejected import RejectedTally
from gateway.schema import JournalError
from gateway.turn import FaultError, Outlets, Pace, Turn
from gateway.wire import Wire
from rules.alert_commands import PageTold
from rules.commands import Input
from rules.readings import GATEWAY_LINK, GATEWAY_STORE, SECOND, Micros, Reading, SensorId, micros

log = logging.getLogger(__name__)

STOP_WAIT = micros(0.25)
REJECTED_SHOWN = 50
OWN_FAULT = "a fault of the program; please report it with the log"


class StoppedError(RuntimeError):
    """A command came too late: the gateway is stopping."""


class Pump:
    """Owns the engine and the writing side of the journal.

    Made and run by whoever starts the gateway: ``run`` in a thread of its own, or ``step`` by step in a test.

    Raises:
        JournalError: the journal cannot be read on.
        StoreError: the journal cannot be written at the start.
    """

    def __init__(
        self,
        law: Law,
        journal: Journal,
        inbox: Inbox,
        wire: Wire,
        outlets: Outlets,
        clock: Clock,
        pace: Pace | None = None,
        drafting: Drafting | None = None,
    ) -> None:
        self._journal, self._inbox, self._outlets, self._clock = journal, inbox, outlets, clock
        self._pace = pace or Pace()
        kinds = {sensor: setup.kind for sensor, setup in law.site.sensors().items()}
        self._tally = RejectedTally(journal.view.rejected())
        self._admission = Admission(wire, kinds, journal.view, self._tally)
        self._law = law
        self._drafting = drafting or Drafting(law.site)
        self._course = self._begin(law)
        self._turn = Turn()
        self._trouble: str | None = None
        self._trouble_since = Micros(0)
        self._is_deafened = False
        self._retry_wait = self._pace.retry_first
        self._hearing = False
        self._bounds = Bounds.of(law.site.limits)
        self._is_news = True
        self._published = Micros(0)
        self._checkpointed = (self._course.last_input, clock.now())
        self._stopping = threading.Event()
        self._shorten = threading.Event()
        self._warnings: dict[str, str | None] = {}
        self._head: RecordHead | None = None
        self._say_own(GATEWAY_LINK, value=False)
        self._say_own(GATEWAY_STORE, value=True)

    # ---- any thread -----------------------------------------------------------------------------------------------

    def stop(self) -> None:
        """Ask ``run`` to end after the batch in hand; it does within ``STOP_WAIT``."""
        self._stopping.set()

    @property
    def committed_inputs(self) -> int:
        """How many inputs are on disk."""
        return self._journal.extent.last_input

    def shorten_log(self) -> None:
        """Ask for the write-ahead log to be brought into the database; done between two batches."""
        self._shorten.set()

    def warn(self, of: str, warning: str | None) -> None:
        """What screens say ``of`` something from now on, a plain sentence or nothing."""
        self._warnings[of] = warning

    # ---- the pump's thread ----------------------------------------------------------------------------------------

    def run(self) -> None:
        """Step until stopped; then note where the engine stands, so that the next start is quick."""
        while not self._stopping.is_set():
            self.step(STOP_WAIT)
        self.finish()

    def finish(self) -> None:
        """One last try to write what is in hand, with a checkpoint; what cannot be written stays at the broker."""
        self._turn.events += self._course.advance(self._now())
        self._turn.checkpoint = self._checkpoint(self._clock.now())
        self._commit()
        self.refuse_waiting()

    def refuse_waiting(self) -> None:
        """Tell everybody whose command was not taken, or not written, that it will not be."""
        waiting = [item.answer for item in self._inbox.take(0, len(self._inbox)) if isinstance(item, Asked)]
        unwritten, self._turn.answers = self._turn.answers, []
        for answer in (*waiting, *(answer for answer, _ in unwritten)):
            # Who asked may have gone; what runs already can no longer be called off.
            if answer.running() or answer.set_running_or_notify_cancel():
                answer.set_exception(StoppedError("Sinkside is stopping; ask again in a moment."))

    def step(self, wait: Micros) -> None:
        """One batch, or what is due when nothing arrives; waits at most ``wait`` for something to do."""
        self._mind_clock()
        if self._trouble is None:
            self._take_batch(wait)
        else:
            self._stopping.wait(min(wait, self._retry_wait) / SECOND)
            self._mind_trouble()
        self._tick()
        while self._is_worth_writing() and self._commit():
            pass
        self._publish()
        if self._shorten.is_set() and self._trouble is None:
            self._shorten.clear()
            self._shorten_log()

    def _shorten_log(self) -> None:
        try:
            self._journal.truncate_wal()
        except StoreError as error:
            # A full disk, say: what is written next finds it too, and then the wall says so.
            log.warning("%s It is tried again when the chore next comes round.", error)

    def feed(self) -> Feed:
        """What screens show now."""
        clock = self._journal.extent.clock
        if clock and (self._head is None or clock - self._head.at >= self._pace.head_every):
            self._head = self._journal.head
        return Feed(
            picture=self._course.engine.picture(),
            rejected=self._tally.newest(REJECTED_SHOWN),
            store_trouble=self._trouble,
            sqlite_warning=self._journal.sqlite_warning,
            warnings=tuple(filter(None, tuple(self._warnings.values()))),
            head=self._head,
        )

    # ---- start ----------------------------------------------------------------------------------------------------

    def _begin(self, law: Law) -> Course:
        """Where the journal ends, under the present law."""
        course = resume(self._journal.view, law)
        if course is None:
            course = Course.fresh(law)
            self._journal.commit(Batch(epoch=law.epoch(1, course.engine.now)))
        elif self._journal.view.epochs()[-1].sha256 != law.sha256:
            log.info("site file or rules have changed; they judge from input %d on", course.last_input + 1)
            events = course.hand_over(law)
            self._journal.commit(
                Batch(
                    events=events,
                    clock=course.engine.now,
                    epoch=law.epoch(course.last_input + 1, course.engine.now),
                    checkpoint=course.checkpoint(self._journal.extent.last_event + len(events), self._clock.now()),
                    pages=self._drafting.changes(events, self._journal.extent.last_event + 1),
                )
            )
        return course

    def _say_own(self, sensor: SensorId, *, value: bool) -> None:
        """A word of the gateway's own: at the last moment known of the engine, or now where there is none yet."""
        arrived = self._course.engine.now or self._clock.now()
        self._apply(Reading(sensor, arrived, arrived, value, timed=False))

    # ---- the clock ------------------------------------------------------------------------------------------------

    def _mind_clock(self) -> None:
        """Follow a system clock that was set forward, or a machine that slept.

        Raises:
            ClockError: it was set back so far that nothing with a time of its own could be used any more.
        """
        offset_seconds = self._clock.offset_seconds
        if offset_seconds > self._bounds.ahead_seconds:
            log.warning("The system's clock is %.1f s ahead; followed, as if nothing had been heard.", offset_seconds)
            self._leap()
        elif offset_seconds < -self._bounds.behind_seconds:
            raise ClockError(
                f"The system's clock was set back by {-offset_seconds:.0f} s, and time cannot run backwards: set the"
                " clock right and start Sinkside again; if it was wrong before, name a new data folder."
            )

    def _leap(self) -> None:
        """Time goes on at the system's; like a restart, it is known from the gateway's own word that it was deaf."""
        since = self._clock.now()
        self._say_own(GATEWAY_LINK, value=False)
        self._clock.leap()
        self._admission.leap(since, micros(self._course.engine.book.thresholds.max_gap_seconds))
        if self._hearing and not self._is_deafened:
            arrived = self._now()
            self._apply(Reading(GATEWAY_LINK, arrived, arrived, value=True, timed=False))

    # ---- in -------------------------------------------------------------------------------------------------------

    def _take_batch(self, wait: Micros) -> None:
        """Take what has arrived, until the batch is large or old enough; waits at most ``wait`` for the first of it."""
        pace, inbox = self._pace, self._inbox
        items = inbox.take(self._until_due(wait) / SECOND, pace.piece)
        if not items:
            return
        begun = self._clock.now()
        if len(items) + len(inbox) < pace.batch and pace.linger:
            # One plain wait instead of one wake-up a message: the others come meanwhile.
            self._stopping.wait(pace.linger / SECOND)
        room = pace.most
        while items:
            self._take(items)
            room -= len(items)
            if room <= 0 or self._clock.now() - begun >= pace.batch_age:
                return
            items = inbox.take(0, min(pace.piece, room))

    def _until_due(self, wait: Micros) -> Micros:
        """How long may be waited before something is due: a timer, a feed."""
        dues = [self._published + (self._pace.picture_every if self._is_news else self._pace.alive_every)]
        if (due := self._course.engine.next_due) is not None:
            dues.append(due)
        return Micros(max(0, min(wait, min(dues) - self._clock.now())))

    def _take(self, items: Iterable[Item]) -> None:
        for item in items:
            if isinstance(item, Delivery):
                self._deliver(item)
            elif isinstance(item, LinkChange):
                arrived = self._not_before(item.arrived)
                self._apply(Reading(GATEWAY_LINK, arrived, arrived, item.connected, timed=False))
                self._hearing = item.connected
            else:
                self._answer(item)

    def _deliver(self, item: Delivery) -> None:
        for reading in self._admission.readings(item):
            if self._tried(not_before(reading, self._course.engine.now), item.topic) is None:
                self._tally.add(item.topic, OWN_FAULT, item.payload, item.arrived)
        if item.receipt is not None:
            self._turn.receipts.append(item.receipt)

    def _answer(self, asked: Asked) -> None:
        if not asked.answer.set_running_or_notify_cancel():
            return
        command = asked.command.model_copy(update={"arrived": self._not_before(self._clock.now())})
        said = self._tried(command, command.kind)
        if said is None:
            asked.answer.set_exception(FaultError(f"This cannot be done: {OWN_FAULT}."))
            return
        self._turn.answers.append((asked.answer, [event for _, event in said]))
        if isinstance(command, PageTold):
            self._turn.outcomes.append(Outcome(command, asked.trying))

    def _tried(self, item: Input, what: str) -> list[Numbered] | None:
        """What comes of it; None where it meets a fault of the program, and is left out as if it had never come.

        It would come again and again, and stop the gateway each time; a page would go out again each time.
        """
        earliest = self._course.engine.now
        try:
            return self._apply(item)
        except Exception:
            log.exception("'%s' meets a fault of the program and is left out", what)
            self._restore(earliest)
            return None

    def _apply(self, item: Input) -> list[Numbered]:
        said = self._course.take(item)
        self._turn.inputs.append(item)
        if said:
            self._turn.events += said
        return said

    def _restore(self, now: Micros) -> None:
        """Put the engine back to where it stood at ``now``, after the last input taken, whatever became of it since."""
        course = resume(self._journal.view, self._law)
        if course is None:
            raise JournalError("The journal has not begun, so that there is nothing to go back to.")
        self._turn.events = [numbered for item in self._turn.inputs for numbered in course.take(item)]
        self._turn.events += course.advance(now)
        self._course = course

    def _not_before(self, instant: Micros) -> Micros:
        return max(instant, self._course.engine.now)

    def _now(self) -> Micros:
        return self._not_before(self._clock.now())

    def _tick(self) -> None:
        """Fire what is due; every now and then let the engine's time pass even if nothing is."""
        now = self._now()
        if self._course.engine.is_due(now) or now - self._published >= self._pace.alive_every:
            self._turn.events += self._course.advance(now)
            self._is_news = True

    # ---- to disk --------------------------------------------------------------------------------------------------

    def _is_worth_writing(self) -> bool:
        now = self._clock.now()
        after, taken = self._checkpointed
        fresh = self._course.last_input - after
        if fresh >= self._pace.checkpoint_inputs or (fresh and now - taken >= self._pace.checkpoint_every):
            self._turn.checkpoint = self._checkpoint(now)
        quiet = self._course.engine.now - self._journal.extent.clock
        return not self._turn.is_empty or bool(self._tally.unwritten()) or quiet >= self._pace.clock_every

    def _checkpoint(self, now: Micros) -> Checkpoint:
        return self._course.checkpoint(self._journal.extent.last_event + len(self._turn.events), now)

    def _commit(self) -> bool:
        """Write the batch in hand; tell if it is on disk, keep it if it is not."""
        turn = self._turn
        pages = self._drafting.changes(turn.events, self._journal.extent.last_event + 1, turn.outcomes)
        now, rejected = self._course.engine.now, self._tally.unwritten()
        try:
            self._journal.commit(Batch(turn.inputs, turn.events, now, rejected, turn.checkpoint, pages=pages))
        except StoreError as error:
            self._in_trouble(error)
            return False
        self._turn = Turn()
        self._committed(turn)
        if pages:
            self._outlets.pages(pages)
        if self._trouble is not None:
            self._out_of_trouble()
        return True

    def _committed(self, turn: Turn) -> None:
        if turn.receipts:
            self._outlets.acknowledge(turn.receipts)
        for answer, events in turn.answers:
            answer.set_result(events)
        if turn.checkpoint is not None:
            self._checkpointed = (turn.checkpoint.after_input, turn.checkpoint.taken)
        self._admission.committed()
        self._tally.written()
        self._is_news = True

    def _in_trouble(self, error: StoreError) -> None:
        if self._trouble is None:
            self._trouble_since = self._now()
            self._say_own(GATEWAY_STORE, value=False)
            self._retry_wait = self._pace.retry_first
            log.error("%s Nothing is acknowledged until it can; trying again.", error)
        else:
            self._retry_wait = min(Micros(self._retry_wait * 2), self._pace.retry_slowest)
        self._trouble = f"{error} What is shown is not yet on disk. Tell the engineer."
        self._is_news = True

    def _mind_trouble(self) -> None:
        """What waits in the inbox is not taken meanwhile, so that no sensor may be called silent for that."""
        now = self._now()
        if not self._is_deafened and now - self._trouble_since >= self._pace.deaf_after:
            self._turn.events += self._course.advance(Micros(self._trouble_since + self._pace.deaf_after))
            self._say_own(GATEWAY_LINK, value=False)
            self._is_deafened = True

    def _out_of_trouble(self) -> None:
        log.warning("The journal can be written again.")
        self._trouble = None
        self._say_own(GATEWAY_STORE, value=True)
        if self._is_deafened and self._hearing:
            self._say_own(GATEWAY_LINK, value=True)
        self._is_deafened = False

    # ---- out ------------------------------------------------------------------------------------------------------

    def _publish(self) -> None:
        now = self._clock.now()
        if not self._is_news or now - self._published < self._pace.picture_every:
            return
        feed = self.feed()
        self._outlets.publish(feed)
        if self._trouble is None and self._turn.is_empty:
            self._outlets.show_alerts(feed.picture)
        self._published, self._is_news = now, False
