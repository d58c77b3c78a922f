"""How warm the solution in a basin is: Newton's law of cooling, with and without a heater."""

from dataclasses import dataclass
from math import exp, log


@dataclass(frozen=True, slots=True)
class Newton:
    """A solution left alone, drawn towards its surroundings.

    start_celsius: at second 0.
    around_celsius: what it is drawn to.
    tau_seconds: time constant.
    """

    start_celsius: float
    around_celsius: float
    tau_seconds: float

    def celsius(self, seconds: float) -> float:
        """T(t) = around + (start - around) exp(-t / tau)."""
        return self.around_celsius + (self.start_celsius - self.around_celsius) * exp(-seconds / self.tau_seconds)

    def seconds_until(self, celsius: float) -> float:
        """The second at which ``celsius`` is passed; it must lie between start and surroundings."""
        return self.tau_seconds * log((self.start_celsius - self.around_celsius) / (celsius - self.around_celsius))


@dataclass(frozen=True, slots=True)
class Vessel:
    """A basin of solution and its heater, lumped to one heat capacity. All figures ours.

    tau_seconds: m c / (h A) with 2 kg of water (4186 J/(kg K)), 0.2 m2 of surface and 10 W/(m2 K) to still air.
    heater_kelvin: how far above the room the heater would bring it in the end: 100 W / (h A).
    low_celsius, high_celsius: where the thermostat switches on and off.
    """

    tau_seconds: float = 2 * 4186 / (10 * 0.2)
    heater_kelvin: float = 100 / (10 * 0.2)
    low_celsius: float = 21.6
    high_celsius: float = 22.6


VESSEL = Vessel()


@dataclass(frozen=True, slots=True)
class Thermostat:
    """A solution kept warm: it cools to the low point, a kick of the heater lifts it to the high point, and again.

    room_celsius must be below the vessel's low point.
    """

    room_celsius: float
    vessel: Vessel = VESSEL

    @property
    def cooling(self) -> Newton:
        """The stretch with the heater off."""
        return Newton(self.vessel.high_celsius, self.room_celsius, self.vessel.tau_seconds)

    @property
    def heating(self) -> Newton:
        """The stretch with the heater on."""
        around = self.room_celsius + self.vessel.heater_kelvin
        return Newton(self.vessel.low_celsius, around, self.vessel.tau_seconds)

    def celsius(self, seconds: float) -> float:
        """Temperature ``seconds`` after some switching off of the heater."""
        cooling, heating = self.cooling, self.heating
        off_seconds = cooling.seconds_until(self.vessel.low_celsius)
        on_seconds = heating.seconds_until(self.vessel.high_celsius)
        phase = seconds % (off_seconds + on_seconds)
        return cooling.celsius(phase) if phase < off_seconds else heating.celsius(phase - off_seconds)


Course = Newton | Thermostat
