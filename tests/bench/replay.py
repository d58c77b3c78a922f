"""Journal readings a second through the engine on one core, and memory: python -m tests.bench.replay."""

import gc
import resource
import tempfile
import time
from collections.abc import Callable
from multiprocessing import get_context
from pathlib import Path

from gateway.course import Course, travel
from gateway.journal import Batch, Journal, JournalView
from gateway.law import Law
from gateway.replay import verify
from gateway.schema import DATABASE
from gateway.wire import Wire
from rules.readings import SECOND, Micros, Reading
from tests.bench.traffic import department, messages, say

COUNT = 200_000
TARGET = 100_000
START_SECONDS = 1_790_000_000
SPACING_SECONDS = 0.05
"""Each of about 60 sensors speaks every 3 s: a shift of a department in a minute of reading."""


def main() -> None:
    """Make a journal, read it (the floor), then read it through the engine."""
    setup = department()
    law = Law.of(setup)
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / DATABASE
        journal = Journal.open(Path(name))
        journal.commit(Batch(epoch=law.epoch(1, Micros(0))))
        _record(journal, Course.fresh(law), Wire(setup.file))
        journal.close()
        with get_context("spawn").Pool(1) as alone:
            floor, floor_mb = alone.apply(_read, [path])
        with get_context("spawn").Pool(1) as alone:
            figure, figure_mb = alone.apply(_judge, [path])
        size, events = path.stat().st_size, journal.extent.last_event
        say(f"journal   {COUNT:,} readings, {events:,} events, {size / COUNT:.0f} bytes a reading")
        say(f"floor     read from disk as readings            {floor:9,.0f} readings/s, {floor_mb:4.0f} MB at most")
        say(f"replay    read and judged by the standard rules {figure:9,.0f} readings/s, {figure_mb:4.0f} MB at most")
        say(f"ratio     {figure / floor:.2f}; aim {TARGET:,} readings/s")
        say(f"verify    {'sound' if verify(path).is_sound else 'DIFFERS'}")


def _read(path: Path) -> tuple[float, float]:
    """Readings a second, and megabytes, of a process that only reads them."""
    gc.freeze()
    view = JournalView.open(path)
    return _rate(lambda: sum(len(chunk) for chunk in view.inputs(0, view.extent().last_input))), _megabytes()


def _judge(path: Path) -> tuple[float, float]:
    """The same for one that puts them through the engine."""
    gc.freeze()  # as the command line does
    view = JournalView.open(path)
    course = Course.fresh(Law.of(department()))
    return _rate(lambda: sum(map(len, travel(course, view, view.extent(), (), Law.recorded)))), _megabytes()


def _megabytes() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _record(journal: Journal, course: Course, wire: Wire) -> None:
    """What a live gateway would have written."""
    sent = messages(department(), START_SECONDS, COUNT, SPACING_SECONDS)
    for first in range(0, COUNT, 10_000):
        inputs: list[Reading] = []
        for number, (topic, payload) in enumerate(sent[first : first + 10_000], first):
            arrived = Micros(int((START_SECONDS + number * SPACING_SECONDS + 0.02) * SECOND))
            inputs += wire.decode(topic, payload, arrived).readings
        events = [numbered for reading in inputs for numbered in course.take(reading)]
        journal.commit(Batch(inputs, events, course.engine.now))


def _rate(work: Callable[[], object]) -> float:
    begin = time.process_time()
    work()
    return COUNT / (time.process_time() - begin)


if __name__ == "__main__":
    main()
