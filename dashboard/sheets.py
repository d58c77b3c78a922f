"""The kinds of things at which people enter what they do: for each its page, its forms, and what is said of them."""

from zoneinfo import ZoneInfo

from dashboard import cart_deeds, deeds, probe_deeds
from dashboard.cart_care import cart_of
from dashboard.entries import Sheet
from dashboard.pages import BasinPage
from dashboard.premises import Premises
from dashboard.probe_pages import CartPage, ProbePage
from dashboard.probes import probe_of
from dashboard.upkeep import basin_of
from rules.commands import BasinEntry, CartEntry, ProbeEntry
from rules.picture import BasinPicture, CartPicture, ProbePicture


def basin_sheet(site_name: str, zone: ZoneInfo) -> Sheet[BasinPicture, BasinEntry]:
    """What is done at a basin; whether a strip counts is told by a picture that knows of it."""
    return Sheet(
        kind="basin",
        deeds=tuple(deeds.Deed),
        nowhere="This site has no such basin; /basins lists those that it has.",
        find=basin_of,
        page=lambda name: BasinPage("basin", name, site_name, zone),
        entry=lambda deed, fields, basin, _, now: (deeds.entry_of(deeds.Deed(deed), fields, basin, now),),
        told=lambda _, events, basin, picture, now: deeds.told(events, basin, picture.at, now, zone),
    )


def probe_sheet(site_name: str, zone: ZoneInfo, premises: Premises) -> Sheet[ProbePicture, ProbeEntry]:
    """What is entered of a probe."""
    return Sheet(
        kind="probe",
        deeds=tuple(probe_deeds.Deed),
        acts_as=("role", "vouch_role"),
        nowhere="This site follows no such probe; /probes lists those that it follows.",
        find=probe_of,
        page=lambda name: ProbePage("probe", name, site_name, zone, premises),
        entry=lambda deed, fields, probe, picture, now: (
            probe_deeds.entry_of(probe_deeds.Deed(deed), fields, probe, picture, premises, now),
        ),
        told=lambda entries, events, _, picture, now: probe_deeds.Teller(picture, premises, now, zone).told(
            entries[0], events
        ),
    )


def cart_sheet(site_name: str, zone: ZoneInfo, premises: Premises) -> Sheet[CartPicture, CartEntry]:
    """What is done at a cart."""
    return Sheet(
        kind="cart",
        deeds=tuple(cart_deeds.Deed),
        nowhere="This site has no such cart; /probes lists those that it has.",
        find=cart_of,
        page=lambda name: CartPage("cart", name, site_name, zone, premises),
        entry=lambda deed, fields, cart, _, now: (
            cart_deeds.entry_of(cart_deeds.Deed(deed), fields, cart.id, now, zone),
        ),
        told=lambda entries, events, _, __, now: cart_deeds.told(entries[0], events, now, zone),
    )
