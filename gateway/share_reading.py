"""A probe's part in a soak, read from the journal: what led to it, and what became of it."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from operator import attrgetter

from gateway.found import EVER, Found, Mark, RecordView
from gateway.past import Era
from gateway.soak_log import Disposition, ProbeShare
from gateway.strikes import Strikes
from gateway.told import Told
from rules.events import Event
from rules.evidence import Bath, Evidence, Handling, Sighting, Touch, evidence_of, piece_of
from rules.moments import elsewhere_meanwhile
from rules.probe_events import (
    ProbeEvent,
    ProbeInspected,
    ProbeSeen,
    ProbeSoaked,
    ProbeStands,
    ProbeStepped,
    ProbeTouched,
    ProbeVouched,
)
from rules.probe_words import NOWHERE, Place, Step
from rules.readings import NO_TIME, SECOND, Micros

AROUND = 300
"""So many events of a probe are looked at before it was taken out, and so many after (ours)."""

Entered = ProbeTouched | ProbeSeen | ProbeStepped | ProbeSoaked | ProbeInspected | ProbeVouched


@dataclass(frozen=True, slots=True)
class ShareRead:
    """A probe's part in a soak, and what people entered that bears on it, struck entries too."""

    share: ProbeShare
    entries: tuple[Told, ...]


@dataclass(frozen=True, slots=True)
class _Around:
    """What is known of a probe around a soak, and what of it counts.

    since: when the sound soak before ended. until: its next contact or soak, ``EVER`` where none followed.
    """

    known: Evidence
    found: list[Found]
    since: Micros
    until: Micros
    next_soak: str | None


class Shares:
    """Reads the probes of a journal's soaks."""

    def __init__(self, view: RecordView, strikes: Strikes) -> None:
        self._view = view
        self._strikes = strikes

    def read(self, found: Found, soaked: ProbeSoaked, era: Era) -> ShareRead:
        """What the newest telling of a probe's part in a soak stands for."""
        around = self._around(soaked)
        known, put_in = around.known, soaked.measured
        contacts = [touch for touch in known.touches if around.since < touch.at <= put_in]
        handled_from = contacts[-1].at if contacts else around.since
        cleaned = [h for h in known.handlings if handled_from <= h.at <= put_in]
        told_by = _told_by(found, soaked, around)
        entered_by = told_by.event.who if isinstance(told_by.event, ProbeSeen) else None
        bath = Bath(soaked.soak, soaked.basin, put_in, soaked.end, soaked.verdict.outcome, soaked.who)
        elsewhere = elsewhere_meanwhile(bath, known.sightings)
        inspected = [i for i in known.inspections if around.since < i.at < around.until]
        share = ProbeShare(
            probe=era.probe_name(soaked.probe),
            number=told_by.number,
            told=told_by.event.at,
            put_in=put_in,
            taken_out=soaked.end,
            verdict=soaked.verdict,
            claimed_by=soaked.who,
            role=soaked.role,
            put_in_by=None if elsewhere else soaked.who or entered_by,
            contacts=tuple(contacts),
            cleaned=tuple(cleaned),
            cleaning_delay_seconds=_delay(contacts, cleaned),
            inspected=inspected[-1] if inspected else None,
            after=tuple(h for h in known.handlings if put_in < h.at < around.until),
            disposition=_disposition(soaked, around),
            entered_by=entered_by,
            elsewhere=elsewhere,
        )
        return ShareRead(share, tuple(self._entries(soaked, around)))

    def _around(self, soaked: ProbeSoaked) -> _Around:
        probe, out = soaked.probe, soaked.end
        before = self._view.of_probe_back(probe, Mark(Micros(out + 1), 0), AROUND)
        found = [*reversed(before), *self._view.of_probe(probe, Mark(Micros(out + 1), 0), AROUND)]
        known = evidence_of(in_order_of_telling(found))
        others = [bath for bath in known.baths if bath.soak != soaked.soak]
        sound = [bath.end for bath in others if bath.end <= soaked.measured and bath.outcome.is_met]
        later = [bath for bath in others if bath.at >= out]
        used = [touch.at for touch in known.touches if touch.at > out]
        until = min((*used, *(bath.at for bath in later)), default=EVER)
        return _Around(known, found, max(sound, default=NO_TIME), until, later[0].soak if later else None)

    def _entries(self, soaked: ProbeSoaked, around: _Around) -> Iterator[Told]:
        for found in around.found:
            event, is_near = found.event, around.since < found.measured < around.until
            if not isinstance(event, Entered) or event.who is None or event.withdrawn or not is_near:
                continue
            if not isinstance(event, ProbeSoaked) or event.soak == soaked.soak:
                yield self._strikes.told(found)


def in_order_of_telling(found: Iterable[Found]) -> list[ProbeEvent]:
    """As evidence is made of them: of what is told anew the newest telling counts, of what is withdrawn none."""
    return [one.event for one in sorted(found, key=attrgetter("number")) if isinstance(one.event, ProbeEvent)]


def _told_by(found: Found, soaked: ProbeSoaked, around: _Around) -> Found:
    """What tells that it was in the basin: the claim itself, or the newest word of where it was when it went in."""
    if soaked.who is not None:
        return found
    seen = [sighting for sighting in around.known.sightings if sighting.at <= soaked.measured]
    there = seen[-1] if seen and (seen[-1].place, seen[-1].thing) == (Place.BASIN, soaked.basin) else None
    told = (one for one in reversed(around.found) if there is not None and _is_of(one.event, there))
    return next(told, found)


def _is_of(event: Event, there: Sighting) -> bool:
    return isinstance(event, ProbeSeen) and not event.withdrawn and piece_of(event) == there


def _delay(contacts: Sequence[Touch], cleaned: Sequence[Handling]) -> float | None:
    washed = [handling.at for handling in cleaned if Step.WASHED in handling.steps]
    return (washed[0] - contacts[-1].at) / SECOND if contacts and washed else None


def _disposition(soaked: ProbeSoaked, around: _Around) -> Disposition:
    since, until = soaked.end, around.until
    stood = [
        (one.measured, one.number, one.event)
        for one in around.found
        if isinstance(one.event, ProbeStands) and since <= one.measured < until
    ]
    newest = max(stood, key=lambda stand: stand[:2])[2] if stood else None
    seen = [s for s in around.known.sightings if since <= s.at < until and s.place not in NOWHERE]
    used = [touch for touch in around.known.touches if touch.at > since]
    return Disposition(
        fitness=newest.fitness if newest else None,
        why=newest.why if newest else "",
        place=seen[-1].place if seen else None,
        thing=seen[-1].thing if seen else None,
        since=seen[-1].at if seen else None,
        next_use=used[0] if used else None,
        next_soak=around.next_soak,
    )
