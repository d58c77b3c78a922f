"""A look-back, told to people and to programs."""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from pydantic import TypeAdapter

from gateway.look_back import LookBack, TouchedProbe, TouchedSoak, Use
from gateway.when import written

_LOOK_BACK: TypeAdapter[LookBack] = TypeAdapter(LookBack)

CAUTION = "This is a list and no decision: nobody was notified. Whoever answers for infection prevention decides."


def as_json(found: LookBack) -> str:
    """One JSON object with the fields of ``LookBack``; times are microseconds since the epoch."""
    return _LOOK_BACK.dump_json(found, indent=2).decode()


def lines(found: LookBack, zone: ZoneInfo) -> Iterator[str]:
    """The counts first, then each soak, each probe in it, and each use since."""
    uses = sum(len(probe.uses) for soak in found.soaks for probe in soak.probes)
    counts = (_counted(len(found.soaks), "soak"), _counted(len(found.probes), "probe"), _counted(uses, "use"))
    yield f"{', '.join(counts)} since. Times are local to {zone.key}."
    if found.since is not None:
        yield f"The last good check before was at {written(found.since, zone)}."
    for soak in found.soaks:
        yield from _soak(soak, zone)
    if found.soaks:
        yield ""
        yield CAUTION


def _soak(touched: TouchedSoak, zone: ZoneInfo) -> Iterator[str]:
    suspect = touched.suspect
    yield ""
    yield (
        f"Soak {suspect.soak}, {suspect.place.basin_name}, {written(suspect.start, zone)} to"
        f" {written(suspect.end, zone)}, {suspect.outcome.value}: {suspect.why}."
    )
    if touched.needs:
        yield f"  No probe is known to have been in it: {touched.needs}."
    for probe in touched.probes:
        yield from _probe(probe, zone)


def _probe(touched: TouchedProbe, zone: ZoneInfo) -> Iterator[str]:
    serial = f", serial {touched.probe.serial}" if touched.probe.serial else ""
    out = written(touched.taken_out, zone)
    yield f"  {touched.probe.name} ({touched.probe.id}{serial}), out at {out}: {touched.needs}."
    yield from (f"    used at {written(use.at, zone)}: {use_words(use)}" for use in touched.uses)


def use_words(use: Use) -> str:
    """What is known of a use."""
    if not use.marked:
        return "nobody marked what it touched" if use.seen else "out of sight, it may have been used; nobody marked it"
    exam = f", exam {use.exam}" if use.exam else ", no exam given"
    return f"{use.surface}{exam}, marked by {use.who or 'a button'}"


def _counted(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
