"""The alerts that a rule would raise under many settings of its figures, from what was seen in one replay."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from rules.agenda import NEVER
from rules.board import Subject
from rules.readings import Micros
from rules.ruleset import compiled
from sim_devices.tuning.conditions import Bounds, Conditions, Says, conditions, said
from sim_devices.tuning.figures import RuleFigures
from sim_devices.tuning.watching import BACK, GONE, HELD, OUT, Sight

Instants = NDArray[np.int64]

AT_ONCE = 200
"""So many limits and deadbands are looked at together."""


class Occurrence(NamedTuple):
    """Once that people are told of an alert, while nobody answers: raised, come back, or hidden no longer.

    It lasts while the alert is raised and nothing hides it. over: when its condition had been over for its off-delay,
    or it was hidden, or its subject gone; None: not yet, or, of what has to be settled, as nobody does.
    What has to be settled is told once of each subject: it stands from then on.
    """

    rule: str
    subject: Subject
    raised: Micros
    over: Micros | None


class Occurrences(NamedTuple):
    """Those of one rule under many settings, as arrays of one length, by setting and subject in the order of time.

    subjects: of which there are some. setting: number of the setting; subject: number in ``subjects``.
    raised, over: microseconds; over is ``NEVER`` where ``Occurrence`` has None.
    """

    rule: str
    subjects: tuple[Subject, ...]
    setting: NDArray[np.int32]
    subject: NDArray[np.int32]
    raised: Instants
    over: Instants

    def of(self, setting: int) -> Iterator[Occurrence]:
        """Those under one setting, by subject."""
        first, last = np.searchsorted(self.setting, [setting, setting + 1])
        for number in range(first, last):
            over = int(self.over[number])
            yield Occurrence(
                self.rule,
                self.subjects[self.subject[number]],
                Micros(int(self.raised[number])),
                None if over == NEVER else Micros(over),
            )


def evaluate(sight: Sight, settings: Sequence[RuleFigures]) -> Occurrences:
    """What the rule would have told under each of the settings; the same as a replay with it, alert by alert.

    All of them are evaluated together; whoever has more than some ten thousand does better to take them in turns, as
    each occurrence takes 24 bytes.

    Raises:
        RuleError: the rule's conditions cannot be compiled.
    """
    program = compiled(sight.rule)
    once = sight.rule.stands_until == "settled"
    alike: dict[Bounds, list[int]] = defaultdict(list)
    for number, figures in enumerate(settings):
        alike[Bounds(figures.deadband, figures.limits)].append(number)
    subjects: dict[Subject, int] = {}
    parts: list[tuple[Instants, Instants, Instants, Instants]] = []
    for bounds in _chunks(list(alike)):
        says = said(sight, program, bounds)
        numbers = np.array([number for each in bounds for number in alike[each]])
        column = np.repeat(np.arange(len(bounds)), [len(alike[each]) for each in bounds])
        on = np.array([settings[number].on_delay for number in numbers], np.int64)
        off = np.array([settings[number].off_delay for number in numbers], np.int64)
        for found in conditions(sight, says):
            machine = _Machine(on, off, says, column, once=once)
            machine.run(found, sight.until)
            setting, raised, over = machine.told()
            subject = subjects.setdefault(found.subject, len(subjects))
            parts.append((numbers[setting], np.full(len(setting), subject), raised, over))
    return _gathered(sight.rule.id, tuple(subjects), parts)


def _chunks(bounds: Sequence[Bounds]) -> Iterator[Sequence[Bounds]]:
    """So many at once that what they say of a hundred thousand rows stays below a hundred megabytes."""
    return (bounds[start : start + AT_ONCE] for start in range(0, len(bounds), AT_ONCE))


def _gathered(
    rule: str, subjects: tuple[Subject, ...], parts: Sequence[tuple[Instants, Instants, Instants, Instants]]
) -> Occurrences:
    if not parts:
        nothing = np.zeros(0, np.int64)
        return Occurrences(rule, (), nothing.astype(np.int32), nothing.astype(np.int32), nothing, nothing)
    setting, subject, raised, over = (np.concatenate(column) for column in zip(*parts, strict=True))
    order = np.lexsort((np.arange(len(setting)), subject, setting))
    return Occurrences(
        rule,
        subjects,
        setting[order].astype(np.int32),
        subject[order].astype(np.int32),
        raised[order],
        over[order],
    )


class _Machine:
    """One alert under many settings at once: at rest, rising, raised or clearing, as in rules/alerts.py.

    on, off: delays in microseconds, one for each setting, as all arrays here.
    says: what the conditions say; column: where, for each setting. once: told at most once, and then it stands.
    """

    def __init__(self, on: Instants, off: Instants, says: Says, column: Instants, *, once: bool) -> None:
        many = len(on)
        self._on, self._off, self._once = on, off, once
        self._says, self._column = says, column
        self._suppresses = bool(says.hides.any() or says.hides_on.any())
        self._active = np.zeros(many, np.bool_)
        self._due = np.full(many, NEVER, np.int64)
        self._soonest = int(NEVER)
        self._suppressed = np.zeros(many, np.bool_)
        self._out = False
        self._shown = np.zeros(many, np.bool_)
        self._open = np.full(many, -1, np.int64)
        self._count = 0
        self._begun: list[tuple[Instants, Instants]] = []
        self._ended: list[tuple[Instants, Instants]] = []

    def run(self, found: Conditions, until: Micros) -> None:
        """Live through all looks, and up to ``until``."""
        looks = zip(found.at.tolist(), found.before.tolist(), found.what.tolist(), strict=True)
        for at, before, what in looks:
            if self._soonest < before:
                self._fire(before)
            if what >= 0:
                self._judge(at, what)
            else:
                self._mark(at, what)
        self._fire(until + 1)

    def told(self) -> tuple[Instants, Instants, Instants]:
        """Number of the setting, raised, over (``NEVER``: not), in the order of time within each setting."""
        setting = np.concatenate([numbers for numbers, _ in self._begun]) if self._begun else np.zeros(0, np.int64)
        raised = np.concatenate([at for _, at in self._begun]) if self._begun else np.zeros(0, np.int64)
        over = np.full(len(raised), NEVER, np.int64)
        for place, at in self._ended:
            over[place] = at
        return setting, raised, over

    def _fire(self, before: int) -> None:
        fired = self._due < before
        at = np.where(fired, self._due, 0)
        self._active ^= fired
        self._due[fired] = NEVER
        self._soonest = int(self._due.min())
        self._tell(at)

    def _judge(self, at: int, what: int) -> None:
        active, column, says = self._active, self._column, self._says
        asked = np.where(active, says.stays[what][column], says.holds[what][column])
        if self._suppresses:
            self._suppressed = np.where(active, says.hides_on[what][column], says.hides[what][column])
        differs = asked != active
        starts = differs & (self._due == NEVER)
        delay = np.where(active, self._off, self._on)
        self._due = np.where(starts & (delay > 0), at + delay, np.where(differs, self._due, NEVER))
        self._active = active ^ (starts & (delay == 0))
        self._soonest = int(self._due.min())
        # What is hidden is hidden before the look takes effect and shown after it: only its end is told of.
        self._tell(np.full(len(active), at, np.int64))

    def _mark(self, at: int, what: int) -> None:
        if what in (HELD, GONE):
            self._due[:] = NEVER
            self._soonest = int(NEVER)
        if what == GONE:
            self._active[:] = self._suppressed[:] = False
        if what in (OUT, BACK):
            self._out = what == OUT
        self._tell(np.full(len(self._active), at, np.int64))

    def _tell(self, at: Instants) -> None:
        before, self._shown = self._shown, self._active & ~self._suppressed & (not self._out)
        changed = before != self._shown
        if not changed.any():
            return
        begun = np.flatnonzero(changed & self._shown & ((self._open < 0) if self._once else True))
        self._open[begun] = self._count + np.arange(len(begun))
        self._count += len(begun)
        self._begun.append((begun, at[begun]))
        if not self._once:
            ended = np.flatnonzero(changed & before)
            self._ended.append((self._open[ended], at[ended]))
