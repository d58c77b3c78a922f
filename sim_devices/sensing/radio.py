"""All devices' ways to the broker."""

from bisect import bisect_right
from dataclasses import dataclass, field

from rules.readings import Micros, SensorKind, micros
from rules.site import Site
from sim_devices.chance import Chance
from sim_devices.sensing.clock import DeviceClock
from sim_devices.sensing.delivery import Delivery, Fate, Sent
from sim_devices.sensing.powered import Spans
from sim_devices.sensing.radio_figures import RADIO, RadioFigures
from sim_devices.sensing.reach import Reach
from sim_devices.sensing.senses import Senses
from sim_devices.sensing.spoils import Spoils
from sim_devices.ward.things import Things

_GAP_LOOK_SECONDS = 1
"""How often a device that is not connected is looked at."""

_MARGIN_SECONDS = 600
_NO_TIME_YET = Micros(-(2**62))


def remembering_things(site: Site) -> frozenset[str]:
    """The things whose devices remember what they could not say: basins, and readers of tags."""
    readers = {sensor.thing for sensor in site.sensor if sensor.kind is SensorKind.TAG}
    return frozenset(readers | {basin.id for basin in site.basin})


class Radio:
    """What of every device's samples reaches the broker, and when.

    things: the devices. memory: for so long before what is asked for, in microseconds, the ward must not forget.
    """

    def __init__(self, ward: Things, senses: Senses, chance: Chance, figures: RadioFigures = RADIO) -> None:
        self.things = senses.things
        remembering = remembering_things(ward.site)
        self._waiting = {
            thing: _Waiting(_delivery(ward, senses, chance, figures, thing, remembers=thing in remembering))
            for thing in self.things
        }
        longest = max((w.delivery.slowest + w.delivery.memory for w in self._waiting.values()), default=0)
        self.memory = Micros(longest + micros(_MARGIN_SECONDS))

    def sent(self, thing: str, after: Micros, until: Micros) -> list[Sent]:
        """What of a device reaches the broker in (after, until], by ``at``; the same however the time is cut.

        The ward must have been lived up to ``until``. Quickest where each call goes on from the one before it.
        """
        return self._waiting[thing].sent(after, until)

    def outages(self, thing: str, start: Micros, end: Micros) -> Spans:
        """When a device really was out of reach in [start, end), or had no power."""
        return self._waiting[thing].delivery.reach.outages(start, end)

    def next_due(self, thing: str, after: Micros) -> Micros:
        """When a message of a device may next arrive, if nothing happens; ``after`` is where the last call ended."""
        return self._waiting[thing].next_due(after)


@dataclass
class _Waiting:
    """The messages of a device that are on their way at the end of the last call; by ``at``."""

    delivery: Delivery
    _until: Micros = _NO_TIME_YET
    _on_their_way: list[Sent] = field(default_factory=list)

    def sent(self, after: Micros, until: Micros) -> list[Sent]:
        if after != self._until:
            since = Micros(after - self.delivery.slowest)
            self._on_their_way = [sent for sent in self.delivery.caused(since, after) if sent.at > after]
        waiting = [*self._on_their_way, *self.delivery.caused(after, until)]
        waiting.sort(key=_order)
        arrived = bisect_right(waiting, until, key=_when)
        self._until, self._on_their_way = until, waiting[arrived:]
        return waiting[:arrived]

    def next_due(self, after: Micros) -> Micros:
        measures = self.delivery.senses.next_due(self.delivery.thing, after)
        if self.delivery.reach.gaps(after, after):
            return Micros(after + micros(_GAP_LOOK_SECONDS))
        return min(measures, self._on_their_way[0].at) if self._on_their_way else measures


def _when(sent: Sent) -> Micros:
    return sent.at


def _order(sent: Sent) -> tuple[Micros, Micros, str]:
    """Those that arrive together are in the order in which they were measured."""
    first = sent.samples[0]
    return sent.at, first.measured, first.sensor


def _delivery(
    ward: Things, senses: Senses, chance: Chance, figures: RadioFigures, thing: str, *, remembers: bool
) -> Delivery:
    device, f = ward.devices[thing], figures
    connects = chance.between(f.least_reconnect_seconds, f.most_reconnect_seconds, thing, "first connection")
    return Delivery(
        thing=thing,
        senses=senses,
        reach=Reach(thing, ward.epoch, senses.powers[thing], device.network, chance, f),
        clock=DeviceClock.of(thing, ward.epoch, device.ahead_seconds, chance, f),
        fate=Fate.of(thing, chance, f),
        spoils=Spoils(ward.ailments, chance, f.spoilt_share),
        remembers=remembers,
        first_online=Micros(ward.epoch + micros(connects)),
        figures=f,
    )
