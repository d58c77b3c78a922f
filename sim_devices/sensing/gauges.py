"""Sensors that measure a number whenever they are asked: thermometers, gas cells, fuel gauges."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from rules.readings import SECOND, Micros, SensorId, Value, micros
from sim_devices.chance import Chance
from sim_devices.noise import Indices, Noise, Numbers
from sim_devices.sensing.figures import ForeignThermometerFigures, GasCellFigures, ThermometerFigures
from sim_devices.sensing.sense import Told

Curve = Callable[[Indices], Numbers]
"""A true quantity at many instants in order, in microseconds; in the unit of the sensor's kind."""

DAY = 86_400 * SECOND
_YEAR, _MONTH = 365.25 * DAY, 30 * DAY
_KELVIN_PER_FAHRENHEIT = 1 / 1.8
_FREEZING_FAHRENHEIT = 32

_LAG_STEPS = 32
"""A first-order answer is the mean of what was so long ago; that mean is taken in so many steps of equal weight."""


def stepped(values: Numbers, step: float) -> list[Value]:
    """Rounded to a step; nine decimals hide the binary fraction of a decimal step."""
    rounded: list[Value] = np.round(np.rint(values / step) * step, 9).tolist()
    return rounded


@dataclass(frozen=True, slots=True)
class Grain:
    """What a single sensor adds to the truth: its own bias, a drift since the epoch, and noise.

    bias: in the unit of the kind. drift: in that unit per microsecond. sigma: of the noise.
    """

    epoch: Micros
    bias: float
    drift: float
    sigma: float
    noise: Noise

    def on(self, true: Numbers, at: Indices) -> Numbers:
        """The true values with all that added."""
        return true + self.bias + self.drift * (at - self.epoch) + self.noise.normals(self.sigma, at // 1000)


class _Asked:
    """A sensor that speaks when it is asked only."""

    def told(self, _after: Micros, _until: Micros) -> list[Told]:
        return []


@dataclass(frozen=True)
class Thermometer(_Asked):
    """A 1-Wire thermometer."""

    curve: Curve
    grain: Grain
    figures: ThermometerFigures

    @classmethod
    def of(
        cls, sensor: SensorId, curve: Curve, epoch: Micros, chance: Chance, figures: ThermometerFigures
    ) -> "Thermometer":
        """The one of that name, with a bias and a drift of its own."""
        f = figures
        bias = chance.between(-f.bias_celsius, f.bias_celsius, sensor, "bias")
        drift = chance.between(-f.drift_celsius_per_year, f.drift_celsius_per_year, sensor, "drift") / _YEAR
        return cls(curve, Grain(epoch, bias, drift, f.noise_celsius, Noise.of(chance, sensor, "noise")), f)

    def asked(self, at: Indices) -> list[Value]:
        f = self.figures
        felt = self.grain.on(self.curve(at - micros(f.conversion_seconds)), at)
        return stepped(np.clip(felt, f.least_measured_celsius, f.most_measured_celsius), f.step_celsius)

    def first(self, _at: Micros) -> Value | None:
        return self.figures.power_up_celsius


@dataclass(frozen=True)
class ForeignThermometer(_Asked):
    """A thermometer that shows degrees Fahrenheit; told in Cel, on its own steps."""

    curve: Curve
    grain: Grain
    figures: ForeignThermometerFigures

    @classmethod
    def of(
        cls, sensor: SensorId, curve: Curve, epoch: Micros, chance: Chance, figures: ForeignThermometerFigures
    ) -> "ForeignThermometer":
        """The one of that name, with a bias of its own."""
        bias = chance.between(-figures.bias_celsius, figures.bias_celsius, sensor, "bias")
        grain = Grain(epoch, bias, 0, figures.noise_celsius, Noise.of(chance, sensor, "noise"))
        return cls(curve, grain, figures)

    def asked(self, at: Indices) -> list[Value]:
        felt = self.grain.on(self.curve(at - micros(self.figures.lag_seconds)), at)
        fahrenheit = np.array(
            stepped(felt / _KELVIN_PER_FAHRENHEIT + _FREEZING_FAHRENHEIT, self.figures.step_fahrenheit), dtype=float
        )
        celsius: list[Value] = np.round((fahrenheit - _FREEZING_FAHRENHEIT) * _KELVIN_PER_FAHRENHEIT, 9).tolist()
        return celsius

    def first(self, at: Micros) -> Value | None:
        return self.asked(np.array([at], dtype=np.int64))[0]


@dataclass(frozen=True)
class GasCell(_Asked):
    """A gas cell, in the vapour of a room."""

    curve: Curve
    grain: Grain
    gain: float
    figures: GasCellFigures

    @classmethod
    def of(cls, sensor: SensorId, curve: Curve, epoch: Micros, chance: Chance, figures: GasCellFigures) -> "GasCell":
        """The one of that name, with a span and a drift of its own."""
        f = figures
        gain = 1 + chance.between(-f.span_share, f.span_share, sensor, "span")
        drift = chance.between(-f.drift_ppm_per_month, f.drift_ppm_per_month, sensor, "drift") / _MONTH
        return cls(curve, Grain(epoch, 0, drift, f.noise_ppm, Noise.of(chance, sensor, "noise")), gain, f)

    def asked(self, at: Indices) -> list[Value]:
        f = self.figures
        swing = 1 + f.daily_swing_share * np.sin(2 * np.pi * (at % DAY) / DAY)
        felt = self.gain * self.answered(at) + f.background_ppm * swing
        return stepped(np.maximum(self.grain.on(felt, at), 0), f.step_ppm)

    def answered(self, at: Indices) -> Numbers:
        """The vapour as a slow cell answers to it: the mean of what was, weighted by exp(-age / response)."""
        ages = -np.log1p(-(np.arange(_LAG_STEPS) + 0.5) / _LAG_STEPS) * self.figures.response_seconds * SECOND
        back: Indices = at[:, np.newaxis] - np.rint(ages).astype(np.int64)
        mean: Numbers = self.curve(back.ravel()).reshape(back.shape).mean(axis=1)
        return mean

    def first(self, at: Micros) -> Value | None:
        return self.asked(np.array([at], dtype=np.int64))[0]
