"""What the page of an answered question shows: figures with intervals, the best settings, and what would change."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from dashboard.bench.compared import KEPT_SIGNS, RuleShown, compared, of_rules
from dashboard.bench.figures import full_name, settings_words
from dashboard.bench.result_lists import KIND_WORDS, KNOWN, Around
from dashboard.bench.tune_form import on_name
from dashboard.grid import Grid
from dashboard.words import counted, day_words
from gateway.toml_snippet import toml_snippet
from gateway.tuned import Answer, Day
from gateway.tuned_told import NOT_COMPARED, exposure_words, few_words, held_out_words
from gateway.when import local
from rules.figure_picture import FigurePicture
from rules.readings import Micros


@dataclass(frozen=True, slots=True)
class DayShown:
    """A day whose time line is drawn; number: from 0, as its address has it."""

    number: int
    title: str
    described: str


@dataclass(frozen=True, slots=True)
class ResultView:
    """headline: what is suggested, or why nothing is. notes: what else is to be known first.

    held_out, held_out_sign: whether it keeps the goal where it was not chosen; '' where nothing is suggested.
    compared: present beside suggested figures, each on what it was chosen by and on what was held out. of_rules: the
    same of each of several rules by itself.
    tally: how many alerts would vanish, appear or move; more_changes: how many of them the answer does not name.
    has_curve: whether anything is drawn in the operating curve. snippet: for the site file, '' where nothing is
    suggested. values: what is suggested, by name.
    """

    headline: str
    notes: tuple[str, ...]
    held_out: str
    held_out_sign: str
    compared: Grid
    of_rules: tuple[RuleShown, ...]
    tally: str
    more_changes: int
    has_curve: bool
    days: tuple[DayShown, ...]
    snippet: str
    values: Mapping[str, float]


def result_view(answer: Answer, around: Around) -> ResultView:
    """The page."""
    figures = around.figures
    chosen = answer.chosen
    kept = answer.verdict("suggested_held_out")
    return ResultView(
        headline=_headline(answer, figures),
        notes=tuple(_notes(answer, figures)),
        held_out=held_out_words(answer) if chosen else "",
        held_out_sign="open" if kept is None else KEPT_SIGNS.get(kept, "open"),
        compared=compared(answer),
        of_rules=tuple(of_rules(answer)),
        tally=_tally(answer),
        more_changes=sum(one.count for one in answer.change_counts) - len(answer.changes),
        has_curve=any(point.judged.detected and point.judged.detected.of for point in answer.points),
        days=tuple(_day(number, day) for number, day in enumerate(answer.days)),
        snippet=toml_snippet(chosen.values) if chosen else "",
        values=chosen.values if chosen else {},
    )


def _headline(answer: Answer, figures: Mapping[str, FigurePicture]) -> str:
    chosen = answer.chosen
    if chosen is None:
        return "Nothing is suggested."
    return f"Suggested: {settings_words(chosen.values, figures)}"


def _notes(answer: Answer, figures: Mapping[str, FigurePicture]) -> Iterator[str]:
    asked = answer.asked
    yield from filter(None, (few_words(answer), answer.why_chosen))
    if answer.why_none:
        yield answer.why_none
    yield (
        f"Asked for: {asked.goal.words}. "
        f"{exposure_words(answer)} "
        f"{counted(len(answer.points), 'setting')}, {counted(answer.replays, 'replay')}, {answer.seconds:.0f} s."
    )
    changed = [
        name for name, value in answer.present.values.items() if name in figures and figures[name].value != value
    ]
    if changed:
        yield (
            f"Since this was asked, {', '.join(map(full_name, changed))} changed: 'present' below is how it was then."
        )
    yield from answer.notes


# ---- what would change ----------------------------------------------------------------------------------------------


def _tally(answer: Answer) -> str:
    if not answer.is_compared:
        return NOT_COMPARED
    said = [f"{one.count} {KIND_WORDS[one.kind]} ({KNOWN[one.real]})" for one in answer.change_counts if one.count]
    if not said:
        return "No alert would change."
    return f"{', '.join(said)}. {counted(answer.unchanged, 'alert')} would stay as now."


def _day(number: int, day: Day) -> DayShown:
    zone = ZoneInfo(day.zone)
    began = day_words(local(day.since, zone).date())
    last = day_words(local(Micros(day.until - 1), zone).date())
    when = began if began == last else f"{began} to {last}"
    alerts = sum(len(lane.present) for lane in day.lanes)
    truths = sum(len(lane.truths) for lane in day.lanes)
    wrong = f"{truths} went wrong" if day.is_measured else "nobody knows what went wrong"
    return DayShown(
        number,
        f"{when}, {on_name(day.on)}",
        f"{wrong}, {counted(alerts, 'alert')} with present figures",
    )
