"""The operating curve: every mark stands where its numbers say."""

import csv
from io import StringIO
from itertools import pairwise
from math import log10
from xml.etree import ElementTree as ET

import pytest
from matplotlib.text import Text

from gateway.pictures import sheet
from gateway.pictures.operating_curve import MOST_RINGS, Mark, operating_curve
from gateway.pictures.size import Size
from tests.gateway.answers import FIGURE, answer
from tests.gateway.pictures.drawn import (
    SIZES,
    crowd,
    line_through,
    marks,
    path,
    share,
    weekly,
)


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
