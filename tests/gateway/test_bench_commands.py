"""What the bench runs is what the command line understands."""

from pathlib import Path

from click.testing import CliRunner

from dashboard.bench.starting import trying, tuning
from dashboard.bench.workbench import ANSWER, ASKED, RUNS
from gateway import cli
from gateway.progress import Progress
from gateway.situations import SituationRuns


def spoken(command: list[str]) -> list[str]:
    """The arguments of a command of ours."""
    assert command[1:3] == ["-m", "gateway.cli"]
    return command[3:]


def test_situations_are_listed_for_the_bench_each_with_what_it_is_about() -> None:
    found = cli._situations()
    assert len(found) >= 25
    assert all(one.about and one.name for one in found)
    assert len({one.name for one in found}) == len(found)


def test_what_came_of_situations_is_written_for_the_bench(tmp_path: Path) -> None:
    names = [one.name for one in cli._situations()[:2]]
    done = CliRunner().invoke(cli.main, spoken(trying(tmp_path, names)))
    assert done.exit_code == 0, done.output
    told = [Progress.model_validate_json(line) for line in done.output.splitlines()]
    assert [(one.done, one.of) for one in told] == [(1, 2), (2, 2)]
    runs = SituationRuns.model_validate_json((tmp_path / RUNS).read_text())
    assert [run.name for run in runs.runs] == names


def test_a_question_that_cannot_be_answered_is_refused_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / ASKED).write_text(
        '{"rules": ["no-such-rule"], "on": ["population:1x1"],'
        ' "vary": [{"figure": "rule.no-such-rule.on_delay_seconds", "values": [1]}]}'
    )
    done = CliRunner().invoke(cli.main, spoken(tuning(tmp_path, tmp_path)))
    assert done.exit_code == 1
    assert "no-such-rule" in done.output
    assert not (tmp_path / ANSWER).exists()
