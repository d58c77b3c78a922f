"""What the record tells of alerts: each in a line, and the whole of one."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from gateway.days import ALWAYS
from gateway.found import Found
from rules.alert_words import Priority
from rules.exposure import Span
from rules.readings import Micros


@dataclass(frozen=True, slots=True)
class AlertFilter:
    """Which alerts: raised in this time, with a text in their words, rule or thing, of a priority; None, '': any."""

    during: Span = ALWAYS
    text: str = ""
    priority: Priority | None = None


@dataclass(frozen=True, slots=True)
class AlertLine:
    """An alert that was raised.

    number: of the event that raised it. answered, answered_by: first. over, over_why: None while it is not over.
    over_by, remark: of whoever settled it.
    """

    number: int
    alert: str
    rule: str
    subject: str
    priority: Priority
    text: str
    raised: Micros
    answered: Micros | None = None
    answered_by: str | None = None
    over: Micros | None = None
    over_why: Literal["cleared", "acknowledged", "settled", "no longer watched"] | None = None
    over_by: str | None = None
    remark: str | None = None


class AlertOrder(StrEnum):
    """By what alerts can be listed."""

    RAISED = "raised"
    PRIORITY = "priority"
    RULE = "rule"
    WHERE = "where"
    ANSWERED = "answered"
    OVER = "over"


@dataclass(frozen=True, slots=True)
class AlertStory:
    """One alert, and all that was told of it and of the pages about it, in the order of telling."""

    line: AlertLine
    told: tuple[Found, ...]
