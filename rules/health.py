"""A sensor's health: is it heard, and can it be believed?"""

from dataclasses import dataclass, field
from enum import StrEnum

from rules.agenda import Task
from rules.board import Subject, SubjectKind
from rules.clock import Lag
from rules.desk import Desk
from rules.events import PowerUpValue
from rules.exposure import Doubt
from rules.readings import NO_TIME, POWER_UP_CELSIUS, Micros, Reading, SensorId, SensorKind, Value, micros
from rules.thresholds import Thresholds

SILENCE = "sensor silence"
"""Work of the agenda: the sensor has not been heard for its limit, unless it spoke since."""

BELIEVE = "sensor believed again"
"""Work of the agenda: a thermometer that jumped has behaved for long enough."""


class Trouble(StrEnum):
    """Why a sensor that is heard cannot be believed; the words are those of the screens."""

    STUCK = "stuck"
    JUMPING = "jumping"
    POWER_UP = "power-up value"
    CLOCK_BEHIND = "clock behind"


@dataclass(slots=True)
class SensorState:
    """What is remembered of a sensor.

    measured, value, value_arrived: of its newest reading by measured time; arrived: when the last one came that could
        be used, which may have been measured earlier; None where it never spoke.
    heard: when that was by the time heard (``Ears``), or when it was first awaited; None where it never was.
    heard_of_now: the same of its newest word of the present; None once that is longer ago than its limit.
    same_since: since when a thermometer has given the very same number, measured time.
    warming_up: whether the next 85.0 is a power-up value.
    powering_up: when its last power-up value came, by the time heard; None once a temperature came.
    silent: nothing that can be used has come for its limit.
    lag: of its readings since they are of the past, None while they are of the present.
    troubles: each at most once.
    counts_from: a word that arrived before this tells nothing of the present, for the way to the sensor was cut since.
    """

    measured: Micros | None = None
    arrived: Micros | None = None
    heard: Micros | None = None
    heard_of_now: Micros | None = None
    value: Value | None = None
    value_arrived: Micros | None = None
    timed: bool = True
    same_since: Micros = NO_TIME
    warming_up: bool = True
    powering_up: Micros | None = None
    silent: bool = False
    offline: bool = False
    lag: Lag | None = None
    troubles: tuple[Trouble, ...] = ()
    counts_from: Micros = NO_TIME


@dataclass(frozen=True, slots=True)
class SensorSetup:
    """What the site file says of a sensor.

    sensor_name: as people say it, without its thing.
    silent_after: longest time without a word, microseconds; 0 where silence means nothing.
    """

    id: SensorId
    name: str
    thing: str
    thing_name: str
    sensor_name: str
    kind: SensorKind
    topic: str
    silent_after: Micros
    thresholds: Thresholds


@dataclass(slots=True)
class Ears:
    """Whether the gateway hears the broker; silence counts only while it does.

    since: since when it does or does not. last_word: what it heard last before it last heard nothing, None at first.
    deaf: how long it has not heard it, all such times before ``since`` together, microseconds.
    """

    hearing: bool = True
    since: Micros | None = None
    last_word: Micros | None = None
    storing: bool = True
    deaf: Micros = NO_TIME

    def turn(self, now: Micros, *, hearing: bool) -> None:
        """It hears the broker from now on, or does not."""
        if not self.hearing and self.since is not None:
            self.deaf = Micros(self.deaf + now - self.since)
        self.hearing, self.since = hearing, now

    def heard(self, now: Micros) -> Micros:
        """The time heard: it stands still while the gateway hears nothing."""
        end = now if self.hearing or self.since is None else self.since
        return Micros(end - self.deaf)


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
    _present: Micros = field(init=False)
    _clock_behind_after: Micros = field(init=False)
    _pause: Micros = field(init=False)

    def __post_init__(self) -> None:
        self.subject = Subject(SubjectKind.SENSOR, self.setup.id)
        self._task = Task(SILENCE, self.setup.id)
        thresholds = self.setup.thresholds
        self._doubt, self._present = thresholds.doubt, thresholds.present
        self._clock_behind_after = micros(thresholds.clock_behind_after_seconds)
        self._pause = Micros(max(self.setup.silent_after, micros(thresholds.max_gap_seconds)))
        self._thermometer = self.setup.kind is SensorKind.TEMPERATURE

    def describe(self) -> None:
        """Put the sensor on the board."""
        setup = self.setup
        self.desk.board.add(
            self.subject,
            name=setup.name,
            thing_name=setup.thing_name,
            sensor_name=setup.sensor_name,
            kind=setup.kind.value,
        )

    def heard(self, reading: Reading) -> bool:
        """Take note of a reading; False where it must not be used: it is no reading at all, or of a time nobody knows.

        A late 85.0 cannot be told from a power-up value. It is no word of its sensor, but it goes to the basin, where
        it earns nothing and casts doubt on the soak that it falls into (rules/exposure.py).
        """
        state = self.state
        arrived, measured = reading.arrived, reading.measured
        news = state.measured is None or measured >= state.measured
        if self._thermometer:
            if not news:
                if reading.value == POWER_UP_CELSIUS:
                    return not self.clock_is_behind
            elif not self._believable(reading):
                self._powers_up(reading)
                return False
        was_heard = state.arrived is not None and not state.silent
        state.arrived, state.heard = arrived, self.ears.heard(arrived)
        if news:
            state.measured, state.value, state.timed = measured, reading.value, reading.timed
            state.value_arrived = arrived
        if not was_heard:
            self._back(arrived)
        late = arrived - measured > self._present
        if late or state.lag is not None:
            self._mind_clock(reading)
            if self.clock_is_behind:
                return False
        if news and not late:
            state.heard_of_now = state.heard
        return True

    def _back(self, arrived: Micros) -> None:
        """It speaks, for the first time or again."""
        self._set_silent(silent=False)
        self._set_trouble(Trouble.POWER_UP, stands=False)
        self._await(arrived)

    def _await(self, now: Micros) -> None:
        """Look for a word when the silence limit has passed since the last one, or since it was first awaited."""
        state = self.state
        if not self.setup.silent_after or not self.ears.hearing:
            return
        if state.heard is None:
            state.heard = self.ears.heard(now)
        word = state.powering_up if state.silent else state.heard
        if word is not None:
            self.desk.agenda.set(self._task, self._heard_until(word))

    def fall_due(self, due: Micros) -> bool:
        """The silence limit may have passed; True where what the sensor watches is not known any more.

        That is so where it is silent, and where all that it says is of the past. One that gives nothing but its
        power-up value is as good as silent; what is told of it is that value.
        """
        state = self.state
        if not self.ears.hearing or not self.setup.silent_after:
            return False
        if self._heard_until(state.heard) > due:
            return self._look_again(due)
        state.silent = state.warming_up = True
        state.heard_of_now = None
        powers_up = state.powering_up is not None and self._heard_until(state.powering_up) > due
        if powers_up:
            self.desk.agenda.set(self._task, self._heard_until(state.powering_up))
        self.desk.board.publish(self.subject, "silent", not powers_up)
        self._set_trouble(Trouble.POWER_UP, stands=powers_up)
        return True

    def _look_again(self, due: Micros) -> bool:
        """It spoke since: the next look is when that word grows old. Cheaper than a timer for each reading."""
        state = self.state
        of_now = state.heard_of_now
        lost = of_now is not None and self._heard_until(of_now) <= due
        if lost:
            state.heard_of_now = of_now = None
        self.desk.agenda.set(self._task, self._heard_until(state.heard if of_now is None else of_now))
        return lost

    def _heard_until(self, word: Micros | None) -> Micros:
        """Until when a word, by the time heard, keeps the sensor from being silent, if the gateway goes on hearing."""
        return Micros((word or NO_TIME) + self.ears.deaf + self.setup.silent_after)

    def listen(self, now: Micros) -> None:
        """The gateway hears the broker: silence goes on being counted, and begins to be for a sensor never awaited."""
        self.state.counts_from = now
        self._await(now)

    def come_under_new_law(self, now: Micros) -> None:
        """Another site file is in force, which may expect a word of the sensor where none was expected before."""
        if not self.setup.silent_after:
            self._set_silent(silent=False)
        elif self.ears.since is not None and not self.desk.agenda.planned(self._task):
            self.state.heard = self.ears.heard(now)
            self._await(now)

    def thing_link(self, now: Micros, *, online: bool) -> None:
        """The device that the sensor belongs to came or went."""
        if not online:
            self.state.counts_from = Micros(now + 1)
        self.desk.board.publish(self.subject, "thing_offline", not online)
        if online and self._thermometer:
            self.state.warming_up = True
        if online and self.state.silent:
            self._await_anew(now)

    def _await_anew(self, now: Micros) -> None:
        """Its device is back: it is told to be silent once it has had its time to speak again."""
        self.desk.board.publish(self.subject, "silent", False)  # noqa: FBT003 - the fact's value
        if self.setup.silent_after and self.ears.hearing:
            self.desk.agenda.set(self._task, self._heard_until(self.ears.heard(now)))

    def own_link(self, *, online: bool) -> None:
        """This sensor is the device's own word on whether it is connected."""
        self.state.offline = not online
        self.desk.board.publish(self.subject, "offline", not online)

    def _set_silent(self, *, silent: bool) -> None:
        self.state.silent = silent
        self.desk.board.publish(self.subject, "silent", silent)

    # ---- the clock of its device -----------------------------------------------------------------------------------

    @property
    def clock_is_behind(self) -> bool:
        """Whether its device's clock is known to be behind, so that nobody can say when it measured."""
        return Trouble.CLOCK_BEHIND in self.state.troubles

    def _mind_clock(self, reading: Reading) -> None:
        """Look whether its readings of the past are those of a clock that is behind (rules/clock.py)."""
        state, arrived = self.state, reading.arrived
        lag = Micros(arrived - reading.measured)
        if not reading.timed:
            # It tells nothing of a clock, unless the device gives no time at all any more.
            if state.lag is not None and arrived - state.lag.at > self._pause:
                self._trust_clock()
        elif lag <= self._present:
            self._trust_clock()
        elif state.lag is None:
            state.lag = Lag(lag, lag, arrived)
        else:
            state.lag.take(lag, arrived, at_most=Micros(self._clock_behind_after // 2), pause=self._pause)
            if state.lag.watched >= self._clock_behind_after:
                self._judge_clock(state.lag)

    def _trust_clock(self) -> None:
        self.state.lag = None
        self._set_trouble(Trouble.CLOCK_BEHIND, stands=False)

    def _judge_clock(self, lag: Lag) -> None:
        if lag.shrinks:
            lag.watch_from(lag.newest, lag.at)
        else:
            self._set_trouble(Trouble.CLOCK_BEHIND, stands=True)

    # ---- thermometers ---------------------------------------------------------------------------------------------

    def _believable(self, reading: Reading) -> bool:
        state = self.state
        if reading.value == POWER_UP_CELSIUS and self._may_power_up(reading.measured):
            return False
        state.warming_up = False
        state.powering_up = None
        self._mind_jump(reading)
        before = state.value
        if before is None or state.measured is None:
            state.same_since = reading.measured
        elif reading.value != before:
            state.same_since = reading.measured
            if state.troubles:
                self._set_trouble(Trouble.STUCK, stands=False)
        elif self._same_for_too_long(reading) and self._tells_of_now(reading):
            self._set_trouble(Trouble.STUCK, stands=True)
        return True

    def _may_power_up(self, measured: Micros) -> bool:
        """Whether an 85.0 comes after power-up, or after another 85.0: no solution stays at that."""
        return self.state.warming_up or self.state.value == POWER_UP_CELSIUS or self._after_a_gap(measured)

    def _powers_up(self, reading: Reading) -> None:
        """A power-up value is told once, and counts as no word: it does not put the silence off."""
        state = self.state
        if state.powering_up is None:
            self.desk.say(PowerUpValue(at=reading.arrived, sensor=self.setup.id, measured=reading.measured))
        state.powering_up = self.ears.heard(reading.arrived)
        if not self.desk.agenda.planned(self._task):
            self._await(reading.arrived)

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
            self._set_trouble(Trouble.JUMPING, stands=True)
            self.desk.agenda.set(Task(BELIEVE, self.setup.id), Micros(reading.arrived + self._doubt.holds))

    def _tells_of_now(self, reading: Reading) -> bool:
        return reading.arrived - reading.measured <= self._present

    def believe(self) -> None:
        """It has behaved since it jumped."""
        self._set_trouble(Trouble.JUMPING, stands=False)

    def _set_trouble(self, trouble: Trouble, *, stands: bool) -> None:
        before = self.state.troubles
        if (trouble in before) is stands:
            return
        self.state.troubles = (*before, trouble) if stands else tuple(t for t in before if t is not trouble)
        implausible = [t for t in self.state.troubles if t is not Trouble.CLOCK_BEHIND]
        self.desk.board.publish(self.subject, "trouble", ", ".join(implausible))
        self.desk.board.publish(self.subject, "implausible", bool(implausible))
        self.desk.board.publish(self.subject, "clock_behind", self.clock_is_behind)

    def tells_of_now(self) -> bool:
        """Whether its newest word is good for the present: not before an interruption, and not of long ago."""
        state = self.state
        if state.arrived is None or state.measured is None or state.silent or not self.ears.hearing:
            return False
        if self.clock_is_behind:
            return False
        return state.arrived >= state.counts_from and state.arrived - state.measured <= self._present

    def health(self) -> str:
        """A few words for the screens."""
        state = self.state
        if state.offline:
            return "offline"
        if state.arrived is None and state.powering_up is None:
            return "never heard"
        if state.silent and Trouble.POWER_UP not in state.troubles:
            return "silent"
        return ", ".join(state.troubles) or ("ok" if state.arrived is not None else Trouble.POWER_UP.value)
