"""A question about thresholds, and its answer: what `tune` writes and the bench page shows."""

from collections.abc import Iterable, Sequence
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field

from rules.part import Array, Part
from rules.readings import Micros

Name = Annotated[str, Field(min_length=1, max_length=120)]
"""A figure: ``rule.<rule id>.on_delay_seconds``, ``.off_delay_seconds``, ``.deadband``, ``.limits.<name>``, or
``threshold.<name>`` for a figure of the trackers."""

MOST_SETTINGS = 100_000
"""More are not tried for one question (ours: each is a point of the answer)."""

MOST_CHANGES_NAMED = 1000
"""So many changed alerts an answer names; the others are counted."""

MOST_DAYS_SHOWN = 7
"""Of so many days an answer has the time line (ours)."""

THIS_RECORD = "this record"
"""How a question names the record of whoever asks, wherever its folder is."""

WEEK_DAYS = 7

_ROUNDING = 1e-9
"""Exactly as many as may be are not too many."""


class Vary(Part):
    """A figure and the values to be tried."""

    figure: Name
    values: Annotated[tuple[float, ...], Field(strict=False, min_length=1, max_length=1000)]


class Proportion(Part):
    """``hits`` of ``of``, with a 95 % interval after Wilson."""

    hits: int
    of: int
    low: float
    high: float

    @property
    def share(self) -> float | None:
        """None where there was nothing to hit."""
        return self.hits / self.of if self.of else None


class Rate(Part):
    """``count`` in ``cart_days``, with an exact 95 % interval after Poisson, each per cart-day."""

    count: int
    cart_days: float
    low: float
    high: float

    @property
    def per_cart_day(self) -> float:
        """How many a cart makes in a day."""
        return self.count / self.cart_days

    @property
    def per_cart_week(self) -> float:
        """How many a cart makes in a week."""
        return WEEK_DAYS * self.per_cart_day


class Delay(Part):
    """From the start of what went wrong to its alert, in seconds, of what was detected.

    median, p95: by nearest rank. low, high: 95 % intervals of order statistics, None where there are too few for one.
    """

    count: int
    median: float
    median_low: float | None
    median_high: float | None
    p95: float
    p95_low: float | None
    p95_high: float | None


class Judged(Part):
    """How a setting does: what it detects, how often it is wrong, how late it tells.

    alerts: all that are raised, right or wrong. detected, false_alerts: None where no truth is known, as of real days:
    then they are not measured. delay: None where nothing is detected, too.
    """

    alerts: Rate
    detected: Proportion | None
    false_alerts: Rate | None
    delay: Delay | None


class Kept(StrEnum):
    """Whether a goal is kept, by 95 % intervals."""

    MET = "met"
    """The worse ends of the intervals keep it, too: there was enough to tell by."""
    NOT_SHOWN = "not shown by so little"
    """What was counted keeps it, the worse ends do not."""
    NOT_MET = "not met"
    """What was counted does not keep it."""
    NOT_MEASURED = "not measured"
    """Nobody knows what went wrong, or nothing did."""


class Goal(Part):
    """What a suggestion has to keep: no more than so many false alerts of a cart in a week, and no less detected.

    least_detected: share; of what keeps it, the one with the most detected, then the soonest told, is suggested.
    each_rule: of what each rule is for by itself so much is to be detected, too, and not only of all together.
    """

    most_false_per_cart_week: Annotated[float, Field(ge=0, le=10_000)] = 1
    least_detected: Annotated[float, Field(ge=0, le=1)] = 0
    each_rule: bool = False

    @property
    def words(self) -> str:
        """``at most 1 false alert of a cart in a week and at least 80 % of what went wrong detected``."""
        count = self.most_false_per_cart_week
        said = f"at most {count:g} false {'alert' if count == 1 else 'alerts'} of a cart in a week"
        if not self.least_detected:
            return said
        each = ", also of what each rule is for by itself" if self.each_rule else ""
        return f"{said} and at least {100 * self.least_detected:.3g} % of what went wrong detected{each}"

    def kept_by(self, judged: Judged) -> bool:
        """Whether the figures counted keep it; never where that was not measured, or nothing went wrong."""
        false, detected = judged.false_alerts, judged.detected
        if false is None or detected is None or not detected.of:
            return False
        most = self.most_false_per_cart_week * false.cart_days / WEEK_DAYS
        return false.count <= most + _ROUNDING and self.is_enough(detected.hits, detected.of)

    def is_enough(self, hits: int, of: int) -> bool:
        """Whether so many are enough to be detected."""
        return hits >= self.least_detected * of - _ROUNDING

    def verdict(self, judged: Judged, of_rules: Iterable[Judged] = ()) -> Kept:
        """Whether it is kept; of_rules: how each of several rules does by itself."""
        false, detected = judged.false_alerts, judged.detected
        if false is None or detected is None or not detected.of:
            return Kept.NOT_MEASURED
        alone = [self.of_rule(one) for one in of_rules] if self.each_rule else []
        if not self.kept_by(judged) or Kept.NOT_MET in alone:
            return Kept.NOT_MET
        is_sure = WEEK_DAYS * false.high <= self.most_false_per_cart_week and detected.low >= self.least_detected
        return Kept.MET if is_sure and Kept.NOT_SHOWN not in alone else Kept.NOT_SHOWN

    def of_rule(self, judged: Judged) -> Kept:
        """Whether enough is detected of what one rule is for."""
        detected = judged.detected
        if detected is None or not detected.of:
            return Kept.NOT_MEASURED
        if not self.is_enough(detected.hits, detected.of):
            return Kept.NOT_MET
        return Kept.MET if detected.low >= self.least_detected else Kept.NOT_SHOWN


class Asked(Part):
    """The question.

    rules: whose alerts are judged, by id. on: folders with a record or ``THIS_RECORD``, names of scenarios, or
    'population:DAYSxCARTS'.
    held_out: the share of days and scenarios that a suggestion is not chosen by but judged by. seed: of what is drawn.
    least_seconds: what went wrong for a shorter time is neither missed nor falsely told.
    grace_seconds: so long after its end it may still be told of; by default what may lie between two reports of a
    sensor (threshold 'max_gap_seconds').
    last_days: of a record only so many days before its end; None: all of it.
    """

    rules: Annotated[tuple[str, ...], Field(strict=False, min_length=1, max_length=50)]
    vary: Annotated[tuple[Vary, ...], Field(strict=False, min_length=1, max_length=8)]
    on: Annotated[tuple[str, ...], Field(strict=False, min_length=1, max_length=200)]
    goal: Goal = Goal()
    held_out: Annotated[float, Field(ge=0, le=0.9)] = 0.5
    seed: int = 7
    least_seconds: Annotated[float, Field(ge=0, le=86_400)] = 3
    grace_seconds: Annotated[float, Field(ge=0, le=3600)] = 60
    last_days: Annotated[int, Field(ge=1, le=3660)] | None = None


class Point(Part):
    """A setting and how it does. best: nothing else detects as much, with as few false alerts and as soon, and more."""

    values: dict[str, float]
    judged: Judged
    best: bool


Aspect = Literal["present", "suggested", "present_held_out", "suggested_held_out"]
"""Of which figures it is told, and whether on what they were chosen by or on what was held out."""


class OfRule(Part):
    """How one of several rules does by itself, as the fields of those names in ``Answer`` tell of all together."""

    rule: str
    present: Judged
    suggested: Judged | None
    present_held_out: Judged | None
    suggested_held_out: Judged | None

    def judged(self, aspect: Aspect) -> Judged | None:
        """One of them."""
        found: Judged | None = getattr(self, aspect)
        return found


class Change(Part):
    """What would become of one alert.

    on: of which record, scenario or population. was, would_be: when it was and would be raised, None where it was or
    is not. real: whether it tells of what really went wrong; None where nobody knows.
    """

    on: str
    kind: Literal["vanishes", "appears", "moves"]
    rule: str
    subject: str
    was: Micros | None
    would_be: Micros | None
    real: bool | None


class Truth(Part):
    """What really went wrong, and whether it was told with the figures in force and with those suggested.

    end: None where it still went on. suggested: None where nothing is suggested.
    """

    start: Micros
    end: Micros | None
    present: bool
    suggested: bool | None


class Raised(Part):
    """An alert. end: None where it still stood. real: as in ``Change``."""

    at: Micros
    end: Micros | None
    real: bool | None


class Lane(Part):
    """What happened on a day to one subject that a rule is about; suggested: empty where nothing is suggested."""

    rule: str
    subject: str
    truths: Array[Truth]
    present: Array[Raised]
    suggested: Array[Raised] = ()


class Day(Part):
    """A day of what was tuned on, as its time line shows it.

    on: which recording, scenario or population it is of. zone: of its clocks, by its name in the tz database.
    is_measured: whether is known what went wrong; where not, there are no truths.
    """

    on: str
    zone: str
    since: Micros
    until: Micros
    lanes: Array[Lane]
    is_measured: bool = True


def of_both(changes: Sequence[Change], most: int) -> tuple[Change, ...]:
    """The first of them, in their order: as many of what is known to be real or false as of the rest, where it can be.

    A record has alerts of which nobody knows; without this they would crowd out those that can be judged, or be so.
    """
    known = [number for number, change in enumerate(changes) if change.real is not None]
    rest = [number for number, change in enumerate(changes) if change.real is None]
    half = most // 2
    kept = known[: max(half, most - len(rest))] + rest[: max(most - half, most - len(known))]
    return tuple(changes[number] for number in sorted(kept))


class Counted(Part):
    """How many alerts change in one way."""

    kind: Literal["vanishes", "appears", "moves"]
    real: bool | None
    count: int


class Answer(Part):
    """What came of it.

    points: every setting tried, on what it was chosen by; present: with the figures in force; suggested: number of a
    point, None where none keeps the goal, and ``why_none`` says so; why_chosen: why this one and no other that keeps
    it. held_out: how present and suggested figures do on what was held out; None where nothing was. of_rules: the same
    of each rule, where there are several: what is suggested may serve them all and yet one of them ill.
    changes: from present to suggested figures, or to the only other ones where one setting is tried, by time, at most
    ``MOST_CHANGES_NAMED``, chosen by ``of_both``; change_counts: all of them.
    unchanged: alerts that stay as they are. notes: what else is to be known before the figures are read.
    days: some of the days, those first on which most would change, those of which the truth is known and
    the others by turns; at most ``MOST_DAYS_SHOWN``, of 30 lanes each.
    """

    asked: Asked
    points: Array[Point]
    present: Point
    suggested: int | None
    why_none: str = ""
    why_chosen: str = ""
    present_held_out: Judged | None
    suggested_held_out: Judged | None
    of_rules: Array[OfRule] = ()
    changes: Array[Change]
    change_counts: Array[Counted] = ()
    unchanged: int = 0
    notes: Array[str] = ()
    days: Array[Day] = ()
    replays: int
    seconds: float

    @property
    def is_compared(self) -> bool:
        """Whether the present figures are compared with others, so that it is known which alerts would change."""
        return self.suggested is not None or len(self.points) == 1

    @property
    def chosen(self) -> Point | None:
        """The setting that is suggested."""
        return None if self.suggested is None else self.points[self.suggested]

    def judged(self, aspect: Aspect) -> Judged | None:
        """How present or suggested figures do; None where there are none, or nothing was held out."""
        match aspect:
            case "present":
                return self.present.judged
            case "suggested":
                return None if self.chosen is None else self.chosen.judged
            case "present_held_out":
                return self.present_held_out
            case "suggested_held_out":
                return self.suggested_held_out

    def verdict(self, aspect: Aspect) -> Kept | None:
        """Whether they keep the goal."""
        judged = self.judged(aspect)
        of_rules = [found for one in self.of_rules if (found := one.judged(aspect)) is not None]
        return None if judged is None else self.asked.goal.verdict(judged, of_rules)
