"""What is done with carts and their cords."""

from rules.commands import GelOpened, WipedDown
from rules.readings import SECOND, Micros, SensorKind, micros
from sim_devices.ward import deeds
from sim_devices.ward.crew import EXAMINER
from sim_devices.ward.probe_moves import hang_up_probe, take_down_probe
from sim_devices.ward.spoken import day_of, enter, press
from sim_devices.ward.state import Jolt
from sim_devices.ward.things import Things, named

_DAY = 86_400 * SECOND


def roll(things: Things, at: Micros, deed: deeds.Roll) -> None:
    """The cart is pushed off."""
    things.cart(deed.cart).rolling.set(at, value=True)


def halt(things: Things, at: Micros, deed: deeds.Halt) -> None:
    """The cart comes to rest."""
    things.cart(deed.cart).rolling.set(at, value=False)


def bump(things: Things, at: Micros, deed: deeds.Bump) -> None:
    """Somebody runs into the cart."""
    things.cart(deed.cart).jolts.append(Jolt(at, deed.mps2, things.figures.bump_seconds))


def mains(things: Things, at: Micros, deed: deeds.Mains) -> None:
    """The plug is put in, or pulled."""
    things.cart(deed.cart).plugged_in.set(at, deed.plugged_in)


def take_down(things: Things, at: Micros, deed: deeds.TakeDown) -> None:
    """A cord, and the probe on it, is taken off its hook."""
    on_hook = named(things.cart(deed.cart).on_hook, f"cord of cart '{deed.cart}'", deed.cord)
    probe = things.on_cord.get((deed.cart, deed.cord))
    if probe is not None:
        take_down_probe(things, at, probe)
    else:
        on_hook.set(at, value=False)


def hang_up(things: Things, at: Micros, deed: deeds.HangUp) -> None:
    """A cord is hung on its hook, and the probe on it from wherever it is."""
    on_hook = named(things.cart(deed.cart).on_hook, f"cord of cart '{deed.cart}'", deed.cord)
    probe = things.on_cord.get((deed.cart, deed.cord))
    if probe is not None:
        hang_up_probe(things, at, probe)
    else:
        on_hook.set(at, value=True)


def wipe_down(things: Things, at: Micros, deed: deeds.WipeDown) -> None:
    """The cart's surfaces are wiped; told with its button, or by an entry where it has none."""
    things.cart(deed.cart).wiped.append(at)
    button = things.buttons.get((deed.cart, SensorKind.WIPED))
    if deed.by_button and button is not None:
        press(things.pressed[button], at, value=True)
    elif deed.told_after_seconds is not None:
        arrived = Micros(at + micros(deed.told_after_seconds))
        enter(things.told, WipedDown(arrived=arrived, who=EXAMINER, cart=deed.cart, measured=at))


def open_gel(things: Things, at: Micros, deed: deeds.OpenGel) -> None:
    """A gel bottle takes the place of the one before."""
    opened = Micros(at - deed.days_ago * _DAY)
    things.cart(deed.cart).gel_opened.set(at, opened)
    if deed.told_after_seconds is not None:
        arrived = Micros(at + micros(deed.told_after_seconds))
        day = day_of(things.site, opened)
        enter(things.told, GelOpened(arrived=arrived, who=EXAMINER, cart=deed.cart, measured=at, opened=day))
