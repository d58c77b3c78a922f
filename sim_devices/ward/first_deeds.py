"""What is done before a ward opens: solution in each basin, and a word for each probe."""

from collections.abc import Iterator

from sim_devices.ward import deeds
from sim_devices.ward.deeds import Deed
from sim_devices.ward.things import Things


def first_deeds(things: Things, celsius: float = 21) -> Iterator[Deed]:
    """Makes a new ward ready to be lived in: all at one instant, in this order, and all of it entered.

    celsius: of the fresh solution.
    """
    for basin in things.basins:
        yield deeds.OpenLid(basin=basin)
        yield deeds.Pour(basin=basin, celsius=celsius, told_after_seconds=0)
        yield deeds.CloseLid(basin=basin)
    for cart in things.carts:
        yield deeds.WipeDown(cart=cart, told_after_seconds=0)
    for probe in things.probes:
        yield deeds.VouchFor(probe=probe)
