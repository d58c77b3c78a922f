"""Pictures of answers that are known, and where in a drawing something stands."""

import re
from collections.abc import Callable
from functools import cache
from xml.etree import ElementTree as ET
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from gateway.pictures.day_line import day_line
from gateway.pictures.operating_curve import operating_curve
from gateway.pictures.sheet import Picture
from gateway.pictures.size import PHONE, SCREEN
from gateway.pictures.soak_trace import SoakDrawn, soak_trace
from gateway.tuned import Answer, Day, Point
from rules.exposure import Span
from rules.readings import DAY, Micros
from tests.dashboard.soaks import after, exposure
from tests.gateway.answers import CART_DAYS, answer, day, point

LISBON = ZoneInfo("Europe/Lisbon")
SVG, LINK = "{http://www.w3.org/2000/svg}", "{http://www.w3.org/1999/xlink}href"
GAP = Span(after(300), after(420))
SOAK = SoakDrawn("basin-1.12", "Basin 1", after(0), after(760), exposure(gap=GAP))
SIZES = [SCREEN, PHONE]


def busy_day() -> Day:
    """From midnight to midnight, with as many lanes as a day may have."""
    lane = day().lanes[0]
    lanes = tuple(lane.model_copy(update={"subject": f"cart-{n}"}) for n in range(30))
    since = Micros(int(np.datetime64("2025-11-25T00:00:00").astype(int)) * 1_000_000)
    return Day(on="population:14x30", zone=LISBON.key, since=since, until=Micros(since + DAY), lanes=lanes)


def crowd(count: int) -> Answer:
    """So many settings, of which some hundred are among the best."""
    rng = np.random.default_rng(7)
    spots = zip(rng.integers(60, 181, count).tolist(), rng.integers(0, 300, count).tolist(), strict=True)
    points = tuple(point(float(n), hits, false, best=n % 40 == 0) for n, (hits, false) in enumerate(spots))
    return answer().model_copy(update={"points": points, "suggested": 40})


PICTURES: dict[str, Callable[[], Picture]] = {
    "curve": lambda: operating_curve(answer(days=(day(),))),
    "wide curve": lambda: operating_curve(answer(wide=True)),
    "crowded curve": lambda: operating_curve(crowd(3_000)),
    "day": lambda: day_line(day(), {"cart-1": "Cart 1"}),
    "busy day": lambda: day_line(busy_day(), {}),
    "trace": lambda: soak_trace(SOAK, LISBON),
}


def group(svg: str, gid: str) -> ET.Element:
    root = ET.fromstring(svg)  # noqa: S314 - our own
    return next(element for element in root.iter() if element.get("id") == gid)


def marks(svg: str, gid: str) -> list[tuple[float, float]]:
    """Where the marks of a group are, in px from the upper left."""
    uses = group(svg, gid).iter(f"{SVG}use")
    return [(float(use.get("x", "")), float(use.get("y", ""))) for use in uses]


def path(svg: str, gid: str) -> list[tuple[float, float]]:
    """The corners of the first line of a group."""
    drawn = next(group(svg, gid).iter(f"{SVG}path")).get("d", "")
    numbers = [float(number) for number in re.findall(r"-?\d+(?:\.\d+)?", drawn)]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def line_through(values: list[float], pixels: list[float]) -> tuple[float, float]:
    """Slope and foot of the straight line through the points, which they must lie on to a hundredth of a px."""
    slope, foot = np.polyfit(values, pixels, 1)
    assert [slope * value + foot for value in values] == pytest.approx(pixels, abs=0.01)
    return float(slope), float(foot)


def weekly(point: Point) -> float:
    """False alerts of a cart in a week, from the counts."""
    assert point.judged.false_alerts is not None
    return 7 * point.judged.false_alerts.count / CART_DAYS


def share(point: Point) -> float:
    assert point.judged.detected is not None
    return point.judged.detected.hits / point.judged.detected.of


@cache
def drawn(name: str) -> Picture:
    """The picture of that name."""
    return PICTURES[name]()
