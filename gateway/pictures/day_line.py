"""A day's time line: what really went wrong, and the alerts over it with the figures in force and those suggested."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from math import ceil
from typing import Any
from zoneinfo import ZoneInfo

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from gateway.csv_text import Cell
from gateway.pictures.sheet import (
    GRID,
    GROUND,
    INK,
    SUGGESTED,
    WRONG,
    Picture,
    head,
    headline,
    key_columns,
    key_of,
    shortened,
)
from gateway.pictures.size import Size
from gateway.pictures.time_axis import minutes_since, time_axis
from gateway.tuned import Day, Lane, Raised, Truth
from gateway.when import local, written_whole
from rules.readings import Micros

_THICK = 0.8
_COLUMNS = ("rule", "subject", "what", "figures", "start", "end", "outcome")


def day_line(day: Day, names: Mapping[str, str]) -> Picture:
    """The picture of a day; names: of things, by their ids."""
    zone = ZoneInfo(day.zone)
    title = f"Alerts and what really happened, {_when(day, zone)} ({zone.key}), {day.on}"
    lanes = len(day.lanes)
    return Picture(
        title=title,
        described=" ".join(_told(lane, names) for lane in day.lanes) or "Nothing went wrong, and nothing was raised.",
        draw=lambda figure, size: _draw(day, zone, names, title, figure, size),
        height=lambda size: _Layout(title, lanes, size).height,
        columns=_COLUMNS,
        rows=[row for lane in day.lanes for row in _rows(lane, zone)],
    )


# ---- in words and numbers -------------------------------------------------------------------------------------------


def _when(day: Day, zone: ZoneInfo) -> str:
    first, last = local(day.since, zone), local(Micros(day.until - 1), zone)
    begun = f"{first.day} {first:%b %Y}"
    return begun if first.date() == last.date() else f"{begun} to {last.day} {last:%b %Y}"


def _told(lane: Lane, names: Mapping[str, str]) -> str:
    return f"{_name(lane, names)}: {len(lane.truths)} went wrong; {_counts(lane)}."


def _name(lane: Lane, names: Mapping[str, str]) -> str:
    return f"{names.get(lane.subject, lane.subject)}, {lane.rule}"


def _counts(lane: Lane) -> str:
    said = [f"present {_count(lane.truths, lane.present, lambda truth: truth.present)}"]
    if _has_suggested(lane):
        said.append(f"suggested {_count(lane.truths, lane.suggested, lambda truth: truth.suggested)}")
    return "; ".join(said)


def _count(truths: Sequence[Truth], raised: Sequence[Raised], told: Callable[[Truth], bool | None]) -> str:
    hits = sum(bool(told(truth)) for truth in truths)
    if any(one.real is None for one in raised):
        return f"{len(raised)} alerts"
    return f"{hits} detected, {len(truths) - hits} missed, {sum(one.real is False for one in raised)} false"


def _has_suggested(lane: Lane) -> bool:
    return bool(lane.suggested) or any(truth.suggested is not None for truth in lane.truths)


def _rows(lane: Lane, zone: ZoneInfo) -> Iterator[list[Cell]]:
    def times(start: Micros, end: Micros | None) -> list[Cell]:
        return [written_whole(start, zone), None if end is None else written_whole(end, zone)]

    for truth in lane.truths:
        head_of: list[Cell] = [lane.rule, lane.subject, "went wrong"]
        yield [*head_of, "present", *times(truth.start, truth.end), "detected" if truth.present else "missed"]
        if truth.suggested is not None:
            said = "detected" if truth.suggested else "missed"
            yield [*head_of, "suggested", *times(truth.start, truth.end), said]
    for figures, raised in (("present", lane.present), ("suggested", lane.suggested)):
        for one in raised:
            outcome = _OUTCOMES[one.real]
            yield [lane.rule, lane.subject, "alert", figures, *times(one.at, one.end), outcome]


_OUTCOMES = {True: "real", False: "false", None: "not known"}


# ---- drawn ----------------------------------------------------------------------------------------------------------

_LINE_EMS, _ROW_EMS, _BETWEEN_EMS = 1.45, 1.25, 0.6
_LEFT_EMS, _RIGHT_EMS, _TIMES_EMS, _TITLE_AIR_EMS = 5.6, 1.8, 4.2, 0.4


class _Layout:
    """How much room there is for what, from the top down: title, lanes, times, key; in px."""

    def __init__(self, title: str, lanes: int, size: Size) -> None:
        self._size = size
        self.heading_lines = 3 if size.is_narrow else 1
        self.lane_ems = self.heading_lines * _LINE_EMS + 3 * _ROW_EMS + _BETWEEN_EMS
        self._title_ems = 1.75 * len(headline(title, size).splitlines()) + 0.6
        self._lanes_ems = self.lane_ems * max(1, lanes)
        self._key_ems = 1.7 * ceil(len(_SIGNS) / key_columns(_SIGNS, size)) + 0.5

    @property
    def height(self) -> float:
        return (self._title_ems + self._lanes_ems + _TIMES_EMS + self._key_ems) * self._size.em

    @property
    def lanes(self) -> tuple[float, float, float, float]:
        """Left, bottom, width and height of the lanes, as shares of the figure's."""
        em = self._size.em
        across, up = em / self._size.width, em / self.height
        bottom = (self._key_ems + _TIMES_EMS) * up
        return _LEFT_EMS * across, bottom, 1 - (_LEFT_EMS + _RIGHT_EMS) * across, self._lanes_ems * up


def _draw(day: Day, zone: ZoneInfo, names: Mapping[str, str], title: str, figure: Figure, size: Size) -> None:
    layout = _Layout(title, len(day.lanes), size)
    figure.set_layout_engine("none")
    axes = figure.add_axes(layout.lanes)
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.grid(visible=True, axis="x", color=GRID, linewidth=size.em * 0.05)
    axes.set_axisbelow(True)
    axes.set_ylim(layout.lane_ems * max(1, len(day.lanes)), 0)
    axes.tick_params(axis="y", length=0)
    time_axis(axes, day.since, day.until, zone, size)
    rows: list[tuple[float, str]] = []
    for number, lane in enumerate(day.lanes):
        rows += _Lane(axes, day, lane, number, size, layout).draw(names)
    axes.set_yticks([at for at, _ in rows], [words for _, words in rows])
    axes.set_xlabel(f"time of day ({zone.key})")
    head(figure, title, size, 1 - _TITLE_AIR_EMS * size.em / size.height)
    key_of(figure, {words: sign(size) for words, sign in _SIGNS.items()}, size)


class _Lane:
    """One lane on the drawing; heights in ems from the top of all lanes."""

    def __init__(self, axes: Axes, day: Day, lane: Lane, number: int, size: Size, layout: _Layout) -> None:
        self._axes, self._day, self._lane, self._size = axes, day, lane, size
        self._top = layout.lane_ems * number
        self._lines = layout.heading_lines
        self._gid = f"lane-{number}"

    def draw(self, names: Mapping[str, str]) -> list[tuple[float, str]]:
        """Draws it, and tells where its rows are and what they are called."""
        self._heading(names)
        present, proposed, really = (self._top + self._lines * _LINE_EMS + (n + 0.6) * _ROW_EMS for n in range(3))
        rows = [(present, "present"), (really, "really")]
        self._alerts(self._lane.present, present, "present")
        if _has_suggested(self._lane):
            rows.insert(1, (proposed, "suggested"))
            self._alerts(self._lane.suggested, proposed, "suggested")
        for truth in self._lane.truths:
            self._truth(truth, really)
        return rows

    def _heading(self, names: Mapping[str, str]) -> None:
        room = self._size.width / self._size.em - 1
        name, counts = _name(self._lane, names), _counts(self._lane)
        lines = [f"{name}: {counts}"] if self._lines == 1 else [name, *counts.split("; ")]
        left = (0.4 - _LEFT_EMS) / (self._size.width / self._size.em - _LEFT_EMS - _RIGHT_EMS)
        over = self._axes.get_yaxis_transform()
        line: dict[str, Any] = {"color": INK, "lw": self._size.em * 0.05, "clip_on": False}
        self._axes.plot([left, 1], [self._top] * 2, transform=over, **line)
        for number, words in enumerate(lines):
            at = self._top + (number + 0.6) * _LINE_EMS
            self._axes.text(left, at, shortened(words, room), transform=over, va="center")

    def _alerts(self, raised: Sequence[Raised], row: float, figures: str) -> None:
        for real, (shape, color) in _SHAPES.items():
            at = [minutes_since(one.at, self._day.since) for one in raised if one.real is real]
            gid = f"{self._gid}-{figures}-{_OUTCOMES[real]}".replace(" ", "-")
            marks: dict[str, Any] = {"ms": self._size.em * 0.6, "mew": self._size.em * 0.13, "color": color}
            self._axes.plot(at, [row] * len(at), shape, gid=gid, clip_on=False, **marks)
        for one in raised:
            end = self._day.until if one.end is None else one.end
            left, right = minutes_since(one.at, self._day.since), minutes_since(end, self._day.since)
            color = _SHAPES[one.real][1]
            self._axes.plot([left, right], [row] * 2, color=color, linewidth=self._size.em * 0.09)

    def _truth(self, truth: Truth, row: float) -> None:
        """A bar; full where it is detected, hatched where it is missed: by what is suggested, if anything is."""
        end = self._day.until if truth.end is None else truth.end
        left, right = minutes_since(truth.start, self._day.since), minutes_since(end, self._day.since)
        is_told = truth.present if truth.suggested is None else truth.suggested
        wide = max(right - left, minutes_since(self._day.until, self._day.since) * _LEAST_WIDE)
        self._axes.add_patch(
            Rectangle(
                (left, row - _THICK / 2),
                wide,
                _THICK,
                gid=f"{self._gid}-truth",
                **(_DETECTED if is_told else _MISSED),
            )
        )


_SHAPES = {True: ("^", SUGGESTED), False: ("x", WRONG), None: ("o", INK)}

_LEAST_WIDE = 0.004
"""A bar has at least this share of the width (ours), so that what was short is seen."""

_DETECTED: Mapping[str, Any] = {"facecolor": INK, "edgecolor": INK, "hatch": ""}
_MISSED: Mapping[str, Any] = {"facecolor": GROUND, "edgecolor": WRONG, "hatch": "////"}


def _mark(shape: str, color: str) -> Callable[[Size], Artist]:
    return lambda size: Line2D(
        [], [], linestyle="none", marker=shape, color=color, ms=size.em * 0.6, mew=size.em * 0.13
    )


_SIGNS: Mapping[str, Callable[[Size], Artist]] = {
    "alert, something was wrong (triangle)": _mark("^", SUGGESTED),
    "false alert (cross)": _mark("x", WRONG),
    "alert, nobody knows (dot)": _mark("o", INK),
    "went wrong, detected (full bar)": lambda _: Patch(**_DETECTED),
    "went wrong, missed (hatched bar)": lambda _: Patch(**_MISSED),
}
