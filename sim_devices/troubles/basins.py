"""What went wrong with basins, their solutions, and what was soaked in them."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from operator import attrgetter, not_

from rules.board import Subject, SubjectKind
from rules.readings import SECOND, Micros, micros
from rules.site import Probe
from sim_devices.troubles.baths import Bath, Tub
from sim_devices.troubles.episode import Episode, Trouble
from sim_devices.troubles.good import good_until
from sim_devices.troubles.look import Look
from sim_devices.troubles.stretches import Held, both, held, joined, lasting

LAST_DAY_SECONDS = 86_400
"""In its last day a solution is to be made ready for (ours)."""

CLAIM_SECONDS = 600
"""So long after a soak whoever took the probe out may take to say which it was (ours: gloves off, phone out)."""


def basin_troubles(look: Look) -> Iterator[Episode]:
    """Of every basin, in no order."""
    by_basin: defaultdict[str, list[Bath]] = defaultdict(list)
    for bath in look.baths():
        by_basin[bath.basin].append(bath)
    for name, tub in look.tubs.items():
        baths = sorted(by_basin[name], key=attrgetter("stay"))
        yield from _soaks(look, name, tub, baths)
        yield from _solution(look, name, tub)


def _soaks(look: Look, basin: str, tub: Tub, baths: list[Bath]) -> Iterator[Episode]:
    subject = Subject(SubjectKind.BASIN, basin)
    probes = {probe.id: probe for probe in look.ward.site.probe}
    under_way = [both(bath.closed, [_not_done(bath)]) for bath in baths]
    cold = (span for closed in under_way for shut in closed for span in tub.cold(shut))
    never = (span for closed in under_way for shut in closed for span in tub.doomed(shut))
    early = (span for bath in baths for span in _open_early(tub, bath))
    over = (span for bath in baths for span in _over_soak(tub, bath, probes[bath.probe]))
    yield from look.episodes(Trouble.SOAK_COLD, subject, joined(cold))
    yield from look.episodes(Trouble.SOAK_NEVER_DONE, subject, joined(never))
    yield from look.episodes(Trouble.LID_OPEN_EARLY, subject, joined(early))
    yield from look.episodes(Trouble.OVER_SOAK, subject, joined(over))
    yield from _unsound(look, subject, tub, baths)
    if look.ward.site.reprocessing.tracked:
        yield from look.episodes(Trouble.SOAK_UNCLAIMED, subject, joined(_unclaimed(look, baths)))


def _not_done(bath: Bath) -> Held:
    """The part of its stay before it had all that it needs."""
    return Held(bath.stay.start, bath.stay.end if bath.done is None else bath.done)


def _open_early(tub: Tub, bath: Bath) -> list[Held]:
    """The lid is open over a probe that is in the basin, after it was closed over it, but never for long enough."""
    if not bath.closed:
        return []
    whole = next((closed.start for closed in bath.closed if closed.micros >= tub.needed), bath.stay.end)
    return held(tub.state.lid_closed, not_, Held(bath.closed[0].end, whole)) if bath.closed[0].end < whole else []


def _over_soak(tub: Tub, bath: Bath, probe: Probe) -> Iterator[Held]:
    """It lies in the solution for longer than the label's or its maker's longest time."""
    limits = [minutes for minutes in (tub.label.max_minutes, probe.max_soak_minutes) if minutes is not None]
    if limits:
        over = Micros(bath.stay.start + round(min(limits) * 60 * SECOND))
        if over < bath.stay.end:
            yield Held(over, bath.stay.end)


# ---- what came of soaks ---------------------------------------------------------------------------------------------


def _unsound(look: Look, subject: Subject, tub: Tub, baths: Iterable[Bath]) -> Iterator[Episode]:
    """From the last lifting of the lid until the probe is put in again or owes nothing any more."""
    short: list[Held] = []
    unmet: list[Held] = []
    for bath in baths:
        if bath.is_over and bath.is_a_soak and not bath.is_sound:
            trouble = short if bath.longest < tub.needed else unmet
            trouble.append(Held(bath.lifted, _made_good(look, bath)))
    yield from look.episodes(Trouble.SOAK_TOO_SHORT, subject, joined(short))
    yield from look.episodes(Trouble.SOAK_NOT_MET, subject, joined(unmet))


def _made_good(look: Look, bath: Bath) -> Micros:
    standing = look.standings[bath.probe]
    again = (other.stay.start for other in standing.baths if other.stay.start > bath.stay.start)
    paid = standing.settled_after(bath.stay.end) if standing.state(bath.stay.end).owed is not None else None
    return Micros(min(next(again, look.within.end), look.within.end if paid is None else paid))


def _unclaimed(look: Look, baths: Iterable[Bath]) -> Iterator[Held]:
    """Since the probe was taken out, where no tag was read and nobody told."""
    for bath in baths:
        if bath.is_over and bath.closed:
            yield from lasting([Held(bath.stay.end, _told_of(look, bath))], CLAIM_SECONDS)


def _told_of(look: Look, bath: Bath) -> Micros:
    """When it was known whose soak it was: at once by a tag that was read or by an entry, later by a claim."""
    deed = look.brought.get((bath.probe, bath.stay.start))
    if look.reads(bath) or (deed is not None and deed.told_after_seconds is not None):
        return bath.stay.end
    if deed is None or deed.claimed_after_seconds is None:
        return look.within.end
    return Micros(min(look.within.end, bath.stay.end + micros(deed.claimed_after_seconds)))


# ---- solutions ------------------------------------------------------------------------------------------------------


def _solution(look: Look, basin: str, tub: Tub) -> Iterator[Episode]:
    subject = Subject(SubjectKind.BASIN, basin)
    spent = held(tub.state.liquid, lambda liquid: liquid is not None and not liquid.strong, look.within)
    yield from look.episodes(Trouble.SOLUTION_SPENT, subject, spent)
    old: list[Held] = []
    ending: list[Held] = []
    for start, end, liquid in tub.state.liquid.stretches(*look.within):
        if liquid is not None:
            until = good_until(liquid, tub.label, tub.state, end)
            soon = Micros(until - LAST_DAY_SECONDS * SECOND)
            old.append(Held(max(start, until), end))
            ending.append(Held(max(start, soon), min(end, until)))
    yield from look.episodes(Trouble.SOLUTION_OUT_OF_DATE, subject, _with_length(old))
    yield from look.episodes(Trouble.SOLUTION_ENDS_SOON, subject, _with_length(ending))


def _with_length(some: Iterable[Held]) -> list[Held]:
    return joined(span for span in some if span.start < span.end)
