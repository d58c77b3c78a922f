"""How far the work of a question is, by the hours of its days that were played, wherever that is done."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import count
from math import ceil
from queue import SimpleQueue
from threading import Lock, Thread
from typing import NamedTuple, Self

from distributed import Client, get_worker

from gateway.progress import MOST_SAID, Progress
from rules.commands import Input
from rules.exposure import Span
from rules.readings import SECOND, Micros

Tell = Callable[[Progress], None]

HOUR = 3600 * SECOND

CHOOSING_PART = 20
"""One part in so many of the work is to choose and to compare once all is played (ours)."""


class Length(NamedTuple):
    """How long a piece is that is played. on: what of; hours: at least 1; days: likewise."""

    on: str
    hours: int

    @classmethod
    def of(cls, on: str, span: Span) -> "Length":
        """Of all that is played of it."""
        return cls(on, max(1, ceil(span.micros / HOUR)))

    def told(self, hours: int) -> str:
        """``day 3 of 30 of DATA`` after so many hours; of a day alone, what it is of."""
        days = ceil(self.hours / _HOURS_A_DAY)
        return self.on if days == 1 else f"day {min(days, hours // _HOURS_A_DAY + 1)} of {days} of {self.on}"


_HOURS_A_DAY = 24


@dataclass(frozen=True, slots=True)
class Played:
    """Tells from a worker how much of a piece was played.

    topic: of the scheduler's events, heard by whoever asked. job: which work it is.
    """

    topic: str
    job: int

    def passing(self, inputs: Iterator[Input], begins: Micros) -> Iterator[Input]:
        """The inputs, as they are; with each hour that begins it is told how many are over."""
        due = begins + HOUR
        for item in inputs:
            if item.arrived >= due:
                hours = (item.arrived - begins) // HOUR
                get_worker().log_event(self.topic, [self.job, hours])
                due = begins + (hours + 1) * HOUR
            yield item


_topics = count()


class Meter:
    """``with Meter(client, tell, lengths) as meter: ...`` listens to those who do the work.

    tell: is told whenever a part in a hundred more is done, or another day is played; never by two threads at once.
    lengths: of all work, by its number. What was lost and is done anew takes nothing back.
    """

    def __init__(self, client: Client, tell: Tell, lengths: Sequence[Length]) -> None:
        self._client, self._tell, self._lengths = client, tell, lengths
        self._topic = f"sinkside-played-{client.id}-{next(_topics)}"
        self._hours = [0] * len(lengths)
        self._play = sum(length.hours for length in lengths)
        self._whole = self._play + ceil(self._play / CHOOSING_PART)
        self._told: tuple[int, str] | None = None
        self._lock = Lock()
        self._heard: SimpleQueue[tuple[int, int] | None] = SimpleQueue()  # at most one for each hour that is played
        # Of its own, for whoever is told may ask the cluster something, and the client's thread must not wait for it.
        self._thread = Thread(target=self._listen, name="meter", daemon=True)

    def __enter__(self) -> Self:
        self._client.subscribe_topic(self._topic, lambda event: self._heard.put(tuple(event[1])))
        self._thread.start()
        self._say(self._lengths[0].told(0))
        return self

    def __exit__(self, *_: object) -> None:
        self._heard.put(None)
        self._thread.join()
        if self._client.status == "running":
            self._client.unsubscribe_topic(self._topic)

    def of(self, job: int) -> Played:
        """For the worker that does the work of that number."""
        return Played(self._topic, job)

    def done(self, job: int) -> None:
        """All of that work is done."""
        self._take(job, self._lengths[job].hours)

    def choosing(self) -> None:
        """All is played; the rest is about to be done."""
        self._say("choosing and comparing")

    def _listen(self) -> None:
        while (heard := self._heard.get()) is not None:
            self._take(*heard)

    def _take(self, job: int, hours: int) -> None:
        with self._lock:
            length = self._lengths[job]
            self._hours[job] = max(self._hours[job], min(hours, length.hours))
            self._say_now(length.told(self._hours[job]))

    def _say(self, said: str) -> None:
        with self._lock:
            self._say_now(said)

    def _say_now(self, said: str) -> None:
        done = sum(self._hours)
        state = (100 * done // self._whole, said)
        if state != self._told:
            self._told = state
            self._tell(Progress(done=done, of=self._whole, said=said[:MOST_SAID]))
