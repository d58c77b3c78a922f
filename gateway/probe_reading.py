"""Probes read from the journal: all of them, and the time line of each."""

from gateway.found import NEWEST, RecordView
from gateway.past import Past
from gateway.probe_log import ProbeLine, ProbePage
from gateway.soak_log import ProbeName
from gateway.strikes import Strikes
from rules.probe_events import ProbeStands

STANDS_AMONG = 50
"""Among so many of a probe's newest events the newest word on how it stands is looked for (ours)."""


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
        stands = [(one.number, one.event) for one in found if isinstance(one.event, ProbeStands)]
        return max(stands, key=lambda stand: stand[0])[1] if stands else None
