"""The part of a probe's page of the logbook that asks how it stood at a time, and tells it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from dashboard.archive import Archive
from dashboard.bounds import EXPECTED, Bound
from dashboard.stood import AT, Stood, stood
from gateway.logbook import Logbook
from gateway.probe_log import ProbeAt
from gateway.when import WhenError, written
from rules.readings import Micros

CLOCK = "at-time"
"""What a form sends the time of day as, beside its day; an address has both as one."""

_NEEDS_CLOCK = "Give the time of day too, such as 09:40: on one day a probe stands in many ways."
_NO_PROBE = "The site file in force then has no such probe: the record cannot tell how it stood."
_MOST_TYPED = 40


@dataclass(frozen=True, slots=True)
class StoodView:
    """The form, with what was typed into it, and the answer; amiss: why there is none, '' where nobody asked.

    hidden: what the address says besides. zone: of the times.
    """

    zone: str
    day: str
    clock: str
    hidden: tuple[tuple[str, str], ...]
    amiss: str = ""
    answer: Stood | None = None


def time_asked(params: Mapping[str, str]) -> str:
    """The time that is asked for, as it was typed; '' where none is."""
    return f"{params.get(AT, '')} {params.get(CLOCK, '')}".strip()[:_MOST_TYPED]


async def stood_view(archive: Archive, probe: str, typed: str, hidden: tuple[tuple[str, str], ...]) -> StoodView:
    """The form and what it found; typed: the time that is asked for, '' where none is."""
    day, _, clock = typed.replace("T", " ").partition(" ")
    form = StoodView(archive.zone.key, day, clock.strip(), hidden)
    if not typed:
        return form
    try:
        at = _instant(typed, archive.zone)
        found = await archive.read(lambda logbook: _read(logbook, probe, at, archive.zone))
    except WhenError as why:
        return replace(form, amiss=str(why))
    if found is None:
        return replace(form, amiss=_NO_PROBE)
    return replace(form, answer=stood(found, archive.telling))


def _instant(typed: str, zone: ZoneInfo) -> Micros:
    try:
        bound = Bound.read(typed)
    except ValueError as error:
        raise WhenError(EXPECTED) from error
    if bound.time_of_day is None:
        raise WhenError(_NEEDS_CLOCK)
    return bound.begin(zone)


def _read(logbook: Logbook, probe: str, at: Micros, zone: ZoneInfo) -> ProbeAt | None:
    newest = logbook.head().at
    if at > newest:
        raise WhenError(f"That lies after the end of the record; ask for a time up to {written(newest, zone)}.")
    return logbook.probe_at(probe, at)
