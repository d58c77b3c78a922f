"""What is known to be wrong with the ways to people, as facts of the gateway that rules can read.

A trouble is told once and stands until something shows that it is over: so an alert about a page that was not confirmed
gives rise to no other when its own pages are not confirmed either.
"""

from collections.abc import Mapping, Sequence

from rules.agenda import NEVER, Task
from rules.calls import Page, Troubles
from rules.desk import Desk
from rules.duty import Rota
from rules.readings import Micros
from rules.site import Site
from rules.steadiness import GATEWAY

STAFFED = "duty staffed"
"""Work of the agenda: somebody may be on duty now in a role where nobody was."""

_NAMED = 3
"""So many are named in an alert; of more only how many (ours)."""


class Ways:
    """Notes what became of pages, by contact, role and channel."""

    def __init__(self, site: Site, desk: Desk, rota: Rota, troubles: Troubles) -> None:
        self._contacts = {contact.id: contact.name for contact in site.contact}
        self._roles = {role.id: role.name for role in site.role}
        self._channels = {channel.id for channel in site.channel}
        self._desk = desk
        self._rota = rota
        self._troubles = troubles

    def works(self, page: Page) -> None:
        """A page was confirmed: its channel works, and its contact is reached."""
        self._troubles.channels[page.channel] = True
        _forget(self._troubles.unreached, page.contact)
        _forget(self._troubles.tests, _way(page))
        self.publish()

    def fails(self, page: Page, *, test: bool) -> None:
        """A page was not confirmed in time, or never will be."""
        self._troubles.channels[page.channel] = False
        if test:
            _note(self._troubles.tests, _way(page))
        self.publish()

    def exhausted(self, contact: str) -> None:
        """Of no way to the contact a page was confirmed."""
        if contact in self._contacts:
            _note(self._troubles.unreached, contact)
            self.publish()

    def unmanned(self, role: str, now: Micros) -> None:
        """Nobody was on duty in the role when it was to be told; no trouble where that was so on purpose."""
        if role in self._roles and not self._rota.on_duty(role, now).on_purpose:
            _note(self._troubles.unmanned, role)
            self._await(role, now)
            self.publish()

    def look_at(self, role: str, now: Micros) -> None:
        """Who is on duty may have changed."""
        if role in self._troubles.unmanned:
            self._await(role, now)
            self.publish()

    def _await(self, role: str, now: Micros) -> None:
        found = self._rota.on_duty(role, now)
        if found.contacts:
            _forget(self._troubles.unmanned, role)
        elif found.end != NEVER:
            self._desk.agenda.set(Task(STAFFED, role), found.end)

    def come_under_new_law(self, now: Micros) -> None:
        """What the site file does not name any more is nobody's trouble."""
        known = self._troubles
        known.unreached = [contact for contact in known.unreached if contact in self._contacts]
        known.tests = [way for way in known.tests if set(way.split()) <= self._contacts.keys() | self._channels]
        known.channels = {channel: works for channel, works in known.channels.items() if channel in self._channels}
        for role in list(known.unmanned):
            if role in self._roles:
                self._await(role, now)
            else:
                _forget(known.unmanned, role)
        self.publish()

    def publish(self) -> None:
        """Let the rules see it."""
        known, board = self._troubles, self._desk.board
        board.publish(GATEWAY, "unreached", _listed(known.unreached, self._contacts))
        board.publish(GATEWAY, "nobody_on_duty", _listed(known.unmanned, self._roles))
        ways = {way: self._said(way) for way in known.tests}
        board.publish(GATEWAY, "test_unconfirmed", _listed(known.tests, ways))
        silent = [channel for channel, works in known.channels.items() if not works]
        board.publish(GATEWAY, "channel_unconfirmed", _listed(silent, {}))
        # One that failed tells nothing yet of the others, by which the contact is tried next.
        board.publish(GATEWAY, "no_channel_works", bool(known.unreached) and not any(known.channels.values()))

    def _said(self, way: str) -> str:
        contact, channel = way.split()
        return f"{self._contacts[contact]} by {channel}"


def _way(page: Page) -> str:
    return f"{page.contact} {page.channel}"


def _note(known: list[str], name: str) -> None:
    if name not in known:
        known.append(name)


def _forget(known: list[str], name: str) -> None:
    if name in known:
        known.remove(name)


def _listed(known: Sequence[str], names: Mapping[str, str]) -> str:
    """'A, B and 3 more'."""
    shown = ", ".join(names.get(name, name) for name in known[:_NAMED])
    return shown if len(known) <= _NAMED else f"{shown} and {len(known) - _NAMED} more"
