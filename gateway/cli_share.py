"""Commands that carry a record out of its folder, and that list what was changed in it by command."""

from pathlib import Path

import click

from gateway import figure_told
from gateway.anonymise import anonymise
from gateway.bring_in import bring_in
from gateway.export import ExportError, What
from gateway.export import export as write_export
from gateway.journal import StoreError
from gateway.logbook import Logbook
from gateway.look_back_options import Asked, question_options
from gateway.look_back_reading import NothingFoundError
from gateway.plainly import telling
from gateway.renaming import RenamingError
from gateway.schema import DATABASE, JournalError
from gateway.shared_file import SharedFileError
from gateway.visible import visible
from gateway.when import WhenError

MOST_WEEKS = 520
"""All may be moved by ten years; ours."""

_plainly = telling(JournalError, StoreError, ExportError, NothingFoundError, WhenError, RenamingError, SharedFileError)
DataArgument = click.argument("data", type=click.Path(path_type=Path))


def journal_in(data: Path) -> Path:
    """The journal of a data folder; a sentence where there is none."""
    path = data / DATABASE
    if not path.is_file():
        raise click.ClickException(f"There is no journal in {data}; expected the folder that 'serve' or 'demo' names.")
    return path


@click.command()
@DataArgument
@click.option("--what", type=click.Choice([what.value for what in What]), help="The table.")
@click.option("--anonymise", "is_shared", is_flag=True, help="The whole record without names, to be shared.")
@click.option(
    "--weeks", type=click.IntRange(-MOST_WEEKS, MOST_WEEKS), default=0, help="With --anonymise: moves all times."
)
@click.option("--out", type=click.Path(path_type=Path), required=True, help="The file to write.")
@question_options
@_plainly
def export(data: Path, what: str | None, is_shared: bool, weeks: int, out: Path, asked: Asked) -> None:  # noqa: FBT001 - the command line names it
    """Writes what folder DATA tells as a CSV file (RFC 4180), and the head of the record beside it.

    The options of a look-back go with --what look-back. With --anonymise: a file for 'sinkside import' elsewhere, in
    which people, places, things, lots and all that people wrote are left out or go by other names.
    """
    if is_shared is (what is not None):
        raise click.UsageError("Say what to write: --what TABLE, or --anonymise.")
    path = journal_in(data)
    if what is None:
        _share(path.parent, out, weeks, asked)
    elif weeks:
        raise click.UsageError("--weeks goes with --anonymise; leave it out.")
    else:
        _export(Logbook(path), What(what), out, asked)


def _share(data: Path, out: Path, weeks: int, asked: Asked) -> None:
    if asked.is_given:
        raise click.UsageError("The options of a look-back go with --what look-back; leave them out.")
    from gateway.cli_truth import simulated_truth

    for line in anonymise(data, out, weeks, simulated_truth(data)).lines():
        click.echo(line)


def _export(book: Logbook, what: What, out: Path, asked: Asked) -> None:
    if what != What.LOOK_BACK and asked.is_given:
        raise click.UsageError("The options of a look-back go with --what look-back; leave them out.")
    done = write_export(book, what, out, asked.question(book.zone()))
    click.echo(f"{done.file}: {done.rows} rows below the names.\n{done.head_file}: record {done.head}")


@click.command()
@DataArgument
@_plainly
def figures(data: Path) -> None:
    """Which figures of rules and trackers in folder DATA people have changed by command, and who since when."""
    book = Logbook(journal_in(data))
    for line in figure_told.lines(book.figures(), book.zone()):
        click.echo(visible(line))


@click.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--data", type=click.Path(path_type=Path), required=True, help="The folder to make, new or empty.")
@_plainly
def import_(file: Path, data: Path) -> None:
    """Takes FILE, written by 'export --anonymise', into a data folder of its own, and judges it anew."""
    from gateway.cli_truth import keep_truth

    for line in bring_in(file, data, keep_truth).lines():
        click.echo(visible(line))


COMMANDS: tuple[click.Command, ...] = (export, import_, figures)
"""Added to the command line by gateway/cli.py."""
