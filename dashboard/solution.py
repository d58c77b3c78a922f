"""What the wall says of the solution in a basin, in few words."""

from dataclasses import dataclass
from enum import IntEnum
from zoneinfo import ZoneInfo

from dashboard.measure import BOLD, PLAIN
from dashboard.names import SECOND_PX
from dashboard.words import until
from rules.picture import BasinPicture, EndedSoak, SolutionPicture
from rules.readings import Micros
from rules.verdict import Outcome, Reason

UNCHECKED = "says nothing of solution, strip, cleaning"
CLEANING_UNCHECKED = "says nothing of cleaning"
STRIP_ENTRY_LATE = "test strip entry late"
STRIP_ENTERED_LATE = "strip entered late"
"""The same in lists, whose column says which strip."""
DO_NOT_USE = "do not use"
_STRIP_FAILED = "test strip failed"
STRIP_DUE = "test strip due"
ENTER_STRIP = "enter test strip"
"""Said while a soak runs for which no strip is entered."""
NO_STRIP_BEFORE = "no strip before it"
"""Said where one was read since: it tells of the next soak."""

_STRIP_LACKS = frozenset(
    {
        Reason.STRIP_MISSING,
        Reason.STRIP_INVALID,
        Reason.STRIP_OUT_OF_DATE,
        Reason.STRIP_DATE_MISSING,
        Reason.STRIP_MISTIMED,
    }
)
"""What another strip mends, as long as no soak has begun."""

_LARGE = {
    Outcome.SOLUTION_OUT_OF_DATE: ("Solution", "out of date"),
    Outcome.SOLUTION_DATE_MISSING: ("Solution", "date missing"),
    Outcome.OTHER_SOLUTION: ("Other", "solution"),
    Outcome.SOLUTION_NOT_RECORDED: ("Solution", "not recorded"),
    Outcome.STRIP_FAILED: ("Test strip", "failed"),
    Outcome.STRIP_INVALID: ("Test strip", "invalid"),
    Outcome.STRIP_OUT_OF_DATE: ("Test strip", "out of date"),
    Outcome.STRIP_DATE_MISSING: ("Test strip", "date missing"),
    Outcome.STRIP_MISTIMED: ("Strip read", "too early", "or late"),
    Outcome.STRIP_MISSING: ("Test strip", "not entered"),
}


_SHORT: dict[str, str] = {
    Outcome.SOLUTION_OUT_OF_DATE: "solution expired",
    Outcome.SOLUTION_DATE_MISSING: "no solution date",
    Outcome.SOLUTION_NOT_RECORDED: "no solution noted",
    Outcome.STRIP_MISTIMED: "strip mistimed",
    Outcome.STRIP_MISSING: "no test strip",
    Outcome.EXPOSURE_MET: "soak complete",
}


class Standing(IntEnum):
    """Whether the solution may be used; a lower number needs a person sooner."""

    BAD = 0
    DUE = 1
    GOOD = 2
    NOT_RECORDED = 3

    @property
    def word(self) -> str:
        """The standing as a style name."""
        return self.name.lower().replace("_", "-")


@dataclass(frozen=True, slots=True)
class SolutionView:
    """The solution in words, the most needed part first; ``first`` alone where there is room for one row.

    shorter: other words for all of it, for narrower rows.
    """

    standing: Standing
    first: str = ""
    then: str = ""
    shorter: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """All of it."""
        return f"{self.first}: {self.then}" if self.then else self.first

    def rows(self, width_px: float, most: int) -> tuple[str, ...]:
        """The words in rows of this width."""
        face = BOLD if self.standing is Standing.DUE else PLAIN  # as in wall.css
        for words in (self.words, *self.shorter):
            if face.ems(words) * SECOND_PX <= width_px:
                return (words,) if words else ()
        return (f"{self.first}:", self.then) if most > 1 and self.then else (self.first,)


def solution_view(basin: BasinPicture, now: Micros, zone: ZoneInfo) -> SolutionView:
    """Of the soak under way what it lacks; without one, what the next would lack."""
    solution = basin.solution
    if not solution.recorded:
        return SolutionView(Standing.NOT_RECORDED)
    if Reason.STRIP_FAILED in solution.lacking:
        return SolutionView(Standing.BAD, _STRIP_FAILED, DO_NOT_USE, (f"strip failed: {DO_NOT_USE}",))
    if basin.soak is not None and basin.soak.lacking:
        if basin.soak.lacking[0] is Reason.STRIP_MISSING and Reason.STRIP_MISSING not in solution.lacking:
            return SolutionView(Standing.BAD, NO_STRIP_BEFORE)  # one was read since, which tells of the next soak
        return SolutionView(Standing.BAD, *_fault(basin.soak.lacking[0]))
    view = _for_the_next(solution, now, zone, soaking=basin.soak is not None)
    late = basin.soak is not None and basin.soak.strip_entered is not None and view.standing is Standing.GOOD
    return _ENTERED_LATE if late else view


_ENTERED_LATE = SolutionView(Standing.GOOD, f"{STRIP_ENTRY_LATE}, after the lid closed", "", (STRIP_ENTRY_LATE,))


def _for_the_next(solution: SolutionPicture, now: Micros, zone: ZoneInfo, *, soaking: bool) -> SolutionView:
    faults = [reason for reason in solution.lacking if reason not in _STRIP_LACKS]
    if faults:
        return SolutionView(Standing.BAD, *_fault(faults[0]))
    if solution.lacking and not soaking:
        return SolutionView(Standing.DUE, *_due(solution.lacking[0]))
    return _good(solution.clocks.until, now, zone)


def is_fit(solution: SolutionPicture) -> bool:
    """Whether nothing is known that only fresh solution mends."""
    return _STRIP_LACKS.issuperset(solution.lacking)


def _good(end: Micros | None, now: Micros, zone: ZoneInfo) -> SolutionView:
    """Where there is no room for the hour it is told on the last day."""
    if end is None:
        return SolutionView(Standing.BAD, *_fault(Reason.SOLUTION_DATE_MISSING))
    whole = until(end, now, zone)
    day = whole if whole[-3] != ":" else whole.rpartition(" ")[0] or whole
    shorter = (f"solution until {whole}", f"solution until {day}", f"solution to {day}")
    return SolutionView(Standing.GOOD, f"solution good until {whole}", "", shorter)


def _fault(reason: Reason) -> tuple[str, str]:
    if reason is Reason.STRIP_MISSING:
        return ENTER_STRIP, ""
    if reason is Reason.STRIP_FAILED:
        return _STRIP_FAILED, DO_NOT_USE
    if reason is Reason.OTHER_SOLUTION:
        return reason.value, DO_NOT_USE
    return in_short(reason.value), ""


def _due(reason: Reason) -> tuple[str, str]:
    return (STRIP_DUE, "") if reason is Reason.STRIP_MISSING else (STRIP_DUE, _fault(reason)[0])


def large(outcome: Outcome) -> tuple[str, ...]:
    """An outcome in large words, a line each."""
    return _LARGE.get(outcome, (outcome.value[:1].upper() + outcome.value[1:],))


def in_short(outcome: str) -> str:
    """An outcome in a few words."""
    return _SHORT.get(outcome, outcome)


def is_doubted(soak: EndedSoak) -> bool:
    """Whether a strip failed after it, with no good one in between."""
    return soak.solution is not None and soak.solution.doubted_by is not None


def is_strip_late(soak: EndedSoak) -> bool:
    """Whether the strip that counts for it was entered only after it had begun."""
    return soak.solution is not None and soak.solution.check_entered is not None


def unchecked(*, recorded: bool) -> str:
    """What a verdict does not say."""
    return CLEANING_UNCHECKED if recorded else UNCHECKED
