"""A soak as it is drawn: temperatures, and what counted."""

import csv
from dataclasses import replace
from io import StringIO

import pytest

from gateway.pictures.size import Size
from gateway.pictures.soak_trace import soak_trace
from gateway.soak_log import Sample
from rules.readings import POWER_UP_CELSIUS
from tests.dashboard.soaks import after
from tests.gateway.pictures.drawn import (
    GAP,
    LISBON,
    SIZES,
    SOAK,
    line_through,
    path,
)


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
