"""What the engine says of a probe beside what is true of it."""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import replace
from enum import StrEnum

from rules.probe_words import Fitness, Place, Surface
from rules.readings import SECOND, Micros, SensorId
from rules.standing import Standing
from sim_devices.troubles.look import Look
from sim_devices.troubles.standing import Demands, Truth, states
from sim_devices.troubles.standing import Standing as Life
from sim_devices.ward.deeds import Touch, Treat
from sim_devices.ward.state import Contact
from tests.sim_devices.hearing import Hearing, Word

USE_AFTER = 15 * SECOND
"""Off its hook for less, nobody can tell an exam from a cord put in order (rules/standard.toml, use_after_seconds)."""

CARRY_WITHIN = 600 * SECOND
"""What owes something and is off its hook for less may be on its way to a sink (the same, carry_within_seconds)."""

BUTTON_WITHIN = 120 * SECOND
"""So long after it was hung back a button may still mean a probe (README.md, "Following the probes")."""

_CARRIED_TO = (Place.SINK, Place.BASIN, Place.CABINET)


class Says(StrEnum):
    """How the engine's word and the truth go together.

    STRICTER: it asks for more than is owed. NOT_PROVEN: it says that nobody can tell. UNMEASURED: it says less than is
    owed, but no more of it was measured or told. WRONG: it says less than is owed by what was measured and told.
    """

    AGREES = "agrees"
    STRICTER = "stricter"
    NOT_PROVEN = "not proven"
    UNMEASURED = "unmeasured"
    WRONG = "wrong"


class Judge:
    """Compares, once all was lived through, knowing what the sensors could make themselves heard with.

    in_hindsight: what was heard or entered late counts at its time; otherwise from when it was.
    """

    def __init__(self, days: Hearing, look: Look, *, in_hindsight: bool) -> None:
        self._days, self._look, self._in_hindsight = days, look, in_hindsight
        self._owed: dict[tuple[str, Micros, Micros], bool] = {}
        self._touches = {(deed.probe, at): deed for at, deed in look.ward.log if isinstance(deed, Touch)}
        self._treats = {(deed.probe, at): deed for at, deed in look.ward.log if isinstance(deed, Treat)}

    def truth(self, probe: str, at: Micros) -> Truth:
        """How a probe was at an instant."""
        return self._look.standings[probe].truth(at)

    def says(self, probe: str, found: Standing, at: Micros) -> Says:
        """Whether what is said of a probe is true at an instant."""
        truth = self.truth(probe, at)
        if _says_too_little(found, truth):
            return Says.WRONG if _says_too_little(found, self._shown(probe, at, at)) else Says.UNMEASURED
        if found.fitness is Fitness.NOT_PROVEN:
            return Says.NOT_PROVEN
        is_ready = found.fitness is Fitness.READY
        same = is_ready == truth.is_fit and found.owes == truth.owes
        return Says.AGREES if same else Says.STRICTER

    def place(self, probe: str, found: Standing, at: Micros) -> Says:
        """Whether it is said to be where it is."""
        truth = self.truth(probe, at)
        if (found.place, found.thing) == (truth.place, truth.thing or None):
            return Says.AGREES
        return Says.NOT_PROVEN if found.place in (Place.UNKNOWN, Place.IN_HANDS) else Says.WRONG

    def _shown(self, probe: str, at: Micros, known: Micros) -> Truth:
        """How a probe would be at ``at`` to which nothing happened but what was measured or told by ``known``."""
        whole, ward = self._look.standings[probe], self._look.ward
        home = ward.homes[probe]
        shock = SensorId(f"{home.cart}/shock-{home.cord}")
        knocks = [k for k in whole.life.knocks if self._is_heard(shock, k.at, Micros(k.at + SECOND), known)]
        contacts = list(self._contacts(probe, at, known))
        entered = [done for done in whole.life.treatments if self._is_entered(probe, done.at, known)]
        life = replace(whole.life, contacts=contacts, treatments=entered, knocks=knocks)
        baths = [bath for bath in whole.baths if self._look.reads(bath)]
        policy = self._days.site.reprocessing
        rinses = {name: tub.label.rinses or policy.rinses for name, tub in self._look.tubs.items()}
        debts = states(life, baths, Demands(home.internal, policy, rinses), ward.epoch)
        return Life(life, debts, baths).truth(at)

    def _contacts(self, probe: str, at: Micros, known: Micros) -> Iterator[Contact]:
        """What was shown of its contacts up to an instant.

        Of a use that only its hook tells of nobody can know more than that it may have touched mucosa.
        """
        for contact in self._look.standings[probe].life.contacts:
            if contact.start > at:
                return
            off = self._off(probe, contact, at)
            if self._is_marked(probe, contact, off, known):
                yield contact
            elif self._was_seen_used(probe, off, known):
                least = Surface.MUCOSA if contact.surface is Surface.STERILE else contact.surface
                yield contact._replace(surface=least)

    def _is_marked(self, probe: str, contact: Contact, off: tuple[Micros, Micros], known: Micros) -> bool:
        touch, home = self._touches[probe, contact.start], self._look.ward.homes[probe]
        told = Micros(contact.start + round(touch.told_after_seconds * SECOND))
        if touch.marked == "button":
            in_time = told <= min(known, off[1] + BUTTON_WITHIN)
            return in_time and self._is_heard(
                SensorId(f"{home.cart}/contact"), contact.start, Micros(told + SECOND), known
            )
        return touch.marked == "entry" and (self._in_hindsight or told <= known)

    def _is_entered(self, probe: str, at: Micros, known: Micros) -> bool:
        seconds = self._treats[probe, at].told_after_seconds
        return seconds is not None and (self._in_hindsight or at + round(seconds * SECOND) <= known)

    def _was_seen_used(self, probe: str, off: tuple[Micros, Micros], known: Micros) -> bool:
        """Whether its hook was heard to be empty for longer than a cord is put in order.

        What owes something may be carried to a sink meanwhile, unless it comes back to its hook: so README.md,
        "Known limits".
        """
        home, stay = self._look.ward.homes[probe], self._look.ward.probes[probe].stay
        start, end = off
        end = next((there for there in stay.changes(start, end) if stay.at(there).place in _CARRIED_TO), end)
        empty = [w.measured for w in self._words(SensorId(f"{home.cart}/hook-{home.cord}"), known) if not w.value]
        seen = end - min((measured for measured in empty if start <= measured <= end), default=end)
        is_back = end < known and stay.at(end).place is Place.HOOK
        least = CARRY_WITHIN if not is_back and self._owes(probe, Micros(start - 1), known) else USE_AFTER
        return seen > least

    def _owes(self, probe: str, at: Micros, known: Micros) -> bool:
        """Whether it was shown to owe something at ``at``: once for each, as each asks for those before it."""
        asked = probe, at, known
        if asked not in self._owed:
            self._owed[asked] = self._shown(probe, at, known).owes is not None
        return self._owed[asked]

    def _off(self, probe: str, contact: Contact, at: Micros) -> tuple[Micros, Micros]:
        """For how long the hook was really empty, around the contact."""
        home = self._look.ward.homes[probe]
        hook = self._look.ward.carts[home.cart].on_hook[home.cord]
        changes = hook.changes(self._look.ward.epoch, at)
        place = bisect_right(changes, contact.start)
        return changes[place - 1], changes[place] if place < len(changes) else at

    def _is_heard(self, sensor: SensorId, start: Micros, end: Micros, known: Micros) -> bool:
        return any(start <= word.measured <= end for word in self._words(sensor, known))

    def _words(self, sensor: SensorId, known: Micros) -> Iterator[Word]:
        """What could be known of it by then."""
        words = self._days.heard.get(sensor, ())
        return (w for w in words if w.measured <= known and (self._in_hindsight or w.arrived <= known))


def _says_too_little(found: Standing, truth: Truth) -> bool:
    if found.fitness is Fitness.READY and not truth.is_fit:
        return True
    return truth.owes is not None and (found.owes is None or found.owes.rank < truth.owes.rank)
