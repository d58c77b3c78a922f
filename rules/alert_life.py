"""The states of one alert and the ways between them, after IEC 62682 / ISA-18.2 (secondary).

Pure: every step takes a ``Life`` and gives the next one, with what is to be said of it. A step that is not allowed, or
changes nothing, gives the same life and says nothing.
"""

from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from rules.alert_words import WAITING, Cause, State
from rules.rule import StandsUntil

EndedBy = Literal["cleared", "acknowledged", "settled", "no longer watched"]


@dataclass(frozen=True, slots=True)
class Life:
    """One rule on one subject: flags, of which all states follow.

    until: what it takes for the alert to be over, as in ``Rule``.
    active: the condition has held for its on-delay, and has not been clear for its off-delay since.
    announced: people were told of it, and it is not over. answered: somebody answers for it.
    shelved, suppressed, out: what hides it; any of them is enough. one_shot: the shelf ends with the condition.
    """

    until: StandsUntil
    active: bool = False
    announced: bool = False
    answered: bool = False
    shelved: bool = False
    one_shot: bool = False
    suppressed: bool = False
    out: bool = False

    @property
    def beneath(self) -> State:
        """The state that condition and answers imply, whatever hides it."""
        if not self.announced:
            return State.NORMAL
        if self.active:
            return State.ACKNOWLEDGED if self.answered else State.UNACKNOWLEDGED
        if self.until == "settled":
            return State.LATCHED_ACKNOWLEDGED if self.answered else State.LATCHED_UNACKNOWLEDGED
        return State.NORMAL if self.answered or self.until == "cleared" else State.RETURNED

    @property
    def aside(self) -> State | None:
        """What hides it, None where nothing does; of several the one that a person can change least easily."""
        if self.out:
            return State.OUT_OF_SERVICE
        if self.suppressed:
            return State.SUPPRESSED
        return State.SHELVED if self.shelved else None

    @property
    def state(self) -> State:
        """What people see. A rule that could raise nothing at present is at rest, though it be suppressed."""
        aside = self.aside
        return aside if aside is not None and (self.announced or self.active) else self.beneath

    @property
    def hides(self) -> tuple[bool, bool, bool]:
        """Which of the things that can hide it do."""
        return self.shelved, self.suppressed, self.out


class Raised(NamedTuple):
    """People are told for the first time."""


class Answered(NamedTuple):
    """Somebody answers for it."""


class TakenOver(NamedTuple):
    """Another one answers for it."""


class Ended(NamedTuple):
    """It needs nobody any more."""

    why: EndedBy


class Moved(NamedTuple):
    """Any other way; both states are the same where only one of several things that hide it came or went."""

    before: State
    after: State
    cause: Cause


Said = Raised | Answered | TakenOver | Ended | Moved


class Change(NamedTuple):
    """The life after a step, and what is to be said, in order."""

    life: Life
    said: tuple[Said, ...] = ()


# ---- the condition ---------------------------------------------------------------------------------------------------


def begins(life: Life) -> Change:
    """The condition has held for its on-delay: whoever answered for what was before does not answer for this."""
    if life.active:
        return Change(life)
    cause = Cause.CONDITION_CAME_BACK if life.announced else Cause.CONDITION_HELD
    return _become(life, replace(life, active=True, answered=False), cause)


def ends(life: Life, cause: Cause = Cause.CONDITION_ENDED) -> Change:
    """The condition has been clear for its off-delay."""
    if not life.active:
        return Change(life)
    after = replace(life, active=False)
    if life.one_shot:
        return _become(life, _unshelved(after), Cause.SHELF_ENDED_WITH_CONDITION)
    return _become(life, after, cause)


def unwatched(life: Life) -> Change:
    """Nobody watches the subject any more; what happened, and is to be settled, stays so."""
    after = replace(life, active=False, suppressed=False)
    if life.announced and life.until != "settled":
        return Change(_at_rest(after), (Ended("no longer watched"),))
    return _become(life, _unshelved(after) if life.one_shot else after, Cause.NOT_WATCHED)


# ---- people's answers ------------------------------------------------------------------------------------------------


def acknowledge(life: Life) -> Change:
    """Somebody answers for it; of no effect where it is hidden, at rest or answered for."""
    if life.state not in WAITING:
        return Change(life)
    after = replace(life, answered=True)
    if after.beneath is State.NORMAL:
        return Change(_at_rest(after), (Answered(), Ended("acknowledged")))
    return Change(after, (Answered(),))


def take_over(life: Life) -> Change:
    """Another one answers for it than before; of no effect where it is hidden or nobody has answered."""
    is_answered = life.announced and life.answered and life.aside is None
    return Change(life, (TakenOver(),) if is_answered else ())


def settle(life: Life, *, is_past: bool) -> Change:
    """A person says what was done, which answers for it too; hidden or not.

    is_past: what it tells of is past, and stays so whatever is done. Of anything else nothing is settled while the
        condition holds.
    """
    if not life.announced or life.until != "settled" or (life.active and not is_past):
        return Change(life)
    ended = Ended("settled")
    return Change(_at_rest(replace(life, active=False)), (ended,) if life.answered else (Answered(), ended))


def ask_anew(life: Life, cause: Cause) -> Change:
    """Nobody answers for it any more: declined, handed over."""
    if not life.announced or life.aside is not None:
        return Change(life)
    after = replace(life, answered=False)
    return Change(after, (Moved(life.state, after.state, cause),))


def remind(life: Life) -> Change:
    """Somebody answered long ago, and the condition still holds."""
    return ask_anew(life, Cause.REMINDED) if life.state is State.ACKNOWLEDGED else Change(life)


# ---- what hides it ---------------------------------------------------------------------------------------------------


def shelve(life: Life, *, one_shot: bool) -> Change:
    """Put aside; not what is hidden anyway, and for one shot only while the condition holds."""
    if not life.announced or life.aside is not None or (one_shot and not life.active):
        return Change(life)
    return _become(life, replace(life, shelved=True, one_shot=one_shot), Cause.SHELVED)


def unshelve(life: Life, cause: Cause) -> Change:
    """Its time on the shelf is over, or a person takes it from there."""
    return _become(life, _unshelved(life), cause) if life.shelved else Change(life)


def suppress(life: Life, *, suppressed: bool) -> Change:
    """Its rule suppresses it, or does so no longer."""
    cause = Cause.SUPPRESSED if suppressed else Cause.SUPPRESSION_OVER
    return _become(life, replace(life, suppressed=suppressed), cause)


def serve(life: Life, *, out: bool) -> Change:
    """Maintenance takes it out of service, or puts it back."""
    return _become(life, replace(life, out=out), Cause.TAKEN_OUT if out else Cause.PUT_BACK)


def come_under(life: Life, until: StandsUntil, *, suppressed: bool, out: bool) -> Change:
    """Another law is in force."""
    return _become(life, replace(life, until=until, suppressed=suppressed, out=out), Cause.LAW_CHANGED)


# ---- what all have in common -----------------------------------------------------------------------------------------


def _become(before: Life, after: Life, cause: Cause) -> Change:
    if before.aside is not None and after.aside is None and after.active:
        # Whoever answered before it was hidden is asked anew: nobody was told what became of it meanwhile.
        after = replace(after, answered=False)
    if after.active and not after.announced and after.aside is None:
        return Change(replace(after, announced=True), (Raised(),))
    if after.announced and not after.shelved and after.beneath is State.NORMAL:
        return Change(_at_rest(after), (Ended("cleared"),))
    if after.state is before.state and (after.hides == before.hides or after.state is State.NORMAL):
        return Change(after)
    return Change(after, (Moved(before.state, after.state, cause),))


def _unshelved(life: Life) -> Life:
    return replace(life, shelved=False, one_shot=False)


def _at_rest(life: Life) -> Life:
    return replace(_unshelved(life), announced=False, answered=False)
