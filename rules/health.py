"""A sensor's health: is it heard, and can it be believed?"""

from dataclasses import dataclass, field
from enum import StrEnum

from rules.agenda import Task
from rules.board import Subject, SubjectKind
from rules.desk import Desk
from rules.events import PowerUpValue
from rules.exposure import Doubt
from rules.readings import NO_TIME, POWER_UP_CELSIUS, Micros, Reading, SensorId, SensorKind, Value, micros
from rules.thresholds import Thresholds

SILENCE = "sensor silence"
"""Work of the agenda: the sensor has not been heard for its limit, unless it spoke since."""

BELIEVE = "sensor believed again"
"""Work of the agenda: a thermometer that jumped has behaved for long enough."""


SAME_PACE = 10
"""A lag that changes by less than one part in so many of the time that passes is that of a clock (ours)."""


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
    same_since: since when a thermometer has given the very same number, measured time.
    warming_up: whether the next 85.0 is a power-up value.
    powering_up: when its last power-up value arrived, None once a temperature came.
    silent: nothing that can be used has come for its limit.
    lagging_since: arrival from which on every reading has been of the past, None while they are of the present; lag:
        how long ago that first one had been measured.
    troubles: each at most once.
    counts_from: a word that arrived before this tells nothing of the present, for the way to the sensor was cut since.
    """

    measured: Micros | None = None
    arrived: Micros | None = None
    value: Value | None = None
    value_arrived: Micros | None = None
    timed: bool = True
    same_since: Micros = NO_TIME
    warming_up: bool = True
    powering_up: Micros | None = None
    silent: bool = False
    offline: bool = False
    lagging_since: Micros | None = None
    lag: Micros = NO_TIME
    troubles: tuple[Trouble, ...] = ()
    counts_from: Micros = NO_TIME


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
    """Whether the gateway hears the broker; silence counts only while it does.

    since: since when it does or does not. last_word: what it heard last before it last heard nothing, None at first.
    """

    hearing: bool = True
    since: Micros | None = None
    last_word: Micros | None = None
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
    _present: Micros = field(init=False)
    _clock_behind_after: Micros = field(init=False)

    def __post_init__(self) -> None:
        self.subject = Subject(SubjectKind.SENSOR, self.setup.id)
        self._task = Task(SILENCE, self.setup.id)
        thresholds = self.setup.thresholds
        self._doubt, self._present = thresholds.doubt, thresholds.present
        self._clock_behind_after = micros(thresholds.clock_behind_after_seconds)
        self._thermometer = self.setup.kind is SensorKind.TEMPERATURE

    def describe(self) -> None:
        """Put the sensor on the board."""
        setup = self.setup
        self.desk.board.add(self.subject, name=setup.name, thing_name=setup.thing_name, kind=setup.kind.value)

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
        state.arrived = arrived
        if news:
            state.measured, state.value, state.timed = measured, reading.value, reading.timed
            state.value_arrived = arrived
        if not was_heard:
            self._back(arrived)
        if arrived - measured > self._present or state.lagging_since is not None:
            self._mind_clock(reading)
            return not self.clock_is_behind
        return True

    def _back(self, arrived: Micros) -> None:
        """It speaks, for the first time or again."""
        self._set_silent(silent=False)
        self._set_trouble(Trouble.POWER_UP, stands=False)
        self._expect_backlog()
        self._await(arrived)

    def _await(self, now: Micros) -> None:
        """Look for a word when the silence limit has passed from ``now`` on."""
        if self.setup.silent_after and self.ears.hearing:
            self.desk.agenda.set(self._task, Micros(now + self.setup.silent_after))

    def fall_due(self, due: Micros) -> bool:
        """The silence limit has passed since it was last looked at; True where the sensor is silent now.

        One that gives nothing but its power-up value is as good as silent; what is told of it is that value.
        """
        state = self.state
        if not self.ears.hearing or not self.setup.silent_after:
            return False
        if self._heard_until(state.arrived) > due:
            # It spoke since: the next look is when that word grows old. Cheaper than a timer for each reading.
            self.desk.agenda.set(self._task, self._heard_until(state.arrived))
            return False
        state.silent = state.warming_up = True
        powers_up = state.powering_up is not None and self._heard_until(state.powering_up) > due
        if powers_up:
            self.desk.agenda.set(self._task, self._heard_until(state.powering_up))
        self.desk.board.publish(self.subject, "silent", not powers_up)
        self._set_trouble(Trouble.POWER_UP, stands=powers_up)
        return True

    def _heard_until(self, arrived: Micros | None) -> Micros:
        """Until when a word that came at ``arrived`` keeps the sensor from being silent."""
        return Micros((arrived or NO_TIME) + self.setup.silent_after)

    def listen(self, now: Micros) -> None:
        """The gateway hears the broker: silence is counted from now on, that of a sensor never heard, too."""
        self.state.counts_from = now
        self._expect_backlog()
        self._await(now)

    def come_under_new_law(self, now: Micros) -> None:
        """Another site file is in force, which may expect a word of the sensor where none was expected before."""
        if not self.setup.silent_after:
            self._set_silent(silent=False)
        elif self.ears.since is not None and not self.desk.agenda.planned(self._task):
            self._await(now)

    def thing_link(self, now: Micros, *, online: bool) -> None:
        """The device that the sensor belongs to came or went."""
        if not online:
            self.state.counts_from = Micros(now + 1)
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

    # ---- the clock of its device -----------------------------------------------------------------------------------

    @property
    def clock_is_behind(self) -> bool:
        """Whether its device's clock is known to be behind, so that nobody can say when it measured."""
        return Trouble.CLOCK_BEHIND in self.state.troubles

    def _expect_backlog(self) -> None:
        """What waited comes now, and is of the past for a good reason: its lag is looked at anew."""
        if not self.clock_is_behind:
            self.state.lagging_since = None

    def _mind_clock(self, reading: Reading) -> None:
        """Tell a clock that is behind from a backlog.

        Both give readings of long ago. Those of a backlog come faster than they were measured, so that their lag
        shrinks; that of a clock stays the same for as long as it is not set.
        """
        state, arrived = self.state, reading.arrived
        lag = Micros(arrived - reading.measured)
        if lag <= self._present:
            state.lagging_since = None
            self._set_trouble(Trouble.CLOCK_BEHIND, stands=False)
        elif not reading.timed:
            return
        elif state.lagging_since is None:
            state.lagging_since, state.lag = arrived, lag
        elif (passed := arrived - state.lagging_since) >= self._clock_behind_after:
            if abs(lag - state.lag) <= passed / SAME_PACE:
                self._set_trouble(Trouble.CLOCK_BEHIND, stands=True)
            else:
                state.lagging_since, state.lag = arrived, lag

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
        state.powering_up = reading.arrived
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
