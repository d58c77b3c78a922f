"""Ground truth: what a probe owes and whether it is really fit for use, whatever sensors and people tell of it.

Worked out from what happens in the simulated department and from nothing that the engine says or computes, so that
the engine can be checked against it.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from rules.probe_words import Level, Place, Step, Surface
from rules.readings import SECOND, Micros
from sim_devices.basins import BasinLife
from sim_devices.exams import Exam
from sim_devices.journeys import Journey, Leg
from sim_devices.knocks import CartKnocks
from sim_devices.spans import Span
from sim_devices.upkeep import BasinUpkeep
from sim_devices.whereabouts import Whereabouts

_LONGEST_UNSEEN = 3600 * SECOND
"""A knocked probe is looked over within this."""

_REMEMBERED_SOAKS = 4096

_NEVER = Micros(2**62)

_STEP = 5 * SECOND
"""How finely the true temperature of a soak is looked at."""


@dataclass(frozen=True, slots=True)
class Truth:
    """How a probe really is.

    touched: what it touched last, None where it touched nothing since it was taken into service.
    owes: None where nothing is owed. at_patient: it is off its hook for an exam, and its contact has not ended.
    is_wet: it is in a basin, or was not rinsed as often as asked for since.
    is_knocked: its holder was knocked, and it was not looked over since.
    """

    place: Place
    thing: str | None
    touched: Surface | None
    owes: Level | None
    at_patient: bool
    is_wet: bool
    is_knocked: bool

    @property
    def is_fit(self) -> bool:
        """Whether it may touch the next patient."""
        return self.owes is None and not (self.at_patient or self.is_wet or self.is_knocked)


@dataclass(frozen=True, slots=True)
class Bath:
    """A basin, and what its label asks for: least temperature, and how often a probe is rinsed."""

    life: BasinLife
    upkeep: BasinUpkeep
    min_celsius: float
    rinses: int


@dataclass(frozen=True, slots=True)
class Payment:
    """At ``done`` everything up to ``level`` was done that the probe owed for what it touched by ``for_before``."""

    done: Micros
    for_before: Micros
    level: Level

    def pays(self, touched: Micros, level: Level) -> bool:
        """Whether nothing is owed any more for a contact that began at ``touched``."""
        return touched <= self.for_before and level.rank <= self.level.rank


@dataclass(frozen=True)
class TruthTeller:
    """Tells how each probe really is.

    baths: by basin. knocks: by cart. begins: before this nothing was soiled.
    sterile_owes, skin_owes: by the site's policy.
    """

    whereabouts: Whereabouts
    baths: Mapping[str, Bath]
    knocks: Mapping[str, CartKnocks]
    begins: Micros
    sterile_owes: Level
    skin_owes: Level
    is_disinfected: Callable[[str, Leg], bool] = field(init=False, compare=False, repr=False)
    """Whether a soak in a basin has disinfected the probe; worked out once."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "is_disinfected", lru_cache(_REMEMBERED_SOAKS)(self._is_disinfected))

    def truth(self, probe: str, at: Micros) -> Truth:
        """How the probe is at an instant."""
        journey = self.whereabouts.newest_journey(probe, at)
        exams = self._exams(probe, journey, at)
        owed = [self._level(probe, exam.surface) for exam in self._unpaid(probe, exams, journey, at)]
        stay = self.whereabouts.stay(probe, at)
        return Truth(
            place=stay.place,
            thing=stay.thing,
            touched=exams[-1].surface if exams else None,
            owes=max(owed, key=lambda level: level.rank, default=None),
            at_patient=bool(exams) and at < exams[-1].touched,
            is_wet=journey is not None and self._is_wet(journey, at),
            is_knocked=self._is_knocked(probe, at),
        )

    def unpaid(self, probe: str, at: Micros) -> list[Exam]:
        """The exams for which the probe owes something at an instant."""
        journey = self.whereabouts.newest_journey(probe, at)
        return self._unpaid(probe, self._exams(probe, journey, at), journey, at)

    def _is_wet(self, journey: Journey, at: Micros) -> bool:
        soaked = [leg for leg in journey.legs if leg.dropped <= at]
        return bool(soaked) and at < _rinsed(journey, soaked[-1], self.baths[journey.basin].rinses)

    def _is_knocked(self, probe: str, at: Micros) -> bool:
        home = self.whereabouts.homes[probe]
        knocks = self.knocks[home.cart].within(Micros(at - _LONGEST_UNSEEN), at)
        return any(k.cord == home.cord and self.begins <= k.at <= at < k.inspected for k in knocks)

    def _exams(self, probe: str, journey: Journey | None, until: Micros) -> list[Exam]:
        """The probe's exams up to an instant, from its newest journey on: each that has ended has disinfected it."""
        home, since = self.whereabouts.homes[probe], journey.start if journey is not None else self.begins
        exams = self.whereabouts.exams[home.cart].within(since, until)
        return [exam for exam in exams if exam.cord == home.cord and since <= exam.off.start <= until]

    def _unpaid(self, probe: str, exams: list[Exam], journey: Journey | None, at: Micros) -> list[Exam]:
        paid = list(self._paid_by_cleaning(exams, at))
        if journey is not None:
            paid += [payment for payment in self._paid_by_journey(journey) if payment.done <= at]
        return [e for e in exams if not any(p.pays(e.off.start, self._level(probe, e.surface)) for p in paid)]

    def _level(self, probe: str, surface: Surface) -> Level:
        """Classes of Spaulding applied to transducers (CDC 2008; AIUM 2022); intracavity ones are semi-critical."""
        of_surface = {
            Surface.SKIN: self.skin_owes,
            Surface.MUCOSA: Level.HIGH,
            Surface.BLOOD: Level.HIGH,
            Surface.STERILE: self.sterile_owes,
        }[surface]
        is_internal = self.whereabouts.homes[probe].internal
        return Level.HIGH if is_internal and of_surface.rank < Level.HIGH.rank else of_surface

    # ---- what pays ------------------------------------------------------------------------------------------------

    def _paid_by_cleaning(self, exams: list[Exam], at: Micros) -> Iterator[Payment]:
        for exam in exams:
            if exam.cleaning is not None and exam.cleaning.done <= at:
                yield Payment(exam.cleaning.done, exam.touched, self.skin_owes)

    def _paid_by_journey(self, journey: Journey) -> Iterator[Payment]:
        for leg, after in zip(journey.legs, (*journey.legs[1:], None), strict=True):
            if not leg.washed or not self.is_disinfected(journey.basin, leg):
                continue
            ends = after.dropped if after is not None else _NEVER
            if (rinsed := _rinsed(journey, leg, self.baths[journey.basin].rinses)) < ends:
                yield Payment(rinsed, leg.dropped, Level.HIGH)
            for chore in journey.chores:
                if leg.out < chore.done < ends and Step.STERILISED in chore.steps:
                    yield Payment(chore.done, leg.dropped, Level.STERILISATION)

    def _is_disinfected(self, basin: str, leg: Leg) -> bool:
        """Whether a probe lay long enough in a solution that was warm and strong enough, the lid closed over it.

        That a lifted lid begins the time anew is policy, inferred; it is taken for true here.
        """
        bath = self.baths[basin]
        spans = (Span(max(leg.dropped, closed.start), closed.end) for closed in bath.life.closed_spans(leg.turn))
        needed = bath.life.needed_seconds * SECOND
        return bath.upkeep.is_strong(leg.turn) and any(_longest_warm(bath, span) >= needed for span in spans)


def _rinsed(journey: Journey, leg: Leg, rinses: int) -> Micros:
    """When the solution of a soak was rinsed off, as often as asked for, and the probe was dried."""
    times = 0
    for chore in journey.chores:
        if chore.done > leg.out and Step.RINSED in chore.steps:
            times += chore.times
            if times >= rinses:
                return chore.done
    return _NEVER


def _longest_warm(bath: Bath, span: Span) -> int:
    """The longest stretch of a span at or above the label's temperature, in microseconds; short of it by a step."""
    longest, since = 0, None
    for at in (*range(span.start, span.end, _STEP), span.end):
        if bath.life.celsius(Micros(at)) < bath.min_celsius:
            since = None
        elif since is None:
            since = at
        if since is not None:
            longest = max(longest, at - since)
    return longest
