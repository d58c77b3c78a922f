"""Simulated days straight into a journal, as a live gateway would have written them, and the truth beside it."""

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from heapq import merge
from itertools import groupby
from operator import attrgetter
from pathlib import Path
from typing import cast

from gateway.recording import Law, Writer, gateway_heard
from rules.commands import Input
from rules.readings import DAY, SECOND, Micros, Reading
from rules.site import Site
from sim_devices.running.heard import Heard
from sim_devices.running.simulation import Simulation
from sim_devices.troubles.table import TRUTH_FILE, Run, write_truth

PIECE = Micros(600 * SECOND)
"""Life and journal take turns in pieces of so much time (ours)."""

_arrived = attrgetter("arrived")


def write_days(folder: Path, law: Law, simulation: Simulation, run: Run, tell: Callable[[int], None]) -> None:
    """Live through the run's span, and write a new data folder of it; ``tell`` is given the days done after each.

    What a gateway would have refused is not kept: it judges nothing, and is no part of the record.
    Nothing is forgotten meanwhile, for what a probe owes may be as old as the days: 60 carts take some 8 MB a day.

    Raises:
        gateway.recording.JournalError: the folder is not empty, or cannot be written.
        sim_devices.troubles.table.TruthError: the truth cannot be written.
    """
    heard = Heard(law.site)
    with _garbage_by_the_day() as clear, Writer.new(folder, law) as writer:
        writer.take(gateway_heard(run.since))
        after = run.since
        while after < run.until:
            until = Micros(min(after + PIECE, run.until))
            simulation.live(until)
            _take(writer, inputs(simulation, heard, after, until))
            writer.advance(until)
            _claim(writer, simulation, law.site, until)
            if (until - run.since) // DAY > (after - run.since) // DAY:
                clear()
                tell((until - run.since) // DAY)
            after = until
    write_truth(folder / TRUTH_FILE, run, simulation.episodes(run.since, run.until))


@contextmanager
def _garbage_by_the_day() -> Iterator[Callable[[], object]]:
    """Garbage is looked for when what is given is called, and not now and then.

    Each look goes through all that is remembered, and next to nothing of what days leave behind is found by it.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield gc.collect
    finally:
        if was_on:
            gc.enable()


def _claim(writer: Writer, simulation: Simulation, site: Site, now: Micros) -> None:
    """Whoever owes a claim looks at the page that lists the soaks, and enters it."""
    claims, roles = simulation.ward.claims, site.reprocessing.claim_roles
    if roles and any(claiming.due <= now for claiming in claims.waiting):
        writer.take(claims.made(writer.picture().unclaimed, roles[0], now))


def inputs(simulation: Simulation, heard: Heard, after: Micros, until: Micros) -> Iterator[Input]:
    """What a gateway takes in (after, until], by arrival; the simulation was lived through up to then."""
    readings = (reading for sent in simulation.sent(after, until) for reading in heard.readings(sent))
    yield from merge(readings, simulation.entries(after, until), key=_arrived)


def _take(writer: Writer, given: Iterator[Input]) -> None:
    for is_reading, group in groupby(given, key=lambda each: type(each) is Reading):
        if is_reading:
            writer.hear(cast("list[Reading]", list(group)))
        else:
            writer.take(list(group))
