"""The air of a room: which limits are published for a vapour, and how long it takes to clear."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import log

GLUTARALDEHYDE = "glutaraldehyde"

LEAST_AIR_CHANGES_PER_HOUR = 10
"""Where glutaraldehyde is used: NIOSH 2001-115 (secondary)."""

CLEARED = (0.99, 0.999)
"""The efficiencies for which the published table gives its minutes."""


@dataclass(frozen=True, slots=True)
class VapourLimit:
    """A published limit of a substance in the air, ppm; ``over``: what it is meant for.

    For context only: a low-cost gas sensor cannot show compliance with it.
    """

    substance: str
    ppm: float
    over: str
    source: str


VAPOUR_LIMITS = (
    VapourLimit(GLUTARALDEHYDE, 0.2, "ceiling", "NIOSH REL, 74 FR 47595 (2009)"),
    VapourLimit(GLUTARALDEHYDE, 0.05, "ceiling", "ACGIH, via CDC 2008, Table 4"),
    VapourLimit("hydrogen peroxide", 1, "time-weighted average", "OSHA, via CDC 2008"),
    VapourLimit("peracetic acid", 0.4, "15 min (STEL)", "ACGIH 2014"),
)


def limits_of(chemistries: Iterable[str]) -> tuple[VapourLimit, ...]:
    """The limits of the substances that the chemistries, as labels name them, consist of."""
    used = [chemistry.casefold() for chemistry in chemistries]
    return tuple(limit for limit in VAPOUR_LIMITS if any(limit.substance in chemistry for chemistry in used))


def clearance_minutes(air_changes_per_hour: float, efficiency: float) -> float:
    """How long it takes until that share of a vapour is gone, once nothing gives it off any more.

    t = -ln(1 - efficiency) / ACH x 60 min, for air that mixes perfectly; where it does not, longer (CDC 2003
    environmental infection control guideline, Table B.1; secondary, recomputed).

    Args:
        air_changes_per_hour: of the room, more than 0.
        efficiency: the share to be removed, such as 0.99; below 1.
    """
    return -log(1 - efficiency) / air_changes_per_hour * 60
