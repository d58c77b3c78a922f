"""Exams: a cart is fetched and rolled to a bed, probes touch the patient, are cleaned or sent on, and it rolls back."""

from typing import NamedTuple

from rules.probe_words import Step, Surface
from rules.readings import SECOND, Micros, SensorKind, micros
from sim_devices.staff.exam_habits import ExamHabits
from sim_devices.staff.habits import Department, Habits
from sim_devices.staff.hands import Hands, Process
from sim_devices.staff.knocks import Knocks
from sim_devices.staff.luck import Luck
from sim_devices.staff.paths import Path, path_of
from sim_devices.staff.reprocessing import Reprocessing
from sim_devices.ward import deeds

_MINUTE_SECONDS = 60


class _Use(NamedTuple):
    """A probe is used on a patient; probe: None for a cord of which the site file names no probe."""

    department: Department
    cart: str
    cord: str
    probe: str | None
    surface: Surface
    luck: Luck

    @property
    def habits(self) -> ExamHabits:
        return self.department.examines


class Exams:
    """Everybody who examines.

    By cart: lying: cords that lie about at it; down: those that are forgotten when it rolls; tempting: those whose
    probes hang soiled on their hooks as if they were ready, so that the next examiner takes one.
    """

    def __init__(self, hands: Hands, habits: Habits, reprocessing: Reprocessing) -> None:
        self._hands, self._ward = hands, hands.ward
        self._ways, self._reprocessing = habits.ways, reprocessing
        self._knocks = Knocks(hands, habits.carts)
        carts = hands.ward.carts
        self._lying: dict[str, list[str]] = {cart: [] for cart in carts}
        self._down: dict[str, list[str]] = {cart: [] for cart in carts}
        self._tempting: dict[str, list[str]] = {cart: [] for cart in carts}

    def examine(self, department: Department, cart: str, luck: Luck) -> Process:
        """One patient, from fetching the cart to bringing it back."""
        ways, examines = self._ways, department.examines
        yield self._hands.wait(luck.span(ways.least_walk_seconds, ways.most_walk_seconds, "walk"))
        yield from self._roll(cart, examines, luck.of("there"))
        at_bed = luck.does(ways.at_bed_share, "plugged in at the bed")
        if at_bed:
            yield from self._plug(cart, plugged_in=True)
        times = 1 + luck.does(examines.second_probe_share, "second probe")
        for number in range(times):
            yield from self._use_one(department, cart, luck.of(number))
        yield from self._roll(cart, examines, luck.of("back"))
        if not luck.does(ways.unplugged_share, "not plugged in"):
            yield from self._plug(cart, plugged_in=True)
        self._leave_lying(cart, luck)

    # ---- the way --------------------------------------------------------------------------------------------------

    def _roll(self, cart: str, examines: ExamHabits, luck: Luck) -> Process:
        hands, ways = self._hands, self._ways
        self._tidy(cart)
        plugged_in = self._ward.carts[cart].plugged_in.newest
        forgets = plugged_in and luck.does(ways.plugged_in_share, "plugged in")
        if plugged_in and not forgets:
            yield from self._plug(cart, plugged_in=False)
        yield hands.wait(micros(ways.grip_seconds))
        hands.do(deeds.Roll(cart=cart))
        rolls = luck.span(ways.least_roll_seconds, ways.most_roll_seconds, "roll")
        yield hands.wait(Micros(rolls // 2))
        self._knocks.on_the_way(cart, examines, luck)
        if forgets:
            # By then at the latest the cord has pulled the plug out of its socket.
            hands.do(deeds.Mains(cart=cart, plugged_in=False))
        yield hands.wait(Micros(rolls - rolls // 2))
        hands.do(deeds.Halt(cart=cart))
        self._notice(cart, luck)
        yield hands.wait(luck.span(ways.least_settle_seconds, ways.most_settle_seconds, "settles"))

    def _plug(self, cart: str, *, plugged_in: bool) -> Process:
        yield self._hands.wait(micros(self._ways.plug_seconds))
        self._hands.do(deeds.Mains(cart=cart, plugged_in=plugged_in))

    def _tidy(self, cart: str) -> None:
        """Cords that lie about are hung up before a cart rolls."""
        for cord in self._lying[cart]:
            self._hang_up(cart, cord)
        self._lying[cart].clear()

    def _notice(self, cart: str, luck: Luck) -> None:
        """Cords that were down while the cart rolled are seen and hung up."""
        for cord in self._down[cart]:
            noticed = luck.span(self._ways.least_noticed_seconds, self._ways.most_noticed_seconds, f"noticed {cord}")
            self._hands.later(noticed, deeds.HangUp(cart=cart, cord=cord))
        self._down[cart].clear()

    def _leave_lying(self, cart: str, luck: Luck) -> None:
        """Somebody takes a cord down at the parked cart, and leaves it lying."""
        hooks = self._free_cords(cart)
        if hooks and luck.does(self._ways.left_lying_share, "left lying"):
            cord = hooks[luck.below(len(hooks), "lying")]
            self._hands.do(deeds.TakeDown(cart=cart, cord=cord))
            self._lying[cart].append(cord)
            self._hands.start(self._pick_up(cart, cord, luck))

    def _pick_up(self, cart: str, cord: str, luck: Luck) -> Process:
        ways = self._ways
        yield self._hands.wait(luck.minutes(ways.least_lying_minutes, ways.most_lying_minutes, "lies"))
        if cord in self._lying[cart]:
            self._lying[cart].remove(cord)
            self._hang_up(cart, cord)

    def _hang_up(self, cart: str, cord: str) -> None:
        self._hands.do(deeds.HangUp(cart=cart, cord=cord))

    # ---- who is taken ---------------------------------------------------------------------------------------------

    def _free_cords(self, cart: str) -> list[str]:
        """Cords on their hooks whose probes people take for ready."""
        hooks = self._ward.carts[cart].on_hook
        probes = ((cord, self._ward.on_cord.get((cart, cord))) for cord, hook in hooks.items() if hook.newest)
        return [cord for cord, probe in probes if probe is None or not self._reprocessing.owes(probe)]

    def _choose(self, cart: str, surface: Surface, luck: Luck) -> str | None:
        """A cord for a contact: an internal probe is for mucosa alone, and is taken for it where there is one."""
        hooks = self._ward.carts[cart].on_hook
        tempting = [cord for cord in self._tempting[cart] if hooks[cord].newest]
        if tempting:
            return tempting[0]
        free = self._free_cords(cart)
        internal = [cord for cord in free if self._is_internal(cart, cord)]
        external = [cord for cord in free if cord not in internal]
        cords = internal if surface is Surface.MUCOSA and internal else external
        return cords[luck.below(len(cords), "cord")] if cords else None

    def _is_internal(self, cart: str, cord: str) -> bool:
        probe = self._ward.on_cord.get((cart, cord))
        return probe is not None and self._ward.homes[probe].internal

    # ---- at the patient -------------------------------------------------------------------------------------------

    def _use_one(self, department: Department, cart: str, luck: Luck) -> Process:
        surface = luck.pick(department.examines.surfaces(), "surface")
        cord = self._choose(cart, surface, luck)
        if cord is None:
            return
        use = _Use(department, cart, cord, self._ward.on_cord.get((cart, cord)), surface, luck)
        was_tempting = cord in self._tempting[cart]
        if was_tempting:
            self._tempting[cart].remove(cord)
        yield from self._touch(use)
        if use.probe is None:
            yield from self._hang_back(use)
        elif was_tempting:
            yield from self._send(use, use.probe)
        elif surface is Surface.SKIN or luck.does(use.habits.unheeded_share, "unheeded"):
            yield from self._clean(use, use.probe)
        else:
            self._reprocessing.soiled(use.probe, surface)
            yield from self._pass_on(use, use.probe)

    def _touch(self, use: _Use) -> Process:
        hands, habits, luck = self._hands, use.habits, use.luck
        yield hands.wait(micros(self._ways.grip_seconds))
        hands.do(deeds.TakeDown(cart=use.cart, cord=use.cord))
        yield hands.wait(luck.span(habits.least_prepare_seconds, habits.most_prepare_seconds, "prepares"))
        lasts = luck.wait(_MINUTE_SECONDS * habits.exam_minutes, "exam", round(habits.exam_stages))
        if use.probe is not None:
            hands.do(self._contact(use, use.probe, lasts / SECOND))
        yield hands.wait(lasts)
        if use.probe is not None:
            self._knocks.in_exam(use.probe, habits, luck)
            hands.do(deeds.LayDown(probe=use.probe))

    def _contact(self, use: _Use, probe: str, lasts_seconds: float) -> deeds.Touch:
        """The contact, and how it is marked: at its end, with the button where it is plain which probe that means."""
        habits, luck, surface = use.habits, use.luck, use.surface
        if surface is not Surface.SKIN and luck.does(habits.unheeded_share, "unheeded"):
            return deeds.Touch(probe=probe, surface=surface, marked="not")
        if luck.does(habits.unmarked_share, "unmarked"):
            if not luck.does(habits.late_share, "marked late"):
                return deeds.Touch(probe=probe, surface=surface, marked="not")
            late = luck.between(habits.least_late_minutes, habits.most_late_minutes, "late") * _MINUTE_SECONDS
            return deeds.Touch(probe=probe, surface=surface, told_after_seconds=_rounded(lasts_seconds + late))
        if self._is_plain(use):
            return deeds.Touch(
                probe=probe, surface=surface, marked="button", told_after_seconds=_rounded(lasts_seconds)
            )
        enters = luck.between(habits.least_enter_seconds, habits.most_enter_seconds, "enters")
        return deeds.Touch(probe=probe, surface=surface, told_after_seconds=_rounded(lasts_seconds + enters))

    def _is_plain(self, use: _Use) -> bool:
        """Whether a button tells which probe: the only one off its hook. A sterile contact is named all the same."""
        if (use.cart, SensorKind.CONTACT) not in self._ward.buttons or use.surface is Surface.STERILE:
            return False
        return all(hook.newest for cord, hook in self._ward.carts[use.cart].on_hook.items() if cord != use.cord)

    # ---- after the patient ----------------------------------------------------------------------------------------

    def _clean(self, use: _Use, probe: str) -> Process:
        habits, luck = use.habits, use.luck
        if luck.does(habits.cleaned_share, "cleaned"):
            yield self._hands.wait(luck.span(habits.least_clean_seconds, habits.most_clean_seconds, "cleans"))
            is_wiped = self._ward.site.reprocessing.low_level_after_skin
            steps = (Step.COVER_OFF, Step.WASHED, Step.DRIED, *((Step.LOW_LEVEL,) if is_wiped else ()))
            self._hands.do(deeds.Treat(probe=probe, steps=steps, told_after_seconds=self._reprocessing.told(luck)))
        if luck.does(self._ways.left_down_share, "left down"):
            self._down[use.cart].append(use.cord)
        else:
            yield from self._hang_back(use)

    def _pass_on(self, use: _Use, probe: str) -> Process:
        """What becomes of a probe that is to be soaked."""
        path = path_of(use.habits, use.luck)
        if path is Path.HASTY and self._is_internal(use.cart, use.cord):
            path = Path.CARRIED
        if path is Path.CARRIED:
            yield from self._send(use, probe)
            return
        yield from self._hang_back(use)
        wait = use.luck.minutes(use.habits.least_fetch_minutes, use.habits.most_fetch_minutes, "fetched")
        if path is Path.HUNG_BACK:
            yield self._hands.wait(wait)
            yield from self._send(use, probe)
        elif path is Path.ROLLED_AWAY:
            self._hands.start(self._fetch(use, probe, wait))
        else:
            self._tempting[use.cart].append(use.cord)

    def _fetch(self, use: _Use, probe: str, wait: Micros) -> Process:
        yield self._hands.wait(wait)
        yield from self._reprocessing.until_parked(use.cart)
        yield from self._send(use, probe)

    def _hang_back(self, use: _Use) -> Process:
        habits = use.habits
        yield self._hands.wait(use.luck.span(habits.least_hang_seconds, habits.most_hang_seconds, "hangs up"))
        self._hang_up(use.cart, use.cord)

    def _send(self, use: _Use, probe: str) -> Process:
        """It is carried to the sink; nobody is there to roll the cart meanwhile."""
        yield from self._reprocessing.carry(use.department, probe, use.luck.of("reprocessed"))


def _rounded(seconds: float) -> float:
    """To the millisecond, and no longer than may be told."""
    return min(round(seconds, 3), 86_400)
