"""A soak drawn: temperature and lid over time, what counted of it, and what was not measured.

One drawing for the screen (SVG) and for print (PDF), readable in black and white: what it shows is told apart by shape
and pattern, never by colour.
"""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, floor
from typing import Literal
from xml.etree import ElementTree as ET
from zoneinfo import ZoneInfo

from reportlab.graphics import renderSVG
from reportlab.graphics.charts.lineplots import LinePlot
from reportlab.graphics.shapes import Drawing, Group, Line, Rect, Shape, String
from reportlab.lib.colors import Color, black, white

from dashboard.words import clock, hour, hundredths
from gateway.plain_svg import drop, styles_as_attributes
from gateway.sampled import pieces, thinned
from gateway.soak_log import Exposure, Sample
from gateway.typeface import PLAIN, ems
from rules.readings import POWER_UP_CELSIUS, SECOND, Micros

MOST_POINTS = 1200
"""So many points of a curve are drawn; of more the lowest and the highest of each stretch (ours)."""

_SVG = "{http://www.w3.org/2000/svg}"
_Anchor = Literal["start", "middle", "end"]
_MINUTE = 60 * SECOND
_STEPS_MINUTES = (1, 2, 5, 10, 15, 30, 60, 120, 240, 480, 1440)
_STEPS_CELSIUS = (0.5, 1, 2, 5, 10, 20, 50)
_MOST_STEPS = 8
_LEAST_SPAN_CELSIUS = 3.0
_SHADE = Color(0.86, 0.86, 0.86)
_GRID = Color(0.6, 0.6, 0.6)
_SCREEN_FACE = {PLAIN: {"family": "Liberation Sans, Arial, Helvetica, sans-serif"}}

# Widths of lines in the height of the letters.
_CURVE, _LIMIT, _AXIS, _THIN = 0.17, 0.09, 0.07, 0.04
_DASHES = (0.5, 0.3)


@dataclass(frozen=True, slots=True)
class Size:
    """Of a drawing, in points or CSS pixels; em: height of its type."""

    width: float
    height: float
    em: float


SCREEN, PHONE, PAPER = Size(1160, 470, 17), Size(350, 400, 12.5), Size(500, 240, 8)


@dataclass(frozen=True, slots=True)
class Drawn:
    """What is drawn: a soak from ``start`` to ``end``, as its lid and thermometer told of it."""

    start: Micros
    end: Micros
    exposure: Exposure


def as_svg(soak: Drawn, zone: ZoneInfo, size: Size) -> str:
    """The drawing for a screen; its text is in the screens' own face."""
    return _plain(str(renderSVG.drawToString(draw(soak, zone, size), fontHacks=_SCREEN_FACE)))


def _plain(svg: str) -> str:
    """Styles as attributes, for the pages' content security policy lets no style stand in a document."""
    root = ET.fromstring(svg)  # noqa: S314 - our own
    styles_as_attributes(root)
    drop(root, {f"{_SVG}title", f"{_SVG}desc"})
    return ET.tostring(root, encoding="unicode")


def draw(soak: Drawn, zone: ZoneInfo, size: Size) -> Drawing:
    """The drawing in a size; minutes since the soak's start, and times of day in the site's zone."""
    key = list(_key_items(soak, zone))
    rows = _rows(key, size)
    sheet = _Sheet.of(soak, zone, size, len(rows))
    drawing = Drawing(size.width, size.height)
    for part in (sheet.counted(), sheet.gaps(), sheet.plot(), sheet.lid(), sheet.words(), sheet.key(rows)):
        drawing.add(part)
    return drawing


# ---- the key --------------------------------------------------------------------------------------------------------

_SWATCH_EMS, _BETWEEN_EMS, _ROW_EMS = 2.2, 1.4, 1.5


@dataclass(frozen=True, slots=True)
class _KeyItem:
    """What a sign means; sign: 'curve', 'least', 'counts', 'counted' or 'gap'."""

    sign: str
    words: str

    @property
    def width_ems(self) -> float:
        return _SWATCH_EMS + 0.5 + ems(self.words) + _BETWEEN_EMS


def _key_items(soak: Drawn, zone: ZoneInfo) -> Iterator[_KeyItem]:
    told = soak.exposure
    if told.samples:
        yield _KeyItem("curve", "temperature")
    yield _KeyItem("least", f"label's minimum {hundredths(told.min_celsius)} °C")
    if told.guard_celsius:
        yield _KeyItem("counts", f"counts from {hundredths(told.min_celsius + told.guard_celsius)} °C")
    if told.credited is not None:
        from_to = f"{clock(told.credited.start, zone)} to {clock(told.credited.end, zone)}"
        yield _KeyItem("counted", f"counted: {from_to}")
    if told.gaps:
        yield _KeyItem("gap", "temperature not known")


def _rows(items: Sequence[_KeyItem], size: Size) -> list[list[_KeyItem]]:
    """As many in a row as there is room for."""
    rows: list[list[_KeyItem]] = [[]]
    for item in items:
        used = sum(other.width_ems for other in rows[-1])
        if rows[-1] and (used + item.width_ems) * size.em > size.width:
            rows.append([])
        rows[-1].append(item)
    return rows


# ---- the sheet ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Sheet:
    """Where things stand.

    x0, y0: lower left corner of the plot; wide, high: its size. first, last: ends of the minutes; low, top: of the °C.
    """

    soak: Drawn
    zone: ZoneInfo
    size: Size
    x0: int
    y0: int
    wide: int
    high: int
    first: float
    last: float
    low: float
    top: float
    step: float

    @classmethod
    def of(cls, soak: Drawn, zone: ZoneInfo, size: Size, key_rows: int) -> "_Sheet":
        em = size.em
        low, top, step = _celsius_axis(soak)
        length = max(1.0, (soak.end - soak.start) / _MINUTE)
        margin = max(0.5, length * 0.04)
        left, right, below, above = (round(share * em) for share in (3.2, 1.2, 6.4, key_rows * _ROW_EMS + 2.2))
        wide, high = round(size.width) - left - right, round(size.height) - below - above
        return cls(soak, zone, size, left, below, wide, high, -margin, length + margin, low, top, step)

    def x(self, at: Micros) -> float:
        """Where an instant is, kept inside the plot."""
        share = ((at - self.soak.start) / _MINUTE - self.first) / (self.last - self.first)
        return self.x0 + self.wide * min(1.0, max(0.0, share))

    def at(self, minutes: float) -> Micros:
        return Micros(round(self.soak.start + minutes * _MINUTE))

    def plot(self) -> LinePlot:
        """Both limits, and the temperatures in a piece for each stretch without a gap."""
        told, em = self.soak.exposure, self.size.em
        plot = LinePlot()
        plot.x, plot.y, plot.width, plot.height = self.x0, self.y0, self.wide, self.high
        limits = (told.min_celsius, told.min_celsius + told.guard_celsius)
        plot.data = [
            *([(self.first, celsius), (self.last, celsius)] for celsius in limits),
            *map(self._curve, self._pieces()),
        ]
        for number in range(len(plot.data)):
            plot.lines[number].strokeColor = black
            plot.lines[number].strokeWidth = em * (_LIMIT if number < len(limits) else _CURVE)
        plot.lines[1].strokeDashArray = [em * dash for dash in _DASHES]
        self._set_axes(plot)
        return plot

    def _pieces(self) -> Iterator[tuple[Sample, ...]]:
        shown = [sample for sample in self.soak.exposure.samples if sample.celsius != POWER_UP_CELSIUS]
        first, last = (bisect_left(shown, self.at(m), key=lambda s: s.at) for m in (self.first, self.last))
        inside = shown[first:last]
        for piece in pieces(inside, self.soak.exposure.gaps):
            yield thinned(piece, max(2, MOST_POINTS * len(piece) // len(inside)))

    def _curve(self, piece: Sequence[Sample]) -> list[tuple[float, float]]:
        curve = [((sample.at - self.soak.start) / _MINUTE, sample.celsius) for sample in piece]
        if len(curve) > 1:
            return curve
        ((minutes, celsius),) = curve  # a single sample is a short stroke, for a point has no width
        reach = (self.last - self.first) * 0.004
        return [(minutes - reach, celsius), (minutes + reach, celsius)]

    def _set_axes(self, plot: LinePlot) -> None:
        em, along, up = self.size.em, plot.xValueAxis, plot.yValueAxis
        along.valueMin, along.valueMax, along.valueSteps = self.first, self.last, self._minutes()
        along.labelTextFormat = lambda minutes: f"{minutes:g}\n{hour(self.at(minutes), self.zone)}"
        up.valueMin, up.valueMax = self.low, self.top
        up.valueSteps = self._degrees()
        up.labelTextFormat = lambda celsius: f"{celsius:g}"
        for axis in (along, up):
            axis.labels.fontName, axis.labels.fontSize, axis.labels.leading = PLAIN, em, em * 1.2
            axis.strokeWidth = em * _AXIS
        along.labels.textAnchor = "middle"
        up.visibleGrid, up.gridStrokeWidth, up.gridStrokeColor = 1, em * _THIN, _GRID

    def _minutes(self) -> list[float]:
        """Ticks at whole steps from the start on, as many as have room for a time of day each."""
        most = max(2, floor(self.wide / (ems("00:00") * self.size.em * 1.4)))
        step = next((float(step) for step in _STEPS_MINUTES if self.last / step < most), float(ceil(self.last / most)))
        return [step * n for n in range(int(self.last / step) + 1)]

    def _degrees(self) -> list[float]:
        return [self.low + self.step * n for n in range(round((self.top - self.low) / self.step) + 1)]

    def counted(self) -> Group:
        """The stretch that counted, with a line at each end."""
        group, span = Group(), self.soak.exposure.credited
        if span is None:
            return group
        left, right = self.x(span.start), self.x(span.end)
        group.add(_filled(left, self.y0, right - left, self.high, _SHADE))
        for x in (left, right):
            group.add(self._line(x, self.y0, x, self.y0 + self.high, _LIMIT))
        return group

    def gaps(self) -> Group:
        group = Group()
        for gap in self.soak.exposure.gaps:
            for line in self._hatch(self.x(gap.start), self.y0, self.x(gap.end), self.high):
                group.add(line)
        return group

    def _hatch(self, left: float, y: float, right: float, high: float) -> Iterator[Line]:
        """Slanting lines between two edges, with a line at each."""
        apart = 0.9 * self.size.em
        for n in range(ceil((right - left + high) / apart)):
            foot = left - high + n * apart
            x1, x2 = max(left, foot), min(right, foot + high)
            if x1 < x2:
                yield self._line(x1, y + x1 - foot, x2, y + x2 - foot, _THIN)
        for x in (left, right):
            yield self._line(x, y, x, y + high, _THIN)

    def lid(self) -> Group:
        """A bar for each time that the lid was closed."""
        group, em, y = Group(), self.size.em, 0.5 * self.size.em
        group.add(self._string(0, y + 0.15 * em, "lid", "start"))
        group.add(self._line(self.x0, y, self.x0 + self.wide, y, _THIN))
        for span in self.soak.exposure.lid:
            left, right = self.x(span.start), self.x(span.end)
            group.add(_filled(left, y, right - left, 1.1 * em, black))
            if (ems("closed") + 1) * em < right - left:
                words = self._string((left + right) / 2, y + 0.2 * em, "closed", "middle")
                words.fillColor = white
                group.add(words)
        return group

    def words(self) -> Group:
        """What is measured in what."""
        group, em = Group(), self.size.em
        group.add(self._string(0, self.y0 + self.high + 0.8 * em, "°C", "start"))
        whole = f"minutes since the soak began, and time of day ({self.zone.key})"
        along = whole if ems(whole) * em < self.wide else "minutes, and time of day"
        group.add(self._string(self.x0 + self.wide / 2, 2.4 * em, along, "middle"))
        return group

    def key(self, rows: Sequence[Sequence[_KeyItem]]) -> Group:
        """What each sign means."""
        group, em = Group(), self.size.em
        for number, row in enumerate(rows):
            x, y = 0.0, self.size.height - (number + 1) * _ROW_EMS * em
            for item in row:
                for shape in self._swatch(item.sign, x, y):
                    group.add(shape)
                group.add(self._string(x + (_SWATCH_EMS + 0.5) * em, y, item.words, "start"))
                x += item.width_ems * em
        return group

    def _swatch(self, sign: str, x: float, y: float) -> Iterator[Shape]:
        em, right = self.size.em, x + _SWATCH_EMS * self.size.em
        match sign:
            case "counted":
                yield _filled(x, y - 0.1 * em, right - x, em, _SHADE)
                yield from (self._line(end, y - 0.1 * em, end, y + 0.9 * em, _LIMIT) for end in (x, right))
            case "gap":
                yield from self._hatch(x, y - 0.1 * em, right, em)
            case _:
                line = self._line(x, y + 0.35 * em, right, y + 0.35 * em, _CURVE if sign == "curve" else _LIMIT)
                if sign == "counts":
                    line.strokeDashArray = [em * dash for dash in _DASHES]
                yield line

    def _string(self, x: float, y: float, words: str, anchor: _Anchor) -> String:
        return String(x, y, words, fontName=PLAIN, fontSize=self.size.em, textAnchor=anchor)

    def _line(self, x1: float, y1: float, x2: float, y2: float, width_ems: float) -> Line:
        return Line(x1, y1, x2, y2, strokeColor=black, strokeWidth=width_ems * self.size.em)


def _filled(x: float, y: float, wide: float, high: float, color: Color) -> Rect:
    box = Rect(x, y, wide, high)
    box.fillColor, box.strokeColor = color, None
    return box


# ---- the axis --------------------------------------------------------------------------------------------------------


def _celsius_axis(soak: Drawn) -> tuple[float, float, float]:
    """Its ends and its step: all that was measured, both limits, and some air."""
    told = soak.exposure
    measured = [s.celsius for s in told.samples if s.celsius != POWER_UP_CELSIUS]
    all_of_it = [*measured, told.min_celsius, told.min_celsius + told.guard_celsius]
    low, top = min(all_of_it), max(all_of_it)
    air = max(0.0, _LEAST_SPAN_CELSIUS - (top - low)) / 2 + (top - low) * 0.08
    step = next((step for step in _STEPS_CELSIUS if (top - low + 2 * air) / step <= _MOST_STEPS), 100.0)
    return floor((low - air) / step) * step, ceil((top + air) / step) * step, step
