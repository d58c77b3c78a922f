"""How a probe stood at an instant, told to people and to programs."""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from pydantic import TypeAdapter

from gateway.probe_log import ProbeAt
from gateway.when import written
from rules.probe_events import ProbeStands
from rules.probe_words import Fitness
from rules.standing import Standing

_PROBE_AT: TypeAdapter[ProbeAt] = TypeAdapter(ProbeAt)


def as_json(found: ProbeAt) -> str:
    """One JSON object with the fields of ``ProbeAt``; times are microseconds since the epoch."""
    return _PROBE_AT.dump_json(found, indent=2).decode()


def lines(found: ProbeAt, zone: ZoneInfo) -> Iterator[str]:
    """Line by line; times in the zone of the site."""
    probe, stood = found.probe, found.standing
    serial = f", serial {probe.serial}" if probe.serial else ""
    yield f"{probe.name} ({probe.id}{serial}) at {written(found.at, zone)}, local to {zone.key}: {stood.fitness.value}"
    yield from (f"  {name:<10} {words}" for name, words in _facts(stood, zone) if words)
    yield from _then(found, zone)
    yield f"  judged by  site file and rules {found.terms.sha256[:16]}, version {found.terms.program}"
    if not found.tracked:
        yield "The site file in force then does not follow probes ([reprocessing] tracked = true would)."
    if found.is_cut:
        yield "Of this probe more is on record than was looked at: with less known, less is proven."
    if stood.soak:
        yield "What a soak shows is time, temperature and what people entered; it is no proof of disinfection."


def _facts(stood: Standing, zone: ZoneInfo) -> Iterator[tuple[str, str]]:
    yield "why", stood.why
    yield "owes", stood.owes.value if stood.owes else "nothing"
    yield "done", ", ".join(stood.done)
    yield "next step", stood.next_step.value if stood.next_step else ""
    yield "ready by", ready_by(stood)
    yield "ready till", written(stood.ready_until, zone) if stood.ready_until is not None else ""
    yield "place", _place(stood, zone)
    yield "contact", _contact(stood, zone)
    yield "used again", f"since {written(stood.reused, zone)}, though it owed" if stood.reused is not None else ""


def ready_by(stood: Standing) -> str:
    """By which soak or whose word it was ready, or by the steps that people entered; '' where it was not."""
    if stood.soak is not None:
        return f"soak {stood.soak}"
    if stood.vouched_by is None:
        return "what people entered" if stood.fitness is Fitness.READY else ""
    return f"the word of {stood.vouched_by}{', that it was sterilised elsewhere' if stood.sterilised else ''}"


def _place(stood: Standing, zone: ZoneInfo) -> str:
    where = f"{stood.place.value} {stood.thing}" if stood.thing else stood.place.value
    return f"{where} since {written(stood.since, zone)}" if stood.since is not None else where


def _contact(stood: Standing, zone: ZoneInfo) -> str:
    touch = stood.contact
    if touch is None:
        return ""
    exam = f", exam {touch.exam}" if touch.exam else ""
    return f"{touch.surface} at {written(touch.at, zone)}{exam}, marked by {touch.who or 'a button'}"


def _then(found: ProbeAt, zone: ZoneInfo) -> Iterator[str]:
    """What was made of it at that time, where it is otherwise than what is known today."""
    told = found.told_then
    if told is None:
        yield "What was made of it at that time is not on record."
    elif differs(told, found.standing):
        owed = f", owes {told.owes.value}" if told.owes else ""
        because = f" ({told.why})" if told.why else ""
        since = written(told.measured, zone)
        yield f"At that time it was said to be {told.fitness.value}{because}{owed}, since {since}."


def differs(told: ProbeStands, stood: Standing) -> bool:
    """Whether what was told at that time is other than what is known today."""
    return (told.fitness, told.owes, told.place, told.thing, told.why) != (
        stood.fitness,
        stood.owes,
        stood.place,
        stood.thing,
        stood.why,
    )
