"""Solutions as the record tells of them: each filling of a basin from its pour to its discard."""

from dataclasses import dataclass
from enum import StrEnum

from gateway.days import ALWAYS
from gateway.told import BasinPlace, Struck
from rules.exposure import Span
from rules.readings import Micros
from rules.solution import Clocks, Discarded, SolutionLot, Strip, ToppedUp
from rules.verdict import Reason


@dataclass(frozen=True, slots=True)
class LoggedStrip:
    """A strip; ``faults``: why it does not count as one that passed, empty where it does.

    number: of its event in the record. struck: None where it counts.
    """

    number: int
    strip: Strip
    faults: tuple[Reason, ...]
    struck: Struck | None = None


@dataclass(frozen=True, slots=True)
class LoggedSolution:
    """A basin's filling.

    number: of the event of its pour. lot: as it was poured, ``lot.at`` when: with that it was activated.
    chemistry: of the label that it was poured under, '' where the site had no such label.
    clocks: when printed expiry, opened bottle and reuse life are over; the earliest binds (``clocks.until``).
    topped_up: in order. end: when the next pour or discard ended it, None while it is in the basin.
    discarded: how it ended, None where another pour did, or where it is still there.
    strips: in order, struck ones too. soaks: ids of the soaks that began in it, in order.
    struck: the pour itself was struck.
    """

    number: int
    place: BasinPlace
    lot: SolutionLot
    chemistry: str
    clocks: Clocks
    topped_up: tuple[ToppedUp, ...]
    end: Micros | None
    discarded: Discarded | None
    strips: tuple[LoggedStrip, ...]
    soaks: tuple[str, ...]
    struck: Struck | None = None


class SolutionOrder(StrEnum):
    """By what solutions can be listed."""

    POURED = "poured"
    BASIN = "basin"
    CHEMISTRY = "chemistry"
    LOT = "lot"


@dataclass(frozen=True, slots=True)
class SolutionFilter:
    """Which solutions: of a basin, poured in this time, with a text in lot, label or who poured; None, '': any."""

    basin: str | None = None
    during: Span = ALWAYS
    text: str = ""
