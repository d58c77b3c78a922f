"""Ties the trackers together: inputs in, events out, the same for the same site, rules and inputs."""

from functools import partial
from typing import TYPE_CHECKING

from rules.agenda import NEVER, Task
from rules.alert_commands import Acknowledge, AlertCommand, Decline, PageTold, TryPages
from rules.alert_deeds import SOUND, WALLS, AlertDeeds
from rules.alert_register import DELAY, REMIND, SHELF, AlertRegister, AlertsState
from rules.alert_views import draw_alerts
from rules.alerts import Alerts
from rules.basin import SETTLE
from rules.belonging import Belonging
from rules.build import Department, build
from rules.care import CARE
from rules.cart import ROLL
from rules.checkpoint import SNAPSHOT_VERSION, Saved, SnapshotError, packed, unpacked
from rules.commands import Command, Entry, Input, SensorFoundOff, Strike
from rules.desk import Desk
from rules.entering import Entering
from rules.events import Event
from rules.figure_commands import FigureCommand
from rules.figure_events import FiguresChanged
from rules.figure_orders import FigureOrders
from rules.handlers import Handler, handler_of
from rules.health import BELIEVE, SILENCE, Ears, Watch
from rules.hearing import Hearing
from rules.law import fingerprint
from rules.left import LEFT
from rules.onlooker import Onlooker
from rules.opening import OPENING, Opening
from rules.paging import Paging
from rules.picture import Picture
from rules.probe import STAND
from rules.probe_build import build_probes
from rules.readings import Micros, Reading, SensorId
from rules.recollection import number_on, recall_facts
from rules.ruleset import RuleBook
from rules.site import Site
from rules.steadiness import GATEWAY, STEADY, Steadiness
from rules.upkeep import UPKEEP
from rules.views import draw

if TYPE_CHECKING:
    from collections.abc import Callable, Container


class Engine:
    """Pure and deterministic: same site, rules and inputs give the same events, byte for byte.

    Time comes with the inputs. Timers fire at the instant they are due and their events carry that instant, whether a
    live tick or the next input makes them fire.

    book: the rules with the figures in force, those that people have changed by command included.
    onlooker: told of each look at what the rules watch; of no effect on any of it.
    """

    def __init__(
        self, site: Site, book: RuleBook, saved: Saved | None = None, onlooker: Onlooker | None = None
    ) -> None:
        self.site = site
        self._given = book
        self._onlooker = onlooker
        self._earlier: list[Event] = []
        self._assemble(saved)

    def _assemble(self, saved: Saved | None) -> None:
        """Make all parts anew, with the figures in force; what is remembered goes on."""
        site = self.site
        self.now = Micros(0) if saved is None else saved.now
        self._begun = saved is not None and saved.begun
        self._orders = FigureOrders(site, self._given, saved.orders if saved else {})
        self.book = book = self._orders.book
        self._law = fingerprint(site, book)
        self._desk = Desk()
        self._ears = Ears() if saved is None else saved.ears
        states = (saved.sensors, saved.carts, saved.basins, saved.vapours) if saved else ({}, {}, {}, {})
        self._parts: Department = build(site, book, self._desk, self._ears, *states)
        told = (saved.probes, saved.readers) if saved else ({}, {})
        self._probes = build_probes(site, book, self._desk, self._parts, *told, self._ears)
        self._belonging = Belonging(site)
        kept = saved.alerts if saved else AlertsState()
        self._register = AlertRegister(book, site.alerts, self._desk, kept)
        self._alerts = Alerts(book, self._desk, self._ears, self._belonging, self._register, self._onlooker)
        self._deeds = AlertDeeds(site, book, self._belonging, self._register, self._desk)
        self._entering = Entering(self._parts, self._probes, self._desk)
        self._opening = Opening(site, self._desk)
        self._paging = Paging(site, book, self._desk, saved.paging if saved else None)
        self._steadiness = Steadiness(book.thresholds, self._desk, saved.losses if saved else [])
        self._hearing = Hearing(self._parts, self._desk, self._ears, self._alerts, self._steadiness, self._probes)
        self._former: dict[str, int] = {}
        self._desk.board.add(GATEWAY, name="gateway")
        self._handlers: dict[SensorId, tuple[Watch, Handler | None]] = {
            sensor: (watch, handler_of(watch, self._parts, self._hearing, self._probes))
            for sensor, watch in self._parts.watches.items()
        }
        self._work: dict[str, Callable[[str, Micros], None]] = {
            SETTLE: self._settle,
            UPKEEP: lambda whom, due: self._parts.basins[whom].upkeep.look_after(due),
            ROLL: self._roll,
            LEFT: lambda whom, due: self._parts.carts[whom].left.look(due),
            CARE: lambda whom, due: self._parts.carts[whom].care.look_after(due),
            STAND: self._stand,
            SILENCE: self._hearing.fall_silent,
            BELIEVE: lambda whom, _: self._parts.watches[SensorId(whom)].believe(),
            DELAY: self._alerts.fall_due,
            SHELF: self._register.shelf_over,
            REMIND: self._register.remind,
            SOUND: lambda *_: self._deeds.sound_again(),
            OPENING: self._opening.look,
            STEADY: lambda _, due: self._steadiness.look(due),
            **{work: partial(self._paging.work, work) for work in self._paging.known()},
        }
        if saved is not None:
            self._take_up(saved)

    @property
    def next_due(self) -> Micros | None:
        """When a timer has to fire next; None where nothing is planned."""
        due = self._desk.agenda.next_due
        return None if due == NEVER else due

    def is_due(self, now: Micros) -> bool:
        """Whether a timer has to fire by now."""
        return self._desk.agenda.next_due <= now

    # ---- inputs ---------------------------------------------------------------------------------------------------

    def apply(self, item: Input) -> list[Event]:
        """Fire every timer due up to the input's arrival, then take the input.

        Raises:
            ValueError: the input arrived before the engine's own time; whoever feeds the engine must clamp it.
        """
        arrived = item.arrived
        if arrived < self.now:
            raise ValueError(f"input arrived at {arrived}, before the engine's time {self.now}")
        desk = self._desk
        if not self._begun:
            self._begin(arrived)
        if desk.agenda.next_due <= arrived:
            self._fire(arrived)
        self.now = arrived
        if self._onlooker is not None:
            self._onlooker.takes(arrived)
        if type(item) is Reading:
            self._read(item)
        else:
            self._obey(item)  # type: ignore[arg-type]
            desk = self._desk  # another one where figures have changed
        if desk.board.changed or desk.said:
            self._conclude()
        return self._said()

    def advance(self, now: Micros) -> list[Event]:
        """Fire every timer due up to ``now``, while nothing arrives."""
        if now > self.now:
            self._fire(now)
            self.now = now
        return self._said()

    def _begin(self, now: Micros) -> None:
        """What is owed counts from the first input, which a replay sees too, and not from a tick before it."""
        self._begun = True
        for cart in self._parts.carts.values():
            cart.care.follow(now)
        self._opening.look_at_all(now)

    def _said(self) -> list[Event]:
        said = self._desk.said
        if said:
            self._desk.said = []
            self._paging.forget()
        if self._earlier:
            said, self._earlier = [*self._earlier, *said], []
        return said

    def _conclude(self) -> None:
        """Let the rules look at what changed, and people be told of what they say, until nothing more follows."""
        desk = self._desk
        while desk.board.changed or desk.said:
            if desk.board.changed:
                self._alerts.look(self.now)
            if not self._paging.follow(desk.said, self.now):
                break

    def _fire(self, until: Micros) -> None:
        while (entry := self._desk.agenda.pop(until)) is not None:
            due, task = entry
            # A timer set for the past by a late reading fires now; the engine's time never runs backwards.
            self.now = Micros(max(self.now, due))
            if self._onlooker is not None:
                self._onlooker.fires(due, task)
            self._work[task.work](task.whom, self.now)
            self._conclude()

    def _read(self, reading: Reading) -> None:
        found = self._handlers.get(reading.sensor)
        if found is None:
            return
        watch, handler = found
        if not watch.heard(reading):
            if watch.clock_is_behind:
                self._hearing.lose(watch.setup, reading.arrived)
        elif handler is not None:
            handler(reading)

    def _obey(self, command: Command) -> None:
        if isinstance(command, PageTold | TryPages):
            self._paging.obey(command)
        elif isinstance(command, Acknowledge | Decline) and self._paging.is_late(command):
            self._paging.tell_late(command)
        elif isinstance(command, AlertCommand):
            self._deeds.obey(command)
        elif isinstance(command, Entry):
            self._entering.enter(command)
        elif isinstance(command, Strike):
            self._entering.strike(command)
        elif isinstance(command, SensorFoundOff):
            self._entering.find_off(command)
        elif isinstance(command, FigureCommand):
            self._change_figures(command)

    def _change_figures(self, command: FigureCommand) -> None:
        """With other figures all goes on as under another site file."""
        event = self._orders.obey(command)
        if isinstance(event, FiguresChanged):
            self._earlier += [*self._desk.said, event]
            self._desk.said = []
            self._assemble(unpacked(self.snapshot()))
        elif event is not None:
            self._desk.say(event)

    def _settle(self, whom: str, due: Micros) -> None:
        if self._ears.hearing:
            self._parts.basins[whom].settle(due)
            self._look_at_probes_of(whom, due)
            if self._probes is not None:
                self._probes.mind_strip(whom, due)
                self._probes.vacancy.look_into(whom, due)

    def _look_at_probes_of(self, basin: str, now: Micros) -> None:
        judged = self._parts.basins[basin].take_judged()
        if self._probes is not None and judged:
            self._probes.look_at_soaks(basin, judged, now)

    def _roll(self, whom: str, due: Micros) -> None:
        cart = self._parts.carts[whom]
        cart.settle(due)
        if self._probes is not None:
            self._probes.cart_rolls(whom, rolls=bool(cart.state.rolling))

    def _stand(self, whom: str, due: Micros) -> None:
        if self._probes is not None:
            self._probes.stand(whom, due)

    # ---- views and checkpoints ------------------------------------------------------------------------------------

    def picture(self) -> Picture:
        """Everything as it is now."""
        calls, roles = self._paging.pictures(self.now)
        roles_named = {role.id: role.name for role in self.site.role}
        alerts = draw_alerts(self._register, self.book, self._belonging, roles_named)
        told = (alerts, calls, roles, self._orders.pictures())
        return draw(self.now, self.site, self.book, self._parts, self._probes, self._ears, *told)

    def snapshot(self) -> bytes:
        """The whole state as JSON."""
        parts = self._parts
        return packed(
            Saved(
                version=SNAPSHOT_VERSION,
                law=self._law,
                now=self.now,
                ears=self._ears,
                sensors={sensor: watch.state for sensor, watch in parts.watches.items()},
                carts={cart: tracker.state for cart, tracker in parts.carts.items()},
                basins={basin: tracker.state for basin, tracker in parts.basins.items()},
                alerts=self._register.state,
                paging=self._paging.state,
                agenda=self._desk.agenda.entries(),
                facts=list(self._desk.board.facts.items()),
                unseen=list(self._desk.board.changed),
                losses=self._steadiness.losses,
                former=self._former,
                begun=self._begun,
                probes={} if self._probes is None else {p: t.state for p, t in self._probes.trackers.items()},
                readers={} if self._probes is None else self._probes.whereabouts.states,
                vapours={sensor: tracker.state for sensor, tracker in parts.vapours.items()},
                orders=self._orders.orders,
            )
        )

    @classmethod
    def restore(cls, site: Site, book: RuleBook, snapshot: bytes) -> "Engine":
        """An engine that goes on exactly where the snapshot was taken.

        With another site file or other rules, what both know goes on; what is new starts fresh; alerts that nothing
        stands behind any more are over with the next ``apply`` or ``advance``.

        Raises:
            SnapshotError: the snapshot is of another version, damaged, or plans what this program does not know.
        """
        return cls(site, book, unpacked(snapshot))

    def _take_up(self, saved: Saved) -> None:
        self._desk.agenda.load([(due, task) for due, task in saved.agenda if self._can_do(task)])
        recall_facts(saved.facts, self._desk.board, self._parts.basins)
        self._former = number_on(saved, self._parts.basins)
        if (lapsed := self._orders.lapsed(self.now)) is not None:
            self._earlier.append(lapsed)
        if saved.law == self._law:
            self._desk.board.changed = dict.fromkeys(saved.unseen)
        else:
            self._come_under_new_law()

    def _can_do(self, task: Task) -> bool:
        """Whether the task is for somebody who is still there."""
        parts = self._parts
        known: dict[str, Container[str]] = {
            SETTLE: parts.basins,
            UPKEEP: parts.basins,
            ROLL: parts.carts,
            LEFT: parts.carts,
            CARE: parts.carts,
            SILENCE: parts.watches,
            BELIEVE: parts.watches,
            DELAY: self._register.state.alerts,
            SHELF: self._register.state.alerts,
            REMIND: self._register.state.alerts,
            SOUND: (WALLS,),
            OPENING: self._opening.shifts,
            STEADY: (GATEWAY.id,),
            **self._paging.known(),
            STAND: () if self._probes is None else self._probes.trackers,
        }
        if task.work not in known:
            raise SnapshotError(f"the checkpoint plans '{task.work}'; expected one of {', '.join(known)}")
        return task.whom in known[task.work]

    def _come_under_new_law(self) -> None:
        """Another site file or other rules are in force: all that is known is looked at by them."""
        for watch in self._parts.watches.values():
            watch.come_under_new_law(self.now)
        for basin in self._parts.basins.values():
            basin.upkeep.look_after(self.now)
        for cart in self._parts.carts.values() if self._begun else ():
            cart.come_under_new_law(self.now)
        if self._probes is not None:
            self._probes.come_under_new_law(self.now)
        for vapour in self._parts.vapours.values():
            vapour.look()
        if self._begun:
            self._opening.look_at_all(self.now)
        self._steadiness.look(self.now)
        self._deeds.come_under_new_law(self.now)
        self._alerts.come_under_new_law(self.now)
        self._conclude()
        self._paging.come_under_new_law(self.now)
        self._conclude()
