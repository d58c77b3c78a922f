"""A look-back as a table: a row for each use of a probe since, or one where there was none."""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from gateway.csv_text import Cell
from gateway.look_back import LookBack, TouchedProbe, TouchedSoak, Use
from gateway.when import written_whole

_SOAK = ("soak", "basin", "basin_name", "start", "end", "verdict", "because", "last_good_check")
_PROBE = ("probe", "probe_name", "serial", "taken_out", "next_sound_soak", "needs")
_USE = ("used", "marked", "contact", "exam", "marked_by")

LOOK_BACK_COLUMNS = (*_SOAK, *_PROBE, *_USE)


def look_back_rows(found: LookBack, zone: ZoneInfo) -> Iterator[list[Cell]]:
    """A cell for each of ``LOOK_BACK_COLUMNS``."""
    for soak in found.soaks:
        for probe in soak.probes or (None,):
            for use in (probe.uses if probe else ()) or (None,):
                yield [*_soak(found, soak, zone), *_probe(soak, probe, zone), *_use(use, zone)]


def _soak(found: LookBack, soak: TouchedSoak, zone: ZoneInfo) -> list[Cell]:
    suspect = soak.suspect
    return [
        suspect.soak,
        suspect.place.basin,
        suspect.place.basin_name,
        written_whole(suspect.start, zone),
        written_whole(suspect.end, zone),
        suspect.outcome.value,
        suspect.why,
        written_whole(found.since, zone) if found.since is not None else None,
    ]


def _probe(soak: TouchedSoak, probe: TouchedProbe | None, zone: ZoneInfo) -> list[Cell]:
    if probe is None:
        return [*[None] * (len(_PROBE) - 1), soak.needs]
    name = probe.probe
    sound = probe.sound.soak if probe.sound else None
    return [name.id, name.name, name.serial, written_whole(probe.taken_out, zone), sound, probe.needs]


def _use(use: Use | None, zone: ZoneInfo) -> list[Cell]:
    if use is None:
        return [None] * len(_USE)
    return [written_whole(use.at, zone), use.marked, use.surface, use.exam, use.who]
