"""What is known of a probe, each piece with when it was so: the stuff of which its standing is made."""

from bisect import insort
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, NamedTuple, assert_never

from rules.agenda import NEVER
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
from rules.probe_words import NOWHERE, Level, Place, Step
from rules.readings import NO_TIME, Micros
from rules.verdict import Outcome


@dataclass(frozen=True, slots=True)
class Touch:
    """A marked contact and the level that it demands.

    exam: the department's reference, where one was given. sure: whether it can be of no other probe.
    """

    at: Micros
    level: Level
    covered: bool | None
    surface: str
    exam: str | None
    who: str | None
    sure: bool = True


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
    """The probe's share of an ended soak, and what came of it.

    doubted_by: since when it was known that a strip of its solution failed after it, with none that passed in between;
        None where none did.
    """

    soak: str
    basin: str
    at: Micros
    end: Micros
    outcome: Outcome
    who: str | None
    doubted_by: Micros | None = None


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


class Unseen(NamedTuple):
    """From ``start`` to ``end`` (``NEVER`` while it lasts) the probe was seen nowhere.

    origin: where it was last seen, None where never. goal: where it was seen next, None where nowhere yet.
    seen_off: whether it was seen to leave, and not only lost sight of.
    """

    start: Micros
    end: Micros
    origin: Place | None
    goal: Place | None
    seen_off: bool

    @property
    def seen_off_hook(self) -> bool:
        """Whether it was seen to leave its hook."""
        return self.seen_off and self.origin is Place.HOOK

    @property
    def from_store(self) -> bool:
        """Whether it left a place at which a probe waits for its next use."""
        return self.origin in (Place.HOOK, Place.CABINET)


@dataclass(frozen=True, slots=True)
class Settled:
    """At ``at`` nothing was owed; in place of all that was known by then.

    handled: when it was last accounted for. last: when it was last seen nowhere. sterilised: whether its word is that
    it was sterilised.
    """

    at: Micros
    ready_until: Micros | None
    soak: str | None
    vouched_by: str | None
    touch: Touch | None
    handled: Micros
    last: Unseen | None = None
    sterilised: bool = False


def retold(known: list[Sighting], wanted: list[Sighting]) -> tuple[list[Sighting], list[Sighting]]:
    """What of the known is so no more, and what is to be told for it; both lists in order, in which they stay.

    What is of one instant is told anew from where its order differs: it is one story whichever was heard first.
    """
    gone, fresh = list[Sighting](), list[Sighting]()
    if known == wanted:
        return gone, fresh
    before, after = _by_instant(known), _by_instant(wanted)
    for at in sorted({*before, *after}):
        was, now = before.get(at, []), after.get(at, [])
        differ = (n for n, (one, other) in enumerate(zip(was, now, strict=False)) if one != other)
        same = next(differ, min(len(was), len(now)))
        gone += was[same:]
        fresh += now[same:]
    return gone, fresh


def _by_instant(sightings: Iterable[Sighting]) -> dict[Micros, list[Sighting]]:
    found: dict[Micros, list[Sighting]] = {}
    for sighting in sightings:
        found.setdefault(sighting.at, []).append(sighting)
    return found


Piece = Touch | Sighting | Handling | Bath | Vouching | Inspection | Knock


@dataclass(slots=True)
class Evidence:
    """All that is known of a probe, each kind in the order of its time.

    settled: stands for what is forgotten, where nothing was owed then. since: what was before is forgotten.
    """

    touches: list[Touch] = field(default_factory=list)
    sightings: list[Sighting] = field(default_factory=list)
    handlings: list[Handling] = field(default_factory=list)
    baths: list[Bath] = field(default_factory=list)
    vouchings: list[Vouching] = field(default_factory=list)
    inspections: list[Inspection] = field(default_factory=list)
    knocks: list[Knock] = field(default_factory=list)
    settled: Settled | None = None
    since: Micros = NO_TIME

    def knows(self, piece: Piece) -> bool:
        """Whether it is there."""
        return piece in self._kind(piece)

    def add(self, piece: Piece) -> None:
        """Place it by its time; one soak counts once, as it was last told, and what is there already is left."""
        if isinstance(piece, Bath):
            self.baths = [bath for bath in self.baths if bath.soak != piece.soak]
        kind = self._kind(piece)
        if piece not in kind:
            insort(kind, piece, key=lambda other: other.at)

    def remove(self, piece: Piece) -> bool:
        """Take it out; False where it is not there."""
        if isinstance(piece, Bath):
            left = [bath for bath in self.baths if bath.soak != piece.soak]
            self.baths, gone = left, len(left) < len(self.baths)
            return gone
        kind = self._kind(piece)
        if piece not in kind:
            return False
        kind.remove(piece)
        return True

    def _kind(self, piece: Piece) -> list[Any]:
        return self._kinds()[type(piece)]

    def _kinds(self) -> dict[type, list[Any]]:
        return {
            Touch: self.touches,
            Sighting: self.sightings,
            Handling: self.handlings,
            Bath: self.baths,
            Vouching: self.vouchings,
            Inspection: self.inspections,
            Knock: self.knocks,
        }

    @property
    def size(self) -> int:
        """How many pieces there are."""
        return sum(len(kind) for kind in self._kinds().values())

    def next_after(self, at: Micros) -> Micros:
        """When the next piece comes to bear, as of a device whose clock is ahead; ``NEVER`` where none is left."""
        newest: list[Micros] = [kind[-1].at for kind in self._kinds().values() if kind]
        ends = [bath.end for bath in self.baths]
        if max((*newest, *ends), default=at) <= at:
            return NEVER
        times: list[Micros] = [piece.at for kind in self._kinds().values() for piece in kind]
        return min(time for time in (*times, *ends) if time > at)

    def forget(self, settled: Settled) -> None:
        """Let ``settled`` stand for what was before it; where the probe was then, and what still lasts, is kept."""
        self.settled, self.since = settled, settled.at
        before = [sighting for sighting in self.sightings if sighting.at <= settled.at]
        lasting = [bath for bath in self.baths if bath.at <= settled.at < bath.end]
        for kind in self._kinds().values():
            kind[:] = [piece for piece in kind if piece.at > settled.at]
        seen = [n for n, sighting in enumerate(before) if sighting.place not in NOWHERE]
        self.sightings[:0] = before[seen[-1] if seen else 0 :]
        self.baths[:0] = lasting

    def cut(self, most: int) -> None:
        """Keep the newest of each kind only: it starts from nothing known, but for the strictest contact and damage."""
        strict = [touch for touch in self.touches[:-most] if touch.level is Level.STERILISATION][-1:]
        sound = max((i.at for i in self.inspections if i.sound), default=NO_TIME)
        damaged = [i for i in self.inspections if not i.sound and i.at >= sound]
        knocks = [knock for knock in self.knocks if knock.at >= sound]
        self.since = max((self.since, *(kind[-most].at for kind in self._kinds().values() if len(kind) > most)))
        for kind in self._kinds().values():
            kind[:] = [piece for piece in kind[-most:] if piece.at > self.since]
        self.touches[:0] = strict
        self.inspections[:0] = [i for i in damaged[-1:] if i not in self.inspections]
        self.knocks[:0] = [knock for knock in knocks[-1:] if knock not in self.knocks]
        self.settled = None


def evidence_of(events: Iterable[ProbeEvent]) -> Evidence:
    """What the record tells of one probe; ``events`` in the order in which they were written down."""
    found = Evidence()
    for event in events:
        piece = piece_of(event)
        if piece is not None and event.withdrawn:
            found.remove(piece)
        elif piece is not None:
            found.add(piece)
    return found


def piece_of(event: ProbeEvent) -> Piece | None:
    """What an event tells, None where it only says what was made of it."""
    at, who = event.measured, event.who
    piece: Piece | None = None
    match event:
        case ProbeTouched():
            piece = Touch(at, event.level, event.covered, event.surface, event.exam, who, event.sure)
        case ProbeSeen():
            piece = Sighting(at, event.place, event.thing, who)
        case ProbeStepped():
            piece = Handling(at, event.steps, event.times, who or "")
        case ProbeSoaked():
            check = event.verdict.solution
            doubted_by = None if check is None else check.doubted_by
            piece = Bath(event.soak, event.basin, at, event.end, event.verdict.outcome, who, doubted_by)
        case ProbeVouched():
            piece = Vouching(at, who or "", event.role)
        case ProbeInspected():
            piece = Inspection(at, event.sound, who or "")
        case ProbeKnocked():
            piece = Knock(at, event.peak_mps2)
        case ProbeStands():
            pass
        case _ as never:
            assert_never(never)
    return piece
