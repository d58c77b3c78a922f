"""What the page of an answered question shows: figures with intervals, the best settings, and what would change."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from dashboard.bench.compared import KEPT_SIGNS, RuleShown, compared, detected, false, median, of_rules
from dashboard.bench.figures import full_name, settings_words, with_unit
from dashboard.bench.tune_form import on_name
from dashboard.grid import Cell, Grid, cell
from dashboard.words import clock, counted, day_words, stamp
from gateway.toml_snippet import toml_snippet
from gateway.tuned import THIS_RECORD, Answer, Change, Day, Point, of_both
from gateway.tuned_told import NOT_COMPARED, exposure_words, few_words, held_out_words, lasting
from gateway.when import local
from rules.figure_picture import FigurePicture
from rules.readings import SECOND, Micros

MOST_BEST, MOST_CHANGES = 10, 100
"""So many settings and changes stand on the page (ours); the files have all."""


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
    best: the settings that nothing beats. changes: alerts that would vanish, appear or move; tally: how many.
    has_curve: whether anything is drawn in the operating curve. snippet: for the site file, '' where nothing is
    suggested. values: what is suggested, by name.
    """

    headline: str
    notes: tuple[str, ...]
    held_out: str
    held_out_sign: str
    compared: Grid
    of_rules: tuple[RuleShown, ...]
    best: Grid
    more_best: int
    tally: str
    changes: Grid
    more_changes: int
    has_curve: bool
    days: tuple[DayShown, ...]
    snippet: str
    values: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Around:
    """figures: as they are in force now, by name. names: of the things of this record."""

    figures: Mapping[str, FigurePicture]
    names: Mapping[str, str]
    zone: ZoneInfo

    def names_on(self, on: str) -> Mapping[str, str]:
        """Names of the things of a record, situation or population, by their ids; of those that are not real, none."""
        return self.names if on == THIS_RECORD else {}


def result_view(answer: Answer, around: Around) -> ResultView:
    """The page."""
    figures = around.figures
    chosen = answer.chosen
    best = _alike(answer)
    kept = answer.verdict("suggested_held_out")
    return ResultView(
        headline=_headline(answer, figures),
        notes=tuple(_notes(answer, figures)),
        held_out=held_out_words(answer) if chosen else "",
        held_out_sign="open" if kept is None else KEPT_SIGNS.get(kept, "open"),
        compared=compared(answer),
        of_rules=tuple(of_rules(answer)),
        best=_best(best[:MOST_BEST], answer, figures),
        more_best=max(0, len(best) - MOST_BEST),
        tally=_tally(answer),
        changes=_changes(answer, around),
        more_changes=sum(one.count for one in answer.change_counts) - min(MOST_CHANGES, len(answer.changes)),
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


# ---- settings -------------------------------------------------------------------------------------------------------


def _worth(point: Point, answer: Answer) -> tuple[bool, int, int]:
    """Those that keep the goal come first, then those that detect more, then those that alert less."""
    wrong, told = point.judged.false_alerts, point.judged.detected
    false = wrong.count if wrong else point.judged.alerts.count
    return (not answer.asked.goal.kept_by(point.judged), -(told.hits if told else 0), false)


def _alike(answer: Answer) -> list[list[Point]]:
    """The best settings, those that do the same together, the suggested or the first of them at its head."""
    ways: dict[str, list[Point]] = {}
    for point in answer.points:
        if point.best:
            ways.setdefault(point.judged.model_dump_json(), []).append(point)
    for points in ways.values():
        points.sort(key=lambda point: point is not answer.chosen)
    return sorted(ways.values(), key=lambda points: _worth(points[0], answer))


def _best(ways: list[list[Point]], answer: Answer, figures: Mapping[str, FigurePicture]) -> Grid:
    chosen = answer.chosen
    headings = ("Setting", "Detected", "False alerts of a cart in a week", "Told after, median", "")
    rows = tuple(
        (
            cell(
                *(f"{full_name(name)} {_in_unit(name, value, figures)}" for name, value in point.values.items()),
                f"and {counted(len(others), 'other setting')} that did the same" if others else None,
            ),
            detected(point.judged),
            false(point.judged),
            median(point.judged),
            _called(point, answer, chosen),
        )
        for point, *others in ways
    )
    return Grid(headings, rows, "No setting is better than the others.")


def _in_unit(name: str, value: float, figures: Mapping[str, FigurePicture]) -> str:
    return with_unit(value, figures[name].unit if name in figures else "")


def _called(point: Point, answer: Answer, chosen: Point | None) -> Cell:
    said = ["present"] if point.values == answer.present.values else []
    if chosen is not None and point.values == chosen.values:
        return cell("suggested", *said, sign="met")
    return cell(*said, missing="")


# ---- what would change ----------------------------------------------------------------------------------------------

_KNOWN = {True: "real", False: "false", None: "not known whether real"}


def _tally(answer: Answer) -> str:
    if not answer.is_compared:
        return NOT_COMPARED
    said = [f"{one.count} {_KIND_WORDS[one.kind]} ({_KNOWN[one.real]})" for one in answer.change_counts if one.count]
    if not said:
        return "No alert would change."
    return f"{', '.join(said)}. {counted(answer.unchanged, 'alert')} would stay as now."


_KIND_WORDS = {"vanishes": "would vanish", "appears": "would appear", "moves": "would move"}


def _changes(answer: Answer, around: Around) -> Grid:
    rows = tuple(_change(change, around) for change in of_both(answer.changes, MOST_CHANGES))
    return Grid(("Alert", "Rule", "What becomes of it", "Told", "Was it real"), rows, "Nothing would change.")


def _change(change: Change, around: Around) -> tuple[Cell, ...]:
    return (
        cell(around.names_on(change.on).get(change.subject, change.subject), on_name(change.on)),
        cell(change.rule),
        cell(_KIND_WORDS[change.kind]),
        cell(_times(change, around.zone)),
        cell(_KNOWN[change.real]),
    )


def _times(change: Change, zone: ZoneInfo) -> str:
    if change.was is None or change.would_be is None:
        at = change.was if change.was is not None else change.would_be
        return "" if at is None else stamp(at, zone)
    later = (change.would_be - change.was) / SECOND
    moved = f"{lasting(abs(later))} {'later' if later > 0 else 'sooner'}"
    return f"{stamp(change.was, zone)}, then {clock(change.would_be, zone)}: {moved}"


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
