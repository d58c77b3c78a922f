"""The page of a cart: when it was wiped down, its gel, what its sensors say, and its probes."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from dashboard.carts import cart_view
from dashboard.premises import Premises
from dashboard.probes import ProbeRow, probe_row
from dashboard.words import moment
from gateway.when import local
from rules.picture import CarePicture, CartPicture, GelPicture, Picture
from rules.readings import Micros


@dataclass(frozen=True, slots=True)
class CareLine:
    """A fact of a cart's care; due: whether somebody has something to do about it."""

    said: str
    due: bool = False


@dataclass(frozen=True, slots=True)
class CartPageView:
    """A cart on its page; motion: whether it rolls and how its cords are. followed: whether the site follows probes."""

    care: tuple[CareLine, ...]
    motion: str
    probes: tuple[ProbeRow, ...]
    followed: bool


def cart_of(picture: Picture, name: str) -> CartPicture | None:
    """The cart with this id."""
    return next((cart for cart in picture.carts if cart.id == name), None)


def cart_page_view(
    cart: CartPicture, picture: Picture, now: Micros, zone: ZoneInfo, premises: Premises
) -> CartPageView:
    """The page of one cart at an instant."""
    wall = cart_view(cart, picture.hearing)
    probes = (probe_row(probe, picture, premises) for probe in picture.probes if probe.cart == cart.id)
    return CartPageView(
        care=tuple(_care(cart.care, now, zone)),
        motion=f"{wall.motion[:1].upper()}{wall.motion[1:]}; cords: {wall.cords}.",
        probes=tuple(probes),
        followed=bool(picture.probes),
    )


def _care(care: CarePicture, now: Micros, zone: ZoneInfo) -> Iterator[CareLine]:
    yield _wipe(care, now, zone)
    yield gel_line(care.gel, local(now, zone).date())
    for left in care.left_off:
        since = moment(left.since, now, zone)
        yield CareLine(
            f"The {left.cord} probe is off its hook since {since}, and no exam is marked: see where it lies.", due=True
        )
    if care.plugged_in is not None:
        yield CareLine("Plugged in: unplug it before you move the cart." if care.plugged_in else "Not plugged in.")
    if care.at_risk is not None and care.at_risk > 0:
        yield CareLine(
            f"Off their hooks are probes worth {care.at_risk:,.0f} {care.currency}, as far as prices are known."
        )


def _wipe(care: CarePicture, now: Micros, zone: ZoneInfo) -> CareLine:
    last = "" if care.wiped_at is None else f"Last wiped down {moment(care.wiped_at, now, zone)}."
    if care.wipe_due_since is not None:
        return CareLine(f"A wipe-down is due since {moment(care.wipe_due_since, now, zone)}. {last}".strip(), due=True)
    if care.wipes_followed:
        return CareLine(f"No wipe-down is due. {last}".strip())
    return CareLine(last or "No wipe-down is recorded.")


def gel_line(gel: GelPicture | None, today: date) -> CareLine:
    """The gel bottle: when it was opened, and until when it may be used."""
    if gel is None:
        return CareLine("No open gel bottle is recorded.")
    lot = f", lot {gel.lot}" if gel.lot else ""
    bottle = f"Gel bottle opened {day_words(gel.opened, today)}{lot}"
    if gel.out_of_date:
        return CareLine(f"{bottle}: out of date since {day_words(gel.discard_on, today)}. Throw it away.", due=True)
    return CareLine(f"{bottle}: to be thrown away on {day_words(gel.discard_on, today)}.")


def day_words(day: date, today: date) -> str:
    """``29 Jan``, with the year where it is not today's."""
    return f"{day.day} {day:%b}" + f" {day.year}" * (day.year != today.year)
