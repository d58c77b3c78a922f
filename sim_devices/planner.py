"""Plans the journeys of the probes that one basin serves: every instant of them a function of time and chance."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from rules.probe_words import Place, Step, Surface
from rules.readings import Micros
from sim_devices.basins import BasinLife
from sim_devices.carts import CartLife
from sim_devices.journeys import Chore, Journey, Leg, Stay
from sim_devices.probe_habits import HABITS, Path, ProbeHabits, Seconds
from sim_devices.script import Story
from sim_devices.spans import later
from sim_devices.upkeep import BasinUpkeep

WASHING = (Step.COVER_OFF, Step.WASHED, Step.DRIED)
RINSING = (Step.RINSED, Step.DRIED)

_CAREFUL = 6
"""So many tours are looked back at for one in which no cord is left hanging (ours)."""


@dataclass(frozen=True)
class Traveller:
    """A probe, and the cart on which it hangs."""

    id: str
    cart: CartLife
    internal: bool


@dataclass
class Underway:
    """A journey that has not ended yet. slot: 0 for the first probe in the basin, 1 for the second."""

    traveller: Traveller
    slot: int
    path: Path
    surface: Surface
    tours: tuple[int, ...]
    stays: list[Stay]
    chores: list[Chore] = field(default_factory=list)
    legs: list[Leg] = field(default_factory=list)
    washed: bool = False
    told: bool = False

    def go(self, stay: Stay) -> None:
        """It is at another place."""
        if self.stays[-1].place is not Place.IN_HANDS or stay.place is not Place.IN_HANDS:
            self.stays.append(stay)


@dataclass(frozen=True)
class Planner:
    """Plans for one basin.

    rinses: how often a probe is rinsed after a soak. sterilises: whether one that touched sterile tissue is
    sterilised after it. cabinets: ids. diligent: the turns of which nobody forgets anything.
    """

    life: BasinLife
    upkeep: BasinUpkeep
    station: str
    cabinets: Sequence[str]
    rinses: int
    sterilises: bool
    diligent: frozenset[int] = frozenset()
    habits: ProbeHabits = HABITS

    # ---- to the basin ---------------------------------------------------------------------------------------------

    def set_out(
        self, traveller: Traveller, turn: int, slot: int, after: Micros, path: Path | None = None
    ) -> Underway | None:
        """Up to the sink, for the soak of a turn; None where it cannot be there in time, ``after`` its last journey.

        path: what becomes of it after the exam, where that is not left to chance.
        """
        habits, key = self.habits, (traveller.id, turn)
        begins = later(self._leaves_for_basin(traveller, turn, slot), -self._draw(habits.wash_seconds, "wash", *key))
        fetch_by = later(begins, -self._draw(habits.carry_seconds, "carry", *key))
        path = path or self._pick_path(key)
        tours, fetched = self._exams(traveller, path, fetch_by)
        cart = traveller.cart
        exam = cart.exam(tours[0])
        if exam.start <= after:
            return None
        trip = Underway(
            traveller, slot, path, self._surface(traveller, turn), tours, [Stay(exam.start, Place.IN_HANDS)]
        )
        if path is not Path.CARRIED:
            trip.go(Stay(exam.end, Place.HOOK, cart.name))
            again = cart.exam(tours[1]).start if path is Path.HASTY else fetched
            trip.go(Stay(again, Place.IN_HANDS))
        trip.go(self._visit(later(fetched, self._draw(habits.carry_seconds, "carry", *key)), Place.SINK, *key))
        return trip

    def _surface(self, traveller: Traveller, turn: int) -> Surface:
        surface = self.life.chance.pick(self.habits.surfaces, self.life.name, "surface", traveller.id, turn)
        is_mucosa = traveller.internal or (surface is Surface.STERILE and turn in self.diligent)
        return Surface.MUCOSA if is_mucosa else surface

    def _pick_path(self, key: tuple[str, int]) -> Path:
        return self.life.chance.pick(self.habits.paths, *key, "path")

    def _exams(self, traveller: Traveller, path: Path, fetch_by: Micros) -> tuple[tuple[int, ...], Micros]:
        """The tours of the exams, and when the probe is fetched from cart or bed."""
        cart = traveller.cart
        tour = cart.tours.index(fetch_by)
        settle = self._draw(self.habits.settle_seconds, traveller.id, tour, "fetch")
        if path is Path.ROLLED_AWAY:
            if later(cart.tours.start(tour), settle) > fetch_by:
                tour -= 1
            tour = self._careful(cart, tour, path)
            return (tour - 1,), later(cart.tours.start(tour), settle)
        wait = self._draw(self.habits.fetch_seconds, traveller.id, tour, "wait") if path is Path.HUNG_BACK else 0
        if later(cart.exam(tour).end, wait) > fetch_by:
            tour -= 1
        tour = self._careful(cart, tour, path)
        tours = (tour - 1, tour) if path is Path.HASTY else (tour,)
        return tours, later(cart.exam(tour).end, wait)

    @staticmethod
    def _careful(cart: CartLife, tour: int, path: Path) -> int:
        """The newest tour, up to this one, with no cord left hanging in it or, where the path has two, before it."""
        looked_at = (0, 1) if path in (Path.HASTY, Path.ROLLED_AWAY) else (0,)
        for back in range(_CAREFUL):
            if not any(cart.careless(tour - back - n) for n in looked_at):
                return tour - back
        return tour - _CAREFUL

    # ---- in the basin ---------------------------------------------------------------------------------------------

    def soak(self, trip: Underway, turn: int) -> bool:
        """The soak of a turn; whether the journey is thought to have done its work with it."""
        habits, key = self.habits, (trip.traveller.id, turn)
        leaves, dropped = self._leaves_for_basin(trip.traveller, turn, trip.slot), self._dropped(trip, turn)
        if not trip.told and self._care("washed", *key) < habits.washed_share:
            told = self._told(leaves, "wash told", *key)
            trip.chores.append(Chore(leaves, WASHING, told))
            trip.washed, trip.told = True, told is not None
        tagged = self._care("tagged", *key) < 1 - habits.untagged_share
        lifted = self.life.closed_spans(turn)[-1].end
        claims = not tagged and self._share("claimed", *key) < habits.claimed_share
        claimed = later(lifted, self._draw(habits.claim_seconds, "claim", *key)) if claims else None
        out = later(lifted, self._draw(habits.take_out_seconds, "out", *key))
        trip.legs.append(Leg(turn, dropped, out, trip.washed, tagged, claimed))
        trip.go(Stay(leaves, Place.IN_HANDS))
        trip.go(Stay(dropped, Place.BASIN, self.life.name, read=tagged))
        known = tagged or claimed is not None
        good = self.life.story(turn) is Story.GOOD and self.upkeep.is_shown_strong(turn)
        done = known and trip.told and good
        if not done:
            self._wait(trip, turn)
        return done

    def _wait(self, trip: Underway, turn: int) -> None:
        """Between a failed soak and the next: at the sink or, until the wall tells, in the cabinet as if ready."""
        habits, key = self.habits, (trip.traveller.id, turn)
        dried = self._to_sink(trip, turn)
        put_away = later(dried, self._draw(habits.put_away_seconds, "away", *key))
        # From the cabinet it goes straight to the basin, so it must have been washed.
        fetched = later(self._leaves_for_basin(trip.traveller, turn + 1, trip.slot), -habits.fetch_seconds[1])
        is_overlooked = trip.told and self._share("overlooked", *key) < habits.unnoticed_share
        if is_overlooked and self.cabinets and put_away < fetched:
            trip.chores.append(self._rinsing(dried, self.rinses, *key))
            trip.go(Stay(dried, Place.IN_HANDS))
            trip.go(self._visit(put_away, Place.CABINET, *key))
            trip.go(Stay(fetched, Place.IN_HANDS))

    def _dropped(self, trip: Underway, turn: int) -> Micros:
        return self._dropping(trip.traveller, turn, trip.slot)

    def _dropping(self, traveller: Traveller, turn: int, slot: int) -> Micros:
        """When the probe is put into the basin; the second one goes in first, or when the lid is lifted on the way."""
        closed, habits = self.life.closed_spans(turn), self.habits
        if slot and len(closed) > 1:
            return later(closed[0].end, self._draw(habits.during_lift_seconds, "drop", traveller.id, turn))
        seconds = habits.second_into_basin_seconds if slot else habits.into_basin_seconds
        return later(closed[0].start, -self._draw(seconds, "drop", traveller.id, turn))

    def _leaves_for_basin(self, traveller: Traveller, turn: int, slot: int) -> Micros:
        way_seconds = self._draw(self.habits.to_basin_seconds, "to basin", traveller.id, turn)
        return later(self._dropping(traveller, turn, slot), -way_seconds)

    # ---- home -----------------------------------------------------------------------------------------------------

    def come_home(self, trip: Underway) -> Journey:
        """From the last soak to the hook."""
        traveller, turn = trip.traveller, trip.legs[-1].turn
        key = (traveller.id, turn)
        dried = self._be_rinsed(trip, turn)
        if self.sterilises and trip.surface is Surface.STERILE:
            dried = later(dried, self._draw(self.habits.sterilise_seconds, "sterilise", *key))
            trip.chores.append(Chore(dried, (Step.STERILISED,), self._told(dried, "sterile told", *key, ever=True)))
        for stay in self._way_home(traveller, dried, turn):
            trip.go(stay)
        return Journey(
            traveller.id,
            traveller.cart.name,
            self.life.name,
            trip.path,
            trip.surface,
            trip.tours,
            tuple(trip.legs),
            tuple(trip.chores),
            tuple(trip.stays),
        )

    def _way_home(self, traveller: Traveller, dried: Micros, turn: int) -> Iterator[Stay]:
        """From the sink to the hook, for a tour that is about to begin, or to the cabinet first."""
        habits, key, tours = self.habits, (traveller.id, turn), traveller.cart.tours
        carry = self._draw(habits.carry_seconds, "home", *key)
        free = dried
        if self.cabinets and self._share("cabinet", *key) < habits.cabinet_share:
            yield Stay(dried, Place.IN_HANDS)
            arrives = later(dried, self._draw(habits.put_away_seconds, "cabinet way", *key))
            yield self._visit(arrives, Place.CABINET, *key)
            tour = tours.index(arrives) + self.life.chance.below(habits.most_tours_in_cabinet, *key)
            free = Micros(max(later(arrives, carry), tours.start(tour)))
        tour = tours.index(later(free, carry)) + 1
        hook = later(tours.start(tour), self._draw(habits.settle_seconds, "hook", *key))
        yield Stay(later(hook, -carry), Place.IN_HANDS)
        yield Stay(hook, Place.HOOK, traveller.cart.name)

    def _to_sink(self, trip: Underway, turn: int) -> Micros:
        """Out of the basin and to the sink; when the probe is rinsed and dried there."""
        key, out = (trip.traveller.id, turn), trip.legs[-1].out
        arrives = later(out, self._draw(self.habits.settle_seconds, "sink", *key))
        trip.go(Stay(out, Place.IN_HANDS))
        trip.go(self._visit(arrives, Place.SINK, "rinse", *key))
        rinse_seconds = self.rinses * self._draw(self.habits.rinse_seconds, "rinse", *key)
        return later(arrives, rinse_seconds + self._draw(self.habits.dry_seconds, "dry", *key))

    def _be_rinsed(self, trip: Underway, turn: int) -> Micros:
        """As often as asked for or, by the hasty, once, and again when the wall tells; when that is over."""
        key = (trip.traveller.id, turn)
        dried, left = self._to_sink(trip, turn), self.rinses
        if left > 1 and self._care("rinsed", *key) > 1 - self.habits.once_rinsed_share:
            trip.chores.append(self._rinsing(dried, 1, *key))
            dried, left = later(dried, self._draw(self.habits.late_seconds, "rinsed again", *key)), left - 1
        trip.chores.append(self._rinsing(dried, left, *key))
        return dried

    def _rinsing(self, done: Micros, times: int, *key: str | int) -> Chore:
        return Chore(done, RINSING, self._told(done, f"rinse {times} told", *key, ever=True), times)

    # ---- what is told of it ---------------------------------------------------------------------------------------

    def _visit(self, start: Micros, place: Place, *key: str | int) -> Stay:
        """A stay at sink or cabinet, as a reader or a person tells of it."""
        habits = self.habits
        thing = self.station if place is Place.SINK else self.cabinets[self._below(len(self.cabinets), *key)]
        missed = 1 - self._care(place, "read", *key)
        entered = missed < habits.unread_share * habits.late_share
        told = later(start, self._draw(habits.enter_seconds, place, "entered", *key)) if entered else None
        return Stay(start, place, thing, missed >= habits.unread_share, told)

    def _told(self, done: Micros, *key: str | int, ever: bool = False) -> Micros | None:
        """When what was done is entered; ``ever``: at the latest when the wall tells that it is missing."""
        habits, missed = self.habits, 1 - self._care(*key)
        if missed >= habits.unentered_share:
            return later(done, self._draw(habits.enter_seconds, "enter", *key))
        is_late = ever or missed < habits.unentered_share * habits.late_share
        return later(done, self._draw(habits.late_seconds, "late", *key)) if is_late else None

    def _care(self, *key: str | int) -> float:
        """Below 1; the nearer to it, the more is forgotten. The last word of the key is the turn."""
        return 0 if key[-1] in self.diligent else self._share(*key)

    def _share(self, *key: str | int) -> float:
        return self.life.chance.share(self.life.name, *key)

    def _draw(self, seconds: Seconds, *key: str | int) -> float:
        return self.life.chance.between(*seconds, self.life.name, *key)

    def _below(self, count: int, *key: str | int) -> int:
        return self.life.chance.below(count, self.life.name, "cabinet", *key)
