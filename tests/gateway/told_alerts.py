"""A journal in which alerts were raised, answered, handed over and settled, and people told of them."""

from pathlib import Path

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
from rules.alert_words import Cause, Confirmation, PageWhy, Priority, State
from rules.events import Event
from tests.gateway.books import Book, site_text
from tests.rules.feeder import instant

DAY = 86_400


def raised(alert: str, at: float, rule: str = "soak-cold", text: str = "Basin 1: solution too cold") -> AlertRaised:
    return AlertRaised(
        at=instant(at),
        alert=alert,
        rule=rule,
        subject="basin basin-1",
        priority=Priority.HIGH,
        text=text,
        advice="Warm it.",
    )


def page(name: str, *alerts: str, at: float, why: PageWhy = PageWhy.FIRST) -> PageAsked:
    return PageAsked(
        at=instant(at),
        page=name,
        why=why,
        alerts=alerts,
        route="All",
        tier=0,
        role="tech",
        contact="pager-1",
        channel="pager",
        leg=0,
        priority=Priority.HIGH,
        brief="too cold",
        text="Basin 1: solution too cold",
    )


def moved(alert: str, at: float, cause: Cause, **more: object) -> AlertMoved:
    of = {"at": instant(at), "alert": alert, "rule": "soak-cold", "subject": "basin basin-1", "cause": cause}
    ends = {"before": State.UNACKNOWLEDGED, "after": State.UNACKNOWLEDGED}
    return AlertMoved.model_validate({**ends, **of, **more})


def settled(alert: str, at: float, remark: str = "reprocessed anew") -> AlertOver:
    return AlertOver(at=instant(at), alert=alert, why="settled", who="Ana", remark=remark)


STORY: tuple[Event, ...] = (
    raised("alert-1", 10),
    page("page-1", "alert-1", "alert-2", at=10),
    raised("alert-2", 11, "lid-open", "Basin 1: lid open"),
    NobodyOnDuty(at=instant(20), alerts=("alert-1",), route="All", tier=1, role="engineer"),
    PageReported(at=instant(25), page="page-1", outcome=Confirmation.DELIVERED, detail="880", in_time=True),
    moved("alert-1", 30, Cause.HANDED_OVER, role="charge-nurse", who="Ben"),
    AlertAcknowledged(at=instant(40), alert="alert-1", who="Ana", page="page-1"),
    PageWithdrawn(at=instant(41), page="page-1"),
    settled("alert-1", 50),
    page("page-2", "alert-2", at=60),
)
"""Alert 1 from its beginning to its end; alert 2 beside it still stands."""


def told_alerts(folder: Path, *more: Event) -> Path:
    """The journal with that story, and more."""
    book = Book(folder, site_text("Europe/Lisbon")).note(*STORY, *more)
    book.closed()
    return book.path
