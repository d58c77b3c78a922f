"""The journal played again: still true, and what another site file would have said."""

from collections.abc import Sequence
from pathlib import Path

import pytest

from gateway.course import Course
from gateway.journal import Batch, Journal, JournalView
from gateway.replay import inputs, recorded_site_id, replay, verify
from gateway.retold import Telling
from gateway.schema import DATABASE, JournalError
from rules.alert_commands import Acknowledge, Shelve, Unshelve
from rules.alert_events import AlertAcknowledged, AlertMoved, AlertRaised
from rules.commands import Input
from rules.events import EVENT, SoakEnded
from rules.readings import GATEWAY_LINK, SECOND, Micros, Reading, SensorId
from tests.gateway.sites import law, site_text

START = 1_790_000_000
LID, WARMTH = SensorId("basin-1/lid"), SensorId("basin-1/temperature")


def reading(sensor: SensorId, at: float, value: float | bool) -> Reading:  # noqa: FBT001 - what a sensor said
    instant = Micros(round((START + at) * SECOND))
    return Reading(sensor, instant, instant, value)


def soak(begin: int, seconds: int, celsius: float = 23.0) -> list[Input]:
    """A soak seen once a second, and a quiet minute after it."""
    said: list[Input] = []
    for at in range(begin, begin + seconds + 70):
        said += [reading(WARMTH, at, celsius), reading(LID, at, at < begin + seconds)]
    return said


def record(folder: Path, said: Sequence[Input]) -> Path:
    """What a gateway would have written of these inputs."""
    journal = Journal.open(folder)
    course = Course.fresh(law())
    journal.commit(Batch(epoch=law().epoch(1, Micros(0))))
    heard = [reading(GATEWAY_LINK, 0, value=True), *said]
    events = [numbered for item in heard for numbered in course.take(item)]
    journal.commit(Batch(heard, events, course.engine.now))
    journal.close()
    return folder / DATABASE


def acknowledged(alert: str) -> Acknowledge:
    return Acknowledge(arrived=Micros((START + 200) * SECOND), who="R. Tech", alert=alert)


def alerts(path: Path) -> dict[str, str]:
    """The number of the newest alert of each rule."""
    view = JournalView.open(path)
    events = [EVENT.validate_json(event.body) for event in view.events(0, view.extent().last_event)]
    view.close()
    return {event.rule: event.alert for event in events if isinstance(event, AlertRaised)}


def alter(path: Path, statement: str) -> None:
    journal = Journal.open(path.parent)
    journal._db.execute(statement)
    journal.close()


@pytest.fixture
def recorded(tmp_path: Path) -> Path:
    """One soak that met its label, then one lifted after half of its time."""
    return record(tmp_path, [*soak(1, 63), *soak(200, 30)])


def test_an_honest_journal_is_sound(recorded: Path) -> None:
    result = verify(recorded)
    assert result.is_sound
    assert (result.inputs, result.epochs) == (1 + 2 * (63 + 70) + 2 * (30 + 70), 1)
    assert result.events >= 5


def test_an_altered_event_is_named(recorded: Path) -> None:
    alter(
        recorded,
        "UPDATE event SET body = replace(body, 'too short', 'time and temperature met')"
        " WHERE kind = 'soak ended' AND body LIKE '%too short%'",
    )
    (difference,) = verify(recorded).differences
    assert difference.recorded is not None
    assert difference.replayed is not None
    assert "time and temperature met" in difference.recorded[1]
    assert "too short" in difference.replayed[1]


def test_an_altered_reading_is_noticed(recorded: Path) -> None:
    alter(recorded, "UPDATE input SET value = 19.0 WHERE seq = 60")
    assert not verify(recorded).is_sound


def test_a_deleted_last_event_is_noticed(recorded: Path) -> None:
    alter(recorded, "DELETE FROM event WHERE seq = (SELECT max(seq) FROM event)")
    (difference,) = verify(recorded).differences
    assert difference.recorded is None


def test_an_invented_event_is_noticed(recorded: Path) -> None:
    alter(
        recorded, "INSERT INTO event SELECT seq + 100, at, after_input, kind, body, seal, leaf FROM event WHERE seq = 1"
    )
    assert [difference.replayed for difference in verify(recorded).differences] == [None]


def test_a_journal_that_has_not_begun_is_sound(tmp_path: Path) -> None:
    Journal.open(tmp_path).close()
    assert verify(tmp_path / DATABASE).is_sound


def test_a_missing_journal_is_told_in_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="There is no journal"):
        verify(tmp_path / "other.db")


def test_inputs_come_back_in_order(tmp_path: Path) -> None:
    said = soak(1, 3)
    path = record(tmp_path, said)
    assert [item for chunk in inputs(path) for item in chunk][1:] == said


def test_the_same_site_file_says_the_same(recorded: Path) -> None:
    result = replay(recorded, law())
    assert (result.vanished, result.appeared, result.changed) == ((), (), ())
    assert result.same == verify(recorded).events


def test_a_shorter_label_changes_the_verdict_and_its_alert_vanishes(recorded: Path) -> None:
    result = replay(recorded, law(site_text(minutes=0.25)))
    outcomes = [
        (change.was.verdict.outcome, change.now.verdict.outcome)
        for change in result.changed
        if isinstance(change.was, SoakEnded) and isinstance(change.now, SoakEnded)
    ]
    assert ("too short", "time and temperature met") in outcomes
    assert "soak-too-short" in [event.rule for event in result.vanished if isinstance(event, AlertRaised)]


def test_a_warmer_label_makes_an_alert_appear(recorded: Path) -> None:
    result = replay(recorded, law(site_text().replace("min_celsius = 20", "min_celsius = 30")))
    assert "soak-cold" in [event.rule for event in result.appeared if isinstance(event, AlertRaised)]


def test_what_is_otherwise_is_told_with_names_and_times_of_the_site(recorded: Path) -> None:
    other = law(site_text(minutes=0.25).replace('name = "Ward"', 'name = "Ward"\ntimezone = "Asia/Kolkata"'))
    lines = list(Telling.of(other.site).lines(replay(recorded, other)))
    assert lines[1] == "Times are local to Asia/Kolkata."
    # Lifted at 1790000230 s = 2026-09-21T14:17:10Z by `date -u -d @1790000230` (coreutils); India is at +05:30. As a
    # soak that is too short it was told a minute later, for it might have gone on.
    assert lines[-1] == (
        "  2026-09-21 19:47:10  soak ended: Basin: time and temperature met, 30 s of 15 s at 20 °C"
        " (was: 2026-09-21 19:48:10, Basin: too short, 30 s of 60 s at 20 °C)"
    )
    alert = next(line for line in lines if "soak-too-short" in line)
    assert lines.index("Not said any more:") < lines.index(alert) < lines.index("Said otherwise:")
    assert "  alert raised: Basin: soak too short" in alert
    assert alert.endswith(" (soak-too-short, soak basin-1.2, alert-5)")


def test_where_nothing_is_otherwise_only_the_counts_are_told(recorded: Path) -> None:
    (summary,) = Telling.of(law().site).lines(replay(recorded, law()))
    assert summary.startswith(f"{verify(recorded).events} events would be the same, 0 would not")


def test_a_past_that_this_version_cannot_read_can_still_be_judged_by_another_file(recorded: Path) -> None:
    assert recorded_site_id(recorded) == "ward"
    alter(recorded, "UPDATE epoch SET site = replace(site, 'min_minutes = 1', 'min_minutes = true')")
    assert recorded_site_id(recorded) is None
    assert replay(recorded, law()).same == 11


def test_an_acknowledgement_goes_to_the_same_alert_under_another_number(tmp_path: Path) -> None:
    cold = soak(1, 63, celsius=20.2)
    number = alerts(record(tmp_path / "first", cold))["soak-not-met"]
    path = record(tmp_path / "second", [*cold, acknowledged(number)])
    # That the soak will never be done is told at once here, and takes a number.
    result = replay(path, law(site_text(more="[rules.soak-never-done]\non_delay_seconds = 0\n")))
    assert [event.rule for event in result.appeared if isinstance(event, AlertRaised)] == ["soak-never-done"]
    assert not [event for event in result.vanished if isinstance(event, AlertAcknowledged)]


def test_what_was_shelved_is_shelved_under_another_number_too_and_taken_from_there(tmp_path: Path) -> None:
    cold = soak(1, 63, celsius=20.2)
    number = alerts(record(tmp_path / "first", cold))["soak-not-met"]
    about = {"who": "R. Tech", "alert": number}
    shelved = Shelve(arrived=Micros((START + 200) * SECOND), **about, minutes=10, why="being soaked again")
    unshelved = Unshelve(arrived=Micros((START + 210) * SECOND), **about)
    path = record(tmp_path / "second", [*cold, shelved, unshelved])
    result = replay(path, law(site_text(more="[rules.soak-never-done]\non_delay_seconds = 0\n")))
    moved = [event for event in result.vanished if isinstance(event, AlertMoved) and event.rule == "soak-not-met"]
    assert moved == []


def test_the_journal_is_not_changed_by_playing_it_again(recorded: Path) -> None:
    before = recorded.read_bytes()
    verify(recorded)
    replay(recorded, law())
    assert recorded.read_bytes() == before
