"""What people enter at a cart: the fields of its form as a command, and in words what came of it."""

from collections.abc import Mapping, Sequence
from datetime import date
from enum import StrEnum
from typing import Annotated
from zoneinfo import ZoneInfo

from pydantic import StringConstraints

from dashboard.cart_care import day_words
from dashboard.forms import Blank, DeedError, Form, Text, Told, filled, written
from gateway.when import local
from rules.commands import CartEntry, Day, GelDiscarded, GelOpened, WipedDown
from rules.events import CartWiped, Event, GelChanged
from rules.readings import Micros


class Deed(StrEnum):
    """What is done at a cart; the last part of the address to which it is sent."""

    WIPED = "wiped"
    GEL_OPENED = "gel-opened"
    GEL_DISCARDED = "gel-discarded"


class _GelForm(Form):
    opened_when: Annotated[str, StringConstraints(pattern="^(today|day)$")]
    opened: Annotated[Day | None, Blank] = None
    gel_lot: Annotated[Text | None, Blank] = None


_EXPECTED = {
    "opened_when": "Say when the bottle was opened: today, or on which day.",
    "opened": "Opened: a day from 2000 to today.",
    "gel_lot": "Lot of the gel: at most 80 characters.",
}


def entry_of(deed: Deed, fields: Mapping[str, str], cart: str, now: Micros, zone: ZoneInfo) -> CartEntry:
    """The command that a form asks for.

    Raises:
        DeedError: a field is missing or wrong.
    """
    match deed:
        case Deed.WIPED:
            form = filled(Form, fields, _EXPECTED)
            return WipedDown(arrived=now, who=form.who, cart=cart, measured=form.done(now))
        case Deed.GEL_OPENED:
            gel = filled(_GelForm, fields, _EXPECTED)
            return GelOpened(
                arrived=now,
                who=gel.who,
                cart=cart,
                measured=gel.done(now),
                opened=_opened(gel, local(now, zone).date()),
                lot=gel.gel_lot,
            )
        case Deed.GEL_DISCARDED:
            form = filled(Form, fields, _EXPECTED)
            return GelDiscarded(arrived=now, who=form.who, cart=cart, measured=form.done(now))


def _opened(form: _GelForm, today: date) -> date:
    if form.opened_when == "today":
        return today
    if form.opened is None:
        said = "Give the day on which the bottle was opened, or choose 'opened today'."
        raise DeedError(said, {"opened": said})
    if form.opened > today:
        raise DeedError(_EXPECTED["opened"], {"opened": _EXPECTED["opened"]})
    return form.opened


def told(entry: CartEntry, events: Sequence[Event], now: Micros, zone: ZoneInfo) -> Told:
    """What was written down of this cart."""
    today = local(now, zone).date()
    return written((_sentence(event, entry.cart, today) for event in events), now, zone)


def _sentence(event: Event, cart: str, today: date) -> str:
    if isinstance(event, CartWiped) and event.cart == cart:
        return "The cart was wiped down."
    if not isinstance(event, GelChanged) or event.cart != cart:
        return ""
    if event.opened is None:
        return "The gel bottle was thrown away."
    last = f" To be thrown away on {day_words(event.discard_on, today)}." if event.discard_on is not None else ""
    return f"Gel bottle opened {day_words(event.opened, today)}.{last}"
