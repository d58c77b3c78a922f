"""The kinds of things at which people enter what they do: for each its page, its forms, and what is said of them."""

from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from dashboard import cart_deeds, deeds, probe_deeds
from dashboard.cart_care import cart_of
from dashboard.deeds import Deed
from dashboard.forms import Told
from dashboard.pages import BasinPage, EntryPage
from dashboard.premises import Premises
from dashboard.probe_pages import CartPage, ProbePage
from dashboard.probes import probe_of
from dashboard.upkeep import basin_of
from rules.commands import BasinEntry, CartEntry, Entry, ProbeEntry
from rules.events import Event
from rules.picture import Picture
from rules.readings import Micros


@dataclass(frozen=True, slots=True)
class BasinSheet:
    """What is done at a basin."""

    site_name: str
    zone: ZoneInfo
    kind: str = "basin"
    deeds: Container[str] = tuple(Deed)
    nowhere: str = "This site has no such basin; /basins lists those that it has."

    def page(self, name: str, picture: Picture) -> EntryPage | None:
        """The page of a basin."""
        return None if basin_of(picture, name) is None else BasinPage(self.kind, name, self.site_name, self.zone)

    def entry(self, name: str, deed: str, fields: Mapping[str, str], picture: Picture, now: Micros) -> BasinEntry:
        """The command that a form asks for."""
        basin = basin_of(picture, name)
        if basin is None:
            raise LookupError(name)
        return deeds.entry_of(Deed(deed), fields, basin, now)

    def told(self, entry: Entry, events: Sequence[Event], picture: Picture, now: Micros) -> Told:
        """What was written down, and whether a strip counts by a picture that knows of it."""
        basin = basin_of(picture, entry.basin) if isinstance(entry, BasinEntry) else None
        if basin is None:
            raise LookupError(entry.kind)
        return deeds.told(events, basin, picture.at, now, self.zone)


@dataclass(frozen=True, slots=True)
class ProbeSheet:
    """What is entered of a probe."""

    site_name: str
    zone: ZoneInfo
    premises: Premises
    kind: str = "probe"
    deeds: Container[str] = tuple(probe_deeds.Deed)
    nowhere: str = "This site follows no such probe; /probes lists those that it follows."

    def page(self, name: str, picture: Picture) -> EntryPage | None:
        """The page of a probe."""
        if probe_of(picture, name) is None:
            return None
        return ProbePage(self.kind, name, self.site_name, self.zone, self.premises)

    def entry(self, name: str, deed: str, fields: Mapping[str, str], picture: Picture, now: Micros) -> ProbeEntry:
        """The command that a form asks for."""
        probe = probe_of(picture, name)
        if probe is None:
            raise LookupError(name)
        return probe_deeds.entry_of(probe_deeds.Deed(deed), fields, probe, picture, self.premises, now)

    def told(self, entry: Entry, events: Sequence[Event], picture: Picture, now: Micros) -> Told:
        """What was written down."""
        if not isinstance(entry, ProbeEntry):
            raise TypeError(entry.kind)
        return probe_deeds.Teller(picture, self.premises, now, self.zone).told(entry, events)


@dataclass(frozen=True, slots=True)
class CartSheet:
    """What is done at a cart."""

    site_name: str
    zone: ZoneInfo
    premises: Premises
    kind: str = "cart"
    deeds: Container[str] = tuple(cart_deeds.Deed)
    nowhere: str = "This site has no such cart; /probes lists those that it has."

    def page(self, name: str, picture: Picture) -> EntryPage | None:
        """The page of a cart."""
        if cart_of(picture, name) is None:
            return None
        return CartPage(self.kind, name, self.site_name, self.zone, self.premises)

    def entry(self, name: str, deed: str, fields: Mapping[str, str], _picture: Picture, now: Micros) -> CartEntry:
        """The command that a form asks for."""
        return cart_deeds.entry_of(cart_deeds.Deed(deed), fields, name, now, self.zone)

    def told(self, entry: Entry, events: Sequence[Event], _picture: Picture, now: Micros) -> Told:
        """What was written down."""
        if not isinstance(entry, CartEntry):
            raise TypeError(entry.kind)
        return cart_deeds.told(entry, events, now, self.zone)
