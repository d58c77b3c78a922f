"""The exams at a cart: which cord is taken, what the probe touches, and what is told of it."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache, partial

from rules.probe_words import Surface
from rules.readings import NO_TIME, Micros
from sim_devices.carts import CartLife
from sim_devices.journeys import Journey
from sim_devices.probe_habits import HABITS, ProbeHabits, Seconds
from sim_devices.spans import Span, SpannedState, later

_REMEMBERED_TOURS = 1024


@dataclass(frozen=True, slots=True)
class CordProbe:
    """The probe on a cord. is_vouched_for: somebody answered for it when it was taken into service."""

    id: str
    internal: bool
    is_vouched_for: bool = True


@dataclass(frozen=True, slots=True)
class Mark:
    """The contact of an exam is marked at ``told``; by_button: with the cart's button, which cannot name a probe."""

    told: Micros
    by_button: bool


@dataclass(frozen=True, slots=True)
class Cleaning:
    """A probe was cleaned and dried at the bed; ``told``: when that is entered, None where never."""

    done: Micros
    told: Micros | None


@dataclass(frozen=True, slots=True)
class Exam:
    """One probe at one bed.

    off: when its cord is off the hook for it. touched: when the contact ended. mark: None where it is never marked.
    is_of_journey: the probe is on the way to the sink, and not cleaned at the bed.
    """

    cart: str
    cord: str
    probe: str | None
    off: Span
    surface: Surface
    touched: Micros
    mark: Mark | None
    cleaning: Cleaning | None
    is_of_journey: bool


JourneysOf = Callable[[str, Micros, Micros], list[Journey]]
"""The journeys of a probe that reach into a stretch of time."""


@dataclass(frozen=True)
class CartExams:
    """All exams at one cart.

    probes: by cord. has_button: whether the cart has a button for the contact.
    epoch: of an exam that began before it, nobody could tell which probe a button means.
    diligent_until: before that nobody forgets anything.
    """

    life: CartLife
    probes: Mapping[str, CordProbe]
    journeys: JourneysOf
    has_button: bool
    epoch: Micros = NO_TIME
    diligent_until: Micros = NO_TIME
    habits: ProbeHabits = HABITS
    at_tour: Callable[[int], tuple[Exam, ...]] = field(init=False, compare=False, repr=False)
    """The exams of a tour."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "at_tour", lru_cache(_REMEMBERED_TOURS)(self._exams))

    def within(self, after: Micros, until: Micros) -> Iterator[Exam]:
        """The exams of the tours that reach into (after, until]."""
        for tour in self.life.tours.touching(after, until):
            yield from self.at_tour(tour)

    def on_hook(self, cord: str) -> SpannedState:
        """Whether a cord is on its hook."""
        return SpannedState(partial(self._off_spans, cord), during=False)

    def _off_spans(self, cord: str, after: Micros, until: Micros) -> list[Span]:
        plain = [e.off for e in self.within(after, until) if e.cord == cord and not e.is_of_journey]
        away = [span for journey in self._journeys(cord, after, until) for span in journey.away()]
        return sorted((*plain, *away))

    def _journeys(self, cord: str, after: Micros, until: Micros) -> list[Journey]:
        probe = self.probes.get(cord)
        return self.journeys(probe.id, after, until) if probe is not None else []

    # ---- who is taken ---------------------------------------------------------------------------------------------

    def _exams(self, tour: int) -> tuple[Exam, ...]:
        off = self.life.exam(tour)
        soiling = [
            self._of_journey(cord, journey, tour)
            for cord in self.life.cords
            for journey in self._journeys(cord, off.start, off.end)
            if tour in journey.tours
        ]
        if soiling:
            return tuple(soiling)
        cord = self._free_cord(tour)
        return () if cord is None else (self._plain(cord, tour),)

    def _free_cord(self, tour: int) -> str | None:
        """A cord that hangs on its hook for the whole exam, and may be used on skin."""
        off = self._plain_span(tour)
        free = [
            cord for cord in self.life.cords if self._is_trusted(cord, off.start) and not self._journeys(cord, *off)
        ]
        return free[self.life.chance.below(len(free), self.life.name, "cord", tour)] if free else None

    def _is_trusted(self, cord: str, at: Micros) -> bool:
        """Whether people would use its probe on skin: none of which nobody knows whether it was ever disinfected."""
        probe = self.probes.get(cord)
        if probe is None:
            return True
        return not probe.internal and (probe.is_vouched_for or bool(self._journeys(cord, NO_TIME, at)))

    def _plain_span(self, tour: int) -> Span:
        exam = self.life.exam(tour)
        # Somebody sees the cord and hangs it up a little after the cart has come to rest.
        return Span(exam.start, later(self.life.roll(tour).end, 5)) if self.life.careless(tour) else exam

    # ---- what is done and told ------------------------------------------------------------------------------------

    def _of_journey(self, cord: str, journey: Journey, tour: int) -> Exam:
        is_hasty = tour != journey.tours[0] and not self.probes[cord].internal
        surface = Surface.SKIN if is_hasty else journey.surface
        return self._exam(cord, tour, self.life.exam(tour), surface, is_of_journey=True)

    def _plain(self, cord: str, tour: int) -> Exam:
        """An exam that everybody takes for one on skin."""
        slips = self._care("slip", tour) < self.habits.slip_share
        return self._exam(
            cord, tour, self._plain_span(tour), Surface.BLOOD if slips else Surface.SKIN, is_of_journey=False
        )

    def _exam(self, cord: str, tour: int, off: Span, surface: Surface, *, is_of_journey: bool) -> Exam:
        probe = self.probes.get(cord)
        touched = later(self.life.exam(tour).end, -self.habits.contact_ends_seconds)
        slipped = surface is not Surface.SKIN and not is_of_journey
        return Exam(
            cart=self.life.name,
            cord=cord,
            probe=probe.id if probe is not None else None,
            off=off,
            surface=surface,
            touched=touched,
            mark=None if slipped else self._mark(cord, tour, touched, surface),
            cleaning=None if is_of_journey else self._cleaning(cord, tour),
            is_of_journey=is_of_journey,
        )

    def _mark(self, cord: str, tour: int, touched: Micros, surface: Surface) -> Mark | None:
        share, unmarked = self._care("mark", cord, tour), self.habits.unmarked_share
        if share >= unmarked:
            by_button = self.has_button and self._is_plain(cord, tour, touched, surface)
            return Mark(touched if by_button else later(touched, self._enters(cord, tour)), by_button)
        late_seconds = self._draw(self.habits.late_seconds, "late mark", cord, tour)
        is_late = share < unmarked * self.habits.late_share
        return Mark(later(touched, late_seconds), by_button=False) if is_late else None

    def _is_plain(self, cord: str, tour: int, touched: Micros, surface: Surface) -> bool:
        """Whether it is plain which probe a button means; what touched sterile tissue is named all the same."""
        is_seen = self.life.exam(tour).start > self.epoch
        return is_seen and surface is not Surface.STERILE and self._alone(cord, touched)

    def _alone(self, cord: str, at: Micros) -> bool:
        """Whether every other cord hangs on its hook."""
        others = [trip for other in self.life.cords if other != cord for trip in self._journeys(other, at, at)]
        return not any(span.start <= at < span.end for trip in others for span in trip.away())

    def _cleaning(self, cord: str, tour: int) -> Cleaning | None:
        habits = self.habits
        if self._care("cleaned", tour) < habits.uncleaned_share:
            return None
        done = later(self.life.exam(tour).end, -habits.cleaned_seconds)
        share = self._care("cleaning told", tour)
        if share >= habits.unentered_share:
            return Cleaning(done, later(done, self._enters(cord, tour)))
        is_late = share < habits.unentered_share * habits.late_share
        return Cleaning(done, later(done, self._draw(habits.late_seconds, "late", tour)) if is_late else None)

    def _enters(self, cord: str, tour: int) -> float:
        return self._draw(self.habits.enter_seconds, "enters", cord, tour)

    def _care(self, *key: str | int) -> float:
        """The less, the more is forgotten. The last word of the key is the tour."""
        is_diligent = self.life.tours.start(int(key[-1])) < self.diligent_until
        return 1 if is_diligent else self.life.chance.share(self.life.name, *key)

    def _draw(self, seconds: Seconds, *key: str | int) -> float:
        return self.life.chance.between(*seconds, self.life.name, *key)
