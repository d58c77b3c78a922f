"""What went wrong with sensors and devices, and with the air of rooms."""

from collections.abc import Callable, Iterable, Iterator
from itertools import starmap
from operator import not_

import numpy as np

from rules.board import Subject, SubjectKind
from rules.readings import SECOND, Micros, SensorId, SensorKind
from sim_devices.physics.vapour import Vapour
from sim_devices.troubles.episode import Episode, Trouble
from sim_devices.troubles.look import Look
from sim_devices.troubles.stretches import Held, held, joined, lasting, without
from sim_devices.ward.state import Ailment

CLOCK_SECONDS = 60
"""A clock that is off by more puts what happened into another minute of the record (ours)."""

AWAY_SECONDS = 60
"""What a device misses in less it sends later, or nobody misses it (ours)."""

CEILING_PPM = 0.05
"""The strictest ceiling that is published for a vapour of these solutions: glutaraldehyde, ACGIH, by Table 4 of the CDC
2008 guideline. A yardstick for the truth alone: low-cost sensors cannot show that a limit is kept."""

_STEP = 60 * SECOND


Outages = Callable[[str, Micros, Micros], Iterable[tuple[Micros, Micros]]]
"""Of a device, by name, in a span of time."""


def no_outages(_thing: str, _start: Micros, _end: Micros) -> Iterable[tuple[Micros, Micros]]:
    """There are none but by deeds."""
    return ()


def device_troubles(look: Look, outages: Outages) -> Iterator[Episode]:
    """Of every device and its sensors, in no order."""
    sensors = look.ward.site.sensors()
    for thing, device in look.ward.devices.items():
        flat = held(device.charge, lambda percent: percent is not None and percent <= 0, look.within)
        dead, out = held(device.powered, not_, look.within), held(device.network, not_, look.within)
        away = joined([*dead, *out, *flat, *starmap(Held, outages(thing, *look.within))])
        wrong = held(device.ahead_seconds, lambda seconds: abs(seconds) > CLOCK_SECONDS, look.within)
        own = [s for s in sensors.values() if s.thing == thing and s.kind is not SensorKind.LINK]
        yield from look.episodes(Trouble.DEVICE_OFFLINE, _of(SensorId(f"{thing}/link")), lasting(away, AWAY_SECONDS))
        for sensor in own:
            if sensor.expected_report_seconds:
                yield from look.episodes(Trouble.CLOCK_WRONG, _of(sensor.id), without(wrong, away))
            yield from _ailing(look, sensor.id, away)


def _ailing(look: Look, sensor: SensorId, away: list[Held]) -> Iterator[Episode]:
    track = look.ward.ailments[sensor]
    silent = held(track, lambda ailment: ailment is not None and _is_mute(ailment), look.within)
    wrong = held(track, lambda ailment: ailment is not None and not _is_mute(ailment), look.within)
    yield from look.episodes(Trouble.SENSOR_SILENT, _of(sensor), without(silent, away))
    yield from look.episodes(Trouble.SENSOR_WRONG, _of(sensor), without(wrong, away))


def _is_mute(ailment: Ailment) -> bool:
    """Whether nothing of it can be used: it says nothing, or all that it says arrives as rubbish."""
    return ailment.how == "silent" or (ailment.how == "spoilt" and ailment.by >= 1)


def _of(sensor: SensorId) -> Subject:
    return Subject(SubjectKind.SENSOR, sensor)


def room_troubles(look: Look) -> Iterator[Episode]:
    """Of the air of every station's room, in no order."""
    for station, room in look.ward.rooms.items():
        yield from look.episodes(Trouble.VAPOUR, Subject(SubjectKind.ROOM, station), _above(room.vapour, look.within))


def _above(vapour: Vapour, within: Held) -> list[Held]:
    at = np.append(np.arange(within.start, within.end, _STEP, dtype=np.int64), within.end)
    high = np.flatnonzero(vapour.many_ppm(at[:-1]) > CEILING_PPM).tolist()
    return joined(Held(Micros(int(at[n])), Micros(int(at[n + 1]))) for n in high)
