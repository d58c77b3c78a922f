"""The measuring glass beside a basin on the wall, filled by what its soak has earned."""

from dataclasses import dataclass, field

from rules.picture import BasinPicture
from rules.readings import SECOND, Micros

_MINUTE_STEPS = ((15, 1), (60, 5), (240, 15))
"""Up to how many minutes a soak lasts, and how many minutes lie between two graduations."""


@dataclass(frozen=True, slots=True)
class Glass:
    """The measuring glass beside a basin's words: filled by the credit of the soak under way, full at the label's time.

    measures: whether there is such a soak; without one the words may tell of the last, and an empty glass denies them.
    per_cent: how full; until_ms, needed_ms: let the page fill it on, 0 where it stands still. While it is being filled
        the level at the making of the page does not make two glasses different.
    ticks: heights of the graduations, in per cent from the top.
    lid: 'closed', 'open' or 'not-known'.
    """

    measures: bool
    still_per_cent: float
    per_cent: float = field(compare=False)
    until_ms: int
    needed_ms: int
    ticks: tuple[float, ...]
    lid: str


def glass_of(basin: BasinPicture, *, counting: bool, now: Micros) -> Glass:
    """The glass of a basin; counting: its soak earns time at the moment."""
    soak = basin.soak
    until = soak.done_at if counting and soak is not None and soak.done_at is not None else None
    still = 0.0 if until is not None else _still_per_cent(basin)
    filled = still if until is None else 100 - (until - now) / SECOND / basin.needed_seconds * 100
    return Glass(
        measures=soak is not None,
        still_per_cent=still,
        per_cent=round(min(100.0, max(0.0, filled)), 1),
        until_ms=until // 1000 if until is not None else 0,
        needed_ms=round(basin.needed_seconds * 1000),
        ticks=_ticks(basin.needed_seconds / 60),
        lid={True: "closed", False: "open", None: "not-known"}[basin.lid_closed],
    )


def _still_per_cent(basin: BasinPicture) -> float:
    if basin.soak is None:
        return 0.0
    return round(min(100.0, basin.soak.credited_seconds / basin.soak.needed_seconds * 100), 1)


def _ticks(whole_minutes: float) -> tuple[float, ...]:
    step = next((step for most, step in _MINUTE_STEPS if whole_minutes <= most), 60)
    count = int(whole_minutes / step)
    return tuple(round(100 - k * step / whole_minutes * 100, 2) for k in range(1, count + 1))
