"""Records are alike by what happened: one alert more or less changes the numbers of all after it, and nothing else."""

from pathlib import Path
from zoneinfo import ZoneInfo

from gateway.likeness import Difference, Likeness, likeness
from rules.alert_events import AlertAcknowledged, AlertEvent, AlertOver, AlertRaised
from rules.alert_words import Priority
from rules.readings import SECOND, Micros
from tests.gateway.sharing.alerts_of import alerts_of

UTC = ZoneInfo("UTC")


def at(second: int) -> Micros:
    return Micros(second * SECOND)


def raised(second: int, number: int, subject: str) -> AlertRaised:
    return AlertRaised(
        at=at(second),
        alert=f"alert-{number}",
        rule="probe-to-inspect",
        subject=subject,
        priority=Priority.MEDIUM,
        text="",
        advice="",
    )


def answered(second: int, number: int, page: int) -> list[AlertEvent]:
    alert = f"alert-{number}"
    return [
        AlertAcknowledged(at=at(second), alert=alert, who="person-1", page=f"page-{page}"),
        AlertOver(at=at(second), alert=alert, why="acknowledged"),
    ]


def test_an_alert_that_is_missing_is_the_only_difference_though_all_later_numbers_differ() -> None:
    one, two, three = "probe probe-1", "probe probe-2", "probe probe-3"
    there = [raised(1, 1, one), raised(5, 2, two), raised(9, 3, three), *answered(12, 3, 7)]
    here = [raised(1, 1, one), raised(9, 2, three), *answered(12, 2, 6)]
    found = likeness(there, here)
    assert (found.same, found.there_only, found.here_only, found.differ) == (4, 1, 0, 1)
    assert found.first is not None
    assert found.first.told(UTC) == (
        "at 1970-01-01 00:00:05, probe-to-inspect of probe probe-2 was raised at its origin, and not here"
    )
    back = likeness(here, there)
    assert (back.there_only, back.here_only) == (0, 1)
    assert back.first is not None
    assert back.first.told(UTC).endswith("was raised here, and not at its origin")


def test_an_answer_to_another_alert_is_a_difference_though_its_number_is_the_same() -> None:
    one, two = "probe probe-1", "probe probe-2"
    there = [raised(1, 1, one), raised(1, 2, two), *answered(5, 1, 1)]
    here = [raised(1, 1, two), raised(1, 2, one), *answered(5, 1, 1)]
    found = likeness(there, here)
    assert (found.same, found.there_only, found.here_only) == (2, 2, 2)
    assert found.first is not None
    assert found.first.told(UTC) == (
        "at 1970-01-01 00:00:05, probe-to-inspect of probe probe-1 was acknowledged by person-1 at its origin,"
        " while probe-to-inspect of probe probe-2 was acknowledged by person-1 here"
    )


def test_each_event_of_a_record_is_told_in_words_of_one_line_without_its_number(origin: Path) -> None:
    events = alerts_of(origin)
    assert likeness(events, events) == Likeness(len(events), 0, 0, None)
    missing = [likeness([event], []).first for event in events]
    kinds = {difference.there.kind for difference in missing if difference is not None and difference.there is not None}
    assert kinds == {event.kind for event in events}
    for difference in missing:
        assert difference is not None
        said = difference.told(UTC)
        assert "{" not in said
        assert "\n" not in said


def test_what_a_stranger_wrote_into_a_file_gives_a_terminal_no_orders() -> None:
    event = raised(1, 1, "probe \x1b[2J" + "x" * 10_000)
    said = Difference(at(1), event, None).told(UTC)
    assert "\x1b" not in said
    assert len(said) < 300
