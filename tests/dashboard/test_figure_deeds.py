"""Figures changed from a form: what is asked for reaches the engine as a command, and what comes of it is told."""

from collections.abc import Mapping

import pytest

from dashboard.figure_deeds import Deed, entry_of, told
from dashboard.forms import DeedError, NotTakenError
from dashboard.premises import Premises
from rules.commands import Command
from rules.events import Event
from rules.figure_commands import MOST_FIGURES, SetFigures, WithdrawFigures
from tests.rules.feeder import Feeder, book_of, department, instant

DELAY, GAP = "rule.cord-down-rolling.on_delay_seconds", "threshold.max_gap_seconds"
SIGNED = {"who": " E. Engineer ", "role": "engineer", "why": "too many alerts"}


def asked(deed: Deed, fields: Mapping[str, str], feeder: Feeder | None = None) -> Command:
    site = department()
    picture = (feeder or Feeder()).engine.picture()
    return entry_of(deed, {**SIGNED, **fields}, picture, Premises.of(site, book_of(site)), instant(10))


def done(feeder: Feeder, command: Command) -> list[Event]:
    before = len(feeder.events)
    feeder.feed([command])
    return feeder.events[before:]


def test_a_form_asks_for_the_figures_that_it_names() -> None:
    command = asked(Deed.SET, {f"value:{DELAY}": " 12,5 ", f"value:{GAP}": ""})
    assert isinstance(command, SetFigures)
    assert (command.values, command.who, command.role) == ({DELAY: 12.5}, "E. Engineer", "engineer")
    assert (command.why, command.arrived) == ("too many alerts", instant(10))


def test_what_came_of_it_is_told() -> None:
    events = done(Feeder(), asked(Deed.SET, {f"value:{DELAY}": "12.5"}))
    assert told(events).said == f"In force from now on: {DELAY} 0 s -> 12.5 s."


def test_a_form_withdraws_what_was_changed() -> None:
    feeder = Feeder()
    done(feeder, asked(Deed.SET, {f"value:{DELAY}": "12"}))
    command = asked(Deed.WITHDRAW, {f"name:{DELAY}": "on"}, feeder)
    assert isinstance(command, WithdrawFigures)
    assert told(done(feeder, command)).said == f"In force from now on: {DELAY} 12 s -> 0 s."


@pytest.mark.parametrize(
    ("deed", "fields", "said"),
    [
        (Deed.SET, {f"value:{DELAY}": "31"}, f"'{DELAY}' is 31 s; expected 0 to 30 s."),
        (Deed.SET, {f"value:{DELAY}": "soon"}, f"'{DELAY}': expected a number from 0 to 30 s."),
        (Deed.SET, {f"value:{DELAY}": "inf"}, f"'{DELAY}': expected a number from 0 to 30 s."),
        (Deed.SET, {"value:threshold.max_gap": "20"}, f"'threshold.max_gap' is no figure; perhaps '{GAP}' is meant."),
        (Deed.SET, {}, f"Choose the figures: at least one, at most {MOST_FIGURES} at once."),
        (Deed.WITHDRAW, {}, f"Choose the figures: at least one, at most {MOST_FIGURES} at once."),
        (Deed.WITHDRAW, {f"name:{GAP}": "on"}, f"'{GAP}' is what the site file says; nothing of it was changed"),
        (Deed.SET, {f"value:{DELAY}": "3", "role": "student"}, "Say as what you do it: choose a role."),
        (Deed.SET, {f"value:{DELAY}": "3", "why": " "}, "Say why, in at most 200 characters"),
    ],
)
def test_what_cannot_be_is_refused_at_the_door_in_a_sentence(deed: Deed, fields: Mapping[str, str], said: str) -> None:
    with pytest.raises(DeedError) as refusal:
        asked(deed, fields)
    assert str(refusal.value).startswith(said)


def test_what_only_the_engine_can_tell_is_told_in_its_words() -> None:
    with pytest.raises(NotTakenError, match="no soak could be proven"):  # the thermometer reports every 10 s
        told(done(Feeder(), asked(Deed.SET, {f"value:{GAP}": "5"})))


def test_what_is_in_force_already_changes_nothing() -> None:
    with pytest.raises(NotTakenError, match="in force already"):
        told(done(Feeder(), asked(Deed.SET, {f"value:{GAP}": "60"})))
