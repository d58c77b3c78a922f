"""`sinkside tune`: which figures of the rules serve best."""

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from gateway.plainly import telling
from gateway.progress import Progress
from gateway.schema import JournalError
from gateway.sitefile import SiteFileError
from gateway.tune_options import AskedByOptions, QuestionError, load_question
from gateway.tuned import THIS_RECORD, Answer, Asked
from gateway.tuned_told import lines
from gateway.visible import visible
from rules.figures import FigureError
from rules.ruleset import RuleError

ANSWER = "answer.json"

plainly = telling(QuestionError, JournalError, SiteFileError, FigureError, RuleError)


@click.command()
@click.option("--on", multiple=True, metavar="WHAT", help="A folder, population:DAYSxCARTS, or a scenario.")
@click.option("--rule", "rules", multiple=True, metavar="RULE", help="Whose alerts are judged  [default: of --try]")
@click.option("--try", "tried", multiple=True, metavar="FIGURE=VALUES", help="Such as ...=0..30/2 or ...=1,2,4.")
@click.option("--most-false", type=float, metavar="N", help="Goal: false alerts of a cart in a week  [default: 1]")
@click.option("--least-detected", type=float, metavar="SHARE", help="Goal: so much is detected, 0 to 1  [default: 0]")
@click.option("--each-rule", is_flag=True, default=None, help="Goal: so much is detected of each rule by itself, too.")
@click.option("--held-out", type=float, metavar="SHARE", help="Kept to judge the suggestion by  [default: 0.5]")
@click.option("--last-days", type=int, metavar="DAYS", help="Of a record only so many before its end.")
@click.option("--least-seconds", type=float, help="What goes wrong for a shorter time does not count  [default: 3]")
@click.option("--grace-seconds", type=float, help="So long after its end it may be told of  [default: 60]")
@click.option("--seed", type=int, help="Of what is drawn  [default: 7]")
@click.option("--question", type=click.Path(path_type=Path), help="Instead of all these: a TOML or JSON file.")
@click.option(
    "--this-record", type=click.Path(path_type=Path), help=f"The folder that a question calls '{THIS_RECORD}'."
)
@click.option(
    "--out", type=click.Path(path_type=Path), help=f"A folder for {ANSWER}, which has every setting, and for pictures."
)
@click.option("--pictures/--no-pictures", default=True, help="In that folder: as PNG, SVG and CSV.  [default: yes]")
@click.option("--scheduler", metavar="ADDRESS", help="A Dask scheduler  [default: each core of this machine]")
@click.option("--workers", "count", type=click.IntRange(1, 1024), help="Processes here  [default: its cores]")
@click.option("--json", "is_json", is_flag=True, help="For programs: the answer as one JSON object.")
@click.option(
    "--progress",
    "progress",
    type=click.Choice(["text", "json", "none"]),
    default="text",
    show_default=True,
    help="How far it is: for people on standard error, or as lines of JSON on standard output.",
)
@plainly
def tune(
    on: tuple[str, ...],
    rules: tuple[str, ...],
    tried: tuple[str, ...],
    question: Path | None,
    this_record: Path | None,
    out: Path | None,
    pictures: bool,  # noqa: FBT001 - the command line names it
    scheduler: str | None,
    count: int | None,
    is_json: bool,  # noqa: FBT001 - the command line names it
    progress: str,
    most_false: float | None,
    **others: Any,
) -> None:
    r"""Which figures of the rules serve best: what they detect, how often they are wrong, how late they tell.

    \b
    sinkside tune --on population:7x20 --try cord-down-rolling.on_delay_seconds=0..30/2
    sinkside tune --on DATA --rule cord-down-rolling --try threshold.rolling_after_seconds=4,6,8 --most-false 1

    DATA is a folder that 'serve' or 'simulate --into' wrote. Where nobody knows what really went wrong, as on real
    days, alerts are counted and changes told, and what is detected is not measured.
    """
    options = AskedByOptions(rules, tried, on, {"most_false_per_cart_week": most_false, **others})
    asked = _asked(question, options)
    if is_json and progress == "json":
        raise click.UsageError("With --progress json standard output is taken: give --out and leave --json out.")
    if out is not None:
        _make(out)
    answer = _answered(asked, this_record, scheduler, count, _TELLING[progress])
    written = "" if out is None else _written(answer, out, pictures=pictures)
    if is_json:
        click.echo(answer.model_dump_json(indent=2))
    elif progress != "json":
        click.echo("\n".join(map(visible, lines(answer))))
        if written:
            click.echo(f"\n{written}")


def _make(out: Path) -> None:
    """Before anybody works: the answer of an hour is not to be lost for want of a place."""
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise click.ClickException(
            f"{out}: {error.strerror}; expected a folder that can be made or is there."
        ) from error


def _written(answer: Answer, out: Path, *, pictures: bool) -> str:
    """Writes the answer and what is drawn of it, and says so."""
    try:
        (out / ANSWER).write_text(answer.model_dump_json(), encoding="utf-8")
        if not pictures:
            return f"Written into {out}: {ANSWER}."
        from gateway.pictures.answered import write_pictures

        drawn, tables = write_pictures(answer, out)
    except OSError as error:
        raise click.ClickException(f"{out}: the answer cannot be written there: {error.strerror}.") from error
    pictures_said = f"; as PNG, SVG and CSV {', '.join(drawn)}" if drawn else ""
    tables_said = f"; as CSV alone, as there is nothing to draw, {', '.join(tables)}" if tables else ""
    return f"Written into {out}: {ANSWER}{pictures_said}{tables_said}."


def _asked(question: Path | None, options: AskedByOptions) -> Asked:
    if question is None:
        return options.question()
    if options.is_given:
        raise click.UsageError("With --question all that is asked stands in the file; leave the options out.")
    return load_question(question)


def _answered(
    asked: Asked,
    this_record: Path | None,
    scheduler: str | None,
    count: int | None,
    tell: Callable[[Progress], None],
) -> Answer:
    from sim_devices.troubles.table import TruthError
    from sim_devices.tuning import figures
    from sim_devices.tuning.cluster import ClusterError, workers
    from sim_devices.tuning.settings import AskError
    from sim_devices.tuning.tune import Plan
    from sim_devices.tuning.tune import tune as answer_of

    try:
        plan = Plan.of(asked, this_record)  # what cannot be asked is said before anybody is called to work
        with workers(scheduler, count) as client:
            return answer_of(plan, client, tell, time.monotonic)
    except (AskError, ClusterError, TruthError, figures.FigureError) as error:
        raise click.ClickException(str(error)) from error


def _tell_people(progress: Progress) -> None:
    click.echo(f"{progress.percent} %: {visible(progress.said)}", err=True)


def _tell_program(progress: Progress) -> None:
    click.echo(progress.model_dump_json())


def _tell_nobody(_: Progress) -> None:
    pass


_TELLING = {"text": _tell_people, "json": _tell_program, "none": _tell_nobody}
