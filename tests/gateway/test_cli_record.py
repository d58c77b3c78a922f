"""The commands that read the record, as their users meet them: by the command line, on a real disk."""

import json
from pathlib import Path

import pytest

from rules.probe_words import Step
from rules.readings import StripResult
from tests.gateway.books import TRACKED, Book, merged, site_text, worked
from tests.gateway.called import told
from tests.rules.bath import pour, strip
from tests.rules.followed import contact, did, hung


@pytest.fixture
def worked_book(tmp_path: Path) -> Path:
    """The folder of a department in which a probe went through one round, and a strip failed afterwards."""
    said = merged([pour(-500)], hung(-1000, -100), worked(0), [strip(3000, StripResult.FAIL)])
    Book(tmp_path / "d", site_text("Asia/Kolkata", TRACKED)).feed(said).until(3100).closed()
    return tmp_path / "d"


def test_how_a_probe_stood_is_told_for_a_local_time(worked_book: Path) -> None:
    # 1030 s after 22:13:20 UTC it is 22:30:30, in India 04:00:30 on the next day.
    answer = told("probe", worked_book, "curved-1", "--at", "2023-11-15 04:00:30")
    assert answer.returncode == 0, answer.stderr
    assert answer.stdout.startswith(
        "Curved 1 (curved-1, serial SN-1001) at 2023-11-15 04:00:30, local to Asia/Kolkata: not proven\n"
    )
    # By what is known today: the strip failed after that instant, at which the probe was said to be ready.
    assert "why        soak basin-1.1 is in doubt: a strip failed after it" in answer.stdout
    assert "to be ready for use, since 2023-11-15 04:00:20." in answer.stdout


def test_a_probe_that_was_ready_is_told_with_the_soak_that_made_it_so(tmp_path: Path) -> None:
    said = merged([pour(-500)], hung(-1000, -100), worked(0))
    Book(tmp_path / "d", site_text("Asia/Kolkata", TRACKED)).feed(said).until(3100).closed()
    answer = told("probe", tmp_path / "d", "curved-1", "--at", "2023-11-15 04:00:30")
    assert "local to Asia/Kolkata: ready for use\n" in answer.stdout
    assert "ready by   soak basin-1.1\n" in answer.stdout
    assert "no proof of disinfection" in answer.stdout


def test_a_probe_that_is_ready_as_somebody_said_that_it_was_sterilised_is_told_so(tmp_path: Path) -> None:
    said = merged(hung(-1000, -100), [contact(0), did(100, Step.WASHED, Step.DRIED), did(200, Step.STERILISED)])
    Book(tmp_path / "d", site_text("UTC", TRACKED)).feed(said).until(300).closed()
    answer = told("probe", tmp_path / "d", "curved-1")
    assert "ready by   the word of R. Tech, that it was sterilised elsewhere\n" in answer.stdout, answer.stdout


def test_how_a_probe_stood_is_told_to_programs(worked_book: Path) -> None:
    answer = told("probe", worked_book, "curved-1", "--at", "2023-11-14T22:15:50Z", "--json")
    found = json.loads(answer.stdout)
    assert (found["standing"]["fitness"], found["standing"]["next_step"]) == ("being reprocessed", "soaked")
    assert found["at"] == 1_700_000_150_000_000


def test_a_probe_or_time_that_is_none_gets_one_clear_sentence(worked_book: Path) -> None:
    unknown = told("probe", worked_book, "curved-9")
    assert unknown.returncode == 1
    assert "has no probe 'curved-9'; perhaps 'curved-1' is meant." in unknown.stderr
    unlike = told("probe", worked_book, "nosuch")
    assert "has no probe 'nosuch'; expected one of curved-1, internal-1." in unlike.stderr
    unreadable = told("probe", worked_book, "curved-1", "--at", "noon")
    assert unreadable.stderr.startswith("Error: 'noon' is no time; expected such as")
    to_come = told("probe", worked_book, "curved-1", "--at", "2024-01-01")
    assert to_come.returncode == 1
    assert "'2024-01-01' lies after the end of the record; ask for a time up to 2023-11-15 04:3" in to_come.stderr


def test_a_text_that_somebody_entered_gives_a_terminal_no_orders(tmp_path: Path) -> None:
    # Bell, and an override of the direction of writing, as a form may bring them (CWE-150).
    said = merged([pour(-500)], worked(0), [contact(2000, exam="A\a\u202eB")])
    Book(tmp_path / "d", site_text(more=TRACKED)).feed(said).until(3000).closed()
    answer = told("look-back", tmp_path / "d", "--soak", "basin-1.1")
    assert "exam A\\x07\\u202eB, marked by R. Nurse" in answer.stdout


def test_a_look_back_lists_soaks_probes_and_what_each_needs(worked_book: Path) -> None:
    answer = told("look-back", worked_book, "--strip", "basin-1")
    assert answer.returncode == 0, answer.stderr
    assert answer.stdout.startswith("1 soak, 1 probe, ")
    assert "Curved 1 (curved-1, serial SN-1001), out at 2023-11-15 03:58:40: do not use it" in answer.stdout
    asked = json.loads(told("look-back", worked_book, "--soak", "basin-1.1", "--json").stdout)
    assert [soak["suspect"]["soak"] for soak in asked["soaks"]] == ["basin-1.1"]


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--strip", "basin-1", "--lot", "L1"), "Ask one thing at a time"),
        (("--sensor", "basin-1/temperature"), "--sensor, --error and --since go together"),
        (("--sensor", "a/temperature", "--error", "nan", "--since", "2026-01-01"), "a number of °C from -20 to 20"),
        (("--at", "2023-11-15"), "--at goes with --strip"),
        (("--lot", "L9"), "No solution and no strip of lot 'L9'"),
    ],
)
def test_a_question_that_cannot_be_answered_gets_one_clear_sentence(
    worked_book: Path, options: tuple[str, ...], said: str
) -> None:
    answer = told("look-back", worked_book, *options)
    assert answer.returncode != 0
    assert said in answer.stderr
    assert "Traceback" not in answer.stderr


def test_what_was_exported_names_the_head_that_verify_takes(worked_book: Path, tmp_path: Path) -> None:
    out = tmp_path / "soaks.csv"
    answer = told("export", worked_book, "--what", "soaks", "--out", out)
    assert answer.returncode == 0, answer.stderr
    assert out.read_bytes().count(b"\r\n") == 2
    head = answer.stdout.split()[-1]
    assert told("verify", worked_book, "--head", head).returncode == 0
    again = told("export", worked_book, "--what", "soaks", "--out", out)
    assert again.stderr.endswith("is there already; name another file, or remove it first.\n")
    mixed = told("export", worked_book, "--what", "soaks", "--out", tmp_path / "x.csv", "--lot", "L1")
    assert "go with --what look-back" in mixed.stderr
