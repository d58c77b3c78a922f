"""What is known of a probe, each piece with when it was so: the stuff of which its standing is made."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import assert_never

from rules.probe_events import (
    ProbeEvent,
    ProbeInspected,
    ProbeKnocked,
    ProbeSeen,
    ProbeSoaked,
    ProbeStands,
    ProbeStepped,
    ProbeTouched,
    ProbeVouched,
)
from rules.probe_words import Level, Place, Step
from rules.readings import Micros
from rules.verdict import Outcome


@dataclass(frozen=True, slots=True)
class Touch:
    """A marked contact and the level that it demands; ``exam``: the department's reference, where one was given."""

    at: Micros
    level: Level
    covered: bool | None
    surface: str
    exam: str | None
    who: str | None


@dataclass(frozen=True, slots=True)
class Sighting:
    """From ``at`` on the probe is there, until it is seen elsewhere; who: None where a sensor told."""

    at: Micros
    place: Place
    thing: str | None
    who: str | None


@dataclass(frozen=True, slots=True)
class Handling:
    """Steps done by a person."""

    at: Micros
    steps: tuple[Step, ...]
    times: int
    who: str


@dataclass(frozen=True, slots=True)
class Bath:
    """The probe's share of an ended soak, and what came of it."""

    soak: str
    basin: str
    at: Micros
    end: Micros
    outcome: Outcome
    who: str | None


@dataclass(frozen=True, slots=True)
class Vouching:
    """A person answers for it that the probe is fit for use from ``at`` on."""

    at: Micros
    who: str
    role: str


@dataclass(frozen=True, slots=True)
class Inspection:
    """Somebody looked the probe over."""

    at: Micros
    sound: bool
    who: str


@dataclass(frozen=True, slots=True)
class Knock:
    """The probe's holder was knocked."""

    at: Micros
    peak_mps2: float


@dataclass(frozen=True, slots=True)
class Settled:
    """At ``at`` nothing was owed; in place of all that was known by then. handled: when somebody last did something."""

    at: Micros
    ready_until: Micros | None
    soak: str | None
    vouched_by: str | None
    touch: Touch | None
    handled: Micros


Piece = Touch | Sighting | Handling | Bath | Vouching | Inspection | Knock


@dataclass(slots=True)
class Evidence:
    """All that is known of a probe, each kind in the order of its time; ``settled`` stands for what is forgotten."""

    touches: list[Touch] = field(default_factory=list)
    sightings: list[Sighting] = field(default_factory=list)
    handlings: list[Handling] = field(default_factory=list)
    baths: list[Bath] = field(default_factory=list)
    vouchings: list[Vouching] = field(default_factory=list)
    inspections: list[Inspection] = field(default_factory=list)
    knocks: list[Knock] = field(default_factory=list)
    settled: Settled | None = None

    def pieces(self) -> Iterator[Piece]:
        """All of them, kind by kind."""
        yield from self.touches
        yield from self.sightings
        yield from self.handlings
        yield from self.baths
        yield from self.vouchings
        yield from self.inspections
        yield from self.knocks


def evidence_of(events: Iterable[ProbeEvent]) -> Evidence:
    """What the record tells of one probe, in whatever order it was written down; struck entries are to be left out."""
    found = Evidence()
    baths: dict[str, Bath | None] = {}
    for event in events:
        _take(found, baths, event)
    found.baths = sorted((bath for bath in baths.values() if bath is not None), key=lambda bath: bath.at)
    for pieces in (found.touches, found.sightings, found.handlings, found.vouchings, found.inspections, found.knocks):
        pieces.sort(key=lambda piece: piece.at)
    return found


def _take(found: Evidence, baths: dict[str, Bath | None], event: ProbeEvent) -> None:
    at, who = event.measured, event.who
    match event:
        case ProbeTouched():
            found.touches.append(Touch(at, event.level, event.covered, event.surface, event.exam, who))
        case ProbeSeen():
            found.sightings.append(Sighting(at, event.place, event.thing, who))
        case ProbeStepped():
            found.handlings.append(Handling(at, event.steps, event.times, who or ""))
        case ProbeSoaked(soak=soak, basin=basin, end=end, verdict=verdict):
            baths[soak] = None if event.withdrawn else Bath(soak, basin, at, end, verdict.outcome, who)
        case ProbeVouched():
            found.vouchings.append(Vouching(at, who or "", event.role))
        case ProbeInspected():
            found.inspections.append(Inspection(at, event.sound, who or ""))
        case ProbeKnocked():
            found.knocks.append(Knock(at, event.peak_mps2))
        case ProbeStands():
            pass
        case _ as never:
            assert_never(never)
