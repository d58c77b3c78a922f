"""One thing that really went wrong."""

from enum import StrEnum
from typing import NamedTuple

from rules.board import Subject
from rules.readings import Micros


class Trouble(StrEnum):
    """What can go wrong; each is what one or more rules are for."""

    CORD_DOWN_ROLLING = "a cart rolls with a cord off its hook"
    PLUGGED_IN_ROLLING = "a cart rolls while it is plugged in"
    CORD_LEFT_OFF = "a cord lies off its hook, and nobody examines with it"
    WIPE_DOWN_OWED = "a wipe-down of a cart is owed"
    SOAK_COLD = "a probe soaks in a solution that is too cold"
    SOAK_NEVER_DONE = "a soak will never be done"
    LID_OPEN_EARLY = "a lid is open over a soak that is not done"
    SOAK_TOO_SHORT = "a soak was shorter than the label asks for"
    SOAK_NOT_MET = "a soak was too cold, or in a solution that is not good"
    OVER_SOAK = "a probe soaks for longer than label or maker allow"
    SOLUTION_OUT_OF_DATE = "a solution is out of date"
    SOLUTION_SPENT = "a solution is below its least concentration"
    USED_AGAIN = "a probe is used before what it owes was done"
    USED_UNCLEANED = "a probe is used on skin again uncleaned"
    ROLLS_AWAY = "a probe that owes disinfection is moved on its cart"
    WAITS = "a probe waits for cleaning"
    WRONG_BASIN = "a probe is in a basin that its maker does not allow"
    KNOCKED = "a probe was knocked, and not looked over"
    VAPOUR = "vapour is rising"
    SENSOR_SILENT = "a sensor says nothing"
    DEVICE_OFFLINE = "a device is out of reach, or has no power"
    SENSOR_WRONG = "a sensor tells what is not so"
    CLOCK_WRONG = "a device's clock is wrong"


class Episode(NamedTuple):
    """From ``start`` up to, not including, ``end`` it was so; ``end`` None: it still was when the ward was left.

    subject: what an alert about it is about.
    """

    trouble: Trouble
    subject: Subject
    start: Micros
    end: Micros | None
