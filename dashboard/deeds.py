"""What people enter at a basin: the fields of its form as a command, and in words what came of it."""

from collections.abc import Iterable, Mapping
from datetime import date
from enum import StrEnum
from typing import Annotated
from zoneinfo import ZoneInfo

from pydantic import BeforeValidator, Field, StringConstraints

from dashboard.forms import Blank, DeedError, Form, Text, Told, filled, written
from dashboard.words import hour, moment, until
from rules.commands import BasinEntry, Day, Discard, Pour, StripRead, TopUp
from rules.events import Event, SolutionDiscarded, SolutionPoured, SolutionToppedUp, StripTaken
from rules.picture import BasinPicture, SolutionPicture
from rules.readings import SECOND, Micros, StripResult
from rules.solution import SolutionLot, Terms, day_of, is_over
from rules.verdict import Reason


class Deed(StrEnum):
    """What is done at a basin; the last part of the address to which it is sent."""

    POUR = "pour"
    TOP_UP = "top-up"
    DISCARD = "discard"
    STRIP = "strip"


class _EmptyForm(Form):
    into_soak: Annotated[bool, BeforeValidator(lambda said: said == "yes")] = False


class _PourForm(_EmptyForm):
    lot: Text
    printed_expiry: Annotated[Day | None, Blank] = None
    opened_when: Annotated[str, StringConstraints(pattern="^(now|day)$")]
    opened: Annotated[Day | None, Blank] = None
    opened_days: Annotated[int | None, Field(ge=0, le=1000), Blank] = None


class _TopUpForm(Form):
    top_lot: Text


class _StripForm(Form):
    result: StripResult
    strip_lot: Annotated[Text | None, Blank] = None
    strip_expiry: Annotated[Day | None, Blank] = None
    dip_seconds: Annotated[int | None, Field(ge=0, le=3600), Blank] = None


_EXPECTED = {
    "lot": "Write the lot that is printed on the bottle, at most 80 characters.",
    "top_lot": "Write the lot of what was added, at most 80 characters.",
    "printed_expiry": "Printed expiry: a day from 2000 to 2199, as on the bottle.",
    "opened_when": "Say when the bottle was opened: now, or on which day.",
    "opened": "Opened: a day from 2000 to today.",
    "opened_days": "Days once opened: a whole number from 0 to 1000, as on the bottle.",
    "result": "Say how the strip looks: pass, fail or invalid.",
    "strip_lot": "Lot of the strips: at most 80 characters.",
    "strip_expiry": "Expiry of the strips: a day from 2000 to 2199, as on their bottle.",
    "dip_seconds": "Seconds from dip to reading: a whole number from 0 to 3600.",
}


def entry_of(deed: Deed, fields: Mapping[str, str], basin: BasinPicture, now: Micros) -> BasinEntry:
    """The command that a form asks for.

    Raises:
        DeedError: a field is missing or wrong.
    """
    match deed:
        case Deed.POUR:
            return _pour(filled(_PourForm, fields, _EXPECTED), basin, now)
        case Deed.TOP_UP:
            top = filled(_TopUpForm, fields, _EXPECTED)
            return TopUp(arrived=now, who=top.who, basin=basin.id, measured=top.done(now), lot=top.top_lot)
        case Deed.DISCARD:
            form = filled(_EmptyForm, fields, _EXPECTED)
            _ask_back(form, basin, now)
            return Discard(arrived=now, who=form.who, basin=basin.id, measured=form.done(now))
        case Deed.STRIP:
            return _strip(filled(_StripForm, fields, _EXPECTED), basin, now)


def _pour(form: _PourForm, basin: BasinPicture, now: Micros) -> Pour:
    terms, done = basin.solution.terms, form.done(now)
    _ask_back(form, basin, now)
    return Pour(
        arrived=now,
        who=form.who,
        basin=basin.id,
        measured=done,
        lot=form.lot,
        label=terms.label,
        printed_expiry=form.printed_expiry,
        opened=day_of(done, terms.zone) if form.opened_when == "now" else _opened(form, day_of(now, terms.zone)),
        opened_days=form.opened_days,
    )


def _ask_back(form: _EmptyForm, basin: BasinPicture, now: Micros) -> None:
    """Nobody changes what a probe lies in by a slip: the soak under way does not count after that."""
    soak, zone = basin.soak, basin.solution.terms.zone
    if soak is None or not basin.solution.recorded or form.into_soak or form.done(now) <= soak.start:
        return
    raise DeedError(
        f"A soak is under way here since {hour(soak.start, zone)}, and does not count if its solution is changed. Done"
        f" before it began? Then say how many minutes ago, {_minutes_since(soak.start, now)} or more. Else tick that it"
        " was done during the soak.",
        {"into_soak": "Tick it, or say that it was done before the soak."},
    )


def _minutes_since(start: Micros, now: Micros) -> int:
    return -(-(now - start) // (60 * SECOND))


def _opened(form: _PourForm, today: date) -> date:
    if form.opened is None:
        said = "Give the day on which the bottle was opened, or choose 'opened now'."
        raise DeedError(said, {"opened": said})
    if form.opened > today:
        raise DeedError(_EXPECTED["opened"], {"opened": _EXPECTED["opened"]})
    return form.opened


def _strip(form: _StripForm, basin: BasinPicture, now: Micros) -> StripRead:
    read = form.done(now)
    dipped = None if form.dip_seconds is None else Micros(max(0, read - form.dip_seconds * SECOND))
    return StripRead(
        arrived=now,
        who=form.who,
        basin=basin.id,
        measured=read,
        result=form.result,
        dipped=dipped,
        lot=form.strip_lot,
        expiry=form.strip_expiry,
    )


def told(events: Iterable[Event], basin: BasinPicture, at: Micros, now: Micros, zone: ZoneInfo) -> Told:
    """What was written down, and when, in a sentence or two; basin: as it was known at ``at``."""
    told_of, solution = tuple(events), basin.solution
    warns = any(_is_no_good(event, solution, at, now) for event in told_of)
    of_soaks = [said for event in told_of for said in _of_soaks(event, basin, at, now, zone)]
    sentences = [*(_sentence(event, solution, at, now, zone) for event in told_of), *of_soaks]
    return written(sentences, now, zone, warns=warns or bool(of_soaks))


def _of_soaks(event: Event, basin: BasinPicture, at: Micros, now: Micros, zone: ZoneInfo) -> Iterable[str]:
    """What a strip is to the soak under way, and to those that are over and had none so far."""
    if not isinstance(event, StripTaken) or event.faults:
        return
    soak = basin.soak
    if soak is not None and event.at <= at and soak.start < event.measured and Reason.STRIP_MISSING in soak.lacking:
        yield (
            f"The soak under way began before it was read, {hour(soak.start, zone)}: that soak has no strip and"
            " does not count."
        )
    for ended in basin.ended:
        if ended.start >= event.measured and Reason.STRIP_MISSING in ended.reasons:
            yield (
                f"The soak that ended {moment(ended.end, now, zone)} had no strip so far: if this one counts for it,"
                " its verdict changes, and the record says that the strip was entered late."
            )


def _is_no_good(event: Event, solution: SolutionPicture, at: Micros, now: Micros) -> bool:
    """Whether an entry leads to what must not be used, or counts for nothing."""
    match event:
        case SolutionPoured():
            return event.good_until is None or event.good_until <= now
        case StripTaken(faults=()):
            return not _counts(event, solution, at)
        case _:
            return isinstance(event, StripTaken)


def _counts(strip: StripTaken, solution: SolutionPicture, at: Micros) -> bool:
    return at < strip.at or Reason.STRIP_MISSING not in solution.lacking


def is_to_be_weighed(event: Event) -> bool:
    """Whether only the solution as it stands afterwards tells what the entry is good for."""
    return isinstance(event, StripTaken) and not event.faults


def _sentence(event: Event, solution: SolutionPicture, at: Micros, now: Micros, zone: ZoneInfo) -> str:
    match event:
        case SolutionPoured():
            return f"Poured: lot {event.lot}, {_good(event, solution.terms, now, zone)}."
        case SolutionToppedUp():
            return f"Topped up: lot {event.lot}. This extends nothing."
        case SolutionDiscarded():
            return "Discarded: nothing is in the basin now."
        case StripTaken(faults=()):
            too_early = "" if _counts(event, solution, at) else _too_early(solution.terms)
            return f"Strip: {event.result.value}.{too_early}{_of_lot(event)}"
        case StripTaken():
            faults = ", ".join(reason.value for reason in event.faults)
            return f"Strip: {event.result.value}. It does not count as a good one: {faults}.{_of_lot(event)}"
        case _:
            return ""


def _of_lot(strip: StripTaken) -> str:
    """What follows where no lot was entered."""
    return "" if strip.lot else " No lot was entered: a look-back by the lot of the strips will not find it."


def _too_early(terms: Terms) -> str:
    since = "today" if terms.policy.daily else "the last soak in it ended"
    return (
        f" It does not count for the next soak: it was taken before this solution was poured, or before {since}."
        " Take another strip now."
    )


def _good(poured: SolutionPoured, terms: Terms, now: Micros, zone: ZoneInfo) -> str:
    end = poured.good_until
    if end is None:
        over = "out of date already, and " if is_over(_lot(poured), now, terms) else ""
        return f"but {over}a date is missing, so that no soak in it counts; {_MEND[bool(over)]}"
    return f"good until {until(end, now, zone)}" if end > now else "out of date already: do not use it"


_MEND = {True: "do not use it", False: "enter the pour again with all dates"}


def _lot(poured: SolutionPoured) -> SolutionLot:
    return SolutionLot(
        at=poured.measured,
        who=poured.who or "",
        lot=poured.lot,
        label=poured.label,
        printed_expiry=poured.printed_expiry,
        opened=poured.opened,
        opened_days=poured.opened_days,
    )
