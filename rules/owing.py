"""What a probe owes, and how far it has come with it: a fold over what happened to it."""

from copy import copy
from dataclasses import replace

from rules.agenda import NEVER
from rules.evidence import Bath, Handling, Settled, Touch, Unseen, Vouching
from rules.moments import BathBegins, ElsewhereMeanwhile, Marks, Moment, StretchEnds
from rules.probe_terms import ProbeTerms
from rules.probe_words import Fitness, Level, Place, Step
from rules.readings import NO_TIME, SECOND, Micros
from rules.residue import CLEAN, Residue
from rules.spaulding import stricter
from rules.steps import DISINFECTING, Progress, steps_for
from rules.verdict import Outcome

UNMARKED = "its contact is not marked"
"""Why nobody can tell what a probe owes that was used, or may have been."""

LEFT_HOOK = "what was done before it left its hook counts no more"
"""Why a probe that was washed is to be washed again."""

ENTERED_TO = Micros(60 * SECOND)
"""An entry of what was done earlier tells when to the minute."""

_PUT_AWAY = (Place.HOOK, Place.CABINET)
"""Where a probe waits for its next use, and nobody is at it."""


class Owing:
    """Takes moments in their order and knows what is owed after each.

    owed: None where nothing is. _since: when it was last accounted for. _named: a contact is marked for the time since.
    _demanded: a contact of this very probe, or its storage, demands what is owed.
    _ahead: a contact is marked for a use that has yet to begin. _unmarked: nobody told the contact for which it is
    owed. _began: how far it was when each soak under way began.
    held: the soak that would make it ready, were it not in doubt. _by: the soak that counts so far.
    _residue: what its soaks left on it.
    _unproven: why nobody can tell, as long as nothing is done about it. _missed: the step that was not entered before
    a soak. _setback: why the last soak does not count.
    """

    def __init__(self, terms: ProbeTerms, start: Settled | None, marks: Marks) -> None:
        self._terms = terms
        self._marks = marks
        self._stretch: Unseen | None = None
        self._last: Unseen | None = None
        self._touched_in: Unseen | None = None
        self._ahead = False
        self._since = NO_TIME
        self._named = False
        self._at_patient = False
        self._began: dict[str, int] = {}
        self._residue = CLEAN
        self._by: Bath | None = None
        self.held: Bath | None = None
        self._covered = False
        self._demanded = False
        self._exam: str | None = None
        self._unmarked = True
        self._unproven = "nothing is known of it"
        self._missed = ""
        self._setback = ""
        self.touch: Touch | None = None
        self.owed: Level | None = terms.unmarked_level
        self.use_seen = False
        self.progress = Progress(self._asked(self.owed))
        self.soak: str | None = None
        self.vouched_by: str | None = None
        self.sterilised = False
        self.ready_until: Micros | None = None
        self.reused: Micros | None = None
        if start is not None:
            self._settle(start.ready_until)
            self._since, self.touch = start.handled, start.touch
            self.soak, self.vouched_by, self.sterilised = start.soak, start.vouched_by, start.sterilised
            self._last = start.last

    def going_on(self, marks: Marks) -> "Owing":
        """As far as this one, to take what follows; this one stays as it is."""
        other = copy(self)
        other.part(marks)
        return other

    def part(self, marks: Marks) -> None:
        """Share nothing that changes with what this is a copy of."""
        self._marks, self._began = marks, dict(self._began)
        self.progress = replace(self.progress, done=[*self.progress.done])

    # ---- moments --------------------------------------------------------------------------------------------------

    def take(self, at: Micros, moment: Moment) -> None:
        """The next thing that happened."""
        match moment:
            case Unseen():
                self._lose(moment)
            case StretchEnds():
                self._find(moment)
            case Touch():
                self.mind_storage(at)
                self._be_touched(moment)
            case Handling():
                self._account(at, Place.IN_HANDS)
                self._be_handled(moment)
            case BathBegins():
                self._account(at, Place.BASIN)
                self._be_with_somebody(at)
                self._began[moment.bath.soak] = self.progress.place
            case Bath():
                self.mind_storage(at)
                self._leave_bath(moment)
            case ElsewhereMeanwhile():
                self._setback = f"soak {moment.bath.soak}: {moment.where}"
            case Vouching():
                self._be_vouched_for(moment)

    def _lose(self, stretch: Unseen) -> None:
        early = self._is_early(self.touch, stretch)
        self._stretch = self._last = stretch
        self._since = max(stretch.start, self._since)
        self._named = self._at_patient = False
        if early and self.touch is not None:
            # A button does not tell which probe of its cart is meant: what this one touched is not known by it.
            self._touched_in, self._named = stretch, self.touch.who is not None
            self._at_patient = self._named

    def _find(self, ends: StretchEnds) -> None:
        over = ends.end == ends.stretch.end
        self._ahead = self._ahead and not (over and self._may_be_a_use(ends.stretch))
        self._account(ends.end, ends.stretch.goal if over else None)
        if over:
            self._stretch, self._at_patient = None, False

    def _be_touched(self, touch: Touch) -> None:
        if not touch.sure:
            # It may be another probe's: it names no use of this one, and excuses none.
            self._ahead = False
            self._owe_with_it(touch)
            return
        use = self._use_at(touch.at)
        same_use = use is not None and self._touched_in == use
        ahead = self._ahead and self.touch is not None and touch.at <= self.touch.at + self._terms.carry_within
        same_use = same_use or ahead
        if not (same_use and _may_be_one(self._exam, touch.exam)):
            self._mind_reuse(touch.at)
        self._exam = touch.exam or (self._exam if same_use else None)
        self._touched_in, self.touch = use, touch
        self._named = self._at_patient = True
        self._ahead = (self.owed is None or ahead) and self._stretch is None and not self._may_be_a_use(use)
        self._owe_with_it(touch)

    def _owe_with_it(self, touch: Touch) -> None:
        self._demanded = self._demanded or touch.sure
        self._covered = self._covered or bool(touch.covered)
        unmarked = self.owed is not None and self._unmarked and touch.level.rank < self.owed.rank
        self._owe(touch.level, unmarked=unmarked)

    def _use_at(self, at: Micros) -> Unseen | None:
        """The stretch to which a contact belongs that is marked then: a little late counts for the one before."""
        last = self._last
        return last if last is not None and at <= last.end + self._terms.carry_within else None

    def _may_be_a_use(self, stretch: Unseen | None) -> bool:
        return stretch is not None and stretch.end - stretch.start > self._terms.use_after

    def _is_early(self, touch: Touch | None, stretch: Unseen) -> bool:
        """Whether a contact was marked just before the probe was lifted for the exam.

        It was fit for use then and hung or lay in its cabinet, and there was no use before it that it could be of.
        """
        if touch is None or not self._ahead or not stretch.from_store:
            return False
        return stretch.start <= touch.at + self._terms.carry_within

    def _be_handled(self, handling: Handling) -> None:
        if self.owed is not None or self._residue.rinses:
            self._be_with_somebody(handling.at)
        for step in handling.steps:
            if step is Step.RINSED:
                self._residue = self._residue.rinsed(handling.times)
            if step is Step.SOAKED or (step is Step.RINSED and self._residue.rinses):
                continue  # a soak is measured and never entered; a rinse counts once there are enough
            self.progress.take(step)
        if Step.STERILISED in handling.steps:
            self._residue = CLEAN
        self._mind_completion(handling.at, handling.who)

    def _be_with_somebody(self, at: Micros) -> None:
        self._since, self._named, self._at_patient, self._ahead = at, False, False, False

    def _leave_bath(self, bath: Bath) -> None:
        began = self._began.pop(bath.soak, None)
        self._be_with_somebody(bath.end)
        if Step.RINSED in self._terms.policy.asked:
            self._residue = self._residue.soaked(bath.soak, self._terms.rinses_after(bath.basin))
        if began is None:
            return
        expected = self.progress.asked[began] if began < len(self.progress.asked) else None
        if bath.outcome is not Outcome.EXPOSURE_MET:
            self._setback = f"soak {bath.soak}: {bath.outcome.value}"
        elif began == self.progress.place and expected in (Step.SOAKED, Step.LOW_LEVEL):
            self.progress.take(Step.SOAKED)
            self._by, self._missed, self._setback = bath, "", ""
            self._mind_completion(bath.end)
        elif expected in (Step.COVER_OFF, Step.WASHED, Step.DRIED) and Step.SOAKED not in self.progress.done:
            self._missed = f"not entered before soak {bath.soak}: {expected.value}"

    def _be_vouched_for(self, vouching: Vouching) -> None:
        """A word says what nobody knows: it does not outweigh a contact that is known, or what a soak does or left."""
        too_early = self.held is not None and vouching.at < (self.held.doubted_by or NO_TIME)
        if self._residue.rinses or self._began or too_early or (self.owed is not None and self._demanded):
            self._setback = f"the word of {vouching.who} does not outweigh what is known"
            return
        self._settle(self._terms.stored_until(vouching.at) if self._terms.internal else None)
        self._be_with_somebody(vouching.at)
        self._residue = CLEAN
        self.soak, self.vouched_by, self.sterilised = None, vouching.who, False

    # ---- what they bring about ------------------------------------------------------------------------------------

    def _account(self, now: Micros, goal: Place | None) -> None:
        """Out of sight for long enough with no contact marked, it may have been used."""
        stretch = self._stretch
        if stretch is not None and not self._named and not self._began:
            least = self._least_that_hides_a_use(stretch, goal)
            late = self._marks.soon_after(now, self._terms.carry_within)
            gone = now - self._since
            if gone > least and not late:
                told_only = goal is Place.IN_HANDS and gone <= self._terms.carry_within
                self._may_have_been_used(stretch, again=not told_only)
            elif gone > self._terms.use_after and stretch.seen_off_hook and self._since == stretch.start:
                self._begin_anew()
        self.mind_storage(now)

    def _least_that_hides_a_use(self, stretch: Unseen, goal: Place | None) -> Micros:
        """How long it has to be out of sight, on its way to ``goal``; None: nobody knows yet whither.

        In hands it is where something is done with it and nobody has seen it brought anywhere: as after an exam.
        """
        straight = self._since == stretch.start
        waited = straight and stretch.from_store
        put_away = goal in _PUT_AWAY
        if self._since == NO_TIME or (self.owed is not None and not waited and not put_away):
            return NEVER  # nothing is known of it anyway, or it is on its way through reprocessing
        owes_less = self.owed is not None and self.owed.rank < self._terms.unmarked_level.rank
        cared_for = goal is Place.IN_HANDS and owes_less and waited
        used_or_back = goal is Place.HOOK or cared_for or (self.owed is None and goal is not Place.CABINET)
        if stretch.seen_off_hook and used_or_back and (straight or goal is Place.SINK):
            # Nobody brings to a sink what was washed since it left its hook, unless it was washed there.
            return Micros(self._terms.use_after + (0 if straight else ENTERED_TO))
        return self._terms.carry_within

    def _begin_anew(self) -> None:
        """Owed it is anyway; but what was done of it was done before a use that nobody may have seen."""
        if self.owed is not None and self.progress.done:
            self.progress, self._by, self._setback = Progress(self._asked(self.owed)), None, LEFT_HOOK

    def _may_have_been_used(self, stretch: Unseen, *, again: bool) -> None:
        self.mind_storage(self._since)
        if again and self._since == stretch.start and stretch.from_store and self._touched_in != stretch:
            self._mind_reuse(self._since)
        self._owe(self._terms.unmarked_level, unmarked=self._terms.policy.unmarked_use == "not proven")
        self._at_patient = True
        self.use_seen = stretch.origin is not None
        self._unproven = UNMARKED if self._unmarked else ""

    def _mind_reuse(self, at: Micros) -> None:
        """A use before the strip failed that put its soak in doubt was none against what anybody knew."""
        known = self.held is None or at >= (self.held.doubted_by or NO_TIME)
        if self.owed is not None and self.use_seen and known:
            self.reused = at

    def _owe(self, level: Level, *, unmarked: bool) -> None:
        """Nothing that was done before counts; what a soak left on it is still to be rinsed off."""
        if self.owed is not None and level.rank >= self.owed.rank:
            self.held = None  # owed whatever is to be thought of the soak
        self.owed = level if self.owed is None else stricter(self.owed, level)
        self._unmarked, self.use_seen = unmarked, True
        self._missed = self._setback = ""
        self._unproven = self._unproven if unmarked or self.held is not None else ""
        self.soak = self.vouched_by = self.ready_until = self._by = None
        self.sterilised = False
        self.progress = Progress(self._asked(self.owed))
        self._began.clear()

    def _asked(self, level: Level) -> tuple[Step, ...]:
        return steps_for(level, covered=self._covered, policy=self._terms.policy)

    def _mind_completion(self, at: Micros, who: str | None = None) -> None:
        """Where nothing is left to do: what made it ready is the soak, or who says that it was sterilised."""
        if not self.progress.done or self.progress.next_step is not None:
            return
        sterilised = Step.STERILISED in self.progress.done
        if self._by is not None and self._by.doubted_by is not None and not sterilised:
            self._hold(self._by)
            return
        by, disinfected = self._by, self.owed is None or self.owed.rank >= Level.HIGH.rank
        self._settle(self._terms.stored_until(at if by is None else by.end) if disinfected else None)
        self.soak, self.vouched_by = None if by is None else by.soak, who if sterilised else None
        self.sterilised = sterilised

    def _hold(self, bath: Bath) -> None:
        """A strip failed after its soak: it is no proof, until somebody answers for it or it is soaked soundly.

        That its own strip had passed, as where one is read before each soak, tells of the solution before that soak;
        the next one tells whether it lasted, and fails only if it did not.
        """
        if self.owed is not None:
            self.held, self._unproven = bath, f"soak {bath.soak} is in doubt: a strip failed after it"
            self._demanded = False
        self._by, self._missed, self._setback = None, "", ""
        self.progress = Progress(self._asked(self.owed or Level.HIGH))

    def _settle(self, ready_until: Micros | None) -> None:
        """Nothing is owed any more; what may be stored for a time only may be done again before that is over."""
        self.owed, self.reused, self.use_seen = None, None, True
        self._covered = self._unmarked = self._demanded = False
        self._unproven = self._missed = self._setback = ""
        self._by, self.held, self.ready_until = None, None, ready_until
        self.progress = Progress(() if ready_until is None else self._asked(Level.HIGH))

    def mind_storage(self, now: Micros) -> None:
        """Stored for too long, it has to be done again."""
        if self.owed is None and self.ready_until is not None and now >= self.ready_until:
            self._owe(Level.HIGH, unmarked=False)
            self._demanded = True
            self._unproven = f"stored for more than {self._terms.policy.storage_days:g} d"

    # ---- how it stands --------------------------------------------------------------------------------------------

    @property
    def accounted_for(self) -> Micros:
        """When it was last known where it was, or what was done with it."""
        return self._since

    @property
    def last_unseen(self) -> Unseen | None:
        """The newest stretch in which it was seen nowhere."""
        return self._last

    @property
    def is_settled(self) -> bool:
        """Whether nothing is owed, nor under way."""
        return self.owed is None and not (self._residue.rinses or self._began or self.progress.done)

    @property
    def residue(self) -> Residue:
        """What its last soak left on it."""
        return self._residue

    @property
    def next_step(self) -> Step | None:
        """What is to be done next."""
        if self._residue.rinses and (self.owed is None or Step.SOAKED in self.progress.done):
            return Step.RINSED
        return None if self.owed is None else self.progress.next_step

    @property
    def unproven(self) -> str:
        """Why nobody can tell what it owes, whatever was done since; '' where that is known or nothing is owed."""
        return "" if self.owed is None else self._unproven

    def why(self, place: Place) -> str:
        """Why it is not proven, or no further."""
        if self.owed is None:
            return f"not rinsed since soak {self._residue.soak}" if self._residue.rinses else ""
        is_begun, is_done = self._is_begun(place), bool(self.progress.done)
        unproven = "" if is_begun else self._unproven
        return self._missed or (self._setback or unproven if is_done else unproven or self._setback)

    def _is_begun(self, place: Place) -> bool:
        """Whether somebody is at it; nobody is where it was washed at most, and hung up or put away."""
        done = self.progress.done
        return bool(done) and (place not in _PUT_AWAY or not DISINFECTING.isdisjoint(done))

    def fitness(self, place: Place) -> Fitness:
        """Whether it may touch the next patient, its inspection left aside."""
        if self._at_patient and self._stretch is not None and self._stretch.seen_off_hook:
            return Fitness.IN_USE
        if self.owed is None:
            under_way = place is Place.BASIN or self._began or self._residue.rinses
            return Fitness.IN_PROCESS if under_way else Fitness.READY
        if self._missed:
            return Fitness.NOT_PROVEN
        if self._is_begun(place) or place is Place.BASIN:
            return Fitness.IN_PROCESS
        return Fitness.NOT_PROVEN if self._unproven else Fitness.OWES

    def changes_at(self, at: Micros) -> Micros:
        """When time alone may change it, later than ``at``."""
        turns = [] if self.owed is not None or self.ready_until is None else [self.ready_until]
        if self._stretch is not None:
            turns += [Micros(self._since + wait + 1) for wait in (self._terms.use_after, self._terms.carry_within)]
        return min((turn for turn in turns if turn > at), default=NEVER)


def _may_be_one(exam: str | None, other: str | None) -> bool:
    """Whether two contacts may be of one exam, by its references."""
    return exam is None or other is None or exam == other
