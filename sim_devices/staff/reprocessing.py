"""Reprocessing: a soiled probe is carried to a sink, washed, soaked, rinsed, dried, and hung on its cart again."""

from collections.abc import Generator, Mapping, Sequence
from typing import Any

import simpy

from rules.probe_words import Place, Step, Surface
from rules.readings import SECOND, Micros, SensorId, micros
from sim_devices.staff.basin_room import PUTS_IN, TAKES_OUT, WASHES, BasinRoom, Soiled
from sim_devices.staff.habits import Department, Habits
from sim_devices.staff.hands import Hands, Process
from sim_devices.staff.luck import Luck
from sim_devices.staff.solutions import Solutions
from sim_devices.ward import deeds

_MINUTE_SECONDS = 60
_LOOK_AGAIN = Micros(20 * SECOND)
"""How often somebody who waits for a rolling cart, or for a basin in which there is a probe, looks again (ours)."""


class Reprocessing:
    """Everybody who reprocesses probes, and what they know of them.

    rooms: by station.
    """

    def __init__(self, hands: Hands, habits: Habits, rooms: Mapping[str, BasinRoom], solutions: Solutions) -> None:
        self._hands, self._ward, self.rooms, self._solutions = hands, hands.ward, rooms, solutions
        self._sinks, self._soaks = habits.sinks, habits.soaks
        self._owed: dict[str, Surface] = {}
        self._failed: set[str] = set()

    def owes(self, probe: str) -> bool:
        """Whether people know that it is to be soaked before it is used."""
        return probe in self._owed

    def soiled(self, probe: str, surface: Surface) -> None:
        """People saw it touch other than skin."""
        self._owed[probe] = surface

    def told(self, luck: Luck) -> float | None:
        """After how many seconds a step is entered; None: never."""
        sinks = self._sinks
        if not luck.does(sinks.unentered_share, "unentered"):
            return round(luck.between(sinks.least_enter_seconds, sinks.most_enter_seconds, "enters"), 3)
        if not luck.does(sinks.late_share, "entered late"):
            return None
        return round(_MINUTE_SECONDS * luck.between(sinks.least_late_minutes, sinks.most_late_minutes, "late entry"), 3)

    def until_parked(self, cart: str) -> Process:
        """Waits until a cart stands."""
        while self._ward.carts[cart].rolling.newest:
            yield self._hands.wait(_LOOK_AGAIN)

    # ---- to the sink ----------------------------------------------------------------------------------------------

    def carry(self, department: Department, probe: str, luck: Luck) -> Process:
        """A probe is carried from where it is to a sink, where others go on with it; hung up where none fits."""
        hands, examines = self._hands, department.examines
        self._owed.setdefault(probe, Surface.SKIN)
        hands.do(deeds.Bring(probe=probe, place=Place.IN_HANDS))
        yield hands.wait(luck.span(examines.least_carry_seconds, examines.most_carry_seconds, "carried"))
        rooms = [room for name in department.stations if (room := self.rooms[name]).fits(probe)]
        if rooms:
            room = rooms[luck.below(len(rooms), "station")]
            hands.start(self._reprocess(room, Soiled(probe, self._owed[probe], luck)))
        else:
            yield from self._hang_up(probe)

    def go_on(self) -> Process:
        """What lies at the sinks when people come to work is gone on with."""
        for name, life in self._ward.probes.items():
            stay = life.stay.newest
            if stay.place is Place.SINK and self.rooms[stay.thing].fits(name):
                soiled = Soiled(name, Surface.SKIN, self._hands.luck(name, "found at the sink"))
                self._owed[name] = soiled.surface
                self._hands.start(self._from_sink(self.rooms[stay.thing], soiled))
        yield self._hands.wait(Micros(0))

    def _reprocess(self, room: BasinRoom, soiled: Soiled) -> Process:
        """From the sink to its hook."""
        self._visit(soiled.probe, Place.SINK, room.station, soiled.luck.of("sink"))
        yield from self._from_sink(room, soiled)

    def _from_sink(self, room: BasinRoom, soiled: Soiled) -> Process:
        room.waiting.append(soiled)
        with room.technicians.request(priority=WASHES) as turn:
            yield turn
            if soiled not in room.waiting:
                return  # Another probe's technician has taken it along.
            batch = self._batch(room, soiled)
            for one in batch:
                yield from self._wash(one)
        yield from self._soak(room, batch)

    def _batch(self, room: BasinRoom, first: Soiled) -> list[Soiled]:
        room.waiting.remove(first)
        mate = room.mate(first)
        if mate is None or not first.luck.does(self._soaks.pair_share, "pair"):
            return [first]
        room.waiting.remove(mate)
        return [first, mate]

    def _wash(self, soiled: Soiled) -> Process:
        sinks, luck = self._sinks, soiled.luck
        is_thorough = luck.does(sinks.thorough_share, "thorough")
        steps = (Step.COVER_OFF, Step.WASHED, Step.DRIED) if is_thorough else (Step.COVER_OFF,)
        if not is_thorough:
            self._failed.add(soiled.probe)
        else:
            yield self._hands.wait(luck.span(sinks.least_wash_seconds, sinks.most_wash_seconds, "washes"))
        self._hands.do(deeds.Treat(probe=soiled.probe, steps=steps, told_after_seconds=self.told(luck.of("washed"))))

    # ---- in the basin ---------------------------------------------------------------------------------------------

    def _soak(self, room: BasinRoom, batch: Sequence[Soiled]) -> Process:
        luck = batch[0].luck
        fits = frozenset.intersection(*(room.fits(one.probe) for one in batch))
        basin = yield from self._empty(room, fits)
        with room.technicians.request(priority=PUTS_IN) as turn:
            yield turn
            yield from self._put_in(basin, batch)
        lasts = self._soak_time(basin, luck)
        if lasts < self._asked(basin) or self._solutions.is_known_spent(basin):
            self._failed.update(one.probe for one in batch)
        yield from self._lie(basin, lasts, luck)
        with room.technicians.request(priority=TAKES_OUT) as turn:
            yield turn
            yield from self._take_out(basin, batch)
            yield room.free.put(basin)
            for one in batch:
                yield from self._rinse(one, self._ward.labels[basin].rinses)
        for one in batch:
            self._hands.start(self._go_on(room, one))

    def _empty(self, room: BasinRoom, fits: frozenset[str]) -> Generator[simpy.Event, Any, str]:
        """Waits for a basin; one in which somebody else has put a probe is passed over."""
        while True:
            basin: str = yield room.free.get(lambda name: name in fits)
            if not self._ward.basins[basin].inside.newest:
                return basin
            yield room.free.put(basin)
            yield self._hands.wait(_LOOK_AGAIN)

    def _put_in(self, basin: str, batch: Sequence[Soiled]) -> Process:
        hands, handle, luck = self._hands, micros(self._soaks.handle_seconds), batch[0].luck
        hands.do(deeds.OpenLid(basin=basin))
        yield from self._solutions.see_to(basin, luck.of("solution"))
        for one in batch:
            yield hands.wait(handle)
            self._visit(one.probe, Place.BASIN, basin, one.luck.of("basin"))
        yield hands.wait(handle)
        if not luck.does(self._soaks.open_soak_share, "never closed"):
            hands.do(deeds.CloseLid(basin=basin))

    def _lie(self, basin: str, lasts: Micros, luck: Luck) -> Process:
        """The soak goes on, perhaps lifted once, until it is ended."""
        hands, soaks = self._hands, self._soaks
        if not luck.does(soaks.lift_share, "lifted"):
            yield hands.wait(lasts)
            return
        before = Micros(int(lasts * luck.between(0.1, 0.9, "lifted at")))
        yield hands.wait(before)
        was_closed = self._ward.basins[basin].lid_closed.newest
        hands.do(deeds.OpenLid(basin=basin))
        lifted = luck.span(soaks.least_lift_seconds, soaks.most_lift_seconds, "lifted for")
        yield hands.wait(lifted)
        if was_closed:
            hands.do(deeds.CloseLid(basin=basin))
        yield hands.wait(Micros(max(0, lasts - before - lifted)))

    def _soak_time(self, basin: str, luck: Luck) -> Micros:
        soaks, asked = self._soaks, self._asked(basin)
        if luck.does(soaks.cut_short_share, "cut short"):
            return Micros(int(asked * luck.between(soaks.least_cut_part, soaks.most_cut_part, "cut at")))
        if luck.does(soaks.forgotten_share, "forgotten"):
            beyond = luck.minutes(soaks.least_forgotten_minutes, soaks.most_forgotten_minutes, "forgotten for")
        else:
            beyond = luck.span(soaks.least_late_seconds, soaks.most_late_seconds, "late by")
        return Micros(asked + beyond)

    def _asked(self, basin: str) -> Micros:
        return micros(_MINUTE_SECONDS * self._ward.labels[basin].min_minutes)

    def _take_out(self, basin: str, batch: Sequence[Soiled]) -> Process:
        hands, soaks, luck = self._hands, self._soaks, batch[0].luck
        hands.do(deeds.OpenLid(basin=basin))
        for one in batch:
            yield hands.wait(micros(soaks.handle_seconds))
            hands.do(deeds.Bring(probe=one.probe, place=Place.IN_HANDS))
        if luck.does(soaks.lid_left_open_share, "left open"):
            open_for = luck.minutes(soaks.least_left_open_minutes, soaks.most_left_open_minutes, "left open for")
            hands.start(self._close_later(basin, open_for))
            return
        yield hands.wait(micros(soaks.handle_seconds))
        hands.do(deeds.CloseLid(basin=basin))

    def _close_later(self, basin: str, span: Micros) -> Process:
        """Whoever sees a lid that was left open closes it, unless the basin is in use."""
        yield self._hands.wait(span)
        room = self.rooms[self._ward.station_of[basin]]
        if basin in room.free.items:
            self._hands.do(deeds.CloseLid(basin=basin))

    # ---- to its hook again ----------------------------------------------------------------------------------------

    def _rinse(self, soiled: Soiled, rinses: int | None) -> Process:
        sinks, luck = self._sinks, soiled.luck
        asked = rinses or self._ward.site.reprocessing.rinses
        times = 1 if luck.does(sinks.once_rinsed_share, "rinsed once") else asked
        each = luck.span(sinks.least_rinse_seconds, sinks.most_rinse_seconds, "rinses")
        yield self._hands.wait(Micros(times * each + micros(sinks.dry_seconds)))
        self._hands.do(
            deeds.Treat(
                probe=soiled.probe,
                steps=(Step.RINSED, Step.DRIED),
                times=times,
                told_after_seconds=self.told(luck.of("rinsed")),
            )
        )

    def _go_on(self, room: BasinRoom, soiled: Soiled) -> Process:
        """What was done badly is done once more, if anybody notices."""
        failed = soiled.probe in self._failed
        self._failed.discard(soiled.probe)
        if failed and soiled.luck.does(self._sinks.noticed_share, "noticed"):
            yield from self._reprocess(room, soiled._replace(luck=soiled.luck.of("again")))
        else:
            yield from self._put_away(soiled)

    def _put_away(self, soiled: Soiled) -> Process:
        sinks, luck, probe = self._sinks, soiled.luck, soiled.probe
        if soiled.surface is Surface.STERILE and self._ward.site.reprocessing.critical == "sterilisation":
            yield self._hands.wait(
                luck.minutes(sinks.least_sterilise_minutes, sinks.most_sterilise_minutes, "sterilises")
            )
            told = self.told(luck.of("sterilised"))
            self._hands.do(deeds.Treat(probe=probe, steps=(Step.STERILISED,), told_after_seconds=told))
        cabinets = list(self._ward.cabinets)
        if cabinets and luck.does(sinks.cabinet_share, "kept"):
            cabinet = cabinets[luck.below(len(cabinets), "cabinet")]
            self._visit(probe, Place.CABINET, cabinet, luck.of("cabinet"))
            yield self._hands.wait(luck.minutes(sinks.least_cabinet_minutes, sinks.most_cabinet_minutes, "kept for"))
            self._hands.do(deeds.Bring(probe=probe, place=Place.IN_HANDS))
        yield self._hands.wait(luck.span(sinks.least_back_seconds, sinks.most_back_seconds, "carried back"))
        yield from self._hang_up(probe)

    def _hang_up(self, probe: str) -> Process:
        home = self._ward.homes[probe]
        yield from self.until_parked(home.cart)
        self._hands.do(deeds.HangUp(cart=home.cart, cord=home.cord))
        self._owed.pop(probe, None)

    def _visit(self, probe: str, place: deeds.Destination, thing: str, luck: Luck) -> None:
        """It comes to a place with a reader; where that does not see it, somebody may enter it or claim the soak."""
        sinks = self._sinks
        if self._has_reader(probe, thing) and not luck.does(sinks.unread_share, "unread"):
            self._hands.do(deeds.Bring(probe=probe, place=place, thing=thing))
            return
        told = claimed = None
        if place is not Place.BASIN and luck.does(sinks.placed_share, "placed"):
            told = round(luck.between(sinks.least_enter_seconds, sinks.most_enter_seconds, "placed after"), 3)
        if place is Place.BASIN and luck.does(sinks.claimed_share, "claimed"):
            minutes = luck.between(sinks.least_claim_minutes, sinks.most_claim_minutes, "claimed after")
            claimed = round(_MINUTE_SECONDS * minutes, 3)
        self._hands.do(
            deeds.Bring(
                probe=probe,
                place=place,
                thing=thing,
                read=False,
                claimed_after_seconds=claimed,
                told_after_seconds=told,
            )
        )

    def _has_reader(self, probe: str, thing: str) -> bool:
        return self._ward.homes[probe].tag is not None and SensorId(f"{thing}/tag") in self._ward.sensors
