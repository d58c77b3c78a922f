"""Events of alerts and pages by seconds of the test, as the engine tells them."""

from rules.alert_events import (
    AlertAcknowledged,
    AlertMoved,
    AlertOver,
    AlertRaised,
    NobodyOnDuty,
    PageAsked,
    PageReported,
    PageWithdrawn,
)
from rules.alert_words import Cause, Confirmation, PageEnd, PageWhy, Priority, State
from rules.load import EVERYTHING, Load, Which, load_of
from rules.readings import DAY, Micros
from rules.stretch import Stretch
from tests.rules.feeder import instant

RULE, SUBJECT = "cord-left", "cart cart-1"

HOUR_SECONDS, DAY_SECONDS = 3600, 86_400

AlertTold = AlertRaised | AlertAcknowledged | AlertMoved | AlertOver
PageTold = PageAsked | PageReported | PageWithdrawn | NobodyOnDuty


def raised(
    at: float, alert: str = "alert-1", rule: str = RULE, subject: str = SUBJECT, priority: Priority = Priority.LOW
) -> AlertRaised:
    return AlertRaised(
        at=instant(at), alert=alert, rule=rule, subject=subject, priority=priority, text="It is so", advice=""
    )


def acknowledged(at: float, alert: str = "alert-1") -> AlertAcknowledged:
    return AlertAcknowledged(at=instant(at), alert=alert, who="R. Tech")


def over(at: float, alert: str = "alert-1", why: str = "cleared") -> AlertOver:
    return AlertOver.model_validate({"at": instant(at), "alert": alert, "why": why})


def moved(at: float, before: State, after: State, cause: Cause, alert: str = "alert-1", rule: str = RULE) -> AlertMoved:
    return AlertMoved(at=instant(at), alert=alert, rule=rule, subject=SUBJECT, before=before, after=after, cause=cause)


def returned(at: float, alert: str = "alert-1") -> AlertMoved:
    return moved(at, State.UNACKNOWLEDGED, State.RETURNED, Cause.CONDITION_ENDED, alert)


def came_back(at: float, alert: str = "alert-1") -> AlertMoved:
    return moved(at, State.RETURNED, State.UNACKNOWLEDGED, Cause.CONDITION_CAME_BACK, alert)


def each(times: list[float], **further: str) -> list[AlertTold]:
    """An alert raised at each of the times, each of a subject of its own unless told otherwise, and never over."""
    return [raised(at, f"alert-{n}", **{"subject": f"cart {n}", **further}) for n, at in enumerate(times)]


def asked(
    at: float,
    page: str = "page-1",
    *alerts: str,
    why: PageWhy = PageWhy.FIRST,
    role: str = "nurse",
    contact: str = "pager-1",
) -> PageAsked:
    return PageAsked(
        at=instant(at),
        page=page,
        why=why,
        alerts=alerts,
        route="all",
        tier=0,
        role=role,
        contact=contact,
        channel="snpp",
        leg=0,
        priority=Priority.LOW,
        brief="It is so",
        text="It is so",
    )


def reported(
    at: float, page: str, outcome: Confirmation | PageEnd = Confirmation.ACCEPTED, *, in_time: bool = True
) -> PageReported:
    return PageReported(at=instant(at), page=page, outcome=outcome, detail="", in_time=in_time)


def stretch(since: float = 0, until: float = DAY_SECONDS) -> Stretch:
    """Its days are 24 h each, from its start on."""
    start, end = instant(since), instant(until)
    return Stretch(start, end, tuple(Micros(day) for day in range(start, end, DAY)))


def load(
    *events: AlertTold | PageTold, since: float = 0, until: float = DAY_SECONDS, which: Which = EVERYTHING
) -> Load:
    """The figures of some events, in the order of their time."""
    return load_of(sorted(events, key=lambda event: event.at), stretch(since, until), which)
