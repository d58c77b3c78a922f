"""Commands that carry a record out of its folder, and that list what was changed in it by command."""

from pathlib import Path

import click

from gateway import figure_told
from gateway.export import ExportError, What
from gateway.export import export as write_export
from gateway.logbook import Logbook
from gateway.look_back_options import Asked, question_options
from gateway.look_back_reading import NothingFoundError
from gateway.plainly import telling
from gateway.schema import DATABASE, JournalError
from gateway.visible import visible
from gateway.when import WhenError

_plainly = telling(JournalError, ExportError, NothingFoundError, WhenError)
DataArgument = click.argument("data", type=click.Path(path_type=Path))


def journal_in(data: Path) -> Path:
    """The journal of a data folder; a sentence where there is none."""
    path = data / DATABASE
    if not path.is_file():
        raise click.ClickException(f"There is no journal in {data}; expected the folder that 'serve' or 'demo' names.")
    return path


@click.command()
@DataArgument
@click.option("--what", type=click.Choice([what.value for what in What]), required=True, help="The table.")
@click.option("--out", type=click.Path(path_type=Path), required=True, help="The CSV file to write.")
@question_options
@_plainly
def export(data: Path, what: str, out: Path, asked: Asked) -> None:
    """Writes what folder DATA tells as a CSV file (RFC 4180), and the head of the record beside it.

    The options of a look-back go with --what look-back.
    """
    book = Logbook(journal_in(data))
    if what != What.LOOK_BACK and asked.is_given:
        raise click.UsageError("The options of a look-back go with --what look-back; leave them out.")
    done = write_export(book, What(what), out, asked.question(book.zone()))
    click.echo(f"{done.file}: {done.rows} rows below the names.\n{done.head_file}: record {done.head}")


@click.command()
@DataArgument
@_plainly
def figures(data: Path) -> None:
    """Which figures of rules and trackers in folder DATA people have changed by command, and who since when."""
    book = Logbook(journal_in(data))
    for line in figure_told.lines(book.figures(), book.zone()):
        click.echo(visible(line))


COMMANDS: tuple[click.Command, ...] = (export, figures)
"""Added to the command line by gateway/cli.py."""
