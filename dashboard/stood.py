"""How a probe stood at an instant, in words that claim no more than the record."""

from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import quote, urlencode
from zoneinfo import ZoneInfo

from dashboard.bounds import Bound
from dashboard.fitness import why_words
from dashboard.happening import Telling, place_words, touch_words
from dashboard.premises import Named
from dashboard.sheet import Fact, fact, facts, joined, known
from dashboard.words import end_stamp
from gateway.probe_log import ProbeAt
from gateway.probe_reading import EVENTS_BEFORE
from gateway.probe_told import differs, ready_by
from rules.agenda import NEVER
from rules.evidence import Touch
from rules.readings import Micros
from rules.standing import Standing

AT = "at"
"""What an address calls the time."""

_SHA_SHOWN = 16


@dataclass(frozen=True, slots=True)
class Stood:
    """The answer.

    said: its fitness by what is known today. facts: what that rests on. links: what bears on it. then: what was
    made of it at that time. notes: what to mind.
    """

    title: str
    said: str
    facts: tuple[Fact, ...]
    links: tuple[Named, ...]
    then: str
    notes: tuple[str, ...]


def stood_href(probe: str, at: Micros, zone: ZoneInfo) -> str:
    """Where it is told how a probe stood at the last whole second before an instant, as before it was used."""
    before = Bound.of(Micros(at - 1), zone)
    return f"/logbook/probe/{quote(probe, safe='')}?{urlencode({AT: str(before)})}#stood"


def stood(found: ProbeAt, telling: Telling) -> Stood:
    """The answer in words."""
    standing = found.standing
    return Stood(
        title=f"How it stood at {telling.time(found.at)}",
        said=standing.fitness.value,
        facts=tuple(_facts(found, telling)),
        links=tuple(_links(standing)),
        then=_then(found, telling),
        notes=tuple(_notes(found)),
    )


def _facts(found: ProbeAt, telling: Telling) -> Iterator[Fact]:
    standing, owes = found.standing, found.standing.owes
    yield from facts(
        fact("Why", why_words(standing.why)) if standing.why else None,
        fact("What it owed", owes.value if owes else "nothing"),
        fact("Done of that", joined(standing.done), missing="nothing that counts") if owes else None,
        fact("Next step", standing.next_step.value) if standing.next_step else None,
        fact("Made ready by", ready_by(standing)) if ready_by(standing) else None,
        fact("Ready until", _until(standing, telling)) if _until(standing, telling) else None,
        fact("Last contact marked", known(standing.contact, lambda touch: _touch(touch, telling)), missing="none"),
        fact("Where it was", _place(standing, telling)),
        fact("Used again", _reused(standing, telling)) if standing.reused is not None else None,
        fact("Judged by", f"site file and rules {found.terms.sha256[:_SHA_SHOWN]}, version {found.terms.program}"),
    )


def _until(standing: Standing, telling: Telling) -> str:
    end = standing.ready_until
    return "" if end is None or end >= NEVER else end_stamp(end, telling.zone)


def _touch(touch: Touch, telling: Telling) -> str:
    exam = f", exam {touch.exam}" if touch.exam else ""
    what = touch_words(touch.surface, covered=touch.covered)
    return f"{what}, {telling.time(touch.at)}{exam}, marked by {touch.who or 'a button'}"


def _place(standing: Standing, telling: Telling) -> str:
    where = place_words(telling, standing.place, standing.thing)
    return where if standing.since is None else f"{where}, since {telling.time(standing.since)}"


def _reused(standing: Standing, telling: Telling) -> str:
    return f"since {telling.time(standing.reused)}, though it owed" if standing.reused is not None else ""


def _links(standing: Standing) -> Iterator[Named]:
    for soak, words in ((standing.soak, "The soak that made it ready"), (standing.held, "The soak that is in doubt")):
        if soak is not None:
            yield Named(f"/logbook/soak/{quote(soak, safe='')}", words)


def _then(found: ProbeAt, telling: Telling) -> str:
    told = found.told_then
    if told is None:
        return "What was made of it at that time is not on record."
    since = telling.time(told.measured)
    if not differs(told, found.standing):
        return f"The same was said at that time, since {since}."
    why = f" ({told.why})" if told.why else ""
    owed = f", owes {told.owes.value}" if told.owes else ""
    where = place_words(telling, told.place, told.thing)
    return f"At that time it was said otherwise: {told.fitness.value}{why}{owed}, {where}, since {since}."


def _notes(found: ProbeAt) -> Iterator[str]:
    if not found.tracked:
        yield "The site file in force then does not follow probes."
    if found.is_cut:
        yield (
            f"More is on record of this probe than the {EVENTS_BEFORE:,} events that were looked at,"
            " up to a day later: with less known, less is proven."
        )
