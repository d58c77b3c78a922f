"""What a ward lets go of, so that it may run for months."""

from bisect import bisect_left
from collections.abc import Callable, Iterator
from operator import attrgetter, itemgetter
from typing import Any

from rules.readings import Micros
from sim_devices.ward.things import Things
from sim_devices.ward.tracks import Track

_When = Callable[[Any], Micros]


def forget(things: Things, before: Micros) -> None:
    """Of tracks and curves the value at ``before`` stays, of a list what came later and the newest before it."""
    for track in _tracks(things):
        track.forget(before)
    for room in things.rooms.values():
        room.vapour.forget(before)
    for basin in things.basins.values():
        basin.heat.forget(before)
    for happened, when in _lists(things):
        del happened[: max(0, bisect_left(happened, before, key=when) - 1)]
    del things.told[: bisect_left(things.told, before, key=attrgetter("arrived"))]
    things.claims.forget(before)


def _tracks(things: Things) -> Iterator[Track[Any]]:
    yield from things.ailments.values()
    yield from (room.celsius for room in things.rooms.values())
    yield from (probe.stay for probe in things.probes.values())
    for basin in things.basins.values():
        yield from (basin.lid_closed, basin.inside, basin.liquid)
    for cart in things.carts.values():
        yield cart.gel_opened
        yield from (cart.rolling, cart.plugged_in, *cart.on_hook.values())
    for device in things.devices.values():
        yield from (device.powered, device.network, device.ahead_seconds, device.charge)


def _lists(things: Things) -> Iterator[tuple[list[Any], _When]]:
    """All lists of what happened, each with how an item tells when."""
    first, at, itself = itemgetter(0), attrgetter("at"), _itself
    yield from ((pressed, first) for pressed in things.pressed.values())
    yield from ((basin.strips, first) for basin in things.basins.values())
    for cart in things.carts.values():
        yield from ((cart.jolts, at), (cart.wiped, itself))
    for probe in things.probes.values():
        yield from ((probe.contacts, attrgetter("start")), (probe.treatments, at), (probe.knocks, at))
        yield from ((probe.laid_down, itself), (probe.inspected, itself), (probe.vouched, itself))


def _itself(when: Micros) -> Micros:
    return when
