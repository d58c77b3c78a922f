"""Events of alerts and pages in words."""

from collections.abc import Callable

from rules.alert_events import (
    AlertAcknowledged,
    AlertEvent,
    AlertMoved,
    AlertOver,
    AlertRaised,
    AlertTakenOver,
    NobodyOnDuty,
    PageAsked,
    PageEvent,
    PageReported,
    PageWithdrawn,
    ServiceChanged,
    SoundPaused,
)
from rules.readings import Micros

Name = Callable[[str | None], str]
"""The name of a thing by its id."""

Time = Callable[[Micros], str]


def alert_words(event: AlertEvent | PageEvent, name: Name, time: Time) -> str:
    """What the event says, its kind and when it was told left out."""
    return _of_page(event) if isinstance(event, PageEvent) else _of_alert(event, name, time)


def _of_alert(event: AlertEvent, name: Name, time: Time) -> str:
    match event:
        case AlertRaised(alert=alert, rule=rule, subject=subject, text=text):
            return f"{text} ({rule}, {subject}, {alert})"
        case AlertAcknowledged() | AlertTakenOver():
            return _answered(event)
        case AlertOver(alert=alert, why=why, who=who, remark=remark):
            return f"{alert}, {why}{by(who)}{because(remark)}"
        case AlertMoved():
            return _moved(event, time)
        case ServiceChanged(thing=thing, rule=rule, out=out, who=who, why=why):
            where = "out of service" if out else "back in service"
            return f"{name(thing)}, {rule or 'all rules'} {where}{by(who)}{because(why)}"
        case SoundPaused(until=until, who=who):
            return f"until {time(until)}{by(who)}"


def _answered(event: AlertAcknowledged | AlertTakenOver) -> str:
    holder = f" from {event.holder}" if isinstance(event, AlertTakenOver) else ""
    return f"{event.alert} by {event.who}{holder}{f', answering {event.page}' if event.page else ''}"


def _moved(event: AlertMoved, time: Time) -> str:
    what = event.alert or f"{event.rule}, {event.subject}"
    until = f" until {time(event.until)}" if event.until is not None else ""
    to = f" to {event.role}" if event.role else ""
    return f"{what}, {event.before} -> {event.after}, {event.cause}{to}{until}{by(event.who)}{because(event.why)}"


def _of_page(event: PageEvent) -> str:
    match event:
        case PageAsked(page=page, why=why, contact=contact, channel=channel, text=text):
            return f"{page} ({why}) to {contact} by {channel}: {text}"
        case PageWithdrawn(page=page):
            return page
        case PageReported(page=page, outcome=outcome, detail=detail):
            return f"{page} {outcome}{because(detail)}"
        case NobodyOnDuty(role=role, alerts=alerts):
            return f"{role}, for {', '.join(alerts)}"


def by(who: str | None) -> str:
    """Who did it, where that is known."""
    return f" by {who}" if who else ""


def because(why: str | None) -> str:
    """Why, where that was told."""
    return f": {why}" if why else ""
