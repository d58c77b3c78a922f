"""The door of simulators and tuning to journals: what it writes is what a gateway writes, what it reads is whole."""

from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import TypeGuard

import pytest

from gateway.course import Course, Numbered
from gateway.found import RecordView
from gateway.journal import CHECKPOINTS_KEPT, Batch, Checkpoint, Journal, JournalView
from gateway.law import Law
from gateway.logbook import Logbook
from gateway.past import Past
from gateway.record_check import check_record
from gateway.recording import JournalError, Recording, Writer, gateway_heard, law_of
from gateway.replay import replay, verify
from gateway.schema import DATABASE
from rules.alert_commands import Acknowledge, TryPages
from rules.alert_events import AlertAcknowledged, AlertRaised, PageAsked
from rules.alert_words import Confirmation
from rules.commands import Input
from rules.engine import Engine
from rules.events import EVENT, Event
from rules.figure_commands import SetFigures
from rules.figure_events import FiguresChanged
from rules.readings import DAY, SECOND, Micros, Reading, SensorId
from tests.gateway.pages import CONTACTS, told
from tests.gateway.sites import law, site_text

ON_DUTY = """
[[duty]]
role = "charge"
contacts = ["phone-1"]
start = 00:00:00
end = 00:00:00
"""
START = 20_000 * DAY
QUIET = 130
LID, WARMTH = SensorId("basin-1/lid"), SensorId("basin-1/temperature")


def reading(sensor: SensorId, seconds: float, value: float | bool) -> Reading:  # noqa: FBT001 - what a sensor said
    instant = Micros(round(START + seconds * SECOND))
    return Reading(sensor, instant, instant, value)


def soak(begin: float, seconds: int) -> list[Input]:
    """A soak seen once a second, and a quiet time after it, in which it is judged."""
    said: list[Input] = []
    for second in range(seconds + QUIET):
        said += [reading(WARMTH, begin + second, 23.0), reading(LID, begin + second, second < seconds)]
    return said


def three_days() -> list[Input]:
    """A short soak each day."""
    return [*gateway_heard(Micros(START)), *chain.from_iterable(soak(86_400 * day + 60, 30) for day in range(3))]


def record(folder: Path, said: list[Input], judged: Law | None = None) -> list[Numbered]:
    with Writer.new(folder, judged or law()) as writer:
        return writer.take(said)


@pytest.fixture(scope="module")
def days(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("days") / "data"
    record(folder, three_days())
    return folder


@pytest.fixture
def recording(days: Path) -> Iterator[Recording]:
    with Recording.open(days) as opened:
        yield opened


# ---- writing --------------------------------------------------------------------------------------------------------


def test_what_is_written_is_a_sound_record_that_comes_out_again(days: Path) -> None:
    assert check_record(days / DATABASE).is_sound
    result = verify(days / DATABASE)
    assert result.is_sound
    assert (result.inputs, result.epochs) == (len(three_days()), 1)


def test_it_is_the_record_that_a_gateway_would_have_written(days: Path, tmp_path: Path) -> None:
    journal, course = Journal.open(tmp_path), Course.fresh(law())
    journal.commit(Batch(epoch=law().epoch(1, Micros(0))))
    for item in three_days():  # one by one, as they come
        events = course.take(item)
        journal.commit(Batch([item], events, course.engine.now))
    ours = JournalView.open(days / DATABASE)
    assert list(ours.events(0, 1000)) == list(journal.view.events(0, 1000))
    assert ours.extent() == journal.view.extent()
    ours.close()
    journal.close()


def test_a_gateway_goes_on_at_once_from_the_state_at_its_end(days: Path) -> None:
    view = JournalView.open(days / DATABASE)
    (newest, *_), extent = view.checkpoints(), view.extent()
    view.close()
    assert (newest.after_input, newest.after_event, newest.engine_now) == extent


def test_pages_that_were_asked_for_stand_in_the_outbox_with_what_became_of_them(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    with Writer.new(folder, law(site_text(more=CONTACTS + ON_DUTY))) as writer:
        said = writer.take([*gateway_heard(Micros(START)), TryPages(arrived=Micros(START), who="R. Tech")])
        pages = [event.page for _, event in said if isinstance(event, PageAsked)]
        writer.take([told(page, Confirmation.DELIVERED).model_copy(update={"arrived": writer.now}) for page in pages])
    assert [line.outcome for line in Logbook(folder / DATABASE).pages().lines] == [Confirmation.DELIVERED] * 2
    assert check_record(folder / DATABASE).is_sound  # which compares the outbox with the events


def test_another_law_takes_over_where_it_is_handed_over(tmp_path: Path) -> None:
    other = law_of(site_text(minutes=0.25))
    with Writer.new(tmp_path / "data", law()) as writer:
        writer.take([*gateway_heard(Micros(START)), *soak(10, 30)])
        writer.hand_over(other)
        writer.take(soak(300, 30))
    assert verify(tmp_path / "data" / DATABASE).is_sound
    with Recording.open(tmp_path / "data") as days:
        assert [judged.from_input for judged in days.laws] == [1, 3 + 2 * (30 + QUIET) + 1]
        assert [judged.law.text for judged in days.laws] == [law().text, other.text]
        assert list(chain(*days.play())) == _recorded(tmp_path / "data")


def test_a_folder_that_holds_something_is_not_touched(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("dear", encoding="utf-8")
    with pytest.raises(JournalError, match="is not empty; name a new one"):
        Writer.new(tmp_path, law())
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_what_a_broker_brings_twice_is_written_once_however_late(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("gateway.recording.BATCH_INPUTS", 10)  # so that the first of each is on disk already
    said = [reading(WARMTH, second, 23.0) for second in range(30)]
    again = [early._replace(arrived=Micros(early.arrived + 60 * SECOND)) for early in said]
    with Writer.new(tmp_path / "data", law()) as writer:
        writer.hear(said)
        writer.hear(again)
        writer.hear([reading(WARMTH, 100, 24.0), reading(WARMTH, 100, 24.0)])
    with Recording.open(tmp_path / "data") as opened:
        assert list(chain.from_iterable(opened.inputs())) == [*said, reading(WARMTH, 100, 24.0)]


# ---- reading --------------------------------------------------------------------------------------------------------


def test_every_input_is_read_in_order(recording: Recording) -> None:
    assert list(chain(*recording.inputs())) == three_days()
    assert recording.last_input == len(three_days())
    assert recording.stretch == (START, three_days()[-1].arrived)


def test_an_instant_lies_after_the_inputs_that_arrived_before_it(recording: Recording) -> None:
    instants = [item.arrived for item in three_days()]
    for at in (0, START, START + 1, START + DAY, START + DAY + 60 * SECOND, instants[-1], instants[-1] + 1):
        assert recording.number_at(Micros(at)) == sum(instant < at for instant in instants)


def test_alerts_are_read_by_when_they_were_told(recording: Recording) -> None:
    told = list(recording.alerts())
    assert [event.rule for event in told if isinstance(event, AlertRaised)].count("soak-too-short") == 3
    since, until = told[1].at, told[-1].at
    assert list(recording.alerts(since, until)) == [event for event in told if since <= event.at < until]


def test_days_play_again_from_the_state_kept_of_the_evening_before(recording: Recording, days: Path) -> None:
    start = recording.start(Micros(START + 2 * DAY))
    whole = _recorded(days)
    assert start.after_input == recording.number_at(Micros(START + 2 * DAY))
    replayed = list(chain(*recording.play(start)))
    assert replayed == whole[-len(replayed) :]
    assert replayed[0][1].at < START + 2 * DAY  # that the sensors had fallen silent the evening before is told, too
    assert len(replayed) < len(whole) / 2


def test_before_any_state_is_kept_playing_begins_at_the_beginning(recording: Recording, days: Path) -> None:
    start = recording.start(Micros(START + 1))
    assert (start.after_input, start.snapshot) == (0, None)
    assert list(chain(*recording.play(start))) == _recorded(days)


def test_a_state_that_cannot_be_read_is_passed_over(tmp_path: Path) -> None:
    record(tmp_path / "data", three_days())
    journal = Journal.open(tmp_path / "data")
    journal._db.execute("UPDATE checkpoint SET state = ?", [b"{}"])
    journal.close()
    with Recording.open(tmp_path / "data") as days:
        assert days.start().snapshot is None


def test_playing_ends_where_it_is_told_to(recording: Recording, days: Path) -> None:
    until = Micros(START + DAY)
    assert list(chain(*recording.play(until=until))) == [told for told in _recorded(days) if told[1].at < until]


def test_an_answer_goes_to_the_alert_of_the_same_name_under_another_law(tmp_path: Path) -> None:
    said = [*gateway_heard(Micros(START)), *soak(10, 45), *soak(300, 30)]
    folder = tmp_path / "data"
    with Writer.new(folder, law()) as writer:
        was = [event.alert for _, event in writer.take(said) if _is_too_short(event)]
        writer.take([Acknowledge(arrived=writer.now, who="R. Tech", alert=was[-1])])
    lenient = law(site_text(minutes=40 / 60))  # the first soak is long enough, so that the second alert is the first
    with Recording.open(folder) as days:
        replayed = [event for _, event in chain(*days.play(other=lambda _: lenient))]
    now = [event.alert for event in replayed if _is_too_short(event)]
    assert (len(was), len(now), was[-1] == now[-1]) == (2, 1, False)
    assert [event.alert for event in replayed if isinstance(event, AlertAcknowledged)] == now


def test_whoever_plays_days_may_make_the_engines(recording: Recording, days: Path) -> None:
    made: list[Engine] = []

    def engine(judged: Law, snapshot: bytes | None) -> Engine:
        assert snapshot is None
        made.append(Engine(judged.site, judged.book))
        return made[-1]

    assert list(chain(*recording.play(engine_of=engine))) == _recorded(days)
    assert [one.now for one in made] == [recording.stretch.until]


def test_a_folder_without_a_journal_is_told_in_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="There is no journal"):
        Recording.open(tmp_path)


def test_a_journal_without_inputs_is_told_in_a_sentence(tmp_path: Path) -> None:
    Journal.open(tmp_path).close()
    with pytest.raises(JournalError, match="holds no input yet"):
        Recording.open(tmp_path)


# ---- figures that people changed ------------------------------------------------------------------------------------

BOUNCE, JUMP = "threshold.lid_bounce_seconds", "threshold.jump_celsius"


def setting(at: int, values: dict[str, float]) -> SetFigures:
    return SetFigures(arrived=Micros(at), who="E. Engineer", role="engineer", values=values, why="tried")


@pytest.fixture(scope="module")
def tuned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three days; figures are changed on the second and on the third, and a new site file overtakes one of them."""
    folder = tmp_path_factory.mktemp("tuned") / "data"
    first, second, third = (soak(86_400 * day + 60, 30) for day in range(3))
    with Writer.new(folder, law()) as writer:
        writer.take([*gateway_heard(Micros(START)), *first])
        writer.take([setting(START + DAY, {BOUNCE: 1, JUMP: 5}), *second])
        writer.take([setting(writer.now, {BOUNCE: 1.5})])
        writer.hand_over(law(site_text(more="[thresholds]\njump_celsius = 4")))
        writer.take(third)
    return folder


def in_force(judged: Law) -> tuple[float, float]:
    return judged.book.thresholds.lid_bounce_seconds, judged.book.thresholds.jump_celsius


def test_figures_changed_by_command_are_part_of_what_judged(tuned: Path) -> None:
    with Recording.open(tuned) as days:
        assert [in_force(judged.law) for judged in days.laws] == [(0.5, 3), (1, 5), (1.5, 5), (1.5, 4)]
        assert [in_force(judged.given) for judged in days.laws] == [(0.5, 3), (0.5, 3), (0.5, 3), (0.5, 4)]
        assert [judged.by_command for judged in days.laws] == [False, True, True, False]
        first = 3 + 2 * (30 + QUIET)
        assert [judged.from_input for judged in days.laws] == [1, first + 2, 2 * first, 2 * first]


def test_a_record_with_changed_figures_is_sound_and_plays_again(tuned: Path) -> None:
    assert verify(tuned / DATABASE).is_sound
    with Recording.open(tuned) as days:
        assert list(chain(*days.play())) == _recorded(tuned)
        start = days.start(Micros(START + 2 * DAY))
        replayed = list(chain(*days.play(start)))
        assert start.snapshot is not None
        assert replayed == _recorded(tuned)[-len(replayed) :]


def test_another_law_is_not_changed_by_what_people_commanded(tuned: Path) -> None:
    asked: list[tuple[float, float]] = []
    engines: list[Engine] = []

    def other(judged: Law) -> Law:
        asked.append(in_force(judged))
        return law()

    def engine(judged: Law, snapshot: bytes | None) -> Engine:
        book = judged.book
        engines.append(
            Engine.restore(judged.site, book, snapshot) if snapshot is not None else Engine(judged.site, book)
        )
        return engines[-1]

    with Recording.open(tuned) as days:
        whole = list(chain(*days.play(other=other, engine_of=engine)))
        part = list(chain(*days.play(days.start(Micros(START + 2 * DAY)), other=other, engine_of=engine)))
    assert asked == [(0.5, 3), (1, 5), (1.5, 5), (1.5, 4), (1.5, 4)]
    assert {one.book.thresholds.lid_bounce_seconds for one in engines} == {0.5}
    assert {event.kind for _, event in whole}.isdisjoint({"figures changed", "figures refused"})
    assert part


def test_what_another_site_file_would_have_said_keeps_what_was_commanded_over_the_same_figures(tuned: Path) -> None:
    other = law(site_text(more="[thresholds]\njump_celsius = 6"))
    found = replay(tuned / DATABASE, other)
    changes = [event for event in (*found.appeared, *found.vanished) if isinstance(event, FiguresChanged)]
    said = [[change.name for change in event.changes] for event in changes]
    assert said == [[BOUNCE], [BOUNCE, JUMP], [JUMP]]  # the jump as the other file has it, the bounce as commanded


def test_the_logbook_judges_by_the_figures_that_were_in_force(tuned: Path) -> None:
    view = RecordView.open(tuned / DATABASE)
    ended = view.of_kind("soak ended")
    eras = [Past(view).era(found) for found in ended]
    newest = Past(view).newest()
    view.close()
    assert [in_force(era.law) for era in eras if era.law] == [(0.5, 3), (1, 5), (1.5, 4)]
    assert newest is not None
    assert newest.law is not None
    assert in_force(newest.law) == (1.5, 4)


# ---- what is kept of days gone by -----------------------------------------------------------------------------------


def test_of_each_day_gone_by_the_last_state_is_kept(tmp_path: Path) -> None:
    journal = Journal.open(tmp_path)
    for number in range(1, 121):  # three a day for 40 days
        taken = Checkpoint(number, 0, Micros(START + number * DAY // 3), Micros(0), "0", b"{}")
        journal.commit(Batch(checkpoint=taken))
    kept = [checkpoint.after_input for checkpoint in journal.view.checkpoints()]
    journal.close()
    newest, last_of_days = [120, 119, 118][:CHECKPOINTS_KEPT], [120, *range(119, 119 - 34 * 3, -3)]
    assert kept == sorted({*newest, *last_of_days}, reverse=True)


def _is_too_short(event: Event) -> TypeGuard[AlertRaised]:
    return isinstance(event, AlertRaised) and event.rule == "soak-too-short"


def _recorded(folder: Path) -> list[Numbered]:
    view = JournalView.open(folder / DATABASE)
    told = [(row.after_input, EVENT.validate_json(row.body)) for row in view.events(0, view.extent().last_event)]
    view.close()
    return told
