"""Commands and what is told of alerts, without the names in them."""

from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel

from gateway.pseudonyms import Kind, Pseudonyms
from gateway.renaming import (
    Act,
    Removal,
    blank,
    day,
    gone,
    instant,
    keep,
    named,
    of,
    person,
    place,
    removed,
    sensor,
    soak,
    thing,
)
from rules import alert_commands as alerts
from rules import commands as entries
from rules.acts import Acted
from rules.alert_events import (
    AlertAcknowledged,
    AlertEvent,
    AlertMoved,
    AlertOver,
    AlertRaised,
    AlertTakenOver,
    ServiceChanged,
)
from rules.alert_events import SoundPaused as SoundIsPaused
from rules.commands import Command
from rules.figure_commands import SetFigures, WithdrawFigures


def _values(values: Mapping[str, float], removal: Removal) -> dict[str, float]:
    return {removal.names.figure(name): value for name, value in values.items()}


def _strike(entry: Any, removal: Removal) -> Any:
    return removal.renamed(entry, COMMANDS)


_RULE = of(Kind.RULE)
_ROLE = of(Kind.ROLE)
_CONTACT = of(Kind.CONTACT)
_ALERT_ID = named(lambda names, name: names.numbered(Kind.ALERT, name))
_PAGE_ID = named(lambda names, name: names.numbered(Kind.PAGE, name))
_DEED: Mapping[str, Act] = {"arrived": instant, "who": person, "kind": keep}
_ALERT: Mapping[str, Act] = {**_DEED, "alert": _ALERT_ID, "page": _PAGE_ID}
_DONE: Mapping[str, Act] = {**_DEED, "measured": instant}
_BASIN: Mapping[str, Act] = {**_DONE, "basin": of(Kind.BASIN)}
_PROBE: Mapping[str, Act] = {**_DONE, "probe": of(Kind.PROBE)}
_CART: Mapping[str, Act] = {**_DONE, "cart": of(Kind.CART)}
_LOT = of(Kind.LOT)

COMMANDS: Mapping[type[BaseModel], Mapping[str, Act]] = {
    alerts.Acknowledge: _ALERT,
    alerts.Decline: {**_ALERT, "own_contact": _CONTACT},
    alerts.HandOver: {**_ALERT, "role": _ROLE},
    alerts.TakeOver: {**_ALERT, "holder": person},
    alerts.Settle: {**_ALERT, "why": removed},
    alerts.Shelve: {**_ALERT, "minutes": keep, "one_shot": keep, "why": removed},
    alerts.Unshelve: _ALERT,
    alerts.TakeOut: {**_DEED, "thing": thing, "rule": _RULE, "role": _ROLE, "why": removed},
    alerts.PutBack: {**_DEED, "thing": thing, "rule": _RULE, "role": _ROLE},
    alerts.PauseSound: {**_DEED, "minutes": keep},
    alerts.TryPages: _DEED,
    alerts.PageTold: {**_DEED, "page": _PAGE_ID, "outcome": keep, "detail": blank},
    entries.Pour: {
        **_BASIN,
        "lot": _LOT,
        "label": of(Kind.LABEL),
        "printed_expiry": day,
        "opened": day,
        "opened_days": keep,
    },
    entries.TopUp: {**_BASIN, "lot": _LOT},
    entries.Discard: _BASIN,
    entries.StripRead: {**_BASIN, "result": keep, "dipped": instant, "lot": _LOT, "expiry": day},
    entries.Contact: {**_PROBE, "surface": keep, "covered": keep, "percutaneous": keep, "exam": of(Kind.EXAM)},
    entries.StepsDone: {**_PROBE, "steps": keep, "times": keep, "remark": removed},
    entries.Placed: {**_PROBE, "place": keep, "thing": place},
    entries.Claim: {**_PROBE, "soak": soak, "role": _ROLE},
    entries.Vouch: {**_PROBE, "role": _ROLE, "why": removed},
    entries.Inspected: {**_PROBE, "sound": keep, "remark": removed},
    entries.WipedDown: _CART,
    entries.GelOpened: {**_CART, "opened": day, "lot": _LOT},
    entries.GelDiscarded: _CART,
    entries.Strike: {**_DEED, "entry": _strike, "why": removed},
    entries.SensorFoundOff: {**_DEED, "sensor": sensor, "since": instant, "error_celsius": keep, "why": removed},
    Acted: {
        **_DEED,
        "key": keep,
        "measured": instant,
        "access": keep,
        "act": keep,
        "about": blank,
        "times": keep,
    },
    SetFigures: {**_DEED, "role": _ROLE, "values": _values, "why": removed},
    WithdrawFigures: {**_DEED, "role": _ROLE, "names": named(Pseudonyms.figure), "why": removed},
}

_TOLD: Mapping[str, Act] = {"at": instant, "kind": keep}

ALERTS: Mapping[type[BaseModel], Mapping[str, Act]] = {
    AlertRaised: {
        **_TOLD,
        "alert": _ALERT_ID,
        "rule": _RULE,
        "subject": named(Pseudonyms.subject),
        "priority": keep,
        "text": blank,
        "advice": blank,
    },
    AlertAcknowledged: {**_TOLD, "alert": _ALERT_ID, "who": person, "page": _PAGE_ID},
    AlertTakenOver: {**_TOLD, "alert": _ALERT_ID, "who": person, "holder": person, "page": _PAGE_ID},
    AlertOver: {**_TOLD, "alert": _ALERT_ID, "why": keep, "who": person, "remark": removed},
    AlertMoved: {
        **_TOLD,
        "alert": _ALERT_ID,
        "rule": _RULE,
        "subject": named(Pseudonyms.subject),
        "before": keep,
        "after": keep,
        "cause": keep,
        "who": person,
        "why": removed,
        "until": instant,
        "role": _ROLE,
        "page": _PAGE_ID,
        "own_contact": _CONTACT,
    },
    ServiceChanged: {
        **_TOLD,
        "thing": thing,
        "rule": _RULE,
        "out": keep,
        "who": named(lambda names, who: who and names.person(who)),
        "role": named(lambda names, role: role and names.of(Kind.ROLE, role)),
        "why": gone,
    },
    SoundIsPaused: {**_TOLD, "until": instant, "who": person},
}


def renamed_command(command: Command, removal: Removal) -> Command:
    """The command without names; raises RenamingError."""
    return removal.renamed(command, COMMANDS)


def bare_alert(event: AlertEvent, removal: Removal) -> AlertEvent:
    """What was told of an alert, without names and texts; raises RenamingError."""
    return removal.renamed(event, ALERTS)


def without_texts(event: AlertEvent) -> AlertEvent:
    """What an engine says of an alert from which names were taken, as it stands beside it in the file."""
    update: dict[str, object] = {}
    if isinstance(event, AlertRaised):
        update = {"text": "", "advice": ""}
    elif isinstance(event, ServiceChanged):
        update = {"why": None}
    return event.model_copy(update=update)
