"""What judged at an earlier time, and how the site called its things then."""

from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple
from zoneinfo import ZoneInfo

from gateway.figure_log import FigureLog, as_judged
from gateway.found import Found, RecordView
from gateway.journal import Epoch
from gateway.law import Law
from gateway.schema import JournalError
from gateway.soak_log import ProbeName
from gateway.told import BasinPlace, JudgedBy
from rules.build import basin_setup
from rules.readings import Micros
from rules.site import Label, Probe
from rules.soaks import BasinSetup

LAWS_REMEMBERED = 8
"""So many site files with their rules are kept as read (ours); a law takes some milliseconds to be read."""


class Era(NamedTuple):
    """A stretch of the record under one law, with the figures that people had changed by then.

    law: None where this version cannot read it any more; things then have no names but their ids.
    """

    by: JudgedBy
    law: Law | None

    def place(self, basin: str) -> BasinPlace:
        """Where a basin is."""
        site = self.law.site if self.law else None
        found = next((b for b in site.basin if b.id == basin), None) if site else None
        if site is None or found is None:
            return BasinPlace(basin, basin, None, "")
        station = next((s.name for s in site.station if s.id == found.station), found.station)
        return BasinPlace(basin, found.name, found.station, station)

    def probe_name(self, probe: str) -> ProbeName:
        """How a probe is called."""
        found = self.probe(probe)
        return ProbeName(probe, probe, None) if found is None else ProbeName(probe, found.name, found.serial)

    def probe(self, probe: str) -> Probe | None:
        """A probe of the site file; None where it has none of that id."""
        return next((p for p in self.law.site.probe if p.id == probe), None) if self.law else None

    def label(self, label: str) -> Label | None:
        """Exposure conditions by id."""
        return self.law.book.labels.get(label) if self.law else None

    def setup(self, basin: str) -> BasinSetup | None:
        """What is asked of a basin; None where it is not known."""
        law = self.law
        found = next((b for b in law.site.basin if b.id == basin), None) if law else None
        if law is None or found is None:
            return None
        return basin_setup(found, law.site, law.site.sensors(), law.book)

    @property
    def zone(self) -> ZoneInfo:
        """The site's time zone; UTC where it is not known."""
        return self.law.site.site.zone if self.law else ZoneInfo("UTC")


class Past:
    """The eras of a record, each read when it is first asked for."""

    def __init__(self, view: RecordView) -> None:
        self._view = view
        self._spans = view.judges()
        self._figures = FigureLog.of(view)
        self._read: dict[tuple[int, int], Era] = {}

    def era(self, found: Found) -> Era:
        """Under which an event was told."""
        return self.at(found.after_input, found.event.at)

    def at(self, after_input: int, at: Micros) -> Era:
        """Which was in force after that input, at that time of the engine's."""
        passed = sum(_took_over(by, after_input, at) for by in self._spans)
        return self._era(max(passed, 1), self._figures.count_at(after_input))

    def in_force(self, at: Micros) -> Era:
        """Which was in force at an instant; of what was before the record began, the first."""
        return self._era(max(sum(by.since <= at for by in self._spans), 1), self._figures.count_by(at))

    def newest(self) -> Era | None:
        """The last one; None where the record has not begun."""
        return self._era(len(self._spans), len(self._figures.changes)) if self._spans else None

    def _era(self, number: int, changes: int) -> Era:
        known = self._read.get((number, changes))
        if known is None:
            law = _law(self._view.epoch(number))
            standing = self._figures.standing(changes)
            if law is not None and standing:
                law = replace(law, book=as_judged(law.book, standing))
            known = self._read[number, changes] = Era(self._spans[number - 1], law)
        return known


def _took_over(by: JudgedBy, after_input: int, at: Micros) -> bool:
    # Timers may speak under it before its first input; those that were due as it took over spoke before.
    return by.from_input <= after_input or (by.from_input == after_input + 1 and by.since < at)


@lru_cache(LAWS_REMEMBERED)
def _law(epoch: Epoch) -> Law | None:
    try:
        return Law.recorded(epoch)
    except JournalError:
        return None
