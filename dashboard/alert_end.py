"""How an alert ended, in words; and what the page of one that is over asks the record."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal
from zoneinfo import ZoneInfo

from dashboard.words import moment
from gateway.alert_log import AlertLine
from rules.readings import Micros

Why = Literal["cleared", "acknowledged", "settled", "no longer watched"]


@dataclass(frozen=True, slots=True)
class EndView:
    """What the record says of an alert that does not stand now; text: what happened, '' where none was ever raised."""

    said: str
    text: str = ""


ENDED: Mapping[Why, str] = {
    "cleared": "by itself",
    "acknowledged": "answered after what it told of had ended",
    "settled": "settled",
    "no longer watched": "no longer watched",
}
"""How an alert ended, in a list."""

NEVER = EndView("There never was an alert of this number.")
NOT_YET = "No alert of this number stands now, and the record does not say yet how it ended."


def end_words(why: Why, who: str | None, remark: str | None = None) -> str:
    """``settled by Ana (cleaned up)``; who: who settled or answered it."""
    by = f" by {who}" if who else ""
    match why:
        case "settled":
            return f"settled{by}{f' ({remark})' if remark else ''}"
        case "acknowledged":
            return f"answered{by}, and what it told of had ended before"
        case "cleared":
            return "what it told of has ended"
        case "no longer watched":
            return "no longer watched, as the site file or the rules changed"


def end_view(line: AlertLine | None, now: Micros, zone: ZoneInfo) -> EndView:
    """Of an alert as the record knows it; None where it knows none."""
    if line is None:
        return NEVER
    if line.over is None or line.over_why is None:
        return EndView(NOT_YET, line.text)
    words = end_words(line.over_why, line.over_by or line.answered_by, line.remark)
    return EndView(f"It is over since {moment(line.over, now, zone)}: {words}.", line.text)
