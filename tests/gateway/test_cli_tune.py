"""`sinkside tune`, as it is called."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from distributed import LocalCluster

from gateway.cli import main
from gateway.progress import Progress
from gateway.tune_options import AskedByOptions, QuestionError, load_question, values_of
from gateway.tuned import Answer
from gateway.visible import visible
from tests.sim_devices.tuning.recorded import ON_DELAY, RULE, hourly, record

TRY = f"{RULE}.on_delay_seconds=0,4,7"


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, ["tune", *map(str, arguments)])


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    rolls = [roll for day in range(4) for roll in hourly(day, real_seconds=30, false_seconds=6)]
    return record(tmp_path_factory.mktemp("tuned") / "data", rolls, 4)


def test_the_answer_is_told_in_words_and_written_whole(data: Path, tmp_path: Path) -> None:
    told = run("--on", data, "--try", TRY, "--workers", "1", "--out", tmp_path / "out")
    assert told.exit_code == 0, told.output
    lines = told.stdout.splitlines()
    assert lines[0].startswith("3 settings tried, 1 replay, ")
    # 24 rolls on 2 of 4 days, all told of; 24 false alerts of 2 carts on 2 days: 42 of a cart in a week
    assert next(line for line in lines if line.startswith("  present ")).split()[1:3] == ["24/24", "100%"]
    assert " 42 [26.9, 62.5] " in next(line for line in lines if line.startswith("  present "))
    assert "[rules.cord-down-rolling]" in lines
    assert "on_delay_seconds = 7" in lines
    # None false in 4 cart-days: up to 3.69 would be no surprise (-ln 0.025), 6.5 of a cart in a week
    assert any("that is too little to be sure" in line for line in lines)
    assert "Chosen by what happened in 4 cart-days; held out were 4 others, 50 % of what is known." in lines
    assert "Alerts, from present to these figures: 0 stay as they are; 48 vanish (false), 48 move (real)." in lines
    assert told.stderr.startswith(f"0 %: day 1 of 4 of {data}\n")
    assert told.stderr.endswith("95 %: choosing and comparing\n")
    answer = Answer.model_validate_json((tmp_path / "out" / "answer.json").read_bytes())
    assert [point.values for point in answer.points] == [{ON_DELAY: 0}, {ON_DELAY: 4}, {ON_DELAY: 7}]
    names = ["curve", *(f"day-{n + 1}" for n in range(len(answer.days)))]
    assert len(names) == 5
    assert lines[-1] == f"Written into {tmp_path / 'out'}: answer.json; as PNG, SVG and CSV {', '.join(names)}."
    files = {f"{name}.{ending}" for name in names for ending in ("png", "svg", "csv")}
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"answer.json", *files}
    # of two carts six rolls of each day, each told of under both figures; the false alerts of the present ones go
    day = (tmp_path / "out" / "day-1.csv").read_text()
    assert (day.count(",went wrong,present,"), day.count(",false"), day.count(",suggested,")) == (12, 12, 24)


def test_only_what_was_drawn_is_said_to_be_a_picture(tmp_path: Path) -> None:
    unknown = record(tmp_path / "data", hourly(0, real_seconds=30, false_seconds=6), 1, truth=False)
    out = tmp_path / "out"
    out.mkdir()
    (out / "curve.png").write_bytes(b"of an earlier answer")
    told = run("--on", unknown, "--try", TRY, "--workers", "1", "--out", out)
    assert told.exit_code == 0, told.output
    lines = told.stdout.splitlines()
    assert lines[-1] == (
        f"Written into {out}: answer.json; as PNG, SVG and CSV day-1; as CSV alone, as there is nothing to draw, curve."
    )
    days = {f"day-1.{ending}" for ending in ("png", "svg", "csv")}
    assert {path.name for path in out.iterdir()} == {"answer.json", "curve.csv", *days}
    assert "Which alerts would change is not compared, as nothing is suggested." in lines


def test_a_place_where_nothing_can_be_written_is_refused_before_anybody_works(data: Path, tmp_path: Path) -> None:
    taken = tmp_path / "taken"
    taken.write_text("x")
    told = run("--on", data, "--try", TRY, "--workers", "1", "--out", taken)
    assert told.exit_code == 1
    assert told.stderr == f"Error: {taken}: File exists; expected a folder that can be made or is there.\n"


def test_a_question_in_a_file_is_answered_for_programs_with_each_step_as_json(data: Path, tmp_path: Path) -> None:
    # By a cluster that somebody else has started
    question = tmp_path / "question.toml"
    question.write_text(
        f"""
rules = ["{RULE}"]
on = ["{data}"]

[[vary]]
figure = "{ON_DELAY}"
values = [7]

[goal]
most_false_per_cart_week = 0.5
"""
    )
    with LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=1, threads_per_worker=1, processes=False, host="127.0.0.1", protocol="tcp", dashboard_address=None
    ) as there:
        at = there.scheduler_address
        told = run(
            "--question", question, "--scheduler", at, "--out", tmp_path / "out", "--no-pictures", "--progress", "json"
        )
    assert told.exit_code == 0, told.output
    steps = [Progress.model_validate_json(line) for line in told.stdout.splitlines()]
    assert (steps[0].done, steps[-1].done, steps[-1].said) == (0, steps[-1].of - 5, "choosing and comparing")
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["answer.json"]
    answer = json.loads((tmp_path / "out" / "answer.json").read_text())
    assert answer["suggested"] == 0
    assert answer["asked"]["goal"] == {"most_false_per_cart_week": 0.5, "least_detected": 0, "each_rule": False}


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--try", TRY], "Nothing is given with --on; expected a folder with a record"),
        (["--on", "x"], "Nothing is given with --try; expected a figure with its values"),
        (["--on", "x", "--try", "threshold.reclose_seconds=1"], "Nothing is given with --rule"),
        (["--on", "x", "--try", "cord-down-rolling"], "'cord-down-rolling' is no figure with its values"),
        (["--on", "x", "--try", f"{RULE}.on_delay_seconds=a"], "'a' are no values; expected numbers such as"),
        (["--on", "x", "--try", f"{RULE}.on_delay_seconds=9..0"], "'9..0' is no range; expected from the least"),
        (["--on", "x", "--try", f"{RULE}.on_delay_seconds=0..30/0.001"], "are 30,001 values; expected at most 1,000"),
        (
            ["--on", "x", "--try", TRY, "--held-out", "2"],
            "held_out: input should be less than or equal to 0.9, not 2.0",
        ),
        (["--on", "population:0x6", "--try", TRY], "is no population; expected 'population:DAYSxCARTS'"),
        (["--on", "population:1x6", "--on", "population:1x6", "--try", TRY], "is named twice"),
        (["--question", "nowhere.toml"], "expected a question in TOML or JSON"),
        (["--question", "x.toml", "--on", "x"], "all that is asked stands in the file"),
        (["--on", "population:1x1", "--try", TRY, "--scheduler", "no://x"], "No Dask scheduler answers"),
        # Nobody is called where the question cannot be asked: so the values are told of, and not the scheduler.
        (
            ["--on", "population:1x1", "--try", f"{RULE}.on_delay_seconds=31", "--scheduler", "no://x"],
            "'rule.cord-down-rolling.on_delay_seconds' is 31 s; expected 0 to 30 s",
        ),
    ],
)
def test_what_cannot_be_asked_is_said_in_a_sentence(arguments: list[str], said: str) -> None:
    told = run(*arguments)
    assert told.exit_code != 0
    assert said in told.stderr
    assert "Traceback" not in told.output


def test_a_question_file_is_refused_with_file_line_and_key(tmp_path: Path) -> None:
    path = tmp_path / "question.toml"
    path.write_text('rules = ["x"]\non = ["y"]\nheldout = 0.5\n[[vary]]\nfigure = "z"\nvalues = [1]\n')
    with pytest.raises(QuestionError) as told:
        load_question(path)
    assert str(told.value) == "question.toml, line 3: 'heldout' is not known; perhaps 'held_out' is meant"


def test_a_blank_of_another_width_is_shown_and_an_order_to_the_terminal_is_not() -> None:
    assert visible("6\u00a0000\u202fEUR") == "6\u00a0000\u202fEUR"
    assert visible("\x1b[2J\u2028\u202e") == r"\x1b[2J\u2028\u202e"


def test_values_are_written_as_lists_and_ranges() -> None:
    assert values_of("1,2, 4") == (1, 2, 4)
    assert values_of("0..6/2") == (0, 2, 4, 6)
    assert values_of("0.1..0.4/0.1,5") == (0.1, 0.2, 0.3, 0.4, 5)
    assert values_of("3..5") == (3, 4, 5)


def test_the_rules_of_the_figures_are_judged_with_those_named() -> None:
    asked = AskedByOptions(("soak-cold",), (TRY, "threshold.reclose_seconds=60"), ("population:1x1",), {}).question()
    assert asked.rules == ("soak-cold", RULE)
    assert [one.figure for one in asked.vary] == [ON_DELAY, "threshold.reclose_seconds"]
