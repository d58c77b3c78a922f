"""`sinkside people`: who may use the screens, looked after on the machine itself by whoever owns the data folder.

No password is ever typed here: people set their own by the invitation that these commands print.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

import click

from gateway.clock import Clock
from gateway.people import MACHINE, Access, Administration, Draft, Invitation, People, PeopleError
from gateway.people.addresses import display_address
from gateway.people.tables import PEOPLE
from gateway.people_words import display_lines, first_lines, invitation_lines, person_lines
from gateway.plainly import telling
from gateway.schema import JournalError, prepare_folder
from gateway.staffing import House, house_in
from gateway.visible import visible

_plainly = telling(PeopleError, JournalError)
_DataArgument = click.argument("data", type=click.Path(path_type=Path, file_okay=False))
_NameArgument = click.argument("name")
_ACCESSES = [access.value for access in Access if access is not Access.DISPLAY]


class _Open(NamedTuple):
    people: People
    house: House

    @property
    def office(self) -> Administration:
        return self.people.administer(MACHINE)

    @property
    def screens(self) -> str:
        return self.house.screens(self.people.port)

    def tell_invitation(self, invitation: Invitation) -> None:
        _tell(invitation_lines(invitation, self.screens, self.house.zone))


@contextmanager
def _opened(data: Path, *, is_new: bool = False) -> Iterator[_Open]:
    """The people of a data folder, beside a running gateway too; is_new: the folder may be made."""
    if is_new:
        prepare_folder(data)
    elif not (data / PEOPLE).is_file():
        raise PeopleError(
            f"There is nobody in {data} yet; expected the folder that 'serve' names. 'sinkside people first {data}'"
            " begins there."
        )
    house = house_in(data)
    with People(data, Clock().now, site_name=house.name, roles=house.roles, contacts=house.contacts) as people:
        yield _Open(people, house)


def _tell(lines: Iterable[str]) -> None:
    for line in lines:
        click.echo(visible(line))


@click.group()
def people() -> None:
    """Who may use the screens, and which displays may show them.

    Works on the data folder DATA, whether or not the gateway runs; what is done is told in the record.
    """


@people.command("list")
@_DataArgument
@_plainly
def list_people(data: Path) -> None:
    """Everybody who may sign in."""
    with _opened(data) as there:
        _tell(person_lines(there.office.persons(), there.house.zone))


@people.command()
@_DataArgument
@_plainly
def first(data: Path) -> None:
    """Invites the first administrator, where there is none who can sign in; an older such invitation serves no more."""
    with _opened(data, is_new=True) as there:
        _tell(first_lines(there.people.first_invitation(), there.screens, there.house.zone))


@people.command()
@_DataArgument
@_NameArgument
@click.option("--called", required=True, help="The name that is shown and kept with what they enter.")
@click.option("--access", type=click.Choice(_ACCESSES), default=Access.RESPONDER.value, show_default=True)
@click.option("--role", "roles", multiple=True, help="A role of the site file; may be given several times.")
@click.option("--contact", help="The site file's [[contact]] that is theirs.")
@_plainly
def add(data: Path, name: str, called: str, access: str, roles: tuple[str, ...], contact: str | None) -> None:
    """Adds a person with the sign-in name NAME, and prints the invitation by which they set their password."""
    with _opened(data, is_new=True) as there:
        there.tell_invitation(there.office.add(Draft(name, called, Access(access), roles, contact)))


@people.command()
@_DataArgument
@_NameArgument
@_plainly
def invite(data: Path, name: str) -> None:
    """Prints a new invitation, as for somebody who forgot the password, which it replaces once it is used."""
    with _opened(data) as there:
        there.tell_invitation(there.office.invite(name))


@people.command()
@_DataArgument
@_NameArgument
@_plainly
def disable(data: Path, name: str) -> None:
    """The person may not sign in any more, and is signed out everywhere at once; what they entered stays."""
    with _opened(data) as there:
        there.office.disable(name)
    click.echo(visible(f"{name} may not sign in any more, and is signed out everywhere."))


@people.command()
@_DataArgument
@_NameArgument
@_plainly
def enable(data: Path, name: str) -> None:
    """The person may sign in again, by the password they had."""
    with _opened(data) as there:
        there.office.enable(name)
    click.echo(visible(f"{name} may sign in again."))


@people.group()
def display() -> None:
    """Wall displays: each is let in by an address of its own, and can only read."""


@display.command("list")
@_DataArgument
@_plainly
def list_displays(data: Path) -> None:
    """Every display that is let in, with its id."""
    with _opened(data) as there:
        _tell(display_lines(there.office.displays(), there.house.zone))


@display.command("add")
@_DataArgument
@_NameArgument
@_plainly
def add_display(data: Path, name: str) -> None:
    """Lets in a display that is called NAME, such as "Wall in the soak room", and prints its address."""
    with _opened(data, is_new=True) as there:
        new = there.office.add_display(name)
        click.echo(f"Open this on the display, once; it is shown this once:\n  {_address(there, new.secret)}")


def _address(there: _Open, secret: str) -> str:
    return display_address(there.screens, secret)


@display.command("revoke")
@_DataArgument
@click.argument("display_id", metavar="ID")
@_plainly
def revoke_display(data: Path, display_id: str) -> None:
    """The display with that ID, as 'display list' shows it, is let in no more."""
    with _opened(data) as there:
        there.office.revoke_display(display_id)
    click.echo("The display is let in no more.")


COMMANDS: tuple[click.Command, ...] = (people,)
"""Added to the command line by gateway/cli.py."""
