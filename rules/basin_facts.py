"""What rules are told of a basin: whether it is soaking, how warm it is, and what came of its soaks."""

from rules.board import Subject, SubjectKind
from rules.desk import Desk
from rules.progress import Progress
from rules.readings import Micros
from rules.soaks import BasinSetup, BasinState, Phase, SoakRecord, outcome_facts
from rules.verdict import Verdict


class BasinFacts:
    """Publishes what is known of a basin and its soaks."""

    def __init__(self, setup: BasinSetup, desk: Desk, state: BasinState, progress: Progress) -> None:
        self._setup = setup
        self._board = desk.board
        self._state = state
        self._progress = progress
        self._subject = Subject(SubjectKind.BASIN, setup.id)
        self._present = setup.thresholds.present

    def describe(self) -> None:
        """Put the basin on the board."""
        conditions = self._setup.conditions
        self._board.add(
            self._subject,
            name=self._setup.name,
            min_celsius=conditions.min_celsius,
            guard_celsius=conditions.guard_celsius,
        )

    def temperature(self, celsius: float) -> None:
        """The thermometer told of the present."""
        board = self._board
        board.publish(self._subject, "solution_celsius", celsius)
        board.publish(self._subject, "temperature_known", True)  # noqa: FBT003 - the fact's value
        soak = self._progress.running()
        if soak is not None:
            board.publish(self._subject, "never_done", self._progress.outlook(soak).never_because is not None)

    def temperature_lost(self) -> None:
        """The thermometer has fallen silent: the present temperature is not known."""
        self._board.publish(self._subject, "temperature_known", False)  # noqa: FBT003 - the fact's value

    def temperature_corrected(self) -> None:
        """What was remembered was put right, the newest temperature too."""
        if self._state.warmth.last_at is not None:
            self._board.publish(self._subject, "solution_celsius", self._state.warmth.last_celsius)

    def soaking(self, now: Micros) -> None:
        """Whether a soak runs, was left open, or will never be done."""
        board, newest = self._board, self._progress.newest()
        lifted = newest.end if newest is not None and newest.phase is Phase.LIFTED else None
        recent = lifted is not None and now - lifted <= self._present
        board.publish(self._subject, "soaking", self._progress.running() is not None)
        board.publish(self._subject, "lid_open_over_soak", recent)
        board.publish(self._subject, "never_done", self._will_never_be_done(now))

    def _will_never_be_done(self, now: Micros) -> bool:
        """By the present temperature; one of long ago says nothing about now."""
        soak, last = self._progress.running(), self._state.warmth.last_at
        if soak is None or last is None or now - last > self._present:
            return False
        return self._progress.outlook(soak).never_because is not None

    def outcome(self, soak: SoakRecord, verdict: Verdict) -> None:
        """What came of an ended soak."""
        subject, facts = Subject(SubjectKind.SOAK, soak.id), outcome_facts(self._setup.name, soak.id, verdict)
        if subject not in self._board.facts:
            self._board.add(subject, **facts)
        for name, value in facts.items():
            self._board.publish(subject, name, value)

    def forget(self, soak: SoakRecord) -> None:
        """The soak is none, or so long ago that nothing is to be done about it."""
        self._board.remove(Subject(SubjectKind.SOAK, soak.id))
