"""The whole record of one soak as a sheet, the same on the screen and in print; nothing is left out unsaid."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from dashboard.happening import Telling, no_end_words, strike_href, struck_words, who_words
from dashboard.share_sheet import share_section
from dashboard.sheet import NONE_RECORDED, NOT_MEASURED, Fact, Section, Table, fact, facts, joined, known
from dashboard.trace import Drawn
from dashboard.words import day_words, degrees, end_stamp, hundredths, minutes, running
from gateway.soak_log import Judgement, LoggedSoak, SoakStage
from gateway.solution_log import LoggedSolution
from gateway.told import JudgedBy, Struck, Told
from rules.agenda import NEVER
from rules.readings import SECOND, Micros
from rules.solution import Strip
from rules.verdict import Outcome, Reason, Verdict

_SHA_SHOWN = 12
_NO_NOTES: Mapping[int, str] = MappingProxyType({})

_WHY = {
    Reason.TOO_SHORT: "the lid was closed for less than the label's time",
    Reason.TOO_COLD: "the solution was not warm enough all the time",
    Reason.INTERRUPTED: "the lid was lifted in between, and no unbroken stretch was long enough",
    Reason.STRIP_FAILED: "a strip of this solution had failed",
    Reason.SOLUTION_OUT_OF_DATE: "one of the solution's three clocks was over",
    Reason.SOLUTION_DATE_MISSING: "a date of the solution was not entered, which fails",
    Reason.OTHER_SOLUTION: "the basin is for another solution than was poured into it",
    Reason.NOT_ALLOWED: "by its maker's word the probe does not stand this solution, its temperature or its time",
    Reason.SOLUTION_NOT_RECORDED: "no pour of this solution was entered",
    Reason.STRIP_INVALID: "the strip was invalid",
    Reason.STRIP_OUT_OF_DATE: "the strip was out of date",
    Reason.STRIP_DATE_MISSING: "the expiry of the strips was not entered",
    Reason.STRIP_MISTIMED: "the strip was read too early or too late after its dip",
    Reason.STRIP_MISSING: "no strip was entered that counts for this soak",
    Reason.NO_DATA: "for some of the time lid or temperature were not known",
}


@dataclass(frozen=True, slots=True)
class SoakSheet:
    """All of it.

    outcome: the verdict by what is known today, in large words. tone: 'met', 'short' or 'open', its style.
    reasons: everything that fell short, a sentence each. says: what such a verdict says and what it does not.
    drawn: what the drawing shows; described: the same in words, for who cannot see it.
    """

    id: str
    title: str
    outcome: str
    tone: str
    reasons: tuple[str, ...]
    says: str
    drawn: Drawn
    described: str
    sections: tuple[Section, ...]


def soak_sheet(soak: LoggedSoak, telling: Telling) -> SoakSheet:
    """The sheet of a soak."""
    outcome, tone = _outcome(soak)
    end = soak.end if soak.end is not None else _last_known(soak)
    drawn = Drawn(soak.start, end, soak.exposure)
    return SoakSheet(
        id=soak.id,
        title=f"Soak in {soak.place.basin_name}, {telling.time(soak.start)}",
        outcome=outcome,
        tone=tone,
        reasons=tuple(_reasons(soak, telling)),
        says=_says(soak),
        drawn=drawn,
        described=_described(drawn, telling),
        sections=tuple(_sections(soak, telling)),
    )


def _last_known(soak: LoggedSoak) -> Micros:
    told = soak.exposure
    ends = (*(span.end for span in told.lid), *(sample.at for sample in told.samples[-1:]))
    return max((soak.start, *ends))


def _outcome(soak: LoggedSoak) -> tuple[str, str]:
    verdict = soak.verdict
    if soak.stage is SoakStage.WITHDRAWN:
        return "Withdrawn", "open"
    if verdict is None:
        return "Still running", "open"
    if verdict.outcome.is_met and _doubted(verdict) is not None:
        return f"{_capital(verdict.outcome.value)}, but in doubt", "short"
    return _capital(verdict.outcome.value), "met" if verdict.outcome.is_met else "short"


def _doubted(verdict: Verdict) -> Micros | None:
    return verdict.solution.doubted_by if verdict.solution is not None else None


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _reasons(soak: LoggedSoak, telling: Telling) -> Iterator[str]:
    verdict = soak.verdict
    if verdict is None:
        return
    for reason in verdict.reasons:
        yield f"{_capital(reason.value)}: {_WHY[reason]}."
    if _doubted(verdict) is not None:
        yield "In doubt: a strip failed later, with none that passed in between. Do not use what was soaked."
    if soak.strip_entered_late is not None:
        at = telling.time(soak.strip_entered_late)
        yield f"Strip entered late: at {at}, after this soak had begun. That it was read before is a person's word."


def _says(soak: LoggedSoak) -> str:
    if soak.stage is SoakStage.WITHDRAWN:
        return "Readings that came late showed that this was no soak, or part of another one."
    if soak.verdict is None:
        return "There is no verdict before the soak has ended."
    if soak.verdict.outcome is Outcome.MET:
        return "Of time and temperature only: no record of solutions is kept here, so nothing is said of them."
    if soak.verdict.outcome is Outcome.EXPOSURE_MET:
        return "Of time and temperature as measured, and of solution and strip as people entered them. Not of cleaning."
    return "What fell short is named; what is not named is not thereby shown to be good."


def _described(drawn: Drawn, telling: Telling) -> str:
    told = drawn.exposure
    lid = f"Lid closed {len(told.lid)} time{'' if len(told.lid) == 1 else 's'}"
    warm = f"lowest {degrees(told.lowest_celsius)}, highest {degrees(told.highest_celsius)}"
    if told.credited is None:
        counted = "nothing counted"
    else:
        counted = f"counted from {telling.time(told.credited.start)} to {telling.time(told.credited.end)}"
    return f"Temperature and lid over time. {lid}; {warm}; {counted}; {len(told.gaps)} gaps without a temperature."


# ---- its parts ------------------------------------------------------------------------------------------------------


def _sections(soak: LoggedSoak, telling: Telling) -> Iterator[Section]:
    yield _soak(soak, telling)
    yield _exposure(soak, telling)
    yield Section("not-measured", "What was not measured", soak.unmeasured)
    yield _not_entered(soak)
    yield _solution(soak.solution, telling)
    yield _strip(soak, telling)
    if not soak.probes:
        yield Section("probes", "Probes", ("Nobody told which probe was in this soak, and no tag did.",))
    for share in soak.probes:
        yield share_section(share, telling)
    yield _verdicts(soak.judgements, telling)
    yield _told("corrections", "Corrections", soak.corrections, telling, "None: nothing in this record was corrected.")
    yield _told("entries", "What people entered", soak.entries, telling, "Nobody entered anything.", _notes(soak))
    yield _versions(soak.judgements, telling)


def _soak(soak: LoggedSoak, telling: Telling) -> Section:
    place, end = soak.place, soak.end
    length = None if end is None else running((end - soak.start) / SECOND)
    return Section(
        "soak",
        "Soak",
        facts=(
            fact("Record number", soak.id),
            fact("Basin", f"{place.basin_name} ({place.basin})"),
            fact("Station", place.station and f"{place.station_name} ({place.station})"),
            fact("Lid closed at", telling.time(soak.start)),
            fact("Ended at", known(end, telling.time), missing="still running"),
            fact("From start to end", length, missing="still running"),
        ),
    )


def _exposure(soak: LoggedSoak, telling: Telling) -> Section:
    told = soak.exposure
    limit = f"{hundredths(told.min_celsius + told.guard_celsius)} °C"
    made = f"label {hundredths(told.min_celsius)} °C + sensor's uncertainty {hundredths(told.guard_celsius)} °C"
    lid = (f"closed {telling.time(span.start)} to {telling.time(span.end)}" for span in told.lid)
    gaps = (f"{telling.time(gap.start)} to {telling.time(gap.end)}" for gap in told.gaps)
    counted = known(told.credited, lambda span: f"{telling.time(span.start)} to {telling.time(span.end)}")
    temperatures = (told.lowest_celsius, told.highest_celsius)
    lowest, highest = (known(celsius, degrees) for celsius in temperatures)
    return Section(
        "exposure",
        "Exposure time and temperature",
        facts=(
            fact("Judged by", soak.label, f"source: {soak.label_source}" if soak.label_source else None),
            fact("Chemistry", soak.chemistry),
            fact("Asked", f"{minutes(told.needed_seconds)} without a break, at or above {limit}", made),
            fact("Counted", f"{running(told.credited_seconds)} of {running(told.needed_seconds)}", counted),
            fact("Lowest temperature", lowest, missing=NOT_MEASURED),
            fact("Highest temperature", highest, missing=NOT_MEASURED),
            fact("Lid", *lid, missing=NOT_MEASURED),
            fact("Temperature not known", *gaps, missing="no gap"),
        ),
    )


def _not_entered(soak: LoggedSoak) -> Section:
    said = tuple(f"{_capital(words)}." for words in soak.not_entered)
    return Section("not-entered", "What nobody entered", said or ("Nothing that is asked for is missing.",))


def _solution(solution: LoggedSolution | None, telling: Telling) -> Section:
    if solution is None:
        return Section("solution", "Solution", ("No solution is recorded to have been in the basin.",))
    lot, clocks = solution.lot, solution.clocks
    ended = None
    if solution.end is not None:
        how = f"by {solution.discarded.who}" if solution.discarded else "by the next pour"
        ended = f"{telling.time(solution.end)} {how}"
    return Section(
        "solution",
        "Solution",
        facts=facts(
            fact("Chemistry", solution.chemistry),
            fact("Lot", lot.lot),
            fact("Poured under label", lot.label),
            fact("Poured (activated)", f"{telling.time(lot.at)} by {lot.who}"),
            fact("Printed expiry", known(lot.printed_expiry, day_words)),
            fact("Bottle opened", known(lot.opened, day_words)),
            fact("Days once opened", known(lot.opened_days, str)),
            fact("Opened bottle good until", _clock(clocks.opened, telling), missing=no_end_words(lot)),
            fact("Reuse life ends", _clock(clocks.reuse, telling), missing="not known"),
            fact("Good until, the earliest", _clock(clocks.until, telling), missing=no_end_words(lot)),
            fact(
                "Topped up",
                *(f"{telling.time(t.at)} by {t.who}, lot {t.lot}" for t in solution.topped_up),
                missing="no",
            ),
            fact("Discarded", ended, missing="still in the basin"),
            _struck(solution.struck, telling),
        ),
    )


def _clock(end: Micros | None, telling: Telling) -> str | None:
    if end is None:
        return None
    return "for one soak" if end == NEVER else end_stamp(end, telling.zone)


def _struck(struck: Struck | None, telling: Telling) -> Fact | None:
    if struck is None:
        return None
    return fact("Struck", f"{telling.time(struck.at)} by {struck.who}: {struck.why}")


def _strip(soak: LoggedSoak, telling: Telling) -> Section:
    logged = soak.strip
    if logged is None:
        return Section("strip", "Concentration strip", ("No strip is recorded before this soak.",))
    strip = logged.strip
    counts = joined(fault.value for fault in logged.faults)
    return Section(
        "strip",
        "Concentration strip",
        facts=facts(
            fact("Result", strip.result.value),
            fact("Counts as one that passed", f"no: {counts}" if counts else "yes"),
            fact("Lot", strip.lot),
            fact("Expiry", known(strip.expiry, day_words)),
            fact("Dipped", known(strip.dipped, telling.time)),
            fact("Read", f"{telling.time(strip.read)} by {strip.who or 'a strip reader'}"),
            _entered(strip, soak.start, telling),
            _struck(logged.struck, telling),
        ),
    )


def _entered(strip: Strip, start: Micros, telling: Telling) -> Fact | None:
    """When a person wrote it down; a strip reader writes nothing."""
    if strip.entered is None:
        return None
    late = ", after this soak had begun" if strip.entered > start else ""
    return fact("Entered", f"{telling.time(strip.entered)}{late}")


def _verdicts(judgements: Sequence[Judgement], telling: Telling) -> Section:
    headings = ("No.", "Told", "Verdict", "Counted", "All that fell short", "Rules")
    rows = tuple(_judged(judgement, telling) for judgement in judgements)
    said = "Every verdict that was ever told, the first one first; the last one counts."
    return Section(
        "verdicts", "Verdicts", (said,), table=Table(headings, rows, (1, 2, 2.2, 1.6, 3, 1.8)) if rows else None
    )


def _judged(judgement: Judgement, telling: Telling) -> tuple[str, ...]:
    verdict = judgement.verdict
    head = (str(judgement.number), telling.time(judgement.at))
    rules = judgement.by.sha256[:_SHA_SHOWN]
    if verdict is None:
        return (*head, "withdrawn", "", "", rules)
    counted = f"{running(verdict.credited_seconds)} of {running(verdict.needed_seconds)}"
    return (*head, verdict.outcome.value, counted, joined(r.value for r in verdict.reasons) or "nothing", rules)


def _notes(soak: LoggedSoak) -> Mapping[int, str]:
    """What is to be said of an entry besides, by its number: that this is the strip that counts, and came late."""
    logged, verdict = soak.strip, soak.verdict
    weighed = None if verdict is None or Reason.STRIP_MISSING in verdict.reasons else verdict.solution
    if logged is None or logged.faults or weighed is None or weighed.last_good_check != logged.strip.at:
        return {}
    late = ", entered late" if logged.strip.entered is not None and logged.strip.entered > soak.start else ""
    return {logged.number: f"the strip that counts for this soak{late}"}


def _told(
    name: str, title: str, entries: Sequence[Told], telling: Telling, none: str, notes: Mapping[int, str] = _NO_NOTES
) -> Section:
    if not entries:
        return Section(name, title, (none,))
    return Section(name, title, table=told_table(entries, telling, notes))


def told_table(entries: Sequence[Told], telling: Telling, notes: Mapping[int, str] = _NO_NOTES) -> Table:
    """Entries with who and when, and whether they were struck; notes: what is said of one besides, by its number."""
    headings = ("No.", "Happened", "Entered", "By", "What", "Struck")
    rows = tuple(_entry(entry, telling, notes.get(entry.number, "")) for entry in entries)
    links = tuple(map(strike_href, entries))
    return Table(headings, rows, (0.9, 1.9, 1.9, 1.6, 4.6, 2.4), links, "this was wrong")


def _entry(entry: Told, telling: Telling, note: str) -> tuple[str, ...]:
    return (
        str(entry.number),
        telling.time(entry.measured),
        telling.time(entry.at),
        who_words(entry),
        f"{telling.words(entry.event)}{f' ({note})' if note else ''}",
        struck_words(entry, telling),
    )


def _versions(judgements: Sequence[Judgement], telling: Telling) -> Section:
    versions: dict[JudgedBy, None] = dict.fromkeys(judgement.by for judgement in judgements)
    headings = ("Program", "In force from", "First input", "SHA-256 of site file, rules and labels")
    rows = tuple((by.program, _since(by, telling), str(by.from_input), by.sha256) for by in versions)
    if not rows:
        return Section("versions", "Judged by", (f"Versions: {NONE_RECORDED}, as nothing was judged yet.",))
    return Section("versions", "Judged by", table=Table(headings, rows, (1, 2, 1, 6)))


def _since(by: JudgedBy, telling: Telling) -> str:
    return telling.time(by.since) if by.since > 0 else "the beginning"
