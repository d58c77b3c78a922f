"""``sinkside report alerts`` as its users meet it: by the command line, on a real disk."""

import csv
import json
import re
import tomllib
from io import StringIO
from pathlib import Path

import pytest
from click.testing import CliRunner

from gateway.cli import main
from gateway.sitefile import shipped
from rules.alert_words import PageWhy, Priority
from tests.gateway.called import told
from tests.gateway.told_journal import journal_of
from tests.rules.told_alerts import acknowledged, asked, each, over, raised, reported


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A day with twelve alerts of one cart within ten minutes, one urgent alert, and their pages."""
    times = [40 * n for n in range(12)]
    said = [
        *each(times),
        *(over(at + 20, f"alert-{n}") for n, at in enumerate(times)),
        raised(9000, "urgent", "too-cold", "basin basin-1", Priority.HIGH),
        asked(9000, "page-1", "urgent"),
        reported(9005, "page-1"),
        asked(9100, "page-2", "urgent", why=PageWhy.ESCALATION),
        acknowledged(9125, "urgent"),
    ]
    folder = tmp_path_factory.mktemp("load") / "d"
    journal_of(folder, said, zone="Asia/Kolkata")
    return folder


def row(text: str, name: str) -> str:
    """The words of the first line that begins with a name, after it."""
    line = next(line.strip() for line in text.splitlines() if line.strip().startswith(name))
    return " ".join(line.removeprefix(name).split())


def test_the_report_tells_each_figure_with_its_target_and_whether_it_is_within(folder: Path) -> None:
    answer = told("report", "alerts", folder)
    assert answer.returncode == 0, answer.stderr
    assert "Less than 30 days of record: figures are provisional." in answer.stdout
    assert "after ISA-18.2 and EEMUA 191 (from secondary sources)" in answer.stdout
    assert row(answer.stdout, "most in any 10 min") == "12 10 at most above"
    assert row(answer.stdout, "10-min slots with more than 10") == "0 of 146, 0 % less than 1 % within"
    assert row(answer.stdout, "of high priority") == "1, 7.7 % about 5 % above"
    assert row(answer.stdout, "time to an answer, median") == "2 min 05 s"
    assert row(answer.stdout, "over before anybody answered") == "12"
    assert row(answer.stdout, "escalations") == "1"
    assert row(answer.stdout, "confirmed in time") == "50 %"
    assert row(answer.stdout, "Charge nurse").startswith("2 1.98 2 2 50 % 0")
    assert row(answer.stdout, "Pager, ward").startswith("2 ")


def test_times_are_those_of_the_site(folder: Path) -> None:
    # 100 s after 22:13:20 UTC it is 03:45 on the next day in India.
    answer = told("report", "alerts", folder, "--from", "2023-11-15 03:45", "--until", "2023-11-15 05:00")
    assert "2023-11-15 03:45:00 to 2023-11-15 05:00:00, local to Asia/Kolkata: 1 h 15 min" in answer.stdout
    assert row(answer.stdout.split("Pages")[0], "alerts") == "9"


def test_a_spreadsheet_gets_a_row_for_each_figure_of_all_rules_roles_and_contacts(folder: Path) -> None:
    answer = told("report", "alerts", folder, "--as", "csv")
    rows = list(csv.DictReader(StringIO(answer.stdout)))
    found = {(one["of"], one["name"], one["figure"]): one for one in rows}
    assert len(found) == len(rows)
    assert found["all", "", "alerts_most_in_ten_minutes"]["value"] == "12"
    assert found["all", "", "alerts_most_in_ten_minutes"]["meets"] == "above"
    assert found["rule", "too-cold", "answer_median_seconds"]["value"] == "125"
    assert found["role", "nurse", "pages"]["value"] == "2"
    assert found["contact", "pager-1", "pages"]["value"] == "2"
    assert rows[0]["since"] == "2023-11-15T03:26:40+05:30"


def test_programs_get_the_same_figures(folder: Path) -> None:
    found = json.loads(told("report", "alerts", folder, "--rule", "too-cold", "--as", "json").stdout)
    assert found["alerts"]["rates"]["count"] == 1
    assert found["pages"]["why"]["escalation"] == 1
    assert found["which"] == {"rule": "too-cold", "role": None}


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--rule", "nothing"), "Error: Nothing is known of a rule 'nothing'; expected one of"),
        (("--role", "nobody"), "Error: Nothing is known of a role 'nobody'; expected one of nurse."),
        (("--from", "noon"), "Error: 'noon' is no time; expected such as"),
        (("--from", "2024-01-01"), "Error: There is no record in the time asked for; it reaches from 2023-11-15"),
    ],
)
def test_what_cannot_be_told_gets_one_clear_sentence(folder: Path, options: tuple[str, ...], said: str) -> None:
    answer = told("report", "alerts", folder, *options)
    assert answer.returncode == 1
    assert answer.stderr.startswith(said)


def test_a_folder_without_a_record_is_told_as_such(tmp_path: Path) -> None:
    assert "There is no journal in" in told("report", "alerts", tmp_path).stderr


def test_the_rule_that_the_help_suggests_is_a_real_one() -> None:
    said = " ".join(CliRunner().invoke(main, ["report", "alerts", "--help"]).output.split())
    suggested = re.search(r"alerts of that rule, such as '([a-z-]+)'", said)
    assert suggested is not None
    assert suggested[1] in {rule["id"] for rule in tomllib.loads(shipped("standard.toml"))["rule"]}
