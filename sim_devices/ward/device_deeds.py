"""What happens to devices and their sensors."""

from collections.abc import Iterable

from rules.readings import Micros
from sim_devices.ward import deeds
from sim_devices.ward.state import Ailment, DeviceState
from sim_devices.ward.things import Things, named


def power(things: Things, at: Micros, deed: deeds.Power) -> None:
    """Devices lose power, or have it again."""
    for device in _meant(things, deed.thing):
        device.powered.set(at, deed.on)


def network(things: Things, at: Micros, deed: deeds.Network) -> None:
    """Devices are out of reach, or in reach again."""
    for device in _meant(things, deed.thing):
        device.network.set(at, deed.up)


def set_clock(things: Things, at: Micros, deed: deeds.SetClock) -> None:
    """A device's clock is set."""
    _device(things, deed.thing).ahead_seconds.set(at, deed.ahead_seconds)


def charge(things: Things, at: Micros, deed: deeds.Charge) -> None:
    """A device's battery has so much left."""
    _device(things, deed.thing).charge.set(at, deed.percent)


def defect(things: Things, at: Micros, deed: deeds.Defect) -> None:
    """A sensor is broken, or sound again."""
    ailment = named(things.ailments, "sensor", deed.sensor)
    ailment.set(at, None if deed.how == "sound" else Ailment(deed.how, deed.by))


def _device(things: Things, name: str) -> DeviceState:
    return named(things.devices, "device", name)


def _meant(things: Things, name: str) -> Iterable[DeviceState]:
    """One device, or with '' all of them."""
    return [_device(things, name)] if name else things.devices.values()
