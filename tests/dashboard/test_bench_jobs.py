"""Runs of the bench as real processes: one at a time, cancelled, failing, kept, and ended with the gateway."""

import os
import subprocess
import sys
from collections.abc import Iterator, Sequence
from itertools import count
from pathlib import Path

import pytest

from dashboard.bench.job import Job, JobKind, JobState
from dashboard.bench.jobs import MOST_KEPT, MOST_WAITING, Jobs, Question, TooManyJobsError
from gateway.clock import Clock

LONG = 30.0
WRITES = "import pathlib, sys; pathlib.Path(sys.argv[1], 'answer.json').write_text('done')"
WAITS = (
    "import pathlib, sys\n"
    'print(\'{"done": 1, "of": 4, "said": "a day"}\', flush=True)\n'
    "pathlib.Path(sys.argv[1], '..', 'gate').open().read()\n" + WRITES
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "bench"
    made.mkdir()
    os.mkfifo(made / "gate")
    return made


@pytest.fixture
def jobs(folder: Path) -> Iterator[Jobs]:
    with Jobs(folder, Clock().now) as running:
        yield running


SOMEBODY = count()


def ask(jobs: Jobs, code: str, who: str = "") -> Job:
    """Asked by somebody else each time, where nobody is named."""

    def command(where: Path) -> Sequence[str]:
        return [sys.executable, "-c", code, str(where)]

    asked = Question(JobKind.TUNE, "a question", "answer.json", {"asked.json": "{}"}, command)
    return jobs.ask(asked, who or f"person {next(SOMEBODY)}")


def over(jobs: Jobs, job: Job) -> Job:
    found = jobs.wait_over(job.number, LONG)
    assert found is not None
    assert found.state.is_over
    return found


def let_go(folder: Path) -> None:
    """Blocks until the run has opened its end."""
    (folder / "gate").open("w").close()


def test_a_run_writes_its_result_into_a_folder_of_its_own(jobs: Jobs, folder: Path) -> None:
    done = over(jobs, ask(jobs, WRITES))
    assert (done.state, done.said, done.number) == (JobState.DONE, "", 1)
    assert (folder / "1" / "answer.json").read_text() == "done"
    assert (folder / "1" / "asked.json").read_text() == "{}"
    assert (folder / "1").stat().st_mode & 0o077 == 0


def test_the_same_question_of_the_same_person_is_one_run_until_it_is_over(jobs: Jobs, folder: Path) -> None:
    first = ask(jobs, WAITS, "Ana")
    with (folder / "gate").open("w"):  # it runs
        waiting = ask(jobs, WRITES, "Ana")
        again = [ask(jobs, code, "Ana").number for code in (WAITS, WRITES)]
        others = ask(jobs, WAITS, "Ben")
        assert (again, len(jobs.all())) == ([first.number, waiting.number], 3)
        jobs.cancel(others.number)
    over(jobs, first)
    over(jobs, waiting)
    assert ask(jobs, WRITES, "Ana").number > others.number


def test_how_far_it_is_is_told_while_it_runs(jobs: Jobs, folder: Path) -> None:
    job = ask(jobs, WAITS)
    let_go(folder)
    done = over(jobs, job)
    assert done.progress is not None
    assert (done.progress.done, done.progress.of, done.progress.said) == (1, 4, "a day")


def test_one_runs_and_a_few_wait_and_no_other_is_taken(jobs: Jobs, folder: Path) -> None:
    first = ask(jobs, WAITS)
    with (folder / "gate").open("w"):  # it runs
        waiting = [ask(jobs, WRITES) for _ in range(MOST_WAITING)]
        with pytest.raises(TooManyJobsError, match=f"{MOST_WAITING} runs wait already"):
            ask(jobs, WRITES)
        assert [one.state for one in jobs.all()] == [JobState.WAITING] * MOST_WAITING + [JobState.RUNNING]
    assert [over(jobs, one).state for one in (first, *waiting)] == [JobState.DONE] * 4


def test_a_run_that_is_cancelled_ends_with_all_that_it_started(jobs: Jobs, folder: Path) -> None:
    starts = (
        "import pathlib, signal, subprocess, sys\n"
        "gate = pathlib.Path(sys.argv[1], '..', 'gate').open('w')\n"
        "wait = [sys.executable, '-c', 'import signal; signal.pause()']\n"
        "subprocess.Popen(wait, pass_fds=[gate.fileno()]); gate.write('x'); gate.flush(); signal.pause()\n"
    )
    job = ask(jobs, starts)
    with (folder / "gate").open() as gate:
        assert gate.read(1) == "x"  # both are there
        assert jobs.cancel(job.number)
        assert gate.read() == ""  # neither holds it open any more
    assert over(jobs, job).state is JobState.CANCELLED
    assert over(jobs, ask(jobs, WRITES)).state is JobState.DONE
    assert not jobs.cancel(job.number)


def test_one_that_waits_is_cancelled_and_never_begins(jobs: Jobs, folder: Path) -> None:
    first = ask(jobs, WAITS)
    with (folder / "gate").open("w"):
        second = ask(jobs, WRITES)
        assert jobs.cancel(second.number)
    over(jobs, first)
    assert over(jobs, second).state is JobState.CANCELLED
    assert not (folder / "2" / "answer.json").exists()


@pytest.mark.parametrize(
    ("code", "said"),
    [
        (
            "import sys; sys.exit('Error: there is no record in /x; name another folder.')",
            "there is no record in /x; name",
        ),
        ("import sys; print('a\\nError: the last line', file=sys.stderr); sys.exit(2)", "the last line"),
        ("import sys; sys.exit(3)", "It ended with code 3 and gave no reason."),
        ("import os, signal; os.kill(os.getpid(), signal.SIGKILL)", "The system ended it (signal 9)"),
        ("pass", "It ended without a result."),
        ("import sys; sys.stderr.write('x' * 100_000 + '\\nError: at last'); sys.exit(1)", "at last"),
    ],
)
def test_a_run_that_fails_says_why_in_a_sentence(jobs: Jobs, code: str, said: str) -> None:
    failed = over(jobs, ask(jobs, code))
    assert failed.state is JobState.FAILED
    assert failed.said.startswith(said)
    assert len(failed.said) <= 600


def test_a_command_that_is_not_there_is_told(jobs: Jobs) -> None:
    job = jobs.ask(Question(JobKind.TUNE, "x", "answer.json", {}, lambda _: ["/no/such/program"]), "E. Ngineer")
    assert over(jobs, job).said == "It could not be started: No such file or directory."


def test_what_a_run_prints_besides_its_progress_does_no_harm(jobs: Jobs) -> None:
    assert over(jobs, ask(jobs, "print('{\"done\": -1}'); print('x' * 50_000)\n" + WRITES)).state is JobState.DONE


def test_runs_are_found_again_and_what_was_cut_off_says_so(folder: Path) -> None:
    with Jobs(folder, Clock().now) as before:
        done = over(before, ask(before, WRITES))
        cut = ask(before, WAITS)
        with (folder / "gate").open("w"):  # it runs
            before.close()
    with Jobs(folder, Clock().now) as after:
        assert [job.state for job in after.all()] == [JobState.FAILED, JobState.DONE]
        found = after.get(cut.number)
        assert found is not None
        assert found.said == "The gateway ended before it was done; ask again."
        assert after.get(done.number) == done
        assert ask(after, WRITES).number == 3


def test_a_folder_that_cannot_be_read_stays_and_its_number_is_not_taken_again(folder: Path) -> None:
    (folder / "7").mkdir()
    (folder / "7" / "job.json").write_text("rubbish")
    with Jobs(folder, Clock().now) as jobs:
        assert jobs.all() == []
        assert ask(jobs, WRITES).number == 8
    assert (folder / "7" / "job.json").read_text() == "rubbish"


def test_so_many_are_kept_and_the_oldest_goes_first(jobs: Jobs, folder: Path) -> None:
    for number in range(1, MOST_KEPT + 1):
        where = folder / str(number)
        where.mkdir()
        job = Job(number=number, kind=JobKind.TUNE, title="x", result="answer.json", asked_at=Clock().now(), command=())
        job.model_copy(update={"state": JobState.DONE}).kept(where)
    jobs.close()
    with Jobs(folder, Clock().now) as after:
        over(after, ask(after, WRITES))
        assert len(after.all()) == MOST_KEPT
        assert after.get(1) is None
    assert not (folder / "1").exists()
    assert (folder / "2").exists()


def test_a_run_does_not_outlive_a_gateway_that_is_killed(folder: Path) -> None:
    gateway = (
        "import sys, pathlib, signal; from tests.dashboard.test_bench_jobs import *\n"
        "with Jobs(pathlib.Path(sys.argv[1]), Clock().now) as jobs:\n"
        '    ask(jobs, \'import os, pathlib, sys; g = pathlib.Path(sys.argv[1], "..", "gate").open("w");\'\n'
        "        'g.write(str(os.getpid())); g.flush(); import signal; signal.pause()'); signal.pause()\n"
    )
    process = subprocess.Popen([sys.executable, "-c", gateway, str(folder)])  # noqa: S603 - our own
    with (folder / "gate").open() as gate:
        assert gate.read(1).isdecimal()
        process.kill()
        process.wait()
        gate.read()  # up to the end of what the run holds open, which is its own end
