"""Figures changed by command: from that input on they judge, through restarts, until somebody withdraws them."""

import json
from collections.abc import Mapping

import pytest
from pydantic import ValidationError

from rules.checkpoint import SNAPSHOT_VERSION
from rules.engine import Engine
from rules.figure_commands import MOST_FIGURES, SetFigures, WithdrawFigures
from rules.figure_events import FigureChange, FiguresChanged, FiguresRefused
from rules.figure_picture import FigureOrdered, FigurePicture
from rules.figures import FigureError, changed, figures_of
from tests.rules.feeder import HOOK_A, MOTION, OFF_HOOK, ROLLS, STANDS, Feeder, book_of, department, instant

DELAY, GAP = "rule.cord-down-rolling.on_delay_seconds", "threshold.max_gap_seconds"
RULE = "cord-down-rolling"


def setting(at: float, values: Mapping[str, float], role: str = "engineer") -> SetFigures:
    return SetFigures(arrived=instant(at), who="E. Engineer", role=role, values=dict(values), why="too many")


def withdrawing(at: float, *names: str) -> WithdrawFigures:
    return WithdrawFigures(arrived=instant(at), who="B. Boss", role="engineer", names=names, why="no better")


def told(feeder: Feeder) -> list[FiguresChanged | FiguresRefused]:
    return [event for event in feeder.events if isinstance(event, FiguresChanged | FiguresRefused)]


def shown(feeder: Feeder, name: str = DELAY) -> FigurePicture:
    return next(figure for figure in feeder.engine.picture().figures if figure.name == name)


def rolling(begin: float, feeder: Feeder) -> Feeder:
    """A cart rolls with a cord down for a minute, from ``begin`` on, and stands for two."""
    feeder.say(HOOK_A, OFF_HOOK, begin).say(MOTION, STANDS, begin)
    for second in range(1, 61):
        feeder.say(MOTION, ROLLS, begin + second)
    feeder.say(MOTION, STANDS, begin + 61)
    return feeder.until(begin + 180)


def delays(feeder: Feeder) -> list[float]:
    """How long after each begin of rolling its alert came; the cart rolls one second after its first word of it."""
    return [at % 1000 - 2 for at in feeder.asked(RULE)]


# ---- what a command does --------------------------------------------------------------------------------------------


def test_a_changed_delay_counts_from_then_on() -> None:
    feeder = rolling(1000, Feeder())
    feeder.feed([setting(1900, {DELAY: 20})])
    assert delays(rolling(2000, feeder)) == [0, 20]


def test_it_is_told_with_who_and_why() -> None:
    (event,) = told(Feeder().feed([setting(10, {DELAY: 20})]))
    change = FigureChange(name=DELAY, unit="s", before=0, after=20)
    assert isinstance(event, FiguresChanged)
    assert (event.at, event.changes, event.cause) == (instant(10), (change,), "set")
    assert (event.who, event.role, event.why) == ("E. Engineer", "engineer", "too many")


def test_a_figure_of_the_trackers_counts_too() -> None:
    name = "threshold.rolling_after_seconds"
    feeder = rolling(1000, Feeder()).feed([setting(1900, {name: 16})])
    assert delays(rolling(2000, feeder)) == [0, 15]


def test_screens_show_it_beside_what_the_site_file_says() -> None:
    feeder = Feeder().feed([setting(10, {DELAY: 20})])
    figure = shown(feeder)
    assert (figure.value, figure.given, figure.unit, figure.low, figure.high) == (20, 0, "s", 0, 30)
    assert figure.ordered == FigureOrdered("E. Engineer", "engineer", "too many", instant(10))
    assert shown(feeder, GAP).ordered is None


def test_it_is_withdrawn_by_name_and_the_site_files_counts_again() -> None:
    feeder = Feeder().feed([setting(10, {DELAY: 20, GAP: 90}), withdrawing(900, DELAY)])
    assert delays(rolling(1000, feeder)) == [0]
    event = told(feeder)[-1]
    assert isinstance(event, FiguresChanged)
    assert (event.cause, event.who, [change.name for change in event.changes]) == ("withdrawn", "B. Boss", [DELAY])
    assert (shown(feeder).ordered, shown(feeder, GAP).value) == (None, 90)


def test_what_is_so_already_is_no_news() -> None:
    feeder = Feeder().feed([setting(10, {DELAY: 20}), setting(20, {DELAY: 20}), setting(30, {GAP: 60})])
    assert len(told(feeder)) == 1
    assert shown(feeder).ordered is not None
    assert shown(feeder).ordered.since == instant(10)  # type: ignore[union-attr]  # asserted above


def test_the_site_files_own_figure_set_again_leaves_no_order() -> None:
    feeder = Feeder().feed([setting(10, {DELAY: 20}), setting(20, {DELAY: 0})])
    assert (shown(feeder).ordered, len(told(feeder))) == (None, 2)


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({DELAY: 31}, f"'{DELAY}' is 31 s; expected 0 to 30 s."),
        ({GAP: 0.5}, f"'{GAP}' is 0.5 s; expected 1 to 600 s."),
        ({"rule.cord-down.on_delay_seconds": 5}, "'rule.cord-down.on_delay_seconds' is no figure; "),
        ({"on_delay_seconds": 5}, "'on_delay_seconds' is no figure; "),
        ({"threshold.max_gap": 5}, "'threshold.max_gap' is no figure; "),
        ({DELAY: 20, GAP: 5}, "so that no soak could be proven"),  # the thermometer reports every 10 s
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence_and_nothing_of_it_is_done(
    values: Mapping[str, float], said: str
) -> None:
    feeder = Feeder().feed([setting(10, values)])
    (event,) = told(feeder)
    assert isinstance(event, FiguresRefused)
    assert said in event.problem
    assert (event.names, event.who) == (tuple(values), "E. Engineer")
    assert all(figure.ordered is None for figure in feeder.engine.picture().figures)


def test_only_a_role_that_the_site_names_may_change_figures() -> None:
    (event,) = told(Feeder().feed([setting(10, {DELAY: 20}, role="student")]))
    assert isinstance(event, FiguresRefused)
    assert event.problem == "As 'student' nobody may change figures; expected one of engineer."


def test_what_was_never_changed_cannot_be_withdrawn() -> None:
    (event,) = told(Feeder().feed([withdrawing(10, GAP)]))
    assert isinstance(event, FiguresRefused)
    assert event.problem.startswith(f"'{GAP}' is what the site file says")


@pytest.mark.parametrize("values", [{}, {DELAY: float("nan")}, {f"f{n}": 1.0 for n in range(MOST_FIGURES + 1)}])
def test_a_command_names_some_figures_with_numbers_and_not_too_many(values: dict[str, float]) -> None:
    with pytest.raises(ValidationError):
        setting(10, values)


# ---- what goes on ---------------------------------------------------------------------------------------------------


def test_an_alert_that_stands_goes_on_standing() -> None:
    feeder = Feeder().say(HOOK_A, OFF_HOOK, 0).say(MOTION, ROLLS, 0).until(5)
    (alert,) = feeder.engine.picture().alerts
    feeder.feed([setting(6, {DELAY: 20})])
    assert [(a.id, a.raised) for a in feeder.engine.picture().alerts] == [(alert.id, alert.raised)]


def test_a_delay_that_runs_ends_when_it_would_have() -> None:
    feeder = Feeder().feed([setting(0, {DELAY: 20})]).say(HOOK_A, OFF_HOOK, 0).say(MOTION, ROLLS, 0).until(5)
    feeder.feed([setting(6, {DELAY: 30})]).until(60)
    assert feeder.raised(RULE) == [21]  # as under another site file; the cart rolls from second 1 on


def test_it_is_as_if_the_site_file_had_said_so_from_then_on() -> None:
    other = department(rules={RULE: {"on_delay_seconds": 20}})
    ordered = rolling(2000, rolling(1000, Feeder()).feed([setting(1900, {DELAY: 20})]))
    by_file = rolling(2000, rolling(1000, Feeder()).until(1900).restart(other))
    assert [line for line in ordered.lines if '"figures changed"' not in line] == by_file.lines


@pytest.mark.parametrize("at", [1500, 1950, 2010])
def test_a_restart_changes_nothing(at: float) -> None:
    def day(*, restarted: bool) -> Feeder:
        feeder = rolling(1000, Feeder())
        for when, command in ((1900, setting(1900, {DELAY: 20})), (2015, withdrawing(2015, DELAY))):
            if restarted and at < when:
                feeder.until(at).restart()
            feeder.feed([command])
            if when == 1900:
                feeder.say(HOOK_A, OFF_HOOK, 2000).say(MOTION, ROLLS, 2001)
        return feeder.until(3000)

    assert day(restarted=True).lines == day(restarted=False).lines


def test_a_restored_engine_is_written_as_it_was() -> None:
    feeder = rolling(1000, Feeder().feed([setting(10, {DELAY: 20, GAP: 90})]))
    written = feeder.engine.snapshot()
    assert feeder.restart().engine.snapshot() == written
    assert json.loads(written)["version"] == SNAPSHOT_VERSION


# ---- another site file ----------------------------------------------------------------------------------------------


def test_an_order_stays_when_the_site_file_changes_something_else() -> None:
    feeder = Feeder().feed([setting(10, {DELAY: 20})]).restart(department(rules={"soak-cold": {"enabled": False}}))
    assert delays(rolling(1000, feeder)) == [20]
    assert len(told(feeder)) == 1


def test_the_newest_word_counts_when_the_site_file_changes_the_same_figure() -> None:
    feeder = Feeder().feed([setting(10, {DELAY: 20})]).restart(department(rules={RULE: {"on_delay_seconds": 7}}))
    assert delays(rolling(1000, feeder)) == [7]
    event = told(feeder)[-1]
    assert isinstance(event, FiguresChanged)
    assert (event.cause, event.who) == ("site file", None)
    assert event.changes == (FigureChange(name=DELAY, unit="s", before=20, after=7),)
    assert shown(feeder).ordered is None


def test_a_site_file_that_says_the_same_as_the_order_takes_its_place() -> None:
    feeder = Feeder().feed([setting(10, {DELAY: 20})]).restart(department(rules={RULE: {"on_delay_seconds": 20}}))
    assert delays(rolling(1000, feeder)) == [20]
    assert (told(feeder)[-1].kind, shown(feeder).ordered) == ("figures changed", None)


def test_an_order_for_a_rule_that_is_gone_is_over() -> None:
    feeder = Feeder().feed([setting(10, {DELAY: 20})]).restart(department(rules={RULE: {"enabled": False}})).until(20)
    event = told(feeder)[-1]
    assert isinstance(event, FiguresChanged)
    assert [(change.name, change.after) for change in event.changes] == [(DELAY, None)]


def test_an_order_that_no_longer_fits_the_site_is_over_and_the_others_stay() -> None:
    feeder = Feeder().feed([setting(10, {GAP: 40, DELAY: 20})])
    feeder.restart(department(every=50)).until(20)  # a thermometer that reports too seldom for a gap of 40 s
    event = told(feeder)[-1]
    assert isinstance(event, FiguresChanged)
    assert [(change.name, change.after) for change in event.changes] == [(GAP, 60)]
    assert (shown(feeder).value, shown(feeder, GAP).value) == (20, 60)


# ---- a book with other figures --------------------------------------------------------------------------------------


def test_every_figure_can_be_named_and_changed_to_either_end_of_its_range() -> None:
    book = book_of(department())
    for name, figure in figures_of(book).items():
        for value in (figure.low, figure.high):
            assert figures_of(changed(book, {name: value}))[name].value == value


def test_a_book_is_judged_as_if_the_site_file_had_said_so() -> None:
    values = {"soak-cold": {"on_delay_seconds": 45, "deadband": 0.5}}
    by_file = book_of(department(rules=values, thresholds={"jump_celsius": 4}))
    by_name = changed(
        book_of(department()),
        {
            "rule.soak-cold.on_delay_seconds": 45,
            "rule.soak-cold.deadband": 0.5,
            "threshold.jump_celsius": 4,
        },
    )
    assert by_name.thresholds == by_file.thresholds
    assert {i: c.rule for i, c in by_name.rules.items()} == {i: c.rule for i, c in by_file.rules.items()}


def test_a_name_that_is_not_known_is_told_with_what_was_meant() -> None:
    with pytest.raises(FigureError, match="cord-down-rolling"):
        changed(book_of(department()), {"rule.cord-down-roling.on_delay_seconds": 1})


def test_an_engine_that_is_fed_only_readings_makes_nothing_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    feeder = Feeder()
    monkeypatch.setattr(Engine, "_assemble", None)
    assert rolling(1000, feeder).raised(RULE)
