"""Figures changed by command, told on the command line and as a table."""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from gateway.csv_text import Cell
from gateway.figure_log import FigureLog, OrderedFigure
from gateway.when import written, written_whole
from rules.figure_events import FigureChange, FiguresChanged

FIGURE_COLUMNS = ("changed", "figure", "unit", "before", "after", "cause", "by", "role", "why", "after_input")


def lines(log: FigureLog, zone: ZoneInfo) -> Iterator[str]:
    """What is in force by command, by whom and since when."""
    standing = log.standing()
    if not standing:
        yield "Every figure is as the site file says; none is changed by command."
        return
    yield f"Changed by command; all others are as the site file says. Times are local to {zone.key}."
    for figure in standing:
        yield from _line(figure, zone)


def _line(figure: OrderedFigure, zone: ZoneInfo) -> Iterator[str]:
    unit = figure.unit and f" {figure.unit}"
    yield f"  {figure.name} = {figure.value:g}{unit}, instead of {figure.over:g}{unit} in the site file"
    yield f"    since {written(figure.since, zone)} by {figure.who}, {figure.role}: {figure.why}"


def figure_rows(log: FigureLog, zone: ZoneInfo) -> Iterator[list[Cell]]:
    """A row for each change of a figure, newest first; a cell for each of ``FIGURE_COLUMNS``."""
    for after_input, event in reversed(log.changes):
        yield from (_row(event, figure, after_input, zone) for figure in event.changes)


def _row(event: FiguresChanged, figure: FigureChange, after_input: int, zone: ZoneInfo) -> list[Cell]:
    return [
        written_whole(event.at, zone),
        figure.name,
        figure.unit,
        figure.before,
        figure.after,
        event.cause,
        event.who,
        event.role,
        event.why,
        after_input,
    ]
