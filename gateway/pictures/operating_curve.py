"""The operating curve: for each setting how much it detects against how often it is wrong."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from math import ceil, floor, log10
from typing import Any, NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke
from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator, NullLocator, PercentFormatter

from gateway.csv_text import Cell
from gateway.pictures.sheet import GROUND, INK, PRESENT, SOFT, SUGGESTED, Picture, head, key, plain_axes
from gateway.pictures.size import Size
from gateway.tuned import WEEK_DAYS, Answer, Delay, Judged, Point, Proportion, Rate

MOST_WITH_INTERVALS = 15
"""So many of the best settings are drawn with their intervals (ours), evenly some where there are more."""

_COLUMNS_OF_RINGS, _ROWS_OF_RINGS = 25, 16

MOST_RINGS = _COLUMNS_OF_RINGS * _ROWS_OF_RINGS
"""Where there are more marks of a kind, only one is drawn in each field of the drawing (ours)."""

_WIDE_RANGE = 20
"""From so many times the least on false alerts are drawn on a scale that is even in their logarithm (ours)."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A setting on the drawing: false alerts of a cart in a week, and the share detected, each with its interval."""

    x: float
    x_low: float
    x_high: float
    y: float
    y_low: float
    y_high: float

    @classmethod
    def of(cls, judged: Judged) -> "Mark | None":
        """None where that was not measured, or nothing went wrong that could be detected."""
        told, wrong = judged.detected, judged.false_alerts
        if told is None or wrong is None or told.share is None or not wrong.cart_days:
            return None
        low, high = WEEK_DAYS * wrong.low, WEEK_DAYS * wrong.high
        return cls(wrong.per_cart_week, low, high, told.share, told.low, told.high)


def is_drawn(answer: Answer) -> bool:
    """Whether anything can be drawn: truth was known, and something went wrong."""
    return any(Mark.of(point.judged) for point in (*answer.points, answer.present))


def operating_curve(answer: Answer) -> Picture:
    """The picture of what was tried."""
    return Picture(
        title=_title(answer),
        described=_described(answer),
        draw=lambda figure, size: _draw(answer, figure, size),
        height=lambda size: size.height,
        columns=(*_figures(answer), *_COLUMNS),
        rows=list(_rows(answer)),
    )


# ---- in words and numbers -------------------------------------------------------------------------------------------


def _title(answer: Answer) -> str:
    return f"What is detected, and how often a cart alerts falsely: {', '.join(answer.asked.rules)}"


def _described(answer: Answer) -> str:
    chosen = answer.chosen
    said = [f"{len(answer.points)} settings, the share detected against false alerts of a cart in a week."]
    said += [
        f"{name}: {_said(point.judged)}."
        for name, point in (("Present figures", answer.present), ("Suggested", chosen))
        if point
    ]
    return " ".join(said)


def _said(judged: Judged) -> str:
    mark = Mark.of(judged)
    if mark is None:
        return "nothing to judge by"
    return f"{mark.y * 100:.1f} % detected, {mark.x:.3g} false alerts of a cart in a week"


def _figures(answer: Answer) -> tuple[str, ...]:
    return tuple(vary.figure for vary in answer.asked.vary)


_COLUMNS = (
    "judged_on", "setting", "best", "alerts", "cart_days", "alerts_per_cart_week",
    "detected", "of", "detected_share", "detected_low", "detected_high",
    "false_alerts", "false_per_cart_week", "false_per_cart_week_low", "false_per_cart_week_high",
    "told_after_count", "told_after_median_seconds", "told_after_median_low", "told_after_median_high",
    "told_after_p95_seconds", "told_after_p95_low", "told_after_p95_high",
)  # fmt: skip


def _rows(answer: Answer) -> Iterator[list[Cell]]:
    figures, chosen = _figures(answer), answer.chosen
    yield _row(figures, answer.present, answer.present.judged, "chosen by", "present")
    for number, point in enumerate(answer.points):
        yield _row(figures, point, point.judged, "chosen by", "suggested" if number == answer.suggested else "")
    if answer.present_held_out is not None:
        yield _row(figures, answer.present, answer.present_held_out, "held out", "present")
    if chosen is not None and answer.suggested_held_out is not None:
        yield _row(figures, chosen, answer.suggested_held_out, "held out", "suggested")


def _row(figures: Sequence[str], point: Point, judged: Judged, on: str, setting: str) -> list[Cell]:
    every = judged.alerts
    return [
        *(point.values.get(figure) for figure in figures),
        *(on, setting, point.best, every.count, every.cart_days, every.per_cart_week if every.cart_days else None),
        *_detected(judged.detected),
        *_false(judged.false_alerts),
        *_late(judged.delay),
    ]


def _detected(told: Proportion | None) -> list[Cell]:
    return [None] * 5 if told is None else [told.hits, told.of, told.share, told.low, told.high]


def _false(wrong: Rate | None) -> list[Cell]:
    if wrong is None or not wrong.cart_days:
        return [None] * 4
    return [wrong.count, wrong.per_cart_week, WEEK_DAYS * wrong.low, WEEK_DAYS * wrong.high]


def _late(delay: Delay | None) -> list[Cell]:
    if delay is None:
        return [None] * 7
    median = (delay.count, delay.median, delay.median_low, delay.median_high)
    return [*median, delay.p95, delay.p95_low, delay.p95_high]


# ---- drawn ----------------------------------------------------------------------------------------------------------


def _draw(answer: Answer, figure: Figure, size: Size) -> None:
    axes = figure.subplots()
    plain_axes(axes, size)
    marks = [(mark, point.best) for point in answer.points if (mark := Mark.of(point.judged))]
    named = list(_named(answer))
    _set_scales(axes, [*(mark for mark, _ in marks), *(one.mark for one in named)], answer)
    _draw_tried(axes, [mark for mark, is_best in marks if not is_best], size)
    best = _spread(axes, [mark for mark, is_best in marks if is_best])
    _draw_best(axes, sorted(best, key=lambda mark: (mark.x, mark.y)), size)
    for one in named:
        _draw_named(axes, one, size)
    _draw_goal(axes, answer, size)
    _name(axes, [one for one in named if not one.is_held_out], size)
    head(figure, _title(answer), size)
    axes.set_xlabel("false alerts of a cart in a week\n(bars: 95 % intervals)")
    axes.set_ylabel("share detected")
    key(figure, axes, size)


def _draw_tried(axes: Axes, marks: Sequence[Mark], size: Size) -> None:
    if marks:
        drawn = _spread(axes, marks)
        xs, ys = [mark.x for mark in drawn], [mark.y for mark in drawn]
        is_all = len(drawn) == len(set(marks))
        words = "tried (small ring)" if is_all else f"tried, {len(marks):,} (a ring for all that are close)"
        axes.plot(xs, ys, "o", ms=size.em * 0.3, mfc="none", mec=SOFT, gid="tried", label=words)


def _spread(axes: Axes, marks: Sequence[Mark]) -> list[Mark]:
    """Each place once; of very many the first in each field of the drawing, so that its shape is kept."""
    distinct = list(dict.fromkeys(marks))
    if len(distinct) <= MOST_RINGS:
        return distinct
    places = axes.transAxes.inverted().transform(axes.transData.transform([(mark.x, mark.y) for mark in distinct]))
    fields = np.clip(places, 0, 1 - 1e-9) * (_COLUMNS_OF_RINGS, _ROWS_OF_RINGS)
    first: dict[tuple[int, int], Mark] = {}
    for mark, (column, row) in zip(distinct, fields.astype(int).tolist(), strict=True):
        first.setdefault((column, row), mark)
    return list(first.values())


def _draw_best(axes: Axes, best: Sequence[Mark], size: Size) -> None:
    """Those that nothing beats, and the most that is detected for so many false alerts, as a step."""
    if not best:
        return
    xs, ys = [mark.x for mark in best], [mark.y for mark in best]
    axes.step(xs, list(accumulate(ys, max)), where="post", color=SOFT, linewidth=size.em * 0.06, gid="front")
    most = MOST_WITH_INTERVALS // 2 if size.is_narrow else MOST_WITH_INTERVALS
    _intervals(axes, best[:: ceil(len(best) / most)], SOFT, size, "best")
    axes.plot(xs, ys, "o", ms=size.em * 0.5, color=INK, gid="best", label="no other is better in all (full dot)")


class _Named(NamedTuple):
    """A setting that has a name: 'present' or 'suggested', as it does on what it was chosen by, or on what was not."""

    name: str
    mark: Mark
    is_held_out: bool

    @property
    def gid(self) -> str:
        return f"{self.name}{'-held-out' if self.is_held_out else ''}"

    @property
    def color(self) -> str:
        return PRESENT if self.name == "present" else SUGGESTED

    @property
    def words(self) -> str:
        shape = "square" if self.name == "present" else "diamond"
        return f"{self.name}, held out (empty {shape})" if self.is_held_out else f"{self.name} ({shape})"


def _named(answer: Answer) -> Iterator[_Named]:
    chosen = answer.chosen
    for name, judged, is_held_out in (
        ("present", answer.present.judged, False),
        ("present", answer.present_held_out, True),
        ("suggested", chosen.judged if chosen else None, False),
        ("suggested", answer.suggested_held_out, True),
    ):
        if judged is not None and (mark := Mark.of(judged)) is not None:
            yield _Named(name, mark, is_held_out)


def _draw_named(axes: Axes, one: _Named, size: Size) -> None:
    _intervals(axes, [one.mark], one.color, size, one.gid)
    axes.plot(
        [one.mark.x],
        [one.mark.y],
        "s" if one.name == "present" else "D",
        ms=size.em * 0.75,
        mew=size.em * 0.12,
        mfc="none" if one.is_held_out else one.color,
        mec=one.color,
        gid=one.gid,
        label=one.words,
        zorder=4,
    )


def _name(axes: Axes, named: Sequence[_Named], size: Size) -> None:
    """Words beside the marks, at their upper left, where a curve that rises leaves room.

    Of two marks that are near each other the lower one has its word at its lower right.
    """
    by_height = sorted(named, key=lambda one: one.mark.y, reverse=True)
    if len(by_height) > 1 and by_height[0].mark == by_height[1].mark:
        _write(axes, by_height[0], "present and suggested", size, is_above=True)
        return
    places = [axes.transData.transform((one.mark.x, one.mark.y)) for one in by_height]
    for number, one in enumerate(by_height):
        right, down = (abs(number and places[0][way] - places[number][way]) / size.em for way in (0, 1))
        is_near = number > 0 and right < _NEAR_EMS and down < _NEAR_EMS / 2
        _write(axes, one, one.name, size, is_above=not is_near)


_NEAR_EMS = 7
"""Marks that are closer along, or half as far apart in height, leave no room for both words on one side (ours)."""

_LEFT = 0.15


def _write(axes: Axes, one: _Named, words: str, size: Size, *, is_above: bool) -> None:
    place = axes.transData.transform((one.mark.x, one.mark.y))
    is_left = axes.transAxes.inverted().transform(place)[0] < _LEFT
    at_left = is_above and not is_left
    axes.annotate(
        words,
        (one.mark.x, one.mark.y),
        xytext=(size.em * (-0.6 if at_left else 0.6), size.em * (0.6 if is_above else -0.6)),
        textcoords="offset points",
        ha="right" if at_left else "left",
        va="bottom" if is_above else "top",
        color=one.color,
        zorder=5,
        path_effects=[withStroke(linewidth=size.em * 0.3, foreground=GROUND)],
    )


def _intervals(axes: Axes, marks: Sequence[Mark], color: str, size: Size, gid: str) -> None:
    lines = axes.errorbar(
        [mark.x for mark in marks],
        [mark.y for mark in marks],
        xerr=_arms(marks, lambda mark: (mark.x - mark.x_low, mark.x_high - mark.x)),
        yerr=_arms(marks, lambda mark: (mark.y - mark.y_low, mark.y_high - mark.y)),
        fmt="none",
        ecolor=color,
        elinewidth=size.em * 0.06,
        capsize=size.em * 0.2,
    )
    for way, bars in zip("xy", lines.lines[2], strict=True):
        bars.set_gid(f"{gid}-interval-{way}")


def _arms(marks: Sequence[Mark], arm: Callable[[Mark], tuple[float, float]]) -> list[list[float]]:
    below, above = zip(*map(arm, marks), strict=True)
    return [[max(0.0, length) for length in side] for side in (below, above)]


def _draw_goal(axes: Axes, answer: Answer, size: Size) -> None:
    goal = answer.asked.goal
    lined: dict[str, Any] = {"color": INK, "linewidth": size.em * 0.08, "linestyle": (0, (6, 4))}
    words = f"goal: at most {goal.most_false_per_cart_week:g} a week"
    if goal.least_detected:
        axes.axhline(goal.least_detected, **lined)
        words += f", at least {goal.least_detected:.3g}"
    axes.axvline(goal.most_false_per_cart_week, gid="goal", label=f"{words} (dashed)", **lined)


# ---- scales ---------------------------------------------------------------------------------------------------------


def _set_scales(axes: Axes, marks: Sequence[Mark], answer: Answer) -> None:
    limit = answer.asked.goal.most_false_per_cart_week
    xs = [mark.x for mark in marks] + [limit]
    ends = [*xs, *(mark.x_high for mark in marks if mark.x_high <= 2 * max(xs))]
    positive = [x for x in xs if x > 0]
    if positive and max(positive) > _WIDE_RANGE * min(positive):
        _set_wide(axes, min(positive), max(ends))
    else:
        end = 1.08 * (max(ends) or 1)
        axes.set_xlim(-0.03 * end, end)
        steps = MaxNLocator(_MOST_STEPS).tick_values(0, end)
        axes.xaxis.set_major_locator(FixedLocator([float(step) for step in steps if 0 <= step <= end]))
    low = min((mark.y_low for mark in marks), default=0.0)
    least = max(0.0, floor(low * 10 - 0.5) / 10)
    air = 0.07 * (1 - least)
    axes.set_ylim(least - air * (least == 0), 1 + air)
    axes.yaxis.set_major_formatter(PercentFormatter(1, decimals=None, symbol=" %"))
    axes.yaxis.set_major_locator(FixedLocator(_shares(least)))


def _shares(least: float) -> list[float]:
    """Even steps from all downwards."""
    step = next((step for step in _STEPS if (1 - least) / step <= _MOST_STEPS), _STEPS[-1])
    return [1 - n * step for n in range(floor((1 - least) / step + 1e-9) + 1)]


_STEPS, _MOST_STEPS = (0.05, 0.1, 0.2), 6


def _set_wide(axes: Axes, least: float, most: float) -> None:
    """Even in the logarithm, with room for 0 at its left."""
    decade = 10.0 ** floor(log10(least))
    axes.set_xscale("symlog", linthresh=decade, linscale=0.5)
    axes.set_xlim(-0.15 * decade, most * 1.3)
    decades = range(round(log10(decade)), ceil(log10(most)) + 1)
    axes.xaxis.set_major_locator(FixedLocator([0, *(10.0**power for power in decades if 10.0**power <= most * 1.3)]))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.xaxis.set_major_formatter(FuncFormatter(lambda x, _: f"{x:g}"))
