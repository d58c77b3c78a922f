"""Probes as the record tells of them: each one's time line, and how it stood at an instant."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from gateway.days import ALWAYS
from gateway.part import Part
from gateway.soak_log import ProbeName
from gateway.told import JudgedBy, Told
from rules.exposure import Span
from rules.probe_events import ProbeStands
from rules.readings import Micros
from rules.standing import Standing


@dataclass(frozen=True, slots=True)
class ProbeLine:
    """A probe in a list; stands: how it stood by what was told last, None where nothing was told yet.

    cart, cart_name: the cart that it hangs on. in_site: whether the newest site file has it still.
    """

    probe: ProbeName
    cart: str
    cart_name: str
    in_site: bool
    stands: ProbeStands | None


class TimeLineOrder(StrEnum):
    """By what the time line of a probe can be listed."""

    HAPPENED = "happened"
    TOLD = "told"
    WHAT = "what"


@dataclass(frozen=True, slots=True)
class TimeLineFilter:
    """What is listed of a time line; None lets all through.

    during: when it happened. kind: of the events. says: whether one that was told says what is looked for.
    """

    during: Span = ALWAYS
    kind: str | None = None
    says: Callable[[Told], bool] | None = None


@dataclass(frozen=True, slots=True)
class ProbePage:
    """A part of what is known of one probe, by measured time; struck entries are there, shown as struck.

    Of a soak each telling is there; the newest counts. How the probe stood (``ProbeStands``) is there beside what led
    to it.
    """

    probe: ProbeName
    part: Part[Told, TimeLineOrder]


@dataclass(frozen=True, slots=True)
class ProbeAt:
    """How a probe stood at an instant.

    standing: by what is known today. told_then: what was made of it at that time, by what was known then; None where
    nothing is found that was told. terms: what it is judged by, the law in force at that instant. tracked: whether that
    law follows probes at all. is_cut: whether so much is on record that not all of it was looked at.
    """

    probe: ProbeName
    at: Micros
    standing: Standing
    told_then: ProbeStands | None
    terms: JudgedBy
    tracked: bool
    is_cut: bool = False
