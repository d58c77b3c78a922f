"""What a screen can show of the figures of rules and trackers."""

from dataclasses import dataclass

from rules.readings import Micros


@dataclass(frozen=True, slots=True)
class FigureOrdered:
    """By whose command a figure is what it is, and since when."""

    who: str
    role: str
    why: str
    since: Micros


@dataclass(frozen=True, slots=True)
class FigurePicture:
    """A figure by its name, as in ``rules.figures``.

    value: in force, in ``unit``; low, high: what it may be. given: what the site file says.
    text, source: what it is for, and where the default comes from. ordered: None where the site file's is in force.
    """

    name: str
    value: float
    unit: str
    low: float
    high: float
    text: str
    source: str
    given: float
    ordered: FigureOrdered | None
