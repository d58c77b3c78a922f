"""Probes read from the journal: all of them, and the time line of each."""

from collections.abc import Iterable

from gateway.found import EVER, NEWEST, Found, Mark, RecordView
from gateway.past import Past
from gateway.probe_log import ProbeAt, ProbeLine, ProbePage
from gateway.schema import JournalError
from gateway.share_reading import in_order_of_telling
from gateway.soak_log import ProbeName
from gateway.strikes import Strikes
from rules.evidence import evidence_of
from rules.probe_build import probe_terms
from rules.probe_events import ProbeStands
from rules.readings import DAY, Micros
from rules.standing import standing

STANDS_AMONG = 50
"""Among so many of a probe's newest events the newest word on how it stands is looked for (ours)."""


EVENTS_BEFORE = 1_000
"""So many of a probe's events before an instant are looked at (ours): with less known, less is proven."""


class Probes:
    """Reads the probes of a journal."""

    def __init__(self, view: RecordView) -> None:
        self._view = view
        self._past = Past(view)

    def all(self) -> tuple[ProbeLine, ...]:
        """Those of the newest site file in its order, then those that only the record has."""
        era = self._past.newest()
        site = era.law.site if era and era.law else None
        carts = {cart.id: cart.name for cart in site.cart} if site else {}
        there = [
            ProbeLine(ProbeName(p.id, p.name, p.serial), p.cart, carts[p.cart], in_site=True, stands=self._stands(p.id))
            for p in (site.probe if site else ())
        ]
        gone = [probe for probe in self._view.probes_known() if probe not in {line.probe.id for line in there}]
        return (*there, *(self._gone(probe) for probe in gone))

    def page(self, probe: str, before: int | None, most: int) -> ProbePage | None:
        """What is known of a probe, the newest first; None where nobody knows of it."""
        found = self._view.of_probe_back(probe, self._view.mark(before), most)
        name = self._name(probe)
        if not found and name is None:
            return None
        strikes = Strikes.of(self._view)
        older = found[-1].number if len(found) == most else None
        return ProbePage(name or ProbeName(probe, probe, None), tuple(map(strikes.told, found)), older)

    def at(self, probe: str, at: Micros) -> ProbeAt | None:
        """How a probe stood at an instant, by what is known today; None where the site file in force had no such probe.

        Raises:
            JournalError: this version cannot read the rules in force then.
        """
        if self._past.newest() is None:
            return None
        era = self._past.in_force(at)
        if era.law is None:
            text = f"The rules in force then cannot be read by this version; use version {era.by.program}."
            raise JournalError(text)
        found = era.probe(probe)
        if found is None:
            return None
        terms = probe_terms(era.law.site, found, era.law.book.labels, era.law.book.thresholds)
        # A little later, too: what was told of a soak may have been told anew with another beginning.
        known = self._view.of_probe_back(probe, Mark(Micros(at + DAY), 0), EVENTS_BEFORE)
        stood = standing(evidence_of(in_order_of_telling(known)), terms, at)
        return ProbeAt(
            probe=era.probe_name(probe),
            at=at,
            standing=stood,
            told_then=_told_by(known, at),
            terms=era.by,
            tracked=era.law.site.reprocessing.tracked,
        )

    def _gone(self, probe: str) -> ProbeLine:
        name = self._name(probe) or ProbeName(probe, probe, None)
        return ProbeLine(name, "", "", in_site=False, stands=self._stands(probe))

    def _name(self, probe: str) -> ProbeName | None:
        """As it was called when it was last heard of, or is called now."""
        last = self._view.of_probe_back(probe, NEWEST, 1)
        eras = [self._past.newest(), *(self._past.era(found) for found in last)]
        return next((era.probe_name(probe) for era in eras if era and era.probe(probe)), None)

    def _stands(self, probe: str) -> ProbeStands | None:
        found = self._view.of_probe_back(probe, NEWEST, STANDS_AMONG)
        return _told_by(found, EVER)


def _told_by(found: Iterable[Found], at: Micros) -> ProbeStands | None:
    """The newest word by then on how it stood."""
    stands = [event for event in in_order_of_telling(found) if isinstance(event, ProbeStands) and event.at <= at]
    return stands[-1] if stands else None
