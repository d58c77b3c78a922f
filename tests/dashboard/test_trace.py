"""A soak's drawing: where things stand in it, and what is not drawn."""

from xml.etree import ElementTree as ET
from zoneinfo import ZoneInfo

import pytest

from dashboard.trace import MOST_POINTS, PAPER, PHONE, SCREEN, Drawn, Size, as_svg
from gateway.sampled import pieces, thinned
from gateway.soak_log import Exposure, Sample
from rules.exposure import Span
from rules.readings import POWER_UP_CELSIUS
from tests.dashboard.soaks import after, exposure

LISBON = ZoneInfo("Europe/Lisbon")
SVG = "{http://www.w3.org/2000/svg}"
GAP = Span(after(300), after(420))


def drawn(told: Exposure, seconds: float = 760) -> Drawn:
    return Drawn(after(0), after(seconds), told)


def words(svg: str) -> list[str]:
    return [text.text or "" for text in ET.fromstring(svg).iter(f"{SVG}text")]  # noqa: S314 - our own


def lines(svg: str) -> list[list[tuple[float, float]]]:
    """The label's minimum, what counts, and the curve's pieces: each as its points in the drawing."""
    told = [line.get("points", "") for line in ET.fromstring(svg).iter(f"{SVG}polyline")]  # noqa: S314 - our own
    return [[(float(x), float(y)) for x, y in map(str.split, points.split(","))] for points in told]


@pytest.mark.parametrize("size", [SCREEN, PHONE, PAPER])
def test_no_line_is_drawn_over_what_was_not_measured(size: Size) -> None:
    whole, broken = (lines(as_svg(drawn(exposure(gap=gap)), LISBON, size))[2:] for gap in (None, GAP))
    assert (len(whole), len(broken)) == (1, 2)
    left, right = sorted(broken)
    # 300 s and 420 s of 760 s, wherever the axis begins: distances in the drawing are in the ratio of the times.
    (from_0, to_760) = (whole[0][1][0], whole[0][-2][0])
    assert (left[-1][0] - from_0) / (to_760 - from_0) == pytest.approx(300 / 760, abs=0.002)
    assert (right[0][0] - from_0) / (to_760 - from_0) == pytest.approx(420 / 760, abs=0.002)


def test_a_curve_stands_above_a_limit_by_what_it_is_warmer() -> None:
    least, counts, curve = (line[0][1] for line in lines(as_svg(drawn(exposure()), LISBON, SCREEN)))
    # The label asks for 20 °C, 20.5 °C counts, and the first sample is at 21.48 °C.
    assert (curve - least) / (counts - least) == pytest.approx(1.48 / 0.5, rel=0.001)


def test_times_of_day_are_the_sites_and_minutes_count_from_the_start() -> None:
    said = words(as_svg(drawn(exposure()), ZoneInfo("Asia/Kolkata"), SCREEN))
    # 14:03:20 UTC is 19:33:20 in India, UTC+05:30 (IANA time zone database).
    assert {"0", "19:33", "5", "19:38", "counted: 19:33:20 to 19:46:00"} <= set(said)


def test_the_key_names_only_what_is_drawn() -> None:
    said = " ".join(words(as_svg(drawn(exposure(gap=GAP)), LISBON, SCREEN)))
    assert "temperature not known" in said
    assert "counts from 20.5 °C" in said
    nothing = Exposure((), (Span(after(0), after(60)),), (Span(after(0), after(60)),), None, None, None, 0, 720, 20, 0)
    said = " ".join(words(as_svg(drawn(nothing, 60), LISBON, SCREEN)))
    assert "counted" not in said
    assert "counts from" not in said
    assert "temperature not known" in said


def test_the_power_up_value_of_a_thermometer_is_not_drawn() -> None:
    told = exposure()
    odd = Exposure(**{f: getattr(told, f) for f in told.__slots__} | {
        "samples": (*told.samples, Sample(after(765), POWER_UP_CELSIUS))
    })  # fmt: skip
    assert as_svg(drawn(odd), LISBON, SCREEN) == as_svg(drawn(told), LISBON, SCREEN)


def test_of_many_samples_the_lowest_and_the_highest_stay() -> None:
    many = [Sample(after(at), 21.0 + (at % 7) / 100) for at in range(100_000)]
    many[54_321], many[54_322] = Sample(after(54_321), 3.0), Sample(after(54_322), 60.0)
    kept = thinned(many, MOST_POINTS)
    assert len(kept) <= MOST_POINTS + 2
    assert {3.0, 60.0} <= {sample.celsius for sample in kept}
    assert (kept[0], kept[-1]) == (many[0], many[-1])
    assert [s.at for s in kept] == sorted(s.at for s in kept)


def test_pieces_are_all_samples_in_order() -> None:
    samples = exposure(gap=GAP).samples
    split = list(pieces(samples, [GAP]))
    assert [sample for piece in split for sample in piece] == list(samples)
    assert len(split) == 2


def test_no_style_stands_in_the_drawing_as_no_policy_would_let_it() -> None:
    # Content Security Policy level 3, 6.7.3.4: without 'unsafe-inline' style attributes are not applied.
    root = ET.fromstring(as_svg(drawn(exposure(gap=GAP)), LISBON, SCREEN))  # noqa: S314 - our own
    assert [element.tag for element in root.iter() if element.tag.endswith("style") or "style" in element.attrib] == []
    assert {line.get("fill") for line in root.iter(f"{SVG}polyline")} == {"none"}


def test_the_same_soak_gives_the_same_bytes() -> None:
    assert as_svg(drawn(exposure()), LISBON, PAPER) == as_svg(drawn(exposure()), LISBON, PAPER)
