"""People, displays and invitations as the command line tells them."""

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from zoneinfo import ZoneInfo

from gateway.people import Display, Invitation, People, Person
from gateway.people.addresses import invitation_address
from gateway.when import written


def person_lines(persons: Sequence[Person], zone: ZoneInfo) -> Iterator[str]:
    """A line for each."""
    if not persons:
        yield "Nobody may sign in yet; 'sinkside people first DATA' invites the first administrator."
    width = max((len(person.name) for person in persons), default=0)
    for person in persons:
        roles = f" in {', '.join(person.roles)}" if person.roles else ""
        yield f"{person.name:{width}}  {person.called}, {person.access}{roles}{_state(person, zone)}"


def _state(person: Person, zone: ZoneInfo) -> str:
    if not person.is_enabled:
        return "; disabled"
    if person.invited_until is not None:
        return f"; invited until {written(person.invited_until, zone)}"
    if not person.has_password:
        return "; no password yet, and the invitation has run out"
    return "" if person.signed_in is None else f"; signed in last {written(person.signed_in, zone)}"


def display_lines(displays: Sequence[Display], zone: ZoneInfo) -> Iterator[str]:
    """A line for each."""
    if not displays:
        yield "No display is let in yet; 'sinkside people display add DATA NAME' adds one."
    for display in displays:
        seen = "never" if display.seen is None else written(display.seen, zone)
        yield f"{display.id}  {display.called}; added by {display.added_by}, seen {seen}"


def invitation_lines(invitation: Invitation, screens: str, zone: ZoneInfo) -> Iterator[str]:
    """The address at which it is used, which is shown this once, and until when."""
    whose = f"'{invitation.name}'" if invitation.name else "the first administrator"
    yield f"An invitation for {whose}, until {written(invitation.until, zone)}; it is shown this once and serves once:"
    yield f"  {invitation_address(screens, invitation.secret)}"


def first_lines(invitation: Invitation | None, screens: str, zone: ZoneInfo) -> Iterator[str]:
    """As ``invitation_lines``; or that there is an administrator already."""
    if invitation is None:
        yield "There is an administrator already; they, or 'sinkside people invite DATA NAME', can invite anybody."
    else:
        yield from invitation_lines(invitation, screens, zone)


def first_steps(people: People, screens: str, data: Path) -> Iterator[str]:
    """What a new site is told at the start: how the first administrator comes in, and a display.

    The invitation is shown on a terminal alone: what a program writes elsewhere is kept in some log.
    """
    if people.has_administrator:
        yield f"  people  {screens}/sign-in; 'sinkside people display add {data} NAME' lets in a wall"
    elif sys.stdout.isatty() and (invitation := people.first_invitation()) is not None:
        yield "Nobody can look after people yet. This invites whoever will; it is shown this once and serves once:"
        yield f"  {invitation_address(screens, invitation.secret)}"
    else:
        yield f"  people  {screens}/sign-in; nobody can yet: 'sinkside people first {data}' invites an administrator"
