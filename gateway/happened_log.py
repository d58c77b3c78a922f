"""Everything that happened in a stretch of time, whatever it is about, as the record tells it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from gateway.told import Told
from rules.alert_events import AlertRaised, PageAsked
from rules.exposure import Span

GROUPS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "soaks": ("soak started", "soak ended", "soak amended", "soak withdrawn", "probe soaked"),
        "solutions": ("solution poured", "solution topped up", "solution discarded", "strip taken"),
        "probes": ("probe touched", "probe stepped", "probe inspected", "probe vouched", "probe knocked"),
        "places": ("probe seen",),
        "standing": ("probe stands",),
        "carts": ("cart wiped", "gel changed", "past roll"),
        "alerts": (
            "alert raised",
            "alert acknowledged",
            "alert taken over",
            "alert over",
            "alert moved",
            "service changed",
            "sound paused",
        ),
        "pages": ("page asked", "page reported", "page withdrawn", "nobody on duty"),
        "corrections": ("entry struck", "sensor was off", "power-up value", "figures changed", "figures refused"),
    }
)
"""Kinds of events by what people call all of them."""


@dataclass(frozen=True, slots=True)
class HappeningFilter:
    """What of all that happened.

    during: when. group: one of ``GROUPS``. thing: id of the basin, cart, probe or place that it is about. by_people:
    whether somebody told it, or a sensor or the program itself. exam: reference of the exam that a contact was told
    with, whole, large letters or small. says: whether it says what is looked for. None: any.
    """

    during: Span
    group: str | None = None
    thing: str | None = None
    by_people: bool | None = None
    exam: str | None = None
    says: Callable[["Happening"], bool] | None = None


class HappeningOrder(StrEnum):
    """By what it can be listed."""

    HAPPENED = "happened"


@dataclass(frozen=True, slots=True)
class Happening:
    """Something that happened.

    told: ``measured`` is when it happened; of a soak that ended, when it did.
    alert: of which it tells, or for which a page was; None where it is of none that was raised.
    page: that it tells what became of; None where it is of none, or the outbox does not know it.
    """

    told: Told
    alert: AlertRaised | None = None
    page: PageAsked | None = None
