"""Times as people write them, in the zone of a site."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from gateway.when import WhenError, instant_of, local, written, written_whole
from rules.readings import SECOND, Micros

LISBON, KOLKATA = ZoneInfo("Europe/Lisbon"), ZoneInfo("Asia/Kolkata")
NOON = Micros(int(datetime(2026, 3, 1, 12, 0, tzinfo=UTC).timestamp()) * SECOND)


@pytest.mark.parametrize(
    ("text", "zone"),
    [
        ("2026-03-01 12:00", LISBON),  # at UTC in winter
        ("2026-03-01T12:00:00", LISBON),
        ("2026-03-01 17:30", KOLKATA),  # at +05:30
        ("2026-03-01T12:00Z", KOLKATA),
        ("2026-03-01T14:00+02:00", KOLKATA),
    ],
)
def test_a_time_without_offset_is_local_to_the_site(text: str, zone: ZoneInfo) -> None:
    assert instant_of(text, zone) == NOON


def test_what_is_no_time_is_told_with_what_was_expected() -> None:
    with pytest.raises(WhenError, match="'yesterday' is no time; expected such as '2026-03-01 14:05'"):
        instant_of("yesterday", LISBON)


@pytest.mark.parametrize("text", ["0001-01-01T00:00+14:00", "9999-12-31T23:59-10:00", "1970-12-31", "2200-01-01"])
def test_a_time_too_far_off_to_be_told_in_every_zone_is_refused(text: str) -> None:
    with pytest.raises(WhenError, match=r"lies too far off; expected a time from 1971 to 2199\."):
        instant_of(text, LISBON)


@pytest.mark.parametrize(
    ("text", "what", "offsets"),
    [
        # Clocks in the European Union change at 01:00 UTC on the last Sunday of March and of October (2000/84/EC).
        ("2026-03-29 01:30", "never", r"\+0000 or \+0100"),
        ("2026-10-25 01:30", "twice", r"\+0100 or \+0000"),
    ],
)
def test_a_time_that_the_clocks_skipped_or_showed_twice_needs_an_offset(text: str, what: str, offsets: str) -> None:
    with pytest.raises(WhenError, match=f"showed '{text}' {what}, .* {offsets}"):
        instant_of(text, LISBON)


def test_with_its_offset_it_is_clear() -> None:
    first, second = (instant_of(f"2026-10-25T01:30{offset}", LISBON) for offset in ("+01:00", "+00:00"))
    assert second - first == 3600 * SECOND


def test_a_time_is_written_local_or_so_that_it_means_the_same_everywhere() -> None:
    assert written(NOON, KOLKATA) == "2026-03-01 17:30:00"
    assert written_whole(NOON, KOLKATA) == "2026-03-01T17:30:00+05:30"
    assert datetime.fromisoformat(written_whole(NOON, LISBON)) == local(NOON, KOLKATA)


def test_the_hour_that_comes_twice_is_written_with_its_offset() -> None:
    # The last Sunday of October, 01:00 UTC (Directive 2000/84/EC): without it nobody could tell which was meant.
    first, second = (instant_of(f"2026-10-25T01:30{offset}", LISBON) for offset in ("+01:00", "+00:00"))
    assert written(first, LISBON) == "2026-10-25 01:30:00 (UTC+0100)"
    assert written(second, LISBON) == "2026-10-25 01:30:00 (UTC+0000)"


def test_the_fraction_of_a_second_is_kept() -> None:
    assert instant_of("2026-03-01T12:00:00.250001Z", LISBON) - NOON == 250_001
