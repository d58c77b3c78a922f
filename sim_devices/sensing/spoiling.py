"""What can be wrong with a message by the time it arrives."""

from enum import StrEnum


class Spoiling(StrEnum):
    """What is wrong with a spoilt message."""

    CUT = "the end is missing"
    NOISE = "bytes that are no text"
    WORD = "a word instead of a number"
    WRONG_UNIT = "a unit that the sensor does not have"
    DAY_AHEAD = "a clock that is a day ahead"
