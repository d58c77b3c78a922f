"""What a probe really owes, and whether it is really fit for use, whatever sensors and people tell of it.

Worked out from what happens in a ward and from nothing that the engine says or computes, so that the engine can be
held against it.
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import NamedTuple

from rules.policy import ReprocessingPolicy
from rules.probe_words import Level, Place, Step, Surface
from rules.readings import Micros
from sim_devices.troubles.baths import Bath
from sim_devices.ward.state import Contact, Knock, ProbeState, Stay, Treatment

LEAST_KNOCK_M = 0.05
"""A probe that was knocked as by a fall from here is to be looked over (ours; 1 m/s on impact by v^2 = 2 g h). Even a
slight knock can damage the array (BMUS top tips); hanging up a probe is none."""


@dataclass(frozen=True, slots=True)
class Truth:
    """How a probe really is.

    touched: what it touched last, None where it touched nothing since the ward began.
    owes: None where nothing is owed. begun: whether anything of it is done.
    at_patient: it touches a patient, or did and is still in somebody's hands since.
    is_wet: it is in a solution, or was not rinsed as often as asked for since.
    is_knocked: it was knocked, and not looked over since.
    """

    place: Place
    thing: str
    touched: Surface | None
    owes: Level | None
    begun: bool
    at_patient: bool
    is_wet: bool
    is_knocked: bool

    @property
    def is_fit(self) -> bool:
        """Whether it may touch the next patient."""
        return self.owes is None and not (self.at_patient or self.is_wet or self.is_knocked)


@dataclass(frozen=True, slots=True)
class Demands:
    """What a probe has to be given: by contact class (CDC 2008; AIUM 2022), its kind, and its site's policy.

    rinses: after a soak, by basin.
    """

    internal: bool
    policy: ReprocessingPolicy
    rinses: Mapping[str, int]

    def level(self, surface: Surface) -> Level:
        """What a contact demands.

        Intact skin is non-critical: cleaning, or low-level disinfection by policy. Mucosa, non-intact skin and blood
        are semi-critical: high-level disinfection. Sterile tissue is critical: sterilisation, or high-level
        disinfection where policy has it so. An internal probe is at least semi-critical, whatever it touched.
        """
        of_surface = {
            Surface.SKIN: Level.LOW if self.policy.low_level_after_skin else Level.CLEANING,
            Surface.MUCOSA: Level.HIGH,
            Surface.BLOOD: Level.HIGH,
            Surface.STERILE: Level.STERILISATION if self.policy.critical == "sterilisation" else Level.HIGH,
        }[surface]
        return stricter(of_surface, Level.HIGH if self.internal else None)

    def asks(self, step: Step) -> bool:
        """Whether people have to do a step that is not decisive by itself."""
        return step in self.policy.asked


def stricter(level: Level, other: Level | None) -> Level:
    """The stricter of two."""
    return level if other is None or level.rank >= other.rank else other


class State(NamedTuple):
    """What is owed from ``at`` on, and how far it is done.

    since: of the first contact for which it is owed. cleaned, soaked: what of it counts so far. dry: dried since it was
    last wetted. rinses: how often it still has to be rinsed. knocked: since when it was not looked over, None where it
    was not knocked.
    """

    at: Micros
    owed: Level | None = None
    since: Micros | None = None
    begun: bool = False
    cleaned: bool = False
    dry: bool = True
    soaked: bool = False
    rinses: int = 0
    knocked: Micros | None = None


Moment = Contact | Treatment | Bath | Knock | Micros


def states(life: ProbeState, baths: Iterable[Bath], demands: Demands, epoch: Micros) -> list[State]:
    """How a probe's debts go, one state for each thing that happened to it; nothing is owed at the beginning."""
    found = [State(epoch)]
    for at, moment in _moments(life, baths):
        found.append(_after(found[-1], moment, demands)._replace(at=at))
    return found


def _moments(life: ProbeState, baths: Iterable[Bath]) -> Iterator[tuple[Micros, Moment]]:
    """All that happened, by time; at one instant what was done before comes before what it is used for next."""
    happened: list[tuple[Micros, int, Moment]] = [
        *((bath.stay.end, 0, bath) for bath in baths if bath.is_over),
        *((treatment.at, 1, treatment) for treatment in life.treatments),
        *((at, 1, at) for at in life.inspected),
        *((knock.at, 2, knock) for knock in life.knocks),
        *((contact.start, 3, contact) for contact in life.contacts),
    ]
    happened.sort(key=lambda entry: entry[:2])
    return ((at, moment) for at, _, moment in happened)


def _after(state: State, moment: Moment, demands: Demands) -> State:
    match moment:
        case Contact():
            return _touched(state, moment, demands)
        case Bath():
            return _bathed(state, moment, demands)
        case Treatment():
            return _treated(state, moment, demands)
        case Knock():
            hard = moment.height_m >= LEAST_KNOCK_M and state.knocked is None
            return state._replace(knocked=moment.at) if hard else state
    return state._replace(knocked=None)


def _touched(state: State, contact: Contact, demands: Demands) -> State:
    """A contact: what was begun is to be begun anew, for what is on the probe now was not there then."""
    return state._replace(
        owed=stricter(demands.level(contact.surface), state.owed),
        since=contact.start if state.since is None else state.since,
        begun=False,
        cleaned=False,
        dry=False,
        soaked=False,
    )


def _bathed(state: State, bath: Bath, demands: Demands) -> State:
    """It came out of a basin, and whatever came of that, solution is on the probe.

    A soak counts where the probe was cleaned first: dirt keeps the solution from what is below (CDC 2008, secondary).
    """
    counts = bath.is_sound and state.cleaned and (state.dry or not demands.asks(Step.DRIED))
    rinses = demands.rinses[bath.basin] if demands.asks(Step.RINSED) else 0
    soaked = state._replace(soaked=state.soaked or counts, rinses=rinses, dry=False, begun=state.begun or counts)
    return _settled(soaked, demands)


def _treated(state: State, treatment: Treatment, demands: Demands) -> State:
    match treatment.step:
        case Step.WASHED:
            return _settled(state._replace(cleaned=True, begun=True, dry=False), demands)
        case Step.DRIED:
            return _settled(state._replace(dry=True), demands)
        case Step.RINSED:
            return _settled(state._replace(rinses=max(0, state.rinses - treatment.times), dry=False), demands)
        case Step.LOW_LEVEL if state.cleaned:
            return _paid(state, Level.LOW)
        case Step.STERILISED if state.cleaned:
            return _paid(state._replace(rinses=0), Level.STERILISATION)
    return state


def _settled(state: State, demands: Demands) -> State:
    """What washing, soaking, rinsing and drying pay together."""
    if demands.asks(Step.DRIED) and not state.dry:
        return state
    if state.soaked and not state.rinses:
        return _paid(state, Level.HIGH)
    return _paid(state, Level.CLEANING) if state.cleaned else state


def _paid(state: State, level: Level) -> State:
    if state.owed is None or state.owed.rank > level.rank:
        return state
    return state._replace(owed=None, since=None, begun=False, soaked=False)


@dataclass(frozen=True, slots=True)
class Standing:
    """A probe's whole life, looked back at.

    states, baths: in the order of time.
    """

    life: ProbeState
    states: Sequence[State]
    baths: Sequence[Bath]

    def state(self, at: Micros) -> State:
        """What was owed at an instant, all that happened at that very instant included."""
        return self.states[max(0, bisect_right(self.states, at, key=attrgetter("at")) - 1)]

    def before(self, at: Micros) -> State:
        """What was owed just before an instant."""
        return self.state(Micros(at - 1))

    def settled_after(self, at: Micros) -> Micros | None:
        """When nothing was owed any more, after an instant at which something was; None where it still is."""
        later = self.states[bisect_right(self.states, at, key=attrgetter("at")) :]
        return next((state.at for state in later if state.owed is None), None)

    def truth(self, at: Micros) -> Truth:
        """How the probe was at an instant."""
        state, stay = self.state(at), self.life.stay.at(at)
        contact = self._newest_contact(at)
        return Truth(
            place=stay.place,
            thing=stay.thing,
            touched=contact.surface if contact is not None else None,
            owes=state.owed,
            begun=state.begun,
            at_patient=contact is not None and not self._was_put_away(contact.start, at),
            is_wet=self._lies_in_solution(stay, at) or state.rinses > 0,
            is_knocked=state.knocked is not None,
        )

    def _newest_contact(self, at: Micros) -> Contact | None:
        contacts = self.life.contacts
        place = bisect_right(contacts, at, key=attrgetter("start"))
        return contacts[place - 1] if place else None

    def _was_put_away(self, after: Micros, until: Micros) -> bool:
        laid_down = self.life.laid_down[bisect_right(self.life.laid_down, after) :]
        return bool(self.life.stay.changes(after, until)) or (bool(laid_down) and laid_down[0] <= until)

    def _lies_in_solution(self, stay: Stay, at: Micros) -> bool:
        return stay.place is Place.BASIN and any(bath.stay.start <= at < bath.stay.end for bath in self.baths)
