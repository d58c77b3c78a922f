"""How a probe stands at an instant: where it is, what it owes, what of that is done, and whether it is fit for use.

A pure fold over what is known of it, so that any past instant can be asked, with what is known today.
"""

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from rules.agenda import NEVER
from rules.evidence import Bath, Evidence, Handling, Settled, Sighting, Touch, Vouching
from rules.policy import ReprocessingPolicy
from rules.probe_words import Fitness, Level, Place, Step, Surface
from rules.readings import NO_TIME, SECOND, Micros
from rules.spaulding import level_owed, stricter
from rules.steps import Progress, steps_for
from rules.unseen import Unseen, unseen
from rules.verdict import Outcome

_DAY = 86_400 * SECOND


@dataclass(frozen=True, slots=True)
class ProbeTerms:
    """What a probe is judged by.

    rinses: how often it is rinsed after a soak in a basin, by basin id; the policy's figure for others.
    use_after: off its hook for less is no use. carry_within: seen nowhere for no longer, it may be on its
        way from one place to another. Microseconds.
    """

    internal: bool
    policy: ReprocessingPolicy
    rinses: Mapping[str, int]
    use_after: Micros
    carry_within: Micros


@dataclass(frozen=True, slots=True)
class Standing:
    """How a probe stands.

    owes: None where nothing is owed. done: the steps of it that count so far, in order. next_step: what is to be done
        next. contact: the newest marked contact.
    place, thing, since: where it is, and since when.
    why: why it is not proven, to be inspected, or not further: its last soak does not count; '' otherwise.
    soak: the soak by which it was disinfected, where that is what makes it ready. vouched_by: or who answers for it.
    ready_until: until when it stays ready in storage.
    reused: since when it is used again though it owed a level from an earlier use; None where it is not.
    use_seen: whether what it owes comes from a use or a storage that is known, and not from having no history.
    changes_at: when time alone may make it stand otherwise; ``NEVER`` where it does not.
    """

    fitness: Fitness
    owes: Level | None
    done: tuple[Step, ...]
    next_step: Step | None
    contact: Touch | None
    place: Place
    thing: str | None
    since: Micros | None
    why: str
    soak: str | None
    vouched_by: str | None
    ready_until: Micros | None
    reused: Micros | None
    use_seen: bool
    changes_at: Micros


def standing(evidence: Evidence, terms: ProbeTerms, at: Micros) -> Standing:
    """How the probe stands at ``at``, by everything in ``evidence`` that was so by then."""
    sightings = _seen(evidence, at)
    fold = _folded(evidence, terms, at)
    seen = sightings[-1] if sightings else Sighting(NO_TIME, Place.UNKNOWN, None, None)
    inspect = _to_inspect(evidence, at)
    return Standing(
        fitness=Fitness.INSPECT if inspect else fold.fitness(seen.place),
        owes=fold.owed,
        done=tuple(fold.progress.done) if fold.owed is not None else (),
        next_step=fold.progress.next_step if fold.owed is not None else None,
        contact=fold.touch,
        place=seen.place,
        thing=seen.thing,
        since=seen.at if sightings else None,
        why=inspect or fold.why,
        soak=fold.soak if fold.owed is None else None,
        vouched_by=fold.vouched_by if fold.owed is None else None,
        ready_until=fold.ready_until if fold.owed is None else None,
        reused=fold.reused,
        use_seen=fold.use_seen,
        changes_at=fold.changes_at(),
    )


def _seen(evidence: Evidence, at: Micros) -> list[Sighting]:
    return evidence.sightings[: bisect_right(evidence.sightings, at, key=lambda sighting: sighting.at)]


def _folded(evidence: Evidence, terms: ProbeTerms, at: Micros) -> "_Fold":
    fold = _Fold(terms, evidence.settled, at)
    for moment in _moments(evidence, _seen(evidence, at), terms.carry_within, at):
        fold.take(moment)
    fold.mind_storage(at)
    return fold


@dataclass(frozen=True, slots=True)
class _BathBegins:
    bath: Bath


@dataclass(frozen=True, slots=True)
class _StretchEnds:
    """The probe is seen again, or the instant asked for has come; ``marked``: a contact is, in it or a little later."""

    stretch: Unseen
    end: Micros
    marked: bool


_Moment = Touch | Handling | Vouching | _BathBegins | Bath | Unseen | _StretchEnds


def _moments(evidence: Evidence, sightings: list[Sighting], carry_within: Micros, at: Micros) -> list[_Moment]:
    """All that bears on what is owed, by time; at one instant a stretch ends after what was done in it."""
    timed = (entry for entry in _timed(evidence, sightings, carry_within, at) if entry[0] <= at)
    return [moment for _, _, moment in sorted(timed, key=lambda entry: entry[:2])]


def _timed(
    evidence: Evidence, sightings: list[Sighting], carry_within: Micros, at: Micros
) -> Iterator[tuple[Micros, int, _Moment]]:
    marks = [touch.at for touch in evidence.touches if touch.at <= at]
    for stretch in unseen(sightings):
        end = min(stretch.end, at)
        marked = any(end < mark <= stretch.end + carry_within for mark in marks)
        yield stretch.start, 0, stretch
        yield end, 9, _StretchEnds(stretch, end, marked)
    for touch in evidence.touches:
        yield touch.at, 1, touch
    for handling in evidence.handlings:
        yield handling.at, 2, handling
    for bath in evidence.baths:
        yield bath.at, 3, _BathBegins(bath)
        yield bath.end, 4, bath
    for vouching in evidence.vouchings:
        yield vouching.at, 5, vouching


def settled(evidence: Evidence, terms: ProbeTerms, at: Micros) -> Settled | None:
    """How it stood where nothing was owed at ``at``, in place of all that was known of it by then; None where not."""
    fold = _folded(evidence, terms, at)
    if fold.owed is not None:
        return None
    return Settled(at, fold.ready_until, fold.soak, fold.vouched_by, fold.touch, fold.handled)


def _to_inspect(evidence: Evidence, at: Micros) -> str:
    """Why it has to be looked over before use, '' where it has not."""
    looked = max((i.at for i in evidence.inspections if i.sound and i.at <= at), default=-1)
    damaged = [i for i in evidence.inspections if not i.sound and looked < i.at <= at]
    if damaged:
        return f"damage found by {damaged[-1].who}"
    return "knocked" if any(looked < knock.at <= at for knock in evidence.knocks) else ""


class _Fold:
    """Takes moments in their order and knows what is owed after each.

    owed: None where nothing is. unmarked: nobody told the contact for which it is owed. used_in, touched_in: the
    stretch in which the newest use was. unproven: why nobody can tell, as long as nothing is done about it. missed: the
    step that was not entered before a soak. setback: why the last soak does not count.
    """

    def __init__(self, terms: ProbeTerms, start: Settled | None, at: Micros) -> None:
        self._terms = terms
        self._at = at
        self._stretch: Unseen | None = None
        self._last: Unseen | None = None
        self._used_in: Unseen | None = None
        self._touched_in: Unseen | None = None
        self._handled = Micros(-1)
        self._contact_at = Micros(-1)
        self._began: dict[str, int] = {}
        self._covered = False
        self._basin = ""
        self._exam: str | None = None
        self._unmarked = True
        self._unproven = "nothing is known of it"
        self._missed = ""
        self._setback = ""
        self.touch: Touch | None = None
        self.owed: Level | None = self._unmarked_level()
        self.use_seen = False
        self.progress = Progress(self._asked(self.owed))
        self.soak: str | None = None
        self.vouched_by: str | None = None
        self.ready_until: Micros | None = None
        self.reused: Micros | None = None
        if start is not None:
            self._settle(start.at, None)
            self._handled, self.ready_until = start.handled, start.ready_until
            self.soak, self.vouched_by, self.touch = start.soak, start.vouched_by, start.touch

    # ---- moments --------------------------------------------------------------------------------------------------

    def take(self, moment: _Moment) -> None:
        """The next thing that happened."""
        match moment:
            case Unseen():
                self._stretch = self._last = moment
            case _StretchEnds():
                self._end_stretch(moment)
            case Touch():
                self._be_touched(moment)
            case Handling():
                self._be_handled(moment)
            case _BathBegins():
                self._began[moment.bath.soak] = self.progress.place
            case Bath():
                self._leave_bath(moment)
            case Vouching():
                self._be_vouched_for(moment)

    def _be_touched(self, touch: Touch) -> None:
        self.mind_storage(touch.at)
        use = self._use_at(touch.at)
        if use is None or self._touched_in != use or touch.exam not in (None, self._exam):
            self._mind_reuse(touch.at)
        self._touched_in, self._exam, self.touch, self._contact_at = use, touch.exam, touch, touch.at
        self._covered = self._covered or bool(touch.covered)
        unmarked = self.owed is not None and self._unmarked and touch.level.rank < self.owed.rank
        self._owe(touch.at, touch.level, unmarked=unmarked)

    def _use_at(self, at: Micros) -> Unseen | None:
        """The stretch to which a contact belongs that is marked then: a little late counts for the one before."""
        last = self._last
        return last if last is not None and at <= last.end + self._terms.carry_within else None

    def _be_handled(self, handling: Handling) -> None:
        self._handled = handling.at
        self.progress.take_all(handling.steps, times=handling.times, rinses=self._rinses())
        self._mind_completion(handling.at)

    def _leave_bath(self, bath: Bath) -> None:
        began, self._handled, self._basin = self._began.pop(bath.soak, None), bath.end, bath.basin
        if self.owed is None or began is None:
            return
        expected = self.progress.asked[began]
        if bath.outcome is not Outcome.EXPOSURE_MET:
            self._setback = f"soak {bath.soak}: {bath.outcome.value}"
        elif began == self.progress.place and expected in (Step.SOAKED, Step.LOW_LEVEL):
            self.progress.take(Step.SOAKED)
            self.soak, self._missed, self._setback = bath.soak, "", ""
            self._mind_completion(bath.end)
        elif expected in (Step.COVER_OFF, Step.WASHED, Step.DRIED) and Step.SOAKED not in self.progress.done:
            self._missed = f"not entered before soak {bath.soak}: {expected.value}"

    def _be_vouched_for(self, vouching: Vouching) -> None:
        self._settle(vouching.at, Level.HIGH if self._terms.internal else Level.CLEANING)
        self.soak, self.vouched_by, self._handled = None, vouching.who, vouching.at

    def _end_stretch(self, ends: _StretchEnds) -> None:
        """Nobody saw it in between: long enough, and it may have been used."""
        stretch = ends.stretch
        if ends.end == stretch.end and self._stretch == stretch:
            self._stretch = None
        if ends.marked or not self._may_have_been_used(stretch, ends.end):
            return
        began = max(stretch.start, self._handled)
        self.mind_storage(began)
        self._mind_reuse(began)
        self._used_in, self._contact_at = stretch, began
        self._owe(began, self._unmarked_level(), unmarked=self._terms.policy.unmarked_use == "not proven")
        self.use_seen = stretch.origin is not None
        self._unproven = "its contact is not marked" if self._unmarked else ""

    # ---- what they bring about ------------------------------------------------------------------------------------

    def _may_have_been_used(self, stretch: Unseen, end: Micros) -> bool:
        """Whether an exam may be hidden in the stretch that nobody marked."""
        handled = self._handled >= stretch.start
        if self._touched_in == stretch and not handled:
            return False
        if self.owed is not None and (handled or not stretch.from_store):
            return False
        lasting_while_owed = end < stretch.end and self.owed is not None
        brief = stretch.from_hook_to_hook and not handled and not lasting_while_owed
        least = self._terms.use_after if brief else self._terms.carry_within
        return end - max(stretch.start, self._handled) > least

    def _mind_reuse(self, at: Micros) -> None:
        if self.owed is not None and self.use_seen:
            self.reused = at

    def _owe(self, at: Micros, level: Level, *, unmarked: bool) -> None:
        self.owed = level if self.owed is None else stricter(self.owed, level)
        self._unmarked, self.use_seen = unmarked, True
        self._missed = self._setback = ""
        self._unproven = self._unproven if unmarked else ""
        self.soak = self.vouched_by = self.ready_until = None
        self.progress = Progress(self._asked(self.owed))
        self._began.clear()
        self._mind_completion(at)

    def _asked(self, level: Level) -> tuple[Step, ...]:
        return steps_for(level, covered=self._covered, policy=self._terms.policy)

    def _unmarked_level(self) -> Level:
        """What a use owes of which nobody told the contact."""
        policy, internal = self._terms.policy, self._terms.internal
        if policy.unmarked_use == "not proven":
            return Level.HIGH
        return level_owed(Surface.SKIN, covered=False, percutaneous=False, internal=internal, policy=policy)

    def _mind_completion(self, at: Micros) -> None:
        if self.owed is not None and self.progress.next_step is None:
            self._settle(at, self.owed)

    def _settle(self, at: Micros, level: Level | None) -> None:
        """Nothing is owed any more; what was disinfected stays ready for as long as it may be stored."""
        stored = level is not None and level.rank >= Level.HIGH.rank
        self.ready_until = Micros(at + round(self._terms.policy.storage_days * _DAY)) if stored else None
        self.owed, self.reused, self.use_seen = None, None, True
        self._covered = self._unmarked = False
        self._unproven = self._missed = self._setback = ""

    def mind_storage(self, now: Micros) -> None:
        """Stored for too long, it has to be done again."""
        if self.owed is None and self.ready_until is not None and now >= self.ready_until:
            self._owe(now, Level.HIGH, unmarked=False)
            self._unproven = f"stored for more than {self._terms.policy.storage_days:g} d"

    def _rinses(self) -> int:
        return self._terms.rinses.get(self._basin, self._terms.policy.rinses)

    # ---- how it stands --------------------------------------------------------------------------------------------

    @property
    def handled(self) -> Micros:
        """When somebody last did something with it."""
        return self._handled

    @property
    def why(self) -> str:
        """Why it is not proven, or no further."""
        return self._missed or (self._unproven if not self.progress.done else "") or self._setback

    def fitness(self, place: Place) -> Fitness:
        """Whether it may touch the next patient, its inspection left aside."""
        if self._is_in_use():
            return Fitness.IN_USE
        if self.owed is None:
            return Fitness.READY
        if self._missed:
            return Fitness.NOT_PROVEN
        if self.progress.done or place is Place.BASIN:
            return Fitness.IN_PROCESS
        return Fitness.NOT_PROVEN if self._unproven else Fitness.OWES

    def _is_in_use(self) -> bool:
        stretch = self._stretch
        if stretch is None or stretch.origin is not Place.HOOK or self._handled >= self._contact_at:
            return False
        return stretch in (self._touched_in, self._used_in)

    def changes_at(self) -> Micros:
        """When time alone may change it."""
        turns = [] if self.owed is not None or self.ready_until is None else [self.ready_until]
        if self._stretch is not None:
            since = max(self._stretch.start, self._handled)
            turns += [Micros(since + wait + 1) for wait in (self._terms.use_after, self._terms.carry_within)]
        return min((turn for turn in turns if turn > self._at), default=NEVER)
