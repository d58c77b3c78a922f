"""A sensor's health: is it heard, and can it be believed?"""

from dataclasses import dataclass, field

from rules.agenda import Task
from rules.board import Subject, SubjectKind
from rules.desk import Desk
from rules.events import PowerUpValue
from rules.exposure import Doubt
from rules.readings import NO_TIME, Micros, Reading, SensorId, SensorKind, Value, micros
from rules.thresholds import Thresholds

SILENCE = "sensor silence"
"""Work of the agenda: the sensor has not been heard for its limit, unless it spoke since."""

BELIEVE = "sensor believed again"
"""Work of the agenda: a thermometer that jumped has behaved for long enough."""

POWER_UP_CELSIUS = 85.0
"""What the common 1-Wire thermometer class says right after power-up, before its first conversion (data sheet)."""


@dataclass(slots=True)
class SensorState:
    """What is remembered of a sensor.

    measured, arrived, value: its newest reading by measured time; None where it never spoke.
    same_since: since when a thermometer has given the very same number, measured time.
    warming_up: whether the next 85.0 is a power-up value.
    trouble: '', 'stuck' or 'jumping'.
    """

    measured: Micros | None = None
    arrived: Micros | None = None
    value: Value | None = None
    timed: bool = True
    same_since: Micros = NO_TIME
    warming_up: bool = True
    silent: bool = False
    offline: bool = False
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class SensorSetup:
    """What the site file says of a sensor.

    silent_after: longest time without a word, microseconds; 0 where silence means nothing.
    """

    id: SensorId
    name: str
    thing: str
    thing_name: str
    kind: SensorKind
    topic: str
    silent_after: Micros
    thresholds: Thresholds


@dataclass(slots=True)
class Ears:
    """Whether the gateway hears the broker; silence counts only while it does."""

    hearing: bool = True
    since: Micros | None = None
    storing: bool = True


@dataclass(slots=True)
class Watch:
    """Watches one sensor; ``heard`` is called with each of its readings."""

    setup: SensorSetup
    desk: Desk
    ears: Ears
    state: SensorState = field(default_factory=SensorState)
    subject: Subject = field(init=False)
    _task: Task = field(init=False)
    _thermometer: bool = field(init=False)
    _doubt: Doubt = field(init=False)

    def __post_init__(self) -> None:
        self.subject = Subject(SubjectKind.SENSOR, self.setup.id)
        self._task = Task(SILENCE, self.setup.id)
        self._doubt = self.setup.thresholds.doubt
        self._thermometer = self.setup.kind is SensorKind.TEMPERATURE

    def describe(self) -> None:
        """Put the sensor on the board."""
        setup = self.setup
        self.desk.board.add(self.subject, name=setup.name, thing_name=setup.thing_name, kind=setup.kind.value)

    def heard(self, reading: Reading) -> bool:
        """Take note of a reading; False where it is no reading at all and must not be used."""
        state = self.state
        arrived, measured = reading.arrived, reading.measured
        first = state.arrived is None
        usable, news = True, state.measured is None or measured >= state.measured
        if self._thermometer and news:
            usable = self._believable(reading)
        state.arrived = arrived
        if news and usable:
            state.measured, state.value, state.timed = measured, reading.value, reading.timed
        if first or state.silent:
            self._back(arrived)
        return usable

    def _back(self, arrived: Micros) -> None:
        """It speaks, for the first time or again."""
        self._set_silent(silent=False)
        if self.setup.silent_after and self.ears.hearing:
            self.desk.agenda.set(self._task, Micros(arrived + self.setup.silent_after))

    def fall_due(self, due: Micros) -> bool:
        """The silence limit has passed since it was last looked at; True where the sensor is silent now."""
        if not self.ears.hearing or not self.setup.silent_after:
            return False
        limit = Micros(max(self.state.arrived or 0, self.ears.since or 0) + self.setup.silent_after)
        if limit > due:
            # It spoke since: the next look is when that word grows old. Cheaper than a timer for each reading.
            self.desk.agenda.set(self._task, limit)
            return False
        self._set_silent(silent=True)
        self.state.warming_up = True
        return True

    def listen(self, now: Micros) -> None:
        """The gateway hears the broker: silence is counted from now on, that of a sensor never heard, too."""
        if self.setup.silent_after and not self.state.silent:
            self.desk.agenda.set(self._task, Micros(now + self.setup.silent_after))

    def come_under_new_law(self, now: Micros) -> None:
        """Another site file is in force, which may expect a word of the sensor where none was expected before."""
        if not self.setup.silent_after:
            self._set_silent(silent=False)
        elif self.ears.hearing and self.ears.since is not None and not self.desk.agenda.planned(self._task):
            self.listen(now)

    def thing_link(self, *, online: bool) -> None:
        """The device that the sensor belongs to came or went."""
        self.desk.board.publish(self.subject, "thing_offline", not online)
        if online and self._thermometer:
            self.state.warming_up = True

    def own_link(self, *, online: bool) -> None:
        """This sensor is the device's own word on whether it is connected."""
        self.state.offline = not online
        self.desk.board.publish(self.subject, "offline", not online)

    def _set_silent(self, *, silent: bool) -> None:
        self.state.silent = silent
        self.desk.board.publish(self.subject, "silent", silent)

    # ---- thermometers ---------------------------------------------------------------------------------------------

    def _believable(self, reading: Reading) -> bool:
        state = self.state
        if reading.value == POWER_UP_CELSIUS and (state.warming_up or self._after_a_gap(reading.measured)):
            self.desk.say(PowerUpValue(at=reading.arrived, sensor=self.setup.id, measured=reading.measured))
            return False
        state.warming_up = False
        self._mind_jump(reading)
        before = state.value
        if before is None or state.measured is None:
            state.same_since = reading.measured
        elif reading.value != before:
            state.same_since = reading.measured
            if state.trouble == "stuck":
                self._set_trouble("")
        elif self._same_for_too_long(reading) and self._tells_of_now(reading):
            self._set_trouble("stuck")
        return True

    def _same_for_too_long(self, reading: Reading) -> bool:
        return reading.measured - self.state.same_since >= micros(self.setup.thresholds.stuck_seconds)

    def _after_a_gap(self, measured: Micros) -> bool:
        return self.state.measured is None or measured - self.state.measured > micros(
            self.setup.thresholds.max_gap_seconds
        )

    def _mind_jump(self, reading: Reading) -> None:
        state = self.state
        if type(state.value) is not float or state.measured is None or not self._tells_of_now(reading):
            return
        now = (reading.measured, float(reading.value))
        if self._doubt.is_jump((state.measured, state.value), now):
            self._set_trouble("jumping")
            self.desk.agenda.set(Task(BELIEVE, self.setup.id), Micros(reading.arrived + self._doubt.holds))

    def _tells_of_now(self, reading: Reading) -> bool:
        return reading.arrived - reading.measured <= self.setup.thresholds.present

    def believe(self) -> None:
        """It has behaved since it jumped."""
        if self.state.trouble == "jumping":
            self._set_trouble("")

    def _set_trouble(self, trouble: str) -> None:
        if trouble != self.state.trouble:
            self.state.trouble = trouble
            self.desk.board.publish(self.subject, "trouble", trouble)
            self.desk.board.publish(self.subject, "implausible", bool(trouble))

    def health(self) -> str:
        """One word for the screens."""
        if self.state.offline:
            return "offline"
        if self.state.arrived is None:
            return "never heard"
        return "silent" if self.state.silent else self.state.trouble or "ok"
