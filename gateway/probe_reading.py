"""Probes read from the journal: all of them, and the time line of each."""

from collections.abc import Iterable
from functools import partial

from gateway.days import ALWAYS
from gateway.found import EVER, NEWEST, Found, Mark, RecordView
from gateway.ordered import Rows, Term, Turn
from gateway.part import Listed
from gateway.past import Past
from gateway.probe_log import ProbeAt, ProbeLine, ProbePage, TimeLineFilter, TimeLineOrder
from gateway.schema import JournalError
from gateway.share_reading import in_order_of_telling
from gateway.soak_log import ProbeName
from gateway.strikes import Strikes
from rules.evidence import evidence_of
from rules.probe_build import probe_terms
from rules.probe_events import ProbeStands
from rules.readings import DAY, Micros
from rules.standing import standing

STANDS = "probe stands"

STANDS_AMONG = 50
"""Among so many of a probe's newest events the newest word on how it stands is looked for (ours)."""


LOOKED_AT = 2_000
"""So many events are looked through for a text in one go (ours); the time line goes on from there."""

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

    def page(self, probe: str, which: TimeLineFilter, turn: Turn[TimeLineOrder], most: int) -> ProbePage | None:
        """What is known of a probe, from where its time line is opened; None where nobody knows of it.

        Raises:
            NoSuchRowError: the record has no event of a probe beside which it could be opened.
        """
        name = self._name(probe)
        if name is None and not self._view.of_probe_back(probe, NEWEST, 1):
            return None
        strikes = Strikes.of(self._view)
        listed = Listed(self._rows(probe, which), _order(turn), LOOKED_AT, partial(map, strikes.told), which.says)
        return ProbePage(name or ProbeName(probe, probe, None), listed.part(self._view, turn, most))

    def _rows(self, probe: str, which: TimeLineFilter) -> Rows:
        rows = Rows("probe IS NOT NULL AND measured >= 0").also("probe = ?", probe)
        if which.during != ALWAYS:
            rows = rows.also("measured >= ? AND measured < ?", *which.during)
        return rows if which.kind is None else rows.also("kind = ?", which.kind)

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
            told_then=_told_by(self._view.of_probe_back(probe, Mark(Micros(at + 1), 0), STANDS_AMONG, [STANDS]), at),
            terms=era.by,
            tracked=era.law.site.reprocessing.tracked,
            is_cut=len(known) == EVENTS_BEFORE,
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


def _order(turn: Turn[TimeLineOrder]) -> tuple[Term, ...]:
    """Of what was so at the same instant, or is of the same kind, what was told last comes first."""
    match turn.by:
        case TimeLineOrder.HAPPENED:
            return Term("measured", turn.rising), Term("seq", turn.rising)
        case TimeLineOrder.TOLD:
            return (Term("seq", turn.rising),)
        case TimeLineOrder.WHAT:
            return Term("kind", turn.rising), Term("measured", rising=False), Term("seq", rising=False)


def _told_by(found: Iterable[Found], at: Micros) -> ProbeStands | None:
    """The newest word by then on how it stood."""
    stands = [event for event in in_order_of_telling(found) if isinstance(event, ProbeStands) and event.at <= at]
    return stands[-1] if stands else None
