"""What happened to a probe, by the minute: short builders of evidence, and how it stands by it."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from rules.evidence import Bath, Evidence, Handling, Inspection, Knock, Piece, Settled, Sighting, Touch, Vouching
from rules.policy import ReprocessingPolicy
from rules.probe_terms import ProbeTerms
from rules.probe_words import Level, Place, Step
from rules.readings import SECOND, Micros
from rules.standing import Standing, standing
from rules.verdict import Outcome

WASH_AND_DRY = (Step.WASHED, Step.DRIED)
RINSE_AND_DRY = (Step.RINSED, Step.DRIED)
START = 1_700_000_000 * SECOND
DAY = 24 * 60
"""Minutes."""


def minute(minutes: float) -> Micros:
    """An instant, in minutes of the story."""
    return Micros(START + round(minutes * 60 * SECOND))


def duration(minutes: float) -> Micros:
    """How long so many minutes are."""
    return Micros(round(minutes * 60 * SECOND))


def terms(*, internal: bool = False, by_basin: dict[str, int] | None = None, **policy: Any) -> ProbeTerms:
    """A use takes more than a quarter of a minute, and a way from place to place no more than ten."""
    return ProbeTerms(internal, ReprocessingPolicy(**policy), by_basin or {}, duration(0.25), duration(10))


TERMS = terms()


def seen(at: float, place: Place, thing: str | None = None) -> Sighting:
    """Seen there from then on."""
    return Sighting(minute(at), place, thing, None)


def hung(at: float) -> Sighting:
    """On its hook."""
    return seen(at, Place.HOOK, "cart-1")


def lifted(at: float) -> Sighting:
    """Off its hook, or gone from a reader."""
    return seen(at, Place.IN_HANDS)


def lost(at: float) -> Sighting:
    """Its sensor fell silent."""
    return seen(at, Place.UNKNOWN)


def touched(at: float, level: Level = Level.HIGH, *, covered: bool | None = None, exam: str | None = None) -> Touch:
    """A contact that demands a level."""
    return Touch(minute(at), level, covered, "skin", exam, "A. Nurse")


def did(at: float, *steps: Step, times: int = 1) -> Handling:
    """Steps done then."""
    return Handling(minute(at), steps, times, "R. Tech")


def soaked(
    start: float,
    end: float,
    outcome: Outcome = Outcome.EXPOSURE_MET,
    *,
    basin: str = "basin-1",
    soak: str | None = None,
) -> Bath:
    """Its share of a soak."""
    return Bath(soak or f"soak-{start:g}", basin, minute(start), minute(end), outcome, None)


def vouched(at: float) -> Vouching:
    """Somebody answers for it."""
    return Vouching(minute(at), "C. Nurse", "charge nurse")


def looked_over(at: float, *, sound: bool = True) -> Inspection:
    """Looked over for damage."""
    return Inspection(minute(at), sound, "R. Tech")


def knocked(at: float) -> Knock:
    """Its holder was knocked."""
    return Knock(minute(at), 80.0)


def cycle(start: float) -> tuple[Piece, ...]:
    """A whole high-level disinfection, thirty minutes from wash to dry."""
    return (did(start, *WASH_AND_DRY), soaked(start + 5, start + 20), did(start + 30, *RINSE_AND_DRY))


def known(pieces: Iterable[Piece], settled: Settled | None = None) -> Evidence:
    """Pieces in whatever order, each kind put in the order of its time."""
    evidence = Evidence(settled=settled)
    kinds: dict[type, list[Any]] = {
        Touch: evidence.touches,
        Sighting: evidence.sightings,
        Handling: evidence.handlings,
        Bath: evidence.baths,
        Vouching: evidence.vouchings,
        Inspection: evidence.inspections,
        Knock: evidence.knocks,
    }
    for piece in sorted(pieces, key=lambda piece: piece.at):
        kinds[type(piece)].append(piece)
    return evidence


def stands(*pieces: Piece, at: float, by: ProbeTerms = TERMS) -> Standing:
    """How the probe stands at a minute."""
    return standing(known(pieces), by, minute(at))


def without_turn(found: Standing) -> Standing:
    """All of it but when time may change it."""
    return replace(found, changes_at=Micros(0))


AT_FIRST = (hung(0), vouched(0))
"""On its hook, and somebody answers for it."""

WASHED_PROBE = (*AT_FIRST, lifted(5), touched(6), did(10, *WASH_AND_DRY))

STORED = (*AT_FIRST, lifted(5), touched(6), *cycle(10), hung(41))
"""Soaked until minute 30, done at minute 40."""
