"""The two lists of an answered question: the best settings, and the alerts that would change."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple
from zoneinfo import ZoneInfo

from dashboard.bench.compared import detected, false, median
from dashboard.bench.figures import full_name, with_unit
from dashboard.bench.tune_form import on_name
from dashboard.grid import Cell, cell
from dashboard.held import Held, Key, natural
from dashboard.listing import NUMBERED, Asked, Choice, Column, Listing, Sort, Sorting, asked_together
from dashboard.listing_view import ListView, list_view
from dashboard.live_listings import Params
from dashboard.premises import Named
from dashboard.words import clock, counted, stamp
from gateway.tuned import THIS_RECORD, Answer, Change, Point
from gateway.tuned_told import lasting
from rules.figure_picture import FigurePicture
from rules.readings import SECOND

MOST_BEST, MOST_CHANGES = 10, 20
"""So many settings and changes stand on the page at once (ours)."""


@dataclass(frozen=True, slots=True)
class Around:
    """figures: as they are in force now, by name. names: of the things of this record."""

    figures: Mapping[str, FigurePicture]
    names: Mapping[str, str]
    zone: ZoneInfo

    def names_on(self, on: str) -> Mapping[str, str]:
        """Names of the things of a record, situation or population, by their ids; of those that are not real, none."""
        return self.names if on == THIS_RECORD else {}


def result_lists(answer: Answer, around: Around, here: str, params: Params) -> tuple[ListView, ListView]:
    """The best settings and the changes, as an address asks for them; here: the path of the run's page.

    Raises:
        ListError: it is not understood.
    """
    best, changed = asked_together((_best_listing(here), changes_listing(answer, here)), params)
    return _best_list(answer, around, *best), _changes_list(answer, around, *changed)


# ---- settings -------------------------------------------------------------------------------------------------------

_KEEPS, _KEEPS_NOT = Named("kept", "kept"), Named("missed", "not kept")


def _best_listing(here: str) -> Listing:
    return Listing(
        path=here,
        what="setting",
        columns=(
            Column("worth", "Setting", Sorting.WORTH),
            Column("detected", "Detected", Sorting.NUMBER),
            Column("false", "False alerts of a cart in a week", Sorting.NUMBER),
            Column("told", "Told after, median", Sorting.NUMBER),
            Column("which", "Which it is"),
        ),
        at_first=Sort(key="worth"),
        search="Search figure, value",
        choices=(Choice("goal", "The goal is", (_KEEPS, _KEEPS_NOT), "The goal is 'kept' or 'missed'."),),
        paging=NUMBERED,
        prefix="best.",
        anchor="best",
    )


class _Way(NamedTuple):
    """Settings that do the same, the suggested or the first of them at its head; rank: 0 for the best."""

    rank: int
    points: list[Point]

    @property
    def head(self) -> Point:
        return self.points[0]


def _worth(point: Point, answer: Answer) -> tuple[bool, int, int]:
    """Those that keep the goal come first, then those that detect more, then those that alert less."""
    wrong, told = point.judged.false_alerts, point.judged.detected
    count = wrong.count if wrong else point.judged.alerts.count
    return (not answer.asked.goal.kept_by(point.judged), -(told.hits if told else 0), count)


def _ways(answer: Answer) -> list[_Way]:
    """The best settings, those that do the same together."""
    chosen, alike = answer.chosen, dict[str, list[Point]]()
    for point in answer.points:
        if point.best:
            alike.setdefault(point.judged.model_dump_json(), []).append(point)
    for points in alike.values():
        points.sort(key=lambda point: point is not chosen)
    return [
        _Way(rank, points)
        for rank, points in enumerate(sorted(alike.values(), key=lambda points: _worth(points[0], answer)))
    ]


def _false_rate(way: _Way) -> float | None:
    wrong = way.head.judged.false_alerts
    return wrong.per_cart_week if wrong and wrong.cart_days else None


_WAY_KEYS: Mapping[str, Key[_Way]] = {
    "worth": lambda way: way.rank,
    "detected": lambda way: way.head.judged.detected and way.head.judged.detected.share,
    "false": _false_rate,
    "told": lambda way: way.head.judged.delay and way.head.judged.delay.median,
}


def _best_list(answer: Answer, around: Around, listing: Listing, asked: Asked) -> ListView:
    keeps = answer.asked.goal.kept_by
    ways = Held[_Way](
        by=_WAY_KEYS,
        words=lambda way: (word for point in way.points for word in _setting(point, around)),
        options={"goal": lambda way: (_KEEPS if keeps(way.head.judged) else _KEEPS_NOT).id},
    )
    shown = ways.page(_ways(answer), listing, asked, lambda way: _way_cells(way, answer, around), MOST_BEST)
    return list_view(listing, asked, shown, around.zone, empty="No setting is better than the others.")


def _setting(point: Point, around: Around) -> list[str]:
    units = {name: figure.unit for name, figure in around.figures.items()}
    return [f"{full_name(name)} {with_unit(value, units.get(name, ''))}" for name, value in point.values.items()]


def _way_cells(way: _Way, answer: Answer, around: Around) -> tuple[Cell, ...]:
    judged, others = way.head.judged, len(way.points) - 1
    same = f"and {counted(others, 'other setting')} that did the same" if others else None
    return (
        cell(*_setting(way.head, around), same),
        detected(judged),
        false(judged),
        median(judged),
        _called(way.head, answer),
    )


def _called(point: Point, answer: Answer) -> Cell:
    chosen = answer.chosen
    said = ["present"] if point.values == answer.present.values else []
    if chosen is not None and point.values == chosen.values:
        return cell("suggested", *said, sign="met")
    return cell(*said, missing="")


# ---- what would change ----------------------------------------------------------------------------------------------

KNOWN = {True: "real", False: "false", None: "not known whether real"}
KIND_WORDS = {"vanishes": "would vanish", "appears": "would appear", "moves": "would move"}
_REAL: Mapping[bool | None, str] = {True: "yes", False: "no", None: "unknown"}


def changes_listing(answer: Answer, here: str) -> Listing:
    """The alerts that would change, by time at first; here: the path of the run's page."""
    rules = tuple(Named(rule, rule) for rule in dict.fromkeys(change.rule for change in answer.changes))
    return Listing(
        path=here,
        what="alert",
        columns=(
            Column("alert", "Alert", Sorting.TEXT),
            Column("rule", "Rule", Sorting.TEXT),
            Column("becomes", "What becomes of it", Sorting.TEXT),
            Column("told", "Told", Sorting.TIME),
            Column("real", "Was it real", Sorting.TEXT),
        ),
        at_first=Sort(key="told"),
        search="Search what the alert is of",
        choices=(
            *((Choice("rule", "Rule", rules),) if len(rules) > 1 else ()),
            Choice(
                "becomes",
                "What becomes of it",
                tuple(Named(kind, said) for kind, said in KIND_WORDS.items()),
                f"What becomes of an alert is one of {', '.join(KIND_WORDS)}.",
            ),
            Choice(
                "real",
                "Was it real",
                tuple(Named(_REAL[real], said) for real, said in KNOWN.items()),
                "Whether an alert was real is 'yes', 'no' or 'unknown'.",
            ),
        ),
        paging=NUMBERED,
        prefix="change.",
        anchor="changes",
    )


def _changes(around: Around) -> Held[Change]:
    return Held[Change](
        by={
            "alert": lambda change: natural(_subject(change, around)),
            "rule": lambda change: natural(change.rule),
            "becomes": lambda change: KIND_WORDS[change.kind],
            "told": lambda change: change.would_be if change.was is None else change.was,
            "real": lambda change: KNOWN[change.real],
        },
        words=lambda change: (_subject(change, around), change.subject, on_name(change.on)),
        options={
            "rule": lambda change: change.rule,
            "becomes": lambda change: change.kind,
            "real": lambda change: _REAL[change.real],
        },
    )


def _subject(change: Change, around: Around) -> str:
    return around.names_on(change.on).get(change.subject, change.subject)


def changes_asked(answer: Answer, around: Around, asked: Asked) -> tuple[Change, ...]:
    """Those that are asked for, in the order that is asked for."""
    return _changes(around).picked(answer.changes, asked)


def _changes_list(answer: Answer, around: Around, listing: Listing, asked: Asked) -> ListView:
    changes = _changes(around)
    shown = changes.page(answer.changes, listing, asked, lambda one: _change_cells(one, around), MOST_CHANGES)
    file = f"{listing.path}/changes.csv"
    return list_view(listing, asked, shown, around.zone, empty="The answer names no alert that would change.", csv=file)


def _change_cells(change: Change, around: Around) -> tuple[Cell, ...]:
    return (
        cell(_subject(change, around), on_name(change.on)),
        cell(change.rule),
        cell(KIND_WORDS[change.kind]),
        cell(_times(change, around.zone)),
        cell(KNOWN[change.real]),
    )


def _times(change: Change, zone: ZoneInfo) -> str:
    if change.was is None or change.would_be is None:
        at = change.was if change.was is not None else change.would_be
        return "" if at is None else stamp(at, zone)
    later = (change.would_be - change.was) / SECOND
    moved = f"{lasting(abs(later))} {'later' if later > 0 else 'sooner'}"
    return f"{stamp(change.was, zone)}, then {clock(change.would_be, zone)}: {moved}"
