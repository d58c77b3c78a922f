"""Which sensor's words are for the probes, besides the cart or basin that they are about."""

from collections.abc import Callable

from rules.cart import CartTracker
from rules.health import SensorSetup
from rules.probes import Probes
from rules.readings import Reading, SensorKind

Handler = Callable[[Reading], None]


def routed(probes: Probes, cart: CartTracker | None, setup: SensorSetup, own: Handler | None) -> Handler | None:
    """What is done with the readings of a sensor where probes are followed.

    Args:
        probes: of the site.
        cart: of which the sensor is part, if any.
        setup: the sensor.
        own: what its cart or basin does with them.
    """
    cord = setup.id.rpartition("/")[2].removeprefix(setup.kind.value).removeprefix("-")
    if setup.id in probes.whereabouts.states:
        return _both(own, probes.place)
    if cart is None:
        return own
    name = cart.setup.id
    match setup.kind:
        case SensorKind.CONTACT:
            return _both(own, lambda reading: probes.contact(name, cord, reading))
        case SensorKind.SHOCK:
            return _both(own, lambda reading: probes.shock(name, cord, reading))
        case SensorKind.MOTION:
            return _both(own, lambda _: probes.cart_rolls(name, rolls=bool(cart.state.rolling)))
    return own


def _both(first: Handler | None, second: Handler) -> Handler:
    if first is None:
        return second
    handlers = (first, second)

    def handle(reading: Reading) -> None:
        for handler in handlers:
            handler(reading)

    return handle
