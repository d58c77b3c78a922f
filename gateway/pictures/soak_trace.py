"""The temperature of a soak over time, the lid under it, and the stretch that counted."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from gateway.csv_text import Cell
from gateway.pictures.sheet import CREDIT, GRID, INK, SOFT, Picture, head, key, plain_axes
from gateway.pictures.size import Size
from gateway.pictures.time_axis import minutes_since, time_axis
from gateway.sampled import pieces, thinned
from gateway.soak_log import Exposure, Sample
from gateway.when import local, written_whole
from rules.exposure import Span
from rules.readings import POWER_UP_CELSIUS, SECOND, Micros

MOST_POINTS = 1200
"""So many points of a curve are drawn; of more the lowest and the highest of each stretch (ours)."""

_COLUMNS = ("at", "minutes", "celsius", "lid_closed", "counted")
_LEAST_SPAN_CELSIUS = 3.0
_MARGIN = 0.04


@dataclass(frozen=True, slots=True)
class SoakDrawn:
    """A soak as lid and thermometer told of it. name: of its basin. end: of the record where it still runs."""

    id: str
    name: str
    start: Micros
    end: Micros
    exposure: Exposure


def soak_trace(soak: SoakDrawn, zone: ZoneInfo) -> Picture:
    """The picture of a soak."""
    began = local(soak.start, zone)
    title = f"{soak.name}, soak {soak.id}, {began.day} {began:%b %Y}: temperature in °C, and what counted"
    return Picture(
        title=title,
        described=_described(soak),
        draw=lambda figure, size: _draw(soak, zone, title, figure, size),
        height=lambda size: size.height,
        columns=_COLUMNS,
        rows=list(_rows(soak, zone)),
    )


def _described(soak: SoakDrawn) -> str:
    told = soak.exposure
    bounds = "No temperature is known."
    if told.lowest_celsius is not None and told.highest_celsius is not None:
        bounds = f"Between {told.lowest_celsius:.2f} and {told.highest_celsius:.2f} °C."
    counted = f"{told.credited_seconds / 60:.1f} of {told.needed_seconds / 60:g} minutes counted"
    return f"{bounds} {counted}, with at least {told.min_celsius:g} °C and the lid closed."


def _rows(soak: SoakDrawn, zone: ZoneInfo) -> Iterator[list[Cell]]:
    told = soak.exposure
    for sample in told.samples:
        celsius = None if sample.celsius == POWER_UP_CELSIUS else sample.celsius
        closed = any(_holds(span, sample.at) for span in told.lid)
        counted = told.credited is not None and _holds(told.credited, sample.at)
        minutes = minutes_since(sample.at, soak.start)
        yield [written_whole(sample.at, zone), minutes, celsius, closed, counted]


def _holds(span: Span, at: Micros) -> bool:
    return span.start <= at <= span.end


# ---- drawn ----------------------------------------------------------------------------------------------------------


def _draw(soak: SoakDrawn, zone: ZoneInfo, title: str, figure: Figure, size: Size) -> None:
    above, below = figure.subplots(2, 1, sharex=True, height_ratios=[8, 1])
    margin = max(30 * SECOND, round((soak.end - soak.start) * _MARGIN))
    since, until = Micros(soak.start - margin), Micros(soak.end + margin)
    plain_axes(above, size)
    _draw_limits(above, soak.exposure, size)
    _draw_counted(above, soak.exposure, since)
    _draw_gaps(above, soak.exposure, since)
    _draw_curve(above, soak, since, size)
    _set_celsius(above, soak.exposure)
    _draw_lid(below, soak, since)
    time_axis(below, since, until, zone, size)
    below.set_xlabel(f"time of day ({zone.key})")
    above.set_ylabel("°C")
    head(figure, title, size)
    key(figure, above, size)


def _draw_limits(axes: Axes, told: Exposure, size: Size) -> None:
    line: dict[str, Any] = {"color": INK, "linewidth": size.em * 0.08}
    axes.axhline(told.min_celsius, gid="least", label=f"label's minimum {told.min_celsius:g} °C (line)", **line)
    if told.guard_celsius:
        counts = told.min_celsius + told.guard_celsius
        words = f"counts from {counts:g} °C (dashed)"
        axes.axhline(counts, gid="counts", linestyle=(0, (6, 4)), label=words, **line)


def _draw_counted(axes: Axes, told: Exposure, since: Micros) -> None:
    if told.credited is not None:
        left, right = (minutes_since(at, since) for at in told.credited)
        words = f"counted: {told.credited_seconds / 60:.1f} min (dotted ground)"
        axes.axvspan(
            left, right, facecolor="none", edgecolor=CREDIT, hatch=".", lw=1.5, gid="credited", label=words, zorder=1
        )


def _draw_gaps(axes: Axes, told: Exposure, since: Micros) -> None:
    for number, gap in enumerate(told.gaps):
        left, right = (minutes_since(at, since) for at in gap)
        words = "_" if number else "temperature not known (slanted lines)"
        axes.axvspan(left, right, facecolor="none", edgecolor=SOFT, hatch="//", lw=1, gid=f"gap-{number}", label=words)


def _draw_curve(axes: Axes, soak: SoakDrawn, since: Micros, size: Size) -> None:
    shown = [sample for sample in soak.exposure.samples if sample.celsius != POWER_UP_CELSIUS]
    for number, piece in enumerate(pieces(shown, soak.exposure.gaps)):
        some = thinned(piece, max(2, MOST_POINTS * len(piece) // len(shown)))
        axes.plot(
            [minutes_since(sample.at, since) for sample in some],
            [sample.celsius for sample in some],
            "-o" if len(some) == 1 else "-",
            color=INK,
            linewidth=size.em * 0.17,
            gid=f"curve-{number}",
            label="_" if number else "temperature (thick line)",
        )


def _set_celsius(axes: Axes, told: Exposure) -> None:
    all_of_it = [*_measured(told.samples), told.min_celsius, told.min_celsius + told.guard_celsius]
    low, high = min(all_of_it), max(all_of_it)
    air = max(0.0, _LEAST_SPAN_CELSIUS - (high - low)) / 2 + (high - low) * 0.08
    axes.set_ylim(low - air, high + air)


def _measured(samples: tuple[Sample, ...]) -> Iterator[float]:
    return (sample.celsius for sample in samples if sample.celsius != POWER_UP_CELSIUS)


def _draw_lid(axes: Axes, soak: SoakDrawn, since: Micros) -> None:
    """A bar for each time that the lid was closed."""
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.set_ylim(0, 1)
    axes.set_yticks([0.5], ["lid closed"])
    axes.tick_params(axis="y", length=0)
    axes.grid(visible=True, axis="x", color=GRID)
    axes.set_axisbelow(True)
    spans = [(minutes_since(span.start, since), (span.end - span.start) / (60 * SECOND)) for span in soak.exposure.lid]
    axes.broken_barh(spans, (0.15, 0.7), facecolors=INK, gid="lid")
