"""The bench's pictures: what stands where in them is what the numbers say, and nothing else is in the files."""

import csv
import os
import re
import struct
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from io import StringIO
from itertools import combinations, pairwise
from math import log10
from pathlib import Path
from xml.etree import ElementTree as ET
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

from gateway.pictures import sheet
from gateway.pictures.answered import write_pictures
from gateway.pictures.day_line import day_line
from gateway.pictures.operating_curve import MOST_RINGS, Mark, operating_curve
from gateway.pictures.sheet import Picture, shortened, wrapped
from gateway.pictures.size import PHONE, SCREEN, Size
from gateway.pictures.soak_trace import SoakDrawn, soak_trace
from gateway.soak_log import Sample
from gateway.tuned import Answer, Day, Point
from gateway.typeface import ems
from gateway.when import local
from rules.exposure import Span
from rules.readings import DAY, POWER_UP_CELSIUS, Micros
from tests.browser.rendered import luminance
from tests.dashboard.soaks import after, exposure
from tests.gateway.answers import CART_DAYS, FIGURE, HOSTILE, answer, day, hours, point
from tests.rules.feeder import instant

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
EACH = pytest.mark.parametrize("picture", [made() for made in PICTURES.values()], ids=list(PICTURES))


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


# ---- what every picture keeps to ------------------------------------------------------------------------------------


@EACH
@pytest.mark.parametrize("size", SIZES, ids=["screen", "phone"])
def test_a_drawing_is_sound_xml_without_scripts_styles_or_links_to_elsewhere(picture: Picture, size: Size) -> None:
    root = ET.fromstring(picture.svg(size))  # noqa: S314 - our own
    tags = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert tags <= {"svg", "title", "desc", "defs", "g", "path", "use", "clipPath", "rect", "pattern"}
    for element in root.iter():
        assert not {name for name in element.attrib if name == "style" or name.startswith("on")}
        assert element.get(LINK, "#").startswith("#")
    assert (root.get("width"), root.find(f"{SVG}title").text) == (str(size.width), picture.title)  # type: ignore[union-attr]


@pytest.mark.parametrize(("name", "size"), [("trace", SCREEN), ("day", PHONE)])
def test_a_png_has_two_pixels_for_each_px_and_tells_no_date(name: str, size: Size) -> None:
    picture = PICTURES[name]()
    png = picture.png(size)
    # W3C Portable Network Graphics, 11.2.2: width and height are the first two words of IHDR.
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    assert struct.unpack(">II", png[16:24]) == (2 * size.width, 2 * picture.sized(size).height)
    assert b"tIME" not in png
    assert b"tEXt" not in png


def beyond(figure: Figure) -> set[Text]:
    """Names of ticks that lie outside of what is shown, which matplotlib keeps and does not draw."""
    found: set[Text] = set()
    for axis in (one for axes in figure.axes for one in (axes.xaxis, axes.yaxis)):
        low, high = sorted(axis.get_view_interval())
        found |= {tick.label1 for tick in axis.get_major_ticks() if not low <= tick.get_loc() <= high}
    return found


@EACH
@pytest.mark.parametrize("size", SIZES, ids=["screen", "phone"])
def test_no_word_is_cut_off_at_the_edge_or_lies_on_another(picture: Picture, size: Size) -> None:
    size = picture.sized(size)
    with sheet._drawing(size) as figure:
        picture.draw(figure, size)
        figure.draw_without_rendering()  # type: ignore[no-untyped-call]
        boxes = [
            (words.get_text(), words.get_window_extent().extents)
            for words in figure.findobj(Text)
            if words.get_text() and words.get_visible() and words not in beyond(figure)
        ]
    assert len(boxes) > 8
    out = [
        words for words, (x0, y0, x1, y1) in boxes if min(x0, y0) < -1 or x1 > size.width + 1 or y1 > size.height + 1
    ]
    assert out == []
    # Words may touch in the height of their lines; a fifth of a letter is left for that.
    over = [
        (one, other)
        for (one, (x0, y0, x1, y1)), (other, (u0, v0, u1, v1)) in combinations(boxes, 2)
        if min(x1, u1) - max(x0, u0) > size.em / 5 and min(y1, v1) - max(y0, v0) > size.em / 5
    ]
    assert over == []


def test_the_same_numbers_give_the_same_bytes_in_another_process() -> None:
    # Strings hash differently in each process unless told (Python's -R).
    code = (
        "import sys; from tests.gateway.test_pictures import PICTURES;"
        "p = PICTURES['curve'](); sys.stdout.buffer.write(p.svg().encode() + p.png() + p.csv().encode())"
    )
    picture = PICTURES["curve"]()
    here = picture.svg().encode() + picture.png() + picture.csv().encode()
    environment = {**os.environ, "PYTHONHASHSEED": "12345"}
    there = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, check=True).stdout  # noqa: S603
    assert there == here
    assert picture.svg().encode() == here[: len(picture.svg().encode())]


def test_every_colour_of_a_word_or_mark_stands_out_from_the_ground() -> None:
    # WCAG 2.2, 1.4.3: 4.5:1.
    def bright(color: str) -> float:
        red, green, blue = (int(color[at : at + 2], 16) for at in (1, 3, 5))
        return luminance(f"rgb({red}, {green}, {blue})")

    for color in (sheet.INK, sheet.SOFT, sheet.PRESENT, sheet.SUGGESTED, sheet.WRONG, sheet.CREDIT):
        assert (bright(sheet.GROUND) + 0.05) / (bright(color) + 0.05) >= 4.5


def test_what_things_are_called_is_drawn_as_it_is_and_never_read_as_code_or_formula() -> None:
    names = {"cart-1": f"{HOSTILE} $x^2_3$ $\\frac{{a 山"}
    picture = day_line(day(), names)
    svg = picture.svg()
    said = ET.fromstring(svg).find(f"{SVG}desc")  # noqa: S314 - our own
    assert said is not None
    assert said.text is not None
    assert said.text.startswith(names["cart-1"])
    assert "<img" not in svg
    assert picture.png(PHONE)


def test_words_are_broken_between_words_and_shortened_at_their_end() -> None:
    assert wrapped("one two three", ems("one two ")).splitlines() == ["one two", "three"]
    short = shortened("Reprocessing" * 3, 5)
    assert short.endswith("…")
    assert ems(short) <= 5


# ---- the operating curve --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES, ids=["screen", "phone"])
def test_every_setting_stands_where_its_numbers_say(size: Size) -> None:
    asked = answer()
    svg = operating_curve(asked).svg(size)
    best = sorted((p for p in asked.points if p.best), key=weekly)
    chosen = asked.chosen
    assert chosen is not None
    points = [*(p for p in asked.points if not p.best), *best, asked.present, chosen]
    places = [at for gid in ("tried", "best", "present", "suggested") for at in marks(svg, gid)]
    assert len(places) == len(points) == 32
    across, _ = line_through([weekly(p) for p in points], [x for x, _ in places])
    up, _ = line_through([share(p) for p in points], [y for _, y in places])
    assert (across > 0, up < 0) == (True, True)


@pytest.mark.parametrize("size", SIZES, ids=["screen", "phone"])
def test_of_very_many_settings_so_many_are_drawn_that_each_is_near_one_and_that_is_said(size: Size) -> None:
    asked = crowd(3_000)
    picture = operating_curve(asked)
    figure = picture.sized(size)
    svg = picture.svg(size)
    rings, best = marks(svg, "tried"), marks(svg, "best")
    assert 100 < len(rings) <= MOST_RINGS
    tried = [p for p in asked.points if not p.best]
    across = line_through(
        [weekly(asked.present), weekly(asked.points[40])],
        [x for gid in ("present", "suggested") for x, _ in marks(svg, gid)],
    )
    up = line_through(
        [share(asked.present), share(asked.points[40])],
        [y for gid in ("present", "suggested") for _, y in marks(svg, gid)],
    )
    # A field is a 25th of the drawing wide and a 16th high, and the drawing no larger than the picture.
    for p in tried:
        x, y = across[0] * weekly(p) + across[1], up[0] * share(p) + up[1]
        assert any(abs(x - a) <= figure.width / 25 and abs(y - b) <= figure.height / 16 for a, b in rings)
    assert len(best) == len({(weekly(p), share(p)) for p in asked.points if p.best})
    with sheet._drawing(figure) as drawing:
        picture.draw(drawing, figure)
        said = [words.get_text() for words in drawing.findobj(Text)]
    assert f"tried, {len(tried):,} (a ring for all that are close)" in said


def test_intervals_reach_from_end_to_end() -> None:
    asked = answer()
    svg = operating_curve(asked).svg()
    chosen = asked.chosen
    assert chosen is not None
    mark = Mark.of(chosen.judged)
    assert mark is not None
    points = [asked.present, chosen]
    places = [*marks(svg, "present"), *marks(svg, "suggested")]
    across = line_through([weekly(p) for p in points], [x for x, _ in places])
    up = line_through([share(p) for p in points], [y for _, y in places])
    false, told = chosen.judged.false_alerts, chosen.judged.detected
    assert false is not None
    assert told is not None
    assert [x for x, _ in path(svg, "suggested-interval-x")] == pytest.approx(
        [across[0] * 7 * end + across[1] for end in (false.low, false.high)], abs=0.01
    )
    assert [y for _, y in path(svg, "suggested-interval-y")] == pytest.approx(
        [up[0] * end + up[1] for end in (told.low, told.high)], abs=0.01
    )
    (goal, _), _ = path(svg, "goal")
    assert goal == pytest.approx(across[0] * 1 + across[1], abs=0.01)


def test_figures_that_lie_far_apart_are_drawn_evenly_in_their_logarithm_with_room_for_none() -> None:
    asked = answer(wide=True)
    svg = operating_curve(asked).svg()
    best = sorted((p for p in asked.points if p.best), key=weekly)
    placed = list(zip([weekly(p) for p in best], [x for x, _ in marks(svg, "best")], strict=True))
    positive = [(log10(value), x) for value, x in placed if value > 0.02]
    line_through([value for value, _ in positive], [x for _, x in positive])
    none = [x for value, x in placed if value == 0]
    assert none
    assert max(none) < min(x for _, x in positive) - 20


def test_what_nothing_beats_is_joined_by_a_line_that_never_falls() -> None:
    heights = [y for _, y in path(operating_curve(answer()).svg(), "front")]
    assert all(later <= before for before, later in pairwise(heights))


@pytest.mark.parametrize(("held_out", "keeps"), [(False, True), (True, False), (False, False)])
def test_what_there_is_not_is_not_drawn(held_out: bool, keeps: bool) -> None:  # noqa: FBT001 - parametrized
    svg = operating_curve(answer(held_out=held_out, keeps=keeps)).svg()
    ids = {element.get("id") for element in ET.fromstring(svg).iter()}  # noqa: S314 - our own
    assert ("suggested" in ids, "present-held-out" in ids) == (keeps, held_out)
    assert ("suggested-held-out" in ids) is (keeps and held_out)


def test_the_table_of_the_curve_has_every_number() -> None:
    asked = answer()
    text = operating_curve(asked).csv()
    assert text.count("\r\n") == len(text.splitlines())  # RFC 4180, 2
    rows = list(csv.DictReader(StringIO(text, newline="")))
    assert len(rows) == 1 + 30 + 2
    assert [(row["judged_on"], row["setting"]) for row in rows if row["setting"]] == [
        ("chosen by", "present"),
        ("chosen by", "suggested"),
        ("held out", "present"),
        ("held out", "suggested"),
    ]
    for row, tried in zip(rows[1:31], asked.points, strict=True):
        assert float(row[FIGURE]) == tried.values[FIGURE]
        assert float(row["detected_share"]) == pytest.approx(share(tried), rel=1e-11)
        assert float(row["false_per_cart_week"]) == pytest.approx(weekly(tried), rel=1e-11)
        assert tried.judged.false_alerts is not None
        assert float(row["false_per_cart_week_high"]) == pytest.approx(7 * tried.judged.false_alerts.high, rel=1e-11)
        assert row["told_after_p95_low"] == ""


def test_where_no_truth_is_known_there_is_a_table_and_no_mark() -> None:
    asked = answer(keeps=False, held_out=False)
    unknown = {"detected": None, "false_alerts": None, "delay": None}
    points = tuple(p.model_copy(update={"judged": p.judged.model_copy(update=unknown)}) for p in asked.points)
    real = asked.model_copy(update={"points": points, "present": points[1]})
    picture = operating_curve(real)
    assert "nothing to judge by" in picture.described
    assert "<use" not in picture.svg().partition('id="tried"')[2][:200]
    row = next(csv.DictReader(StringIO(picture.csv(), newline="")))
    assert (row["detected"], row["false_alerts"], row["alerts"]) == ("", "", str(points[1].judged.alerts.count))


# ---- a day ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES, ids=["screen", "phone"])
def test_what_happened_and_what_was_told_stand_at_their_times(size: Size) -> None:
    svg = day_line(day(), {}).svg(size)
    real = [x for x, _ in marks(svg, "lane-0-present-real")]
    false = [x for x, _ in marks(svg, "lane-0-present-false")]
    proposed = [x for x, _ in marks(svg, "lane-0-suggested-real")]
    slope, foot = line_through([3.25, 23, 18, 3.5], [*real, *false, *proposed])
    root = ET.fromstring(svg)  # noqa: S314 - our own
    bars = [element for element in root.iter() if element.get("id") == "lane-0-truth"]
    ends = []
    for bar in bars:
        drawn = next(bar.iter(f"{SVG}path")).get("d", "")
        xs = [float(number) for number in re.findall(r"[ML] (-?[\d.]+)", drawn)]
        ends.append((min(xs), max(xs)))
    expected = [(slope * start + foot, slope * end + foot) for start, end in ((3, 4), (15, 15.5), (22, 24))]
    assert [x for pair in ends for x in pair] == pytest.approx([x for pair in expected for x in pair], abs=0.02)


def test_bars_that_were_missed_are_hatched_and_those_detected_are_full() -> None:
    root = ET.fromstring(day_line(day(), {}).svg())  # noqa: S314 - our own
    bars = [element for element in root.iter() if element.get("id") == "lane-0-truth"]
    fills = [next(bar.iter(f"{SVG}path")).get("fill", "") for bar in bars]
    assert [fill.startswith("url(#") for fill in fills] == [False, True, True]


@pytest.mark.parametrize("begin", ["2025-11-25", "2025-03-30", "2025-10-26"])
def test_ticks_stand_at_whole_hours_of_the_clocks_of_the_site_on_days_of_change_too(begin: str) -> None:
    # In Lisbon clocks went forward on 30 March 2025 at 01:00 and back on 26 October 2025 at 02:00 (tz database).
    since = Micros(int(np.datetime64(f"{begin}T00:00:00").astype(int)) * 1_000_000)
    lane = day().lanes[0]
    hour = 3_600_000_000
    starts = [{"start": since + at * hour, "end": since + (at + 1) * hour} for at in (0, 20)]
    two = tuple(lane.truths[0].model_copy(update=times) for times in starts)
    shown = Day(
        on="x",
        zone=LISBON.key,
        since=since,
        until=Micros(since + 86_400_000_000),
        lanes=(lane.model_copy(update={"truths": two, "present": (), "suggested": ()}),),
    )
    svg = day_line(shown, {}).svg()
    root = ET.fromstring(svg)  # noqa: S314 - our own
    bars = [min(float(x) for x in re.findall(r"[ML] (-?[\d.]+)", next(e.iter(f"{SVG}path")).get("d", "")))
            for e in root.iter() if e.get("id") == "lane-0-truth"]  # fmt: skip
    slope, foot = line_through([0, 20], bars)
    ticks = [e for e in root.iter() if (e.get("id") or "").startswith("xtick_")]
    at = [(float(next(tick.iter(f"{SVG}use")).get("x", "")) - foot) / slope for tick in ticks]
    clocks = [local(Micros(since + round(one * 3600) * 1_000_000), LISBON) for one in at]
    assert len(clocks) >= 8
    assert {(clock.minute, clock.second, clock.hour % 2) for clock in clocks} == {(0, 0, 0)}


def test_the_table_of_a_day_has_each_truth_and_each_alert() -> None:
    rows = list(csv.DictReader(StringIO(day_line(day("=cart"), {}).csv(), newline="")))
    assert [row["outcome"] for row in rows if row["what"] == "went wrong" and row["figures"] == "suggested"] == [
        "detected",
        "missed",
        "missed",
    ]
    alerts = [(row["figures"], row["start"], row["outcome"]) for row in rows if row["what"] == "alert"]
    assert alerts[0] == ("present", local(hours(3.25), LISBON).isoformat(timespec="seconds"), "real")
    assert [outcome for _, _, outcome in alerts] == ["real", "false", "real", "real"]
    assert {row["subject"] for row in rows} == {"'=cart"}  # no formula for a spreadsheet


def test_where_nobody_knows_the_truth_alerts_are_dots_and_not_called_right_or_wrong() -> None:
    lane = day().lanes[0]
    unknown = tuple(one.model_copy(update={"real": None}) for one in lane.present)
    shown = day().model_copy(
        update={"lanes": (lane.model_copy(update={"truths": (), "present": unknown, "suggested": ()}),)}
    )
    picture = day_line(shown, {})
    assert len(marks(picture.svg(), "lane-0-present-not-known")) == 3
    assert "present 3 alerts" in picture.described


def test_a_day_is_told_by_the_clocks_of_where_it_was_and_not_of_whoever_looks() -> None:
    # Tokyo is nine hours ahead of UTC all year (tz database), Lisbon with it in November.
    there = day().model_copy(update={"zone": "Asia/Tokyo"})
    rows = list(csv.DictReader(StringIO(day_line(there, {}).csv(), newline="")))
    here = list(csv.DictReader(StringIO(day_line(day(), {}).csv(), newline="")))
    starts = [datetime.fromisoformat(each[0]["start"]) for each in (rows, here)]
    assert starts[0] == starts[1]
    assert (starts[0].hour - starts[1].hour) % 24 == 9
    assert "(Asia/Tokyo)" in day_line(there, {}).title


# ---- as files -------------------------------------------------------------------------------------------------------


def test_days_of_an_earlier_answer_do_not_stay_beside_those_of_a_new_one(tmp_path: Path) -> None:
    assert write_pictures(answer(days=(day(), day())), tmp_path) == ["curve", "day-1", "day-2"]
    assert write_pictures(answer(days=(day(),)), tmp_path) == ["curve", "day-1"]
    expected = {f"{name}.{ending}" for name in ("curve", "day-1") for ending in ("svg", "png", "csv")}
    assert {path.name for path in tmp_path.iterdir()} == expected
    assert (tmp_path / "curve.csv").read_bytes() == operating_curve(answer()).csv().encode()


def test_of_days_of_which_nobody_knows_the_truth_the_curve_has_numbers_and_no_drawing(tmp_path: Path) -> None:
    unknown = {"detected": None, "false_alerts": None, "delay": None}
    asked = answer(keeps=False, held_out=False)
    points = tuple(p.model_copy(update={"judged": p.judged.model_copy(update=unknown)}) for p in asked.points)
    write_pictures(asked.model_copy(update={"points": points, "present": points[0]}), tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["curve.csv"]


# ---- a soak ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES, ids=["screen", "phone"])
def test_temperatures_and_what_counted_stand_where_they_were_measured(size: Size) -> None:
    svg = soak_trace(SOAK, LISBON).svg(size)
    told = SOAK.exposure
    before = [s for s in told.samples if s.at <= GAP.start]
    behind = [s for s in told.samples if s.at >= GAP.end]
    drawn = [path(svg, "curve-0"), path(svg, "curve-1")]
    ends = [before[0], before[-1], behind[0], behind[-1]]
    places = [drawn[0][0], drawn[0][-1], drawn[1][0], drawn[1][-1]]
    slope, foot = line_through([float(s.at - after(0)) for s in ends], [x for x, _ in places])
    line_through([s.celsius for s in ends], [y for _, y in places])
    corners = [x for x, _ in path(svg, "credited")]
    assert (min(corners), max(corners)) == pytest.approx((foot, slope * float(after(760) - after(0)) + foot), abs=0.02)


def test_the_table_of_a_soak_tells_lid_and_credit_of_each_temperature() -> None:
    powered = replace(SOAK.exposure, samples=(*SOAK.exposure.samples, Sample(after(800), POWER_UP_CELSIUS)))
    rows = list(csv.DictReader(StringIO(soak_trace(replace(SOAK, exposure=powered), LISBON).csv(), newline="")))
    assert len(rows) == len(powered.samples)
    assert (rows[0]["minutes"], rows[0]["counted"], rows[0]["lid_closed"]) == (f"{-10 / 60:.12g}", "no", "no")
    assert (rows[1]["celsius"], rows[1]["counted"]) == ("21.4", "yes")
    assert rows[-1]["celsius"] == ""  # what a thermometer says before it has measured is no temperature


def test_a_soak_that_nothing_is_known_of_is_drawn_as_such() -> None:
    nothing = replace(
        SOAK.exposure,
        samples=(),
        lid=(),
        credited=None,
        credited_seconds=0.0,
        lowest_celsius=None,
        highest_celsius=None,
    )
    picture = soak_trace(replace(SOAK, exposure=nothing), LISBON)
    assert picture.described.startswith("No temperature is known. 0.0 of 12 minutes counted")
    assert "curve-0" not in picture.svg()


def test_answers_come_back_from_their_json_with_their_days() -> None:
    asked = answer(days=(day(),))
    assert Answer.model_validate_json(asked.model_dump_json()) == asked
    assert asked.days[0].since == instant(0)
