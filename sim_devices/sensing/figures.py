"""Figures of sensors and devices, after their data sheets where those tell."""

from pydantic import Field

from rules.part import Part
from rules.readings import POWER_UP_CELSIUS
from sim_devices.parameters import Parameters, figure
from sim_devices.physics.motion import MOTION, MotionFigures


class DeviceFigures(Parameters):
    """What all sensors of a device have in common."""

    jitter_share: float = figure(
        0.02,
        "of its interval, by which a report comes early or late, as cheap timers do",
        unit="share",
        low=0,
        high=0.4,
    )
    boot_seconds: float = figure(2, "from power to the first word of its sensors", unit="s", low=0, high=600)


class ThermometerFigures(Parameters):
    """A 1-Wire digital thermometer of the common class, at 12 bit."""

    step_celsius: float = figure(
        0.0625, "of its values", unit="Cel", low=0.001, high=2, source="data sheet of the class, secondary"
    )
    least_measured_celsius: float = figure(
        -55, "lower end of its scale", unit="Cel", low=-273, high=0, source="data sheet of the class, secondary"
    )
    most_measured_celsius: float = figure(
        125, "upper end of its scale", unit="Cel", low=0, high=500, source="data sheet of the class, secondary"
    )
    conversion_seconds: float = figure(
        0.75,
        "its value is as old as this when it is told",
        unit="s",
        low=0,
        high=10,
        source="longest conversion at 12 bit; data sheet of the class, secondary",
    )
    bias_celsius: float = figure(
        0.4,
        "each is off by its own amount, evenly spread up to this either way",
        unit="Cel",
        low=0,
        high=5,
        source="+-0.5 Cel from -10 to 85 Cel by the data sheet of the class, secondary, less rounding and noise",
    )
    noise_celsius: float = figure(0.02, "one standard deviation", unit="Cel", low=0, high=5)
    drift_celsius_per_year: float = figure(
        0.05, "each drifts by its own amount, evenly spread up to this either way", unit="Cel/a", low=0, high=10
    )
    power_up_celsius: float = figure(
        POWER_UP_CELSIUS,
        "what it says before its first conversion",
        unit="Cel",
        low=-273,
        high=200,
        source="data sheet of the class, secondary",
    )


class ForeignThermometerFigures(Parameters):
    """Another maker's probe, which shows tenths of a degree Fahrenheit."""

    step_fahrenheit: float = figure(0.1, "of its values", unit="degF", low=0.001, high=5)
    bias_celsius: float = figure(
        0.6, "each is off by its own amount, evenly spread up to this either way", unit="Cel", low=0, high=5
    )
    noise_celsius: float = figure(0.03, "one standard deviation", unit="Cel", low=0, high=5)
    lag_seconds: float = figure(5, "its value is as old as this when it is told", unit="s", low=0, high=600)


class ContactFigures(Parameters):
    """A reed switch: lids, hooks, the mains plug."""

    least_bounce_ms: float = figure(
        0.5,
        "it bounces at least so long after a change",
        unit="ms",
        low=0,
        high=100,
        source="data sheets of reed switches, secondary",
    )
    most_bounce_ms: float = figure(
        2,
        "and at most so long",
        unit="ms",
        low=0,
        high=100,
        source="dynamic noise of reed switches; data sheets, secondary",
    )
    most_bounces: float = figure(3, "how often it opens and closes again, at most", unit="", low=0, high=20)
    debounce_ms: float = figure(
        0, "the device waits so long for a contact to settle; 0 = it tells every bounce", unit="ms", low=0, high=1000
    )


class AccelerometerFigures(Parameters):
    """A 3-axis accelerometer that wakes its device when a cart moves."""

    step_mps2: float = figure(
        0.038, "of its values", unit="m/s2", low=0.0001, high=1, source="3.9 mg, common 3-axis data sheets; from memory"
    )
    range_mps2: float = figure(
        156.9,
        "no value is above this",
        unit="m/s2",
        low=10,
        high=4000,
        source="16 g, common 3-axis data sheets; memory",
    )
    noise_mps2: float = figure(0.03, "of its own, root mean square", unit="m/s2", low=0, high=1)
    window_seconds: float = figure(1, "it takes the root mean square over so long", unit="s", low=0.05, high=60)
    wake_mps2: float = figure(0.8, "from this on the cart is taken to move", unit="m/s2", low=0.5, high=100)
    still_seconds: float = figure(3, "it is taken to be at rest after so long below", unit="s", low=0, high=600)
    moving_report_seconds: float = figure(
        5, "a device that tells m/s2 does so at this interval while the cart moves", unit="s", low=1, high=600
    )


class ShockFigures(Parameters):
    """An accelerometer in the holder of a probe, which tells the peak of a knock."""

    step_mps2: float = figure(1, "of its values", unit="m/s2", low=0.01, high=100)
    wake_mps2: float = figure(15, "it tells nothing of what is softer", unit="m/s2", low=0.1, high=1000)
    range_mps2: float = figure(1961, "no value is above this: 200 g", unit="m/s2", low=100, high=100_000)
    sample_hertz: float = figure(800, "so often it looks", unit="Hz", low=10, high=10_000)
    fall_hold_seconds: float = figure(
        0,
        "it tells only knocks after a free fall of at least so long, by which it misses low falls; 0 = every knock",
        unit="s",
        low=0,
        high=1,
        source="ours; where a data sheet has it, 100 to 350 ms, secondary",
    )
    fall_threshold_mg: float = figure(
        400,
        "in free fall it feels less than this",
        unit="mg",
        low=30,
        high=1000,
        source="300 to 600 mg, common 3-axis data sheets, secondary",
    )


class ReaderFigures(Parameters):
    """A reader of tags."""

    missed_share: float = figure(
        0.0005, "of the tags there, those that are not seen in a report", unit="share", low=0, high=1
    )


class GasCellFigures(Parameters):
    """A low-cost electrochemical cell: slow, drifting, and good for a trend only."""

    step_ppm: float = figure(0.01, "of its values", unit="ppm", low=0.0001, high=10)
    noise_ppm: float = figure(0.01, "one standard deviation", unit="ppm", low=0, high=10)
    response_seconds: float = figure(60, "time constant of its answer to a step", unit="s", low=0.1, high=3600)
    background_ppm: float = figure(0.06, "what it shows in clean air", unit="ppm", low=0, high=100)
    daily_swing_share: float = figure(
        0.5, "of that, by which it swings through the day with the warmth of the room", unit="share", low=0, high=1
    )
    span_share: float = figure(
        0.2, "each shows too much or too little by its own share, evenly spread up to this", unit="share", low=0, high=1
    )
    drift_ppm_per_month: float = figure(
        0.01,
        "the zero of each drifts by its own amount, evenly spread up to this either way",
        unit="ppm/30 d",
        low=0,
        high=10,
    )


class BatteryFigures(Parameters):
    """A battery and its fuel gauge."""

    step_percent: float = figure(1, "of its values", unit="%EL", low=0.01, high=10)
    noise_percent: float = figure(0.2, "one standard deviation", unit="%EL", low=0, high=10)
    days: float = figure(240, "from full to empty", unit="d", low=0.01, high=4000)
    least_at_start_percent: float = figure(40, "at the start it has at least so much left", unit="%EL", low=1, high=100)
    most_at_start_percent: float = figure(100, "and at most so much", unit="%EL", low=1, high=100)
    exchange_percent: float = figure(
        10, "down to this it is exchanged for a full one, unless somebody set its charge", unit="%EL", low=0, high=99
    )


class SensorFigures(Part):
    """All figures of sensors and devices, by what they are of."""

    device: DeviceFigures = Field(default_factory=DeviceFigures)
    thermometer: ThermometerFigures = Field(default_factory=ThermometerFigures)
    foreign_thermometer: ForeignThermometerFigures = Field(default_factory=ForeignThermometerFigures)
    contact: ContactFigures = Field(default_factory=ContactFigures)
    accelerometer: AccelerometerFigures = Field(default_factory=AccelerometerFigures)
    shaking: MotionFigures = MOTION
    shock: ShockFigures = Field(default_factory=ShockFigures)
    reader: ReaderFigures = Field(default_factory=ReaderFigures)
    gas_cell: GasCellFigures = Field(default_factory=GasCellFigures)
    battery: BatteryFigures = Field(default_factory=BatteryFigures)


SENSORS = SensorFigures()
