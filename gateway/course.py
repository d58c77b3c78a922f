"""The way of an engine through numbered inputs: live, at a restart and in a replay it is the same code."""

import logging
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import zip_longest

from gateway.journal import Checkpoint, Epoch, Extent, JournalView, Recorded
from gateway.law import Law, program_version
from gateway.schema import JournalError
from rules.checkpoint import SnapshotError
from rules.commands import Input
from rules.engine import Engine
from rules.events import Event, event_json
from rules.readings import Micros

log = logging.getLogger(__name__)

Numbered = tuple[int, Event]
"""An event and the number of the last input applied before it."""

DIFFERENCES_NAMED = 20


class Course:
    """An engine and the number of the last input that it took."""

    def __init__(self, engine: Engine, last_input: int) -> None:
        self.engine = engine
        self.last_input = last_input

    @classmethod
    def fresh(cls, law: Law) -> "Course":
        """From the very beginning."""
        return cls(Engine(law.site, law.book), 0)

    @classmethod
    def at(cls, law: Law, checkpoint: Checkpoint) -> "Course":
        """From a checkpoint; raises SnapshotError where its state cannot be read."""
        return cls(Engine.restore(law.site, law.book, checkpoint.state), checkpoint.after_input)

    def take(self, item: Input) -> list[Numbered]:
        """Apply the next input. What timers say before it counts to the input before, whenever they were looked at."""
        engine = self.engine
        said = self.advance(item.arrived) if engine.is_due(item.arrived) else []
        self.last_input += 1
        if events := engine.apply(item):
            said += [(self.last_input, event) for event in events]
        return said

    def pass_over(self, item: Input) -> list[Numbered]:
        """Count the next input without applying it; time passes."""
        said = self.advance(item.arrived)
        self.last_input += 1
        return said

    def advance(self, now: Micros) -> list[Numbered]:
        """Fire what is due up to now."""
        return [(self.last_input, event) for event in self.engine.advance(now)]

    def hand_over(self, law: Law) -> list[Numbered]:
        """Go on under another site file or other rules."""
        self.engine = Engine.restore(law.site, law.book, self.engine.snapshot())
        return self.advance(self.engine.now)

    def checkpoint(self, last_event: int, taken: Micros) -> Checkpoint:
        """The present state; ``last_event`` is the number of the last event given so far."""
        engine = self.engine
        return Checkpoint(self.last_input, last_event, engine.now, taken, program_version(), engine.snapshot())


def travel(
    course: Course, view: JournalView, extent: Extent, epochs: Sequence[Epoch], law_of: Callable[[Epoch], Law]
) -> Iterator[list[Numbered]]:
    """Take the journal's inputs after the course's last one, up to the extent; ``epochs`` take over on the way."""
    for epoch in epochs:
        yield from _take_all(course, view, epoch.from_input - 1)
        yield course.advance(epoch.at)
        yield course.hand_over(law_of(epoch))
    yield from _take_all(course, view, extent.last_input)
    yield course.advance(extent.clock)


def _take_all(course: Course, view: JournalView, upto: int) -> Iterator[list[Numbered]]:
    for chunk in view.inputs(course.last_input, upto):
        for item in chunk:
            said = course.take(item)
            if said:
                yield said


@dataclass(frozen=True, slots=True)
class Difference:
    """An event that a replay does not give as it was recorded; None where there is none at all.

    seq: number of the event in the journal.
    """

    seq: int
    recorded: tuple[int, str] | None
    replayed: tuple[int, str] | None


def differences(recorded: Iterator[Recorded], replayed: Iterator[list[Numbered]], after: int) -> Iterator[Difference]:
    """Both streams side by side, byte for byte; ``after`` is the number of the last event before them."""
    texts = ((number, event_json(event)) for said in replayed for number, event in said)
    for seq, (was, now) in enumerate(zip_longest(recorded, texts), after + 1):
        written = None if was is None else (was.after_input, was.body)
        if written != now:
            yield Difference(seq, written, now)


def resume(view: JournalView, present: Law) -> Course | None:
    """The course exactly where the journal ends; None where it has not begun.

    What comes out differently from what was recorded is logged loudly; the record stays as it is. Where rules of the
    past cannot be read any more, as after an upgrade, the present ones stand in for them, which is logged too: nobody
    is helped by a gateway that will not start.

    Raises:
        JournalError: the journal cannot be read on.
    """
    extent, epochs = view.extent(), view.epochs()
    if not epochs:
        return None

    def law_of(epoch: Epoch) -> Law:
        try:
            return Law.recorded(epoch)
        except JournalError as error:
            log.error("%s The present rules stand in for them.", error)  # noqa: TRY400 - a sentence, no trace
            return present

    course, after_event, passed = _start(view, epochs, law_of)
    replayed = travel(course, view, extent, epochs[passed:], law_of)
    for count, found in enumerate(differences(view.events(after_event, extent.last_event), replayed, after_event)):
        if count < DIFFERENCES_NAMED:
            text = "REPLAY DIFFERS at event %d: recorded %s, now %s; run 'sinkside verify'"
            log.error(text, found.seq, found.recorded, found.replayed)
    return course


def _start(view: JournalView, epochs: Sequence[Epoch], law_of: Callable[[Epoch], Law]) -> tuple[Course, int, int]:
    """From the newest readable checkpoint, else the beginning: the course, its last event, its number of epochs."""
    for checkpoint in view.checkpoints():
        passed = sum(epoch.from_input <= checkpoint.after_input + 1 for epoch in epochs)
        try:
            return Course.at(law_of(epochs[passed - 1]), checkpoint), checkpoint.after_event, passed
        except SnapshotError as error:
            log.warning("checkpoint after input %d is passed over: %s", checkpoint.after_input, error)
    return Course.fresh(law_of(epochs[0])), 0, 1
