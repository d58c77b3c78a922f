"""Probes as the record tells of them: each one's time line, and how it stood at an instant."""

from dataclasses import dataclass

from gateway.soak_log import ProbeName
from gateway.told import JudgedBy, Told
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


@dataclass(frozen=True, slots=True)
class ProbePage:
    """What is known of one probe, the newest first by measured time; struck entries are there, shown as struck.

    Of a soak each telling is there; the newest counts. How the probe stood (``ProbeStands``) is there beside what led
    to it. older: hand it in as ``before`` for the next page, None where there is none.
    """

    probe: ProbeName
    told: tuple[Told, ...]
    older: int | None


@dataclass(frozen=True, slots=True)
class ProbeAt:
    """How a probe stood at an instant.

    standing: by what is known today. told_then: what was made of it at that time, by what was known then; None where
    nothing had been told. terms: what it is judged by, the law in force at that instant. tracked: whether that
    law follows probes at all.
    """

    probe: ProbeName
    at: Micros
    standing: Standing
    told_then: ProbeStands | None
    terms: JudgedBy
    tracked: bool
