"""For how long a solution is good by its dates."""

from rules.readings import SECOND, Micros
from rules.site import Label
from sim_devices.troubles.stretches import Held, both, held
from sim_devices.ward.state import BasinState, Liquid

DAY = 86_400 * SECOND


def good_until(liquid: Liquid, label: Label, basin: BasinState, until: Micros) -> Micros:
    """The earliest of its printed expiry, and the end of its reuse life since it was poured, as known at ``until``.

    Days of 24 h. Topping up extends nothing (FDA guidance on liquid chemical sterilants, 2000; secondary). One that
    serves a single soak is over when a lid that was closed over it and a probe for the label's time is lifted.
    """
    if label.reuse_days is None:
        return liquid.expires
    if label.reuse_days:
        return min(liquid.expires, Micros(liquid.poured + label.reuse_days * DAY))
    needed = label.min_minutes * 60 * SECOND
    since = Held(liquid.poured, until)
    soaks = both(held(basin.lid_closed, bool, since), held(basin.inside, bool, since))
    return min(liquid.expires, next((soak.end for soak in soaks if soak.micros >= needed), liquid.expires))
