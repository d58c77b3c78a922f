"""What really went wrong in a ward, told from what happened in it and from nothing that the engine says."""

from collections.abc import Mapping
from types import MappingProxyType

from rules.readings import Micros
from sim_devices.troubles.basins import basin_troubles
from sim_devices.troubles.carts import cart_troubles
from sim_devices.troubles.devices import Outages, device_troubles, no_outages, room_troubles
from sim_devices.troubles.episode import Episode, Trouble
from sim_devices.troubles.look import Look
from sim_devices.troubles.probes import probe_troubles
from sim_devices.ward.ward import Ward


def episodes(ward: Ward, after: Micros, until: Micros, outages: Outages = no_outages) -> list[Episode]:
    """What went wrong at any time in [after, until), by start; what the ward has forgotten counts as never been.

    outages: when a device was out of reach or without power, also by bad luck and a battery that ran down, which are
        the radio's and no deeds; left out, by deeds alone.

    An episode keeps its own start, also where that is before ``after``; one that still went on at ``until`` has no end.
    """
    look = Look.back(ward, until)
    found = [
        *cart_troubles(look),
        *basin_troubles(look),
        *probe_troubles(look),
        *room_troubles(look),
        *device_troubles(look, outages),
    ]
    return sorted((e for e in found if e.end is None or e.end > after), key=_order)


def _order(episode: Episode) -> tuple[Micros, str, str, str]:
    return episode.start, episode.trouble.name, episode.subject.kind.value, episode.subject.id


FOR: Mapping[str, tuple[Trouble, ...]] = MappingProxyType(
    {
        "cord-down-rolling": (Trouble.CORD_DOWN_ROLLING,),
        "moved-plugged-in": (Trouble.PLUGGED_IN_ROLLING,),
        "cord-left-off": (Trouble.CORD_LEFT_OFF,),
        "wipe-down-due": (Trouble.WIPE_DOWN_OWED,),
        "gel-out-of-date": (Trouble.GEL_OUT_OF_DATE,),
        "soak-too-short": (Trouble.SOAK_TOO_SHORT,),
        "soak-not-met": (Trouble.SOAK_NOT_MET,),
        "soak-cold": (Trouble.SOAK_COLD,),
        "soak-never-done": (Trouble.SOAK_NEVER_DONE,),
        "lid-open-over-soak": (Trouble.LID_OPEN_EARLY,),
        "over-soak": (Trouble.OVER_SOAK,),
        "solution-out-of-date": (Trouble.SOLUTION_OUT_OF_DATE,),
        "strip-failed": (Trouble.SOLUTION_SPENT,),
        "solution-ends-soon": (Trouble.SOLUTION_ENDS_SOON,),
        "probe-used-again": (Trouble.USED_AGAIN,),
        "probe-used-uncleaned": (Trouble.USED_UNCLEANED,),
        "probe-rolls-away": (Trouble.ROLLS_AWAY,),
        "probe-waits": (Trouble.WAITS,),
        "probe-waits-too-long": (Trouble.WAITS_LONG,),
        "probe-held": (Trouble.WAITS,),
        "probe-not-allowed": (Trouble.WRONG_BASIN,),
        "probe-to-inspect": (Trouble.KNOCKED,),
        "soak-unclaimed": (Trouble.SOAK_UNCLAIMED,),
        "vapour-rising": (Trouble.VAPOUR,),
        "sensor-silent": (Trouble.SENSOR_SILENT,),
        "device-offline": (Trouble.DEVICE_OFFLINE,),
        "sensor-implausible": (Trouble.SENSOR_WRONG,),
        "clock-behind": (Trouble.CLOCK_WRONG,),
    }
)
"""By standard rule, the troubles that it is for: an alert of the rule about the same subject tells of them."""

ABOUT_SINKSIDE_ITSELF = (
    "gateway-cut-off",
    "gateway-unsteady",
    "gateway-cannot-store",
    "page-not-confirmed",
    "channel-not-confirmed",
    "no-channel-works",
    "nobody-on-duty",
    "test-page-not-confirmed",
)
"""Rules about the gateway, its broker and the ways to people: no ward goes wrong where they raise."""
