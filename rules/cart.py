"""A cart: whether it rolls, whether it is plugged in, and which of its cords are off their hooks."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from rules.agenda import Task
from rules.board import Subject, SubjectKind
from rules.care import CareSetup, CareState, CareTracker
from rules.cost import cost_at_risk, risk_words
from rules.desk import Desk
from rules.events import PastRoll
from rules.left import LeftCords, LeftState
from rules.readings import Micros, Reading, micros
from rules.thresholds import Thresholds

ROLL = "cart roll"
"""Work of the agenda: the motion sensor has said the same for long enough."""


@dataclass(slots=True)
class CartState:
    """What a cart remembers.

    moving: what the motion sensor says; rolling: the same, once it has lasted. None = not known.
    newest: measured time of the newest reading by sensor name.
    hooks: cord -> on its hook; since: measured time of the reading that first said so.
    away: cords whose probe is known to be at a sink, in a basin or in a cabinet.
    plugged_in: what the mains sensor says of now, None = not known.
    motion_known: whether what is known of rolling is from after the gateway last began to hear.
    """

    moving: bool | None = None
    rolling: bool | None = None
    newest: dict[str, Micros] = field(default_factory=dict)
    hooks: dict[str, bool] = field(default_factory=dict)
    since: dict[str, Micros] = field(default_factory=dict)
    away: tuple[str, ...] = ()
    plugged_in: bool | None = None
    motion_known: bool = True
    left: LeftState = field(default_factory=LeftState)
    care: CareState = field(default_factory=CareState)


@dataclass(frozen=True, slots=True)
class CartSetup:
    """What the site file says of a cart.

    rolling_above_mps2: for a motion sensor that gives m/s2. prices: of a new probe by cord, in ``currency``.
    """

    id: str
    name: str
    cords: tuple[str, ...]
    rolling_above_mps2: float
    thresholds: Thresholds
    care: CareSetup
    prices: Mapping[str, float]
    currency: str


class CartTracker:
    """Motion and hook readings in, facts out."""

    def __init__(self, setup: CartSetup, desk: Desk, state: CartState | None = None) -> None:
        self.setup = setup
        self._desk = desk
        self.state = state or CartState()
        self._subject = Subject(SubjectKind.CART, setup.id)
        self._task = Task(ROLL, setup.id)
        self._rolling_after = micros(setup.thresholds.rolling_after_seconds)
        self._standing_after = micros(setup.thresholds.standing_after_seconds)
        self._present = setup.thresholds.present
        after = micros(setup.thresholds.left_off_seconds)
        self.left = LeftCords(setup.id, setup.cords, after, desk, self.state.left)
        self.care = CareTracker(setup.id, setup.care, desk, self.state.care)

    def describe(self) -> None:
        """Put the cart on the board."""
        self._desk.board.add(self._subject, name=self.setup.name)

    def motion(self, reading: Reading) -> None:
        """The motion sensor spoke: true, or m/s2 at or above the threshold, means moving."""
        _, measured, arrived, value, _ = reading
        if self._is_old("motion", measured):
            return
        moving = value >= self.setup.rolling_above_mps2 if type(value) is float else bool(value)
        news, self.state.moving = moving != self.state.moving, moving
        if arrived - measured > self._present:
            if news:
                self._note_past(measured, arrived, moving=moving)
        elif moving == self.state.rolling:
            self._desk.agenda.cancel(self._task)
            self._believe_motion()
        elif news or not self._desk.agenda.planned(self._task):
            wait = self._rolling_after if moving else self._standing_after
            self._desk.agenda.set(self._task, Micros(arrived + wait))

    def settle(self, now: Micros) -> None:
        """The motion sensor has said the same for long enough to believe it."""
        if self.state.moving or self.state.rolling:
            self.left.begin_anew(now, now)
        self.state.rolling = self.state.moving
        self._desk.board.publish(self._subject, "rolling", bool(self.state.rolling))
        self._believe_motion()

    def _believe_motion(self) -> None:
        """Whether it rolls is known of now."""
        if not self.state.motion_known:
            self.state.motion_known = True
            self._set_plugged_in(self.state.plugged_in)

    def hook(self, cord: str, reading: Reading) -> None:
        """A hook spoke: true = the cord hangs on it."""
        measured, on_hook = reading.measured, bool(reading.value)
        if self._is_old(f"hook-{cord}", measured):
            return
        if not on_hook and reading.arrived - measured <= self._present and cord not in self.state.away:
            self.left.off(cord, reading.arrived)
        if self.state.hooks.get(cord) == on_hook:
            return
        self.state.hooks[cord], self.state.since[cord] = on_hook, measured
        if on_hook:
            self.left.forget([cord])
        self._tell_cords()

    def hook_lost(self, cord: str) -> None:
        """The hook has fallen silent: whether the cord was left lying is not known any more."""
        self.left.forget([cord])

    def contact(self, reading: Reading) -> None:
        """The exam button was pressed."""
        self.exam(reading.measured, reading.arrived)

    def exam(self, at: Micros, now: Micros) -> None:
        """An exam was marked: a probe was in use then, and none of the cart's was left lying."""
        self.left.begin_anew(at, now)

    def probes_away(self, cords: frozenset[str]) -> None:
        """The probes of exactly these cords are elsewhere than at the cart: taken off it, not fallen from their hooks.

        To be told anew with every change, and with an empty set once probes are not followed any more.
        """
        away = tuple(sorted(cords))
        if away != self.state.away:
            self.state.away = away
            self.left.forget(away)
            self._tell_cords()

    def _tell_cords(self) -> None:
        off, board = self.cords_off(), self._desk.board
        board.publish(self._subject, "cords_off_names", ", ".join(off))
        board.publish(self._subject, "cost_at_risk", risk_words(self.setup.prices, off, self.setup.currency))
        board.publish(self._subject, "cords_off", len(off))

    def at_risk(self) -> float | None:
        """What new probes for the cords off their hooks would cost, as far as that is known."""
        return cost_at_risk(self.setup.prices, self.cords_off())

    def cords_off(self) -> tuple[str, ...]:
        """Cords known to be off their hooks and to hang from the cart still, in the order of the site file."""
        hooks, away = self.state.hooks, self.state.away
        return tuple(cord for cord in self.setup.cords if hooks.get(cord) is False and cord not in away)

    def mains(self, reading: Reading) -> None:
        """The mains sensor spoke: true = plugged in. One that speaks of long ago tells nothing of now."""
        if not self._is_old("mains", reading.measured):
            late = reading.arrived - reading.measured > self._present
            self._set_plugged_in(None if late else bool(reading.value))

    def mains_lost(self) -> None:
        """The mains sensor has fallen silent."""
        self._set_plugged_in(None)

    def _set_plugged_in(self, plugged_in: bool | None) -> None:  # noqa: FBT001 - three states
        self.state.plugged_in = plugged_in
        # While it is not known that it rolls still, nothing is made of a plug that is in again.
        known = bool(plugged_in) and self.state.motion_known
        self._desk.board.publish(self._subject, "plugged_in", known)

    def motion_lost(self) -> None:
        """The motion sensor has fallen silent: whether the cart rolls is not known any more."""
        self._desk.agenda.cancel(self._task)
        self.state.moving = self.state.rolling = None
        self._desk.board.publish(self._subject, "rolling", False)  # noqa: FBT003 - the fact's value

    def hold(self) -> None:
        """Nothing is heard any more: that the motion lasts is known once its sensor says so again."""
        self._desk.agenda.cancel(self._task)
        self.left.hold()
        self.state.motion_known = False

    def come_under_new_law(self, now: Micros) -> None:
        """Another site file is in force, which may ask for other care, and has other prices."""
        self.left.look(now)
        self.care.follow(now)
        self._tell_cords()

    def _is_old(self, name: str, measured: Micros) -> bool:
        """Present state goes by the newest reading; an older one is in the journal and otherwise ignored."""
        if measured < self.state.newest.get(name, measured):
            return True
        self.state.newest[name] = measured
        return False

    def _note_past(self, measured: Micros, arrived: Micros, *, moving: bool) -> None:
        # One that was hung up or taken off since then says nothing of how it hung at that time.
        off = tuple(cord for cord in self.cords_off() if self.state.since[cord] <= measured)
        if moving and off:
            self._desk.say(PastRoll(at=arrived, cart=self.setup.id, measured=measured, cords_off=off))
        if not moving:
            self._desk.agenda.cancel(self._task)
            self.settle(arrived)
