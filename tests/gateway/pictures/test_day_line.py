"""A day on its time line: what happened, and what was told, at their times."""

import csv
import re
from datetime import datetime
from io import StringIO
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from gateway.pictures.day_line import day_line
from gateway.pictures.size import Size
from gateway.tuned import Day
from gateway.when import local
from rules.readings import Micros
from tests.gateway.answers import day, hours
from tests.gateway.pictures.drawn import (
    LISBON,
    SIZES,
    SVG,
    line_through,
    marks,
)


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
