"""What screens show of alerts."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from rules.alert_register import Alert, AlertRegister, Out, Shelf, subject_words
from rules.alert_words import HIDDEN, Priority
from rules.belonging import Belonging
from rules.picture import AlertPicture, OutPicture
from rules.readings import Micros
from rules.ruleset import RuleBook

_URGENCY = {Priority.HIGH: 0, Priority.MEDIUM: 1, Priority.LOW: 2}


@dataclass(frozen=True, slots=True)
class AlertsPicture:
    """As in ``Picture``: both most urgent first, then oldest first."""

    alerts: tuple[AlertPicture, ...]
    hidden: tuple[AlertPicture, ...]
    out: tuple[OutPicture, ...]
    sound_paused_until: Micros | None


def draw_alerts(
    register: AlertRegister, book: RuleBook, belonging: Belonging, roles: Mapping[str, str]
) -> AlertsPicture:
    """All that people are told of, and what is kept from them; roles: their names by their ids."""
    state = register.state
    all_of_them = [
        _picture(alert, book, _aside(alert, register, belonging), roles)
        for alert in state.alerts.values()
        if alert.life.announced or alert.life.active
    ]
    return AlertsPicture(
        alerts=_in_order(alert for alert in all_of_them if alert.state not in HIDDEN),
        hidden=_in_order(alert for alert in all_of_them if alert.state in HIDDEN),
        out=tuple(OutPicture(out.thing, out.rule, out.since, out.who, out.why) for out in state.out),
        sound_paused_until=state.sound_until,
    )


def _in_order(alerts: Iterable[AlertPicture]) -> tuple[AlertPicture, ...]:
    return tuple(sorted(alerts, key=lambda a: (_URGENCY[a.priority], a.raised, a.id, a.rule, a.subject)))


def _aside(alert: Alert, register: AlertRegister, belonging: Belonging) -> Shelf | Out | None:
    """Who put it aside, and why; maintenance before the shelf, as in ``Life.aside``."""
    if alert.life.out:
        return register.out_of(alert.rule, belonging.of(alert.subject))
    return alert.shelf


def _picture(alert: Alert, book: RuleBook, aside: Shelf | Out | None, roles: Mapping[str, str]) -> AlertPicture:
    rule = book.rules[alert.rule].rule
    return AlertPicture(
        id=alert.id,
        rule=alert.rule,
        subject=subject_words(alert.subject),
        priority=rule.priority,
        text=alert.text,
        advice=alert.advice,
        raised=alert.raised,
        acknowledged_by=alert.acknowledged_by,
        acknowledged_at=alert.acknowledged_at,
        state=alert.life.state,
        holds=alert.life.active,
        returned=alert.returned,
        settles=rule.stands_until == "settled",
        asks=rule.stands_until == "seen",
        ends=rule.ends,
        aside_until=aside.until if isinstance(aside, Shelf) else None,
        aside_by=None if aside is None else aside.who,
        aside_why=None if aside is None else aside.why,
        reminded=alert.reminded,
        waits_since=alert.waits_since,
        handed_to="" if alert.handed_to is None else roles.get(alert.handed_to, alert.handed_to),
    )
