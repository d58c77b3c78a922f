"""One thing that really went wrong."""

from enum import StrEnum
from typing import NamedTuple

from rules.board import Subject, SubjectKind
from rules.readings import Micros


class Trouble(StrEnum):
    """What can go wrong; each is what one or more rules are for.

    The modules of this package say what each of them is, with source or as a choice of this project.
    """

    CORD_DOWN_ROLLING = "a cart rolls with a cord off its hook"
    PLUGGED_IN_ROLLING = "a cart rolls while it is plugged in"
    CORD_LEFT_OFF = "a cord lies off its hook, and nobody examines with it"
    WIPE_DOWN_OWED = "a wipe-down of a cart is owed"
    GEL_OUT_OF_DATE = "a gel bottle is out of date"
    SOAK_COLD = "a probe soaks in a solution that is too cold"
    SOAK_NEVER_DONE = "a soak will never be done"
    LID_OPEN_EARLY = "a lid is open over a soak that is not done"
    SOAK_TOO_SHORT = "a soak was shorter than the label asks for"
    SOAK_NOT_MET = "a soak was too cold, or in a solution that is not good"
    SOAK_UNCLAIMED = "nobody tells which probe was soaked"
    OVER_SOAK = "a probe soaks for longer than label or maker allow"
    SOLUTION_ENDS_SOON = "a solution is in its last day"
    SOLUTION_OUT_OF_DATE = "a solution is out of date"
    SOLUTION_SPENT = "a solution is below its least concentration"
    USED_AGAIN = "a probe is used before what it owes was done"
    USED_UNCLEANED = "a probe is used on skin again uncleaned"
    ROLLS_AWAY = "a probe that owes disinfection is moved on its cart"
    WAITS = "a probe waits for cleaning"
    WAITS_LONG = "a probe waits for cleaning for so long that it dries"
    WRONG_BASIN = "a probe is in a basin that its maker does not allow"
    KNOCKED = "a probe was knocked, and not looked over"
    VAPOUR = "vapour is rising"
    SENSOR_SILENT = "a sensor says nothing"
    DEVICE_OFFLINE = "a device is out of reach, or has no power"
    SENSOR_WRONG = "a sensor tells what is not so"
    CLOCK_WRONG = "a device's clock is wrong"


class Episode(NamedTuple):
    """From ``start`` up to, not including, ``end`` it was so; ``end`` None: it still was when the ward was left.

    subject: what it is about, as ``concerned`` tells of an alert.
    """

    trouble: Trouble
    subject: Subject
    start: Micros
    end: Micros | None


def concerned(subject: Subject) -> Subject:
    """What an alert about ``subject`` is about in a ward, where soaks have no numbers and rooms belong to stations."""
    if subject.kind is SubjectKind.SOAK:
        return Subject(SubjectKind.BASIN, subject.id.rpartition(".")[0])
    if subject.kind is SubjectKind.ROOM:
        return Subject(SubjectKind.ROOM, subject.id.partition("/")[0])
    return subject
