"""Which figures of the trackers bear on which rules, so that those are offered first."""

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from dashboard.bench.figures import THRESHOLD, FigureGroup, short_name
from rules.board import SubjectKind

_MOTION = ("rolling_after_seconds", "standing_after_seconds", "rolling_above_mps2")
_TEMPERATURE = ("jump_celsius", "jump_celsius_per_second", "jump_holds_seconds")
_SOAK = (
    "max_gap_seconds",
    "lid_bounce_seconds",
    "reclose_seconds",
    "trend_seconds",
    "solution_ends_soon_seconds",
    *_TEMPERATURE,
)

BEARS_ON: Mapping[SubjectKind, tuple[str, ...]] = MappingProxyType(
    {
        SubjectKind.CART: (*_MOTION, "left_off_seconds", "one_wipe_seconds"),
        SubjectKind.BASIN: _SOAK,
        SubjectKind.SOAK: _SOAK,
        SubjectKind.PROBE: ("use_after_seconds", "carry_within_seconds", "knock_above_mps2", *_MOTION),
        SubjectKind.ROOM: ("vapour_trend_percent", "vapour_steep_percent", "vapour_least_ppm"),
        SubjectKind.SENSOR: ("silent_reports", "stuck_seconds", "clock_behind_after_seconds", *_TEMPERATURE),
        SubjectKind.GATEWAY: ("flapping_losses", "flapping_seconds"),
    }
)
"""By what a rule watches."""

ON_ALL = ("present_seconds", "silent_reports")
"""What is late, or silent, is not known to any rule."""


def parted(trackers: FigureGroup, watched: Iterable[SubjectKind]) -> list[FigureGroup]:
    """The figures of the trackers in two groups: those that rules which watch these things build on, and the others."""
    near = {f"{THRESHOLD}{name}" for kind in watched for name in BEARS_ON[kind]} | {f"{THRESHOLD}{n}" for n in ON_ALL}
    ours = tuple(figure for figure in trackers.figures if figure.name in near)
    others = tuple(figure for figure in trackers.figures if figure.name not in near)
    names = ", ".join(short_name(figure.name) for figure in ours)
    found = (
        FigureGroup("", f"Figures of the trackers that these rules build on: {names}", ours),
        FigureGroup("", "Other figures of the trackers", others),
    )
    return [group for group in found if group.figures]
