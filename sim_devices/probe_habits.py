"""How people handle probes, and how often they forget."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

from rules.probe_words import Surface

THOROUGH = 0.89
"""Thoroughness of cleaning after an improvement programme, 0.62 before it (Van Kalsbeek et al., 2021).

Ultrasound J 2021;13:43.
"""


class Path(StrEnum):
    """What becomes of a probe after the exam that soiled it."""

    CARRIED = "carried to the sink at once"
    HUNG_BACK = "hung back, and fetched before the cart rolls"
    ROLLED_AWAY = "hung back on a cart that rolls away"
    HASTY = "hung back and used on the next patient"


Seconds = tuple[float, float]
"""Least and most."""


@dataclass(frozen=True, slots=True)
class ProbeHabits:
    """How probes are handled. All figures ours, but for ``THOROUGH``.

    surfaces: what the exams touch after which a probe is soaked; an internal probe touches mucosa.
    paths: what becomes of it then.
    pair_share: share of the soaks with two probes in the basin.
    washed_share: share of the soaks before which the probe is washed.
    untagged_share: share of the soaks at which no tag is held to the reader ...
    claimed_share: ... and of those, which somebody claims later.
    unread_share: share of the visits to sink and cabinet that the reader does not see; half of them are entered.
    unmarked_share: share of the exams whose contact is not marked at once; of those, ``late_share`` are marked later.
    unentered_share: share of the steps not entered at once; of those, ``late_share`` are entered later.
    once_rinsed_share: share of the soaks after which a probe is rinsed only once where it should be oftener, until the
        wall tells.
    unnoticed_share: share of failed soaks after which the probe is put away as if ready, until the wall tells.
    uncleaned_share: share of the exams on skin after which the probe is not cleaned at the bed.
    slip_share: share of the exams on other than skin that everybody takes for one on skin.
    cabinet_share: share of the journeys after which the probe is kept in a cabinet before it is hung back.
    vouched_share: share of the probes that somebody answers for when they are taken into service.
    knock_share: share of a cart's rolls on which a holder is knocked; knock_mps2: how hard.
    """

    surfaces: Mapping[Surface, float] = field(
        default_factory=lambda: MappingProxyType({Surface.MUCOSA: 0.45, Surface.BLOOD: 0.5, Surface.STERILE: 0.05})
    )
    paths: Mapping[Path, float] = field(
        default_factory=lambda: MappingProxyType(
            {Path.CARRIED: 0.55, Path.HUNG_BACK: 0.39, Path.ROLLED_AWAY: 0.03, Path.HASTY: 0.03}
        )
    )
    pair_share: float = 0.15
    washed_share: float = THOROUGH
    untagged_share: float = 0.08
    claimed_share: float = 0.8
    unread_share: float = 0.05
    unmarked_share: float = 0.06
    unentered_share: float = 0.05
    late_share: float = 0.5
    once_rinsed_share: float = 0.06
    unnoticed_share: float = 0.3
    uncleaned_share: float = 0.02
    slip_share: float = 0.003
    cabinet_share: float = 0.5
    vouched_share: float = 0.9
    knock_share: float = 0.005
    knock_mps2: Seconds = (60, 400)

    # ---- how long it takes ----
    settle_seconds: Seconds = (2, 8)
    into_basin_seconds: Seconds = (8, 25)
    second_into_basin_seconds: Seconds = (28, 45)
    during_lift_seconds: Seconds = (8, 20)
    to_basin_seconds: Seconds = (5, 12)
    wash_seconds: Seconds = (60, 90)
    carry_seconds: Seconds = (12, 25)
    fetch_seconds: Seconds = (5, 12)
    take_out_seconds: Seconds = (3, 8)
    rinse_seconds: Seconds = (35, 50)
    dry_seconds: Seconds = (12, 20)
    put_away_seconds: Seconds = (10, 20)
    sterilise_seconds: Seconds = (2400, 4000)
    enter_seconds: Seconds = (2, 8)
    late_seconds: Seconds = (120, 600)
    claim_seconds: Seconds = (120, 900)
    inspect_seconds: Seconds = (120, 600)
    most_tours_in_cabinet: int = 4
    contact_ends_seconds: float = 25
    cleaned_seconds: float = 3


HABITS = ProbeHabits()
