"""Which sensor of a site senses what of a ward: all devices, and what they measured."""

from collections.abc import Callable, Iterator, Mapping
from operator import attrgetter

import numpy as np

from rules.readings import Micros, SensorKind, micros
from rules.site import Sensor
from sim_devices.chance import Chance
from sim_devices.noise import Indices, Numbers
from sim_devices.physics.motion import Vibration
from sim_devices.sensing.ailing import Ailing
from sim_devices.sensing.battery import Charging, FuelGauge
from sim_devices.sensing.beats import Beats
from sim_devices.sensing.channel import SensorChannel
from sim_devices.sensing.contact import Contact, State
from sim_devices.sensing.figures import SENSORS, SensorFigures
from sim_devices.sensing.gauges import Curve, ForeignThermometer, GasCell, Thermometer
from sim_devices.sensing.moving import Accelerometer, MotionGauge, MotionSwitch
from sim_devices.sensing.powered import Power
from sim_devices.sensing.pressing import Button, ShockSensor
from sim_devices.sensing.reader import TagReader
from sim_devices.sensing.sample import Sample
from sim_devices.sensing.sense import Sense
from sim_devices.ward.state import DeviceState, Stay
from sim_devices.ward.things import Things
from sim_devices.ward.tracks import Track

_NOT_DUE = Micros(2**62)


class Senses:
    """All sensors of a ward's devices; a device's word on its link is the radio's.

    A kind, or a place, that nothing here simulates stays mute. things: the devices, in the order of the site file.
    powers: when each device can speak.
    """

    def __init__(self, ward: Things, chance: Chance, figures: SensorFigures = SENSORS) -> None:
        self.things = tuple(ward.devices)
        self.powers = _powers(ward, chance, figures)
        sense_of = _Senser(ward, chance, figures)
        self._channels: Mapping[str, list[SensorChannel]] = {thing: [] for thing in self.things}
        for sensor in ward.sensors.values():
            if (sense := sense_of(sensor)) is not None:
                self._channels[sensor.thing].append(self._channel(sensor, sense, ward, chance, figures))

    def samples(self, thing: str, after: Micros, until: Micros) -> list[Sample]:
        """What a device measured in (after, until], by time; the same however the time is cut into pieces.

        The ward must have been lived up to ``until``.
        """
        samples = [s for channel in self._channels[thing] for s in channel.samples(after, until)]
        samples.sort(key=_MEASURED)
        return samples

    def newest(self, thing: str, until: Micros) -> list[Sample]:
        """What each sensor of a device reported last, up to ``until``, by time; none of one that is mute for long."""
        told = (channel.newest(until) for channel in self._channels[thing])
        return sorted((sample for sample in told if sample is not None), key=_MEASURED)

    def next_due(self, thing: str, after: Micros) -> Micros:
        """When a device next reports unasked, if nothing happens before; far away where it never does."""
        dues = (channel.beats.next_after(after) for channel in self._channels[thing])
        return min((due for due in dues if due is not None), default=_NOT_DUE)

    def _channel(
        self, sensor: Sensor, sense: Sense, ward: Things, chance: Chance, figures: SensorFigures
    ) -> SensorChannel:
        name, interval = sensor.id, sensor.expected_report_seconds
        beats = Beats.of(name, ward.epoch, interval, figures.device.jitter_share, chance)
        ailing = Ailing(name, sensor.kind, sense, ward.ailments[name], chance)
        return SensorChannel(name, sense, beats, self.powers[sensor.thing], ailing)


_MEASURED = attrgetter("measured")


def _powers(ward: Things, chance: Chance, figures: SensorFigures) -> dict[str, Power]:
    gauges = {s.thing: s for s in ward.sensors.values() if s.kind is SensorKind.BATTERY}
    boot = micros(figures.device.boot_seconds)

    def power(thing: str, device: DeviceState) -> Power:
        if thing not in gauges:
            return Power(device.powered, boot)
        charging = Charging.of(gauges[thing].id, ward.epoch, device.charge, chance, figures.battery)
        return Power(device.powered, boot, charging.flat_between)

    return {thing: power(thing, device) for thing, device in ward.devices.items()}


class _Senser:
    """Makes of a sensor of the site file one that senses the ward; None where there is nothing to sense."""

    def __init__(self, ward: Things, chance: Chance, figures: SensorFigures) -> None:
        self._ward, self._chance, self._figures = ward, chance, figures
        self._makers: Mapping[SensorKind, Callable[[Sensor], Sense | None]] = {
            SensorKind.LID: self._contact,
            SensorKind.HOOK: self._contact,
            SensorKind.MAINS: self._contact,
            SensorKind.MOTION: self._motion,
            SensorKind.TEMPERATURE: self._thermometer,
            SensorKind.TAG: self._reader,
            SensorKind.VAPOUR: self._gas_cell,
            SensorKind.BATTERY: self._fuel_gauge,
            SensorKind.CONTACT: self._button,
            SensorKind.WIPED: self._button,
            SensorKind.STRIP: self._button,
            SensorKind.SHOCK: self._shock,
        }

    def __call__(self, sensor: Sensor) -> Sense | None:
        maker = self._makers.get(sensor.kind)
        return None if maker is None else maker(sensor)

    def _contact(self, sensor: Sensor) -> Sense | None:
        state = self._state(sensor)
        return None if state is None else Contact(sensor.id, state, self._chance, self._figures.contact)

    def _state(self, sensor: Sensor) -> State | None:
        basin, cart = self._ward.basins.get(sensor.thing), self._ward.carts.get(sensor.thing)
        if sensor.kind is SensorKind.LID:
            return basin.lid_closed if basin is not None else None
        if cart is None:
            return None
        return (
            cart.plugged_in if sensor.kind is SensorKind.MAINS else cart.on_hook.get(sensor.name.removeprefix("hook-"))
        )

    def _motion(self, sensor: Sensor) -> Sense | None:
        cart, f = self._ward.carts.get(sensor.thing), self._figures
        if cart is None:
            return None
        vibration = Vibration.of(
            sensor.thing, cart.rolling, cart.jolts, self._chance, f.accelerometer.window_seconds, f.shaking
        )
        accelerometer = Accelerometer(vibration, f.accelerometer)
        return MotionSwitch(accelerometer) if sensor.true_above is None else MotionGauge(accelerometer)

    def _thermometer(self, sensor: Sensor) -> Sense | None:
        curve = self._celsius(sensor.thing)
        if curve is None:
            return None
        if sensor.value is None:
            return Thermometer.of(sensor.id, curve, self._ward.epoch, self._chance, self._figures.thermometer)
        figures = self._figures.foreign_thermometer
        return ForeignThermometer.of(sensor.id, curve, self._ward.epoch, self._chance, figures)

    def _celsius(self, thing: str) -> Curve | None:
        """The solution of a basin, or the air of a station."""
        if thing in self._ward.basins:
            return self._ward.basins[thing].heat.many_celsius
        if thing not in self._ward.rooms:
            return None
        air = self._ward.rooms[thing].celsius

        def celsius(at: Indices) -> Numbers:
            return np.array([air.at(Micros(when)) for when in at.tolist()], dtype=np.float64)

        return celsius

    def _reader(self, sensor: Sensor) -> Sense | None:
        ward = self._ward
        if not any(sensor.thing in things for things in (ward.basins, ward.rooms, ward.cabinets, ward.carts)):
            return None
        return TagReader(sensor.id, sensor.thing, list(self._tagged()), self._chance, self._figures.reader)

    def _tagged(self) -> Iterator[tuple[str, Track[Stay]]]:
        for name, probe in self._ward.probes.items():
            if (tag := self._ward.homes[name].tag) is not None:
                yield tag, probe.stay

    def _gas_cell(self, sensor: Sensor) -> Sense | None:
        station = self._station(sensor)
        if station is None:
            return None
        curve = self._ward.rooms[station].vapour.many_ppm
        return GasCell.of(sensor.id, curve, self._ward.epoch, self._chance, self._figures.gas_cell)

    def _station(self, sensor: Sensor) -> str | None:
        """In whose room it is; the rooms share those out in turn of which the site file does not tell. None: none."""
        ward = self._ward
        placed = ward.station_of.get(sensor.thing, sensor.thing)
        if placed in ward.rooms or not ward.rooms:
            return placed if ward.rooms else None
        cells = [s.thing for s in ward.sensors.values() if s.kind is SensorKind.VAPOUR]
        elsewhere = [thing for thing in cells if ward.station_of.get(thing, thing) not in ward.rooms]
        return list(ward.rooms)[elsewhere.index(sensor.thing) % len(ward.rooms)]

    def _fuel_gauge(self, sensor: Sensor) -> Sense | None:
        ward, chance = self._ward, self._chance
        charge = ward.devices[sensor.thing].charge
        return FuelGauge.of(
            sensor.id, Charging.of(sensor.id, ward.epoch, charge, chance, self._figures.battery), chance
        )

    def _button(self, sensor: Sensor) -> Sense | None:
        return Button(self._ward.pressed[sensor.id])

    def _shock(self, sensor: Sensor) -> Sense | None:
        knocks = Button(self._ward.pressed[sensor.id])
        return ShockSensor(sensor.id, knocks, self._chance, self._figures.shock, self._ward.physics.fall)
