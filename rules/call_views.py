"""Draws calls and roles for screens."""

from collections.abc import Iterator

from rules.agenda import NEVER
from rules.call_picture import CallPicture, RolePicture, ToldPicture
from rules.calls import Call, Page, PagingState
from rules.duty import Rota
from rules.readings import Micros
from rules.site import Site

TOLD_SHOWN = 50
"""So many pages of a call go into the picture; the rest is in the record."""


def draw_roles(site: Site, rota: Rota, now: Micros) -> Iterator[RolePicture]:
    """Every role of the site, in the order of the file; none where it has no routes."""
    names = {contact.id: contact.name for contact in site.contact}
    for role in site.role if site.route else ():
        found = rota.on_duty(role.id, now)
        contacts = tuple(names.get(contact, contact) for contact in found.contacts)
        yield RolePicture(role.id, role.name, contacts, None if found.end == NEVER else found.end)


def draw_call(call: Call, alerts: tuple[str, ...], next_roles: tuple[str, ...], state: PagingState) -> CallPicture:
    """One call; ``alerts``: the most urgent first."""
    pages = [state.pages[page] for page in call.pages if page in state.pages]
    return CallPicture(
        alerts=alerts,
        route=call.route,
        tier=max(call.tier, 0),
        told=tuple(_told(page) for page in pages[-TOLD_SHOWN:]),
        next_at=call.next_at,
        next_roles=next_roles if call.next_at is not None else (),
        unmanned=tuple(dict.fromkeys(call.unmanned)),
    )


def _told(page: Page) -> ToldPicture:
    return ToldPicture(
        page.id, page.at, page.why, page.role, page.contact, page.channel, page.outcome, cannot=page.cannot
    )
