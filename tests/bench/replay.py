"""Journal readings a second through the engine on one core, and memory: python -m tests.bench.replay."""

import gc
import resource
import tempfile
import time
from collections.abc import Callable, Sequence
from multiprocessing import get_context
from pathlib import Path

from gateway.course import Course, travel
from gateway.journal import JournalView
from gateway.law import Law
from gateway.recording import Writer
from gateway.replay import verify
from gateway.schema import DATABASE
from gateway.wire import Wire
from rules.readings import SECOND, Micros, Reading
from tests.bench.traffic import department, messages, say

COUNT = 200_000
TARGET = 100_000
WRITTEN_TARGET = 60_000
PIECE = 5_000
START_SECONDS = 1_790_000_000
SPACING_SECONDS = 0.05
"""Each of about 60 sensors speaks every 3 s: a shift of a department in a minute of reading."""


def main() -> None:
    """Make a journal, read it (the floor), then read it through the engine."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / DATABASE
        inputs = _inputs()
        gc.freeze()  # as the command line does
        written = _write(Path(name), inputs)
        with get_context("spawn").Pool(1) as alone:
            floor, floor_mb = alone.apply(_read, [path])
        with get_context("spawn").Pool(1) as alone:
            figure, figure_mb = alone.apply(_judge, [path])
        size, events = path.stat().st_size, _events(path)
        say(f"journal   {COUNT:,} readings, {events:,} events, {size / COUNT:.0f} bytes a reading")
        say(f"written   judged, and written as a gateway does   {written:9,.0f} readings/s; aim {WRITTEN_TARGET:,}")
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


def _events(path: Path) -> int:
    view = JournalView.open(path)
    last = view.extent().last_event
    view.close()
    return last


def _megabytes() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _inputs() -> list[Reading]:
    """What the department says, as a gateway takes it in."""
    wire = Wire(department().file)
    inputs: list[Reading] = []
    for number, (topic, payload) in enumerate(messages(department(), START_SECONDS, COUNT, SPACING_SECONDS)):
        arrived = Micros(int((START_SECONDS + number * SPACING_SECONDS + 0.02) * SECOND))
        inputs += wire.decode(topic, payload, arrived).readings
    return inputs


def _write(folder: Path, inputs: Sequence[Reading]) -> float:
    """Readings a second, of a process that judges them and writes the journal of it."""
    law = Law.of(department())

    def work() -> None:
        with Writer.new(folder, law) as writer:
            for first in range(0, COUNT, PIECE):
                writer.take(inputs[first : first + PIECE])

    return _rate(work)


def _rate(work: Callable[[], object]) -> float:
    begin = time.process_time()
    work()
    return COUNT / (time.process_time() - begin)


if __name__ == "__main__":
    main()
