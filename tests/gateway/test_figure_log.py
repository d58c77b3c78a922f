"""Figures changed by command, as the record tells of them: in force, in words, as a table, on the command line."""

import csv
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from gateway import figure_told
from gateway.event_words import EventWords
from gateway.export import What, export
from gateway.logbook import Logbook
from rules.events import Event
from rules.figure_commands import SetFigures, WithdrawFigures
from rules.figure_events import FigureChange, FiguresChanged, FiguresRefused
from tests.gateway.books import Book, site_text
from tests.gateway.called import told
from tests.rules.feeder import instant

DELAY, GAP, JUMP = "rule.soak-cold.on_delay_seconds", "threshold.max_gap_seconds", "threshold.jump_celsius"
UTC = ZoneInfo("UTC")


def setting(at: float, **values: float) -> SetFigures:
    named = {{"delay": DELAY, "gap": GAP, "jump": JUMP}[key]: value for key, value in values.items()}
    return SetFigures(arrived=instant(at), who="E. Engineer", role="engineer", values=named, why="too many")


@pytest.fixture
def book(tmp_path: Path) -> Logbook:
    """Three figures are set, one of them twice; one is withdrawn, and one is overtaken by a new site file."""
    written = Book(tmp_path / "d", site_text())
    written.feed([setting(0, delay=60, gap=90, jump=5), setting(10, delay=90)])
    back = WithdrawFigures(arrived=instant(20), who="B. Boss", role="engineer", names=(GAP,), why="no better")
    written.feed([back]).under(site_text(more="[thresholds]\njump_celsius = 6\n"))
    return written.closed()


def test_what_is_in_force_is_listed_with_who_and_since_when(book: Logbook) -> None:
    assert list(figure_told.lines(book.figures(), UTC)) == [
        "Changed by command; all others are as the site file says. Times are local to UTC.",
        f"  {DELAY} = 90 s, instead of 30 s in the site file",
        "    since 2023-11-14 22:13:30 by E. Engineer, engineer: too many",
    ]


def test_a_record_without_changes_says_so(tmp_path: Path) -> None:
    unchanged = Book(tmp_path / "d").closed()
    (line,) = figure_told.lines(unchanged.figures(), UTC)
    assert line == "Every figure is as the site file says; none is changed by command."


def test_each_change_is_a_row_of_a_table(book: Logbook, tmp_path: Path) -> None:
    done = export(book, What.FIGURES, tmp_path / "figures.csv")
    with done.file.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [(row["figure"], row["before"], row["after"], row["cause"], row["by"]) for row in rows] == [
        (JUMP, "5", "6", "site file", ""),
        (GAP, "90", "60", "withdrawn", "B. Boss"),
        (DELAY, "60", "90", "set", "E. Engineer"),
        (DELAY, "30", "60", "set", "E. Engineer"),
        (GAP, "60", "90", "set", "E. Engineer"),
        (JUMP, "3", "5", "set", "E. Engineer"),
    ]


def test_the_command_line_lists_them(book: Logbook, tmp_path: Path) -> None:
    assert book.figures().standing()
    answer = told("figures", tmp_path / "d")
    assert f"{DELAY} = 90 s, instead of 30 s in the site file" in answer.stdout


def test_a_folder_without_a_journal_gets_a_sentence(tmp_path: Path) -> None:
    answer = told("figures", tmp_path)
    assert (answer.returncode, answer.stdout) == (1, "")
    assert answer.stderr.startswith(f"Error: There is no journal in {tmp_path}; expected the folder")


CHANGE = FigureChange(name=DELAY, unit="s", before=30, after=60)


@pytest.mark.parametrize(
    ("event", "words"),
    [
        (
            FiguresChanged(at=instant(0), changes=(CHANGE,), cause="set", who="E", role="engineer", why="tried"),
            f"{DELAY} 30 s -> 60 s by E, engineer: tried",
        ),
        (
            FiguresChanged(at=instant(0), changes=(CHANGE,), cause="withdrawn", who="E", role="engineer", why="bad"),
            f"back to the site file's, {DELAY} 30 s -> 60 s by E, engineer: bad",
        ),
        (
            FiguresChanged(at=instant(0), changes=(CHANGE,), cause="site file"),
            f"{DELAY} 30 s -> 60 s: the site file gives another value by now",
        ),
        (
            FiguresChanged(at=instant(0), changes=(CHANGE.model_copy(update={"after": None}),), cause="site file"),
            f"{DELAY} is no figure any more: the site file gives another value by now",
        ),
        (
            FiguresRefused(at=instant(0), names=(DELAY,), problem="It cannot be.", who="E"),
            "asked for by E: It cannot be.",
        ),
    ],
)
def test_each_event_is_told_in_words(event: Event, words: str) -> None:
    assert EventWords(UTC, {}).words(event) == words
