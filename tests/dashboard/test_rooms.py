"""What the list of basins says of the air."""

from dataclasses import replace
from zoneinfo import ZoneInfo

from dashboard.pages import BasinsPage
from dashboard.rooms import room_view
from gateway.hub import Feed
from rules.air import clearance_minutes, limits_of
from rules.picture import RoomPicture
from rules.readings import SensorId
from rules.vapour import Trend
from tests.dashboard.pictures import NOON, basin, picture

UTC = ZoneInfo("UTC")


def room(
    ppm: float | None = 0.1234,
    trend: Trend | None = Trend.RISING,
    *chemistries: str,
    changes: float | None = None,
) -> RoomPicture:
    return RoomPicture(
        sensor=SensorId("soak-room/vapour"),
        name="Soak room",
        ppm=ppm,
        measured=None if ppm is None else NOON,
        trend=trend,
        chemistries=chemistries,
        limits=limits_of(chemistries),
        air_changes_per_hour=changes,
        clear_minutes=() if changes is None else tuple(clearance_minutes(changes, share) for share in (0.99, 0.999)),
    )


def page(*rooms: RoomPicture) -> str:
    shown = picture(basin())
    return BasinsPage("North", UTC).html(Feed(replace(shown, rooms=rooms)), NOON)


def test_a_reading_is_told_with_its_trend() -> None:
    view = room_view(room())
    assert (view.reading, view.trend) == ("0.123 ppm", "rising over the last 15 min")


def test_without_enough_readings_the_trend_is_not_known_yet_and_without_any_nothing_is() -> None:
    assert room_view(room(0.0, None)).trend == "trend not known yet"
    assert (room_view(room(None, None)).reading, room_view(room(None, None)).trend) == ("not known", "")


def test_each_limit_is_told_with_what_it_is_meant_for_and_its_source() -> None:
    # CDC 2008 and NIOSH as in tests/rules/test_air.py
    assert room_view(room(0.1, None, "glutaraldehyde 2.4 %")).limits == (
        "glutaraldehyde: 0.2 ppm, ceiling (NIOSH REL, 74 FR 47595 (2009))",
        "glutaraldehyde: 0.05 ppm, ceiling (ACGIH, via CDC 2008, Table 4)",
    )


def test_a_chemistry_without_a_listed_limit_says_so() -> None:
    assert room_view(room(0.1, None, "ortho-phthalaldehyde 0.55 %")).limits == (
        "No limit is listed for ortho-phthalaldehyde 0.55 %.",
    )


def test_the_time_to_clear_is_told_where_the_air_changes_are_known() -> None:
    # CDC 2003 environmental infection control guideline, Table B.1 (secondary)
    said = room_view(room(changes=12)).clears
    assert said.startswith(
        "At 12 air changes an hour a vapour has cleared by 99 % after 23 min and 99.9 % after 35 min,"
    )
    assert room_view(room()).clears == ""


def test_the_page_shows_it_with_the_caution_and_never_as_a_comparison() -> None:
    html = page(room(5.0, Trend.STEADY, "hydrogen peroxide 2.0 %"))
    assert "A trend only: a low-cost gas sensor cannot show that a limit is kept." in html
    assert "Soak room" in html
    assert "hydrogen peroxide: 1 ppm, time-weighted average (OSHA, via CDC 2008)" in html


def test_a_site_without_a_vapour_sensor_says_nothing_of_vapour() -> None:
    assert "trend only" not in page()
