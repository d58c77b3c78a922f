"""The commands of scenarios: a list of the situations that ship, and what comes of one."""

import sys
from pathlib import Path

import click

from gateway.plainly import telling
from gateway.progress import Progress
from gateway.situations import SituationRuns
from gateway.visible import visible
from sim_devices.scenarios.mistakes import ScenarioError
from sim_devices.ward.refusal import DeedError

plainly = telling(ScenarioError, DeedError)


@click.command()
@click.option("--json", "is_json", is_flag=True, help="For programs: one JSON object a line.")
@plainly
def scenarios(is_json: bool) -> None:  # noqa: FBT001 - the command line names it
    """Lists the situations that ship, each with what should and should not be raised in it."""
    from sim_devices.scenarios.library import library  # noqa: PLC0415 - takes long to load
    from sim_devices.scenarios.told import situation  # noqa: PLC0415 - takes long to load

    for scenario in library():
        told = situation(scenario)
        if is_json:
            click.echo(told.model_dump_json())
        else:
            click.echo(f"{told.name:<30} {scenario.about.title}")
            click.echo(f"{'':<30} raised: {', '.join(told.raised) or 'nothing'}")


@click.command()
@click.argument("names", nargs=-1, required=True)
@click.option("--json", "is_json", is_flag=True, help="For programs: one JSON object of all of them.")
@click.option("--out", type=click.Path(path_type=Path), help="For programs: that object goes into this file instead.")
@plainly
def scenario(names: tuple[str, ...], is_json: bool, out: Path | None) -> None:  # noqa: FBT001 - the command line names it
    """Runs situations by name, or by the path of a file that ends in .toml, and tells what came of each.

    Step by step: what was done, what was raised, and what really went wrong. Ends with 1 where one went otherwise than
    its file says. With --out a line of JSON tells after each how many are done, and it ends with 0: the file says how
    they went.
    """
    from sim_devices.scenarios.library import found  # noqa: PLC0415 - takes long to load
    from sim_devices.scenarios.stage import play  # noqa: PLC0415 - takes long to load
    from sim_devices.scenarios.told import lines, run_of  # noqa: PLC0415 - takes long to load

    runs = []
    for done, one in enumerate([found(name) for name in names], 1):
        played = play(one)
        runs.append(run_of(one, played))
        if out is not None:
            click.echo(Progress(done=done, of=len(names), said=f"tried {one.name}").model_dump_json())
        elif not is_json:
            click.echo("\n".join(visible(line) for line in lines(one, played)))
    if out is not None:
        out.write_text(SituationRuns(runs=tuple(runs)).model_dump_json(), encoding="utf-8")
        return
    if is_json:
        click.echo(SituationRuns(runs=tuple(runs)).model_dump_json())
    if not all(run.is_as_meant for run in runs):
        sys.exit(1)
