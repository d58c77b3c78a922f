"""What people do about an alert: the fields of its form as a command, and in words what came of it."""

from collections.abc import Mapping, Sequence
from enum import StrEnum
from typing import Annotated
from zoneinfo import ZoneInfo

from pydantic import BeforeValidator, Field, StringConstraints

from dashboard.alert_end import end_words
from dashboard.forms import Blank, DeedError, NotTakenError, Signed, Text, Told, filled
from dashboard.one_alert import alert_of
from dashboard.visiting import VISITING
from dashboard.words import hour, listed, moment
from rules.alert_commands import Acknowledge, Decline, HandOver, PauseSound, Settle, Shelve, TakeOver, Unshelve
from rules.alert_events import AlertAcknowledged, AlertMoved, AlertOver, AlertTakenOver, PageAsked, SoundPaused
from rules.alert_words import HIDDEN, LETS_OFF, Cause, PageWhy
from rules.events import Event
from rules.picture import AlertPicture, Picture
from rules.readings import Micros

AlertCommand = Acknowledge | Decline | HandOver | TakeOver | Shelve | Unshelve | Settle | PauseSound

QUIET_MINUTES = 10
"""For so long a phone silences the walls (ours): long enough to get there, too short to be forgotten."""

UNTIL_IT_ENDS = "until it ends"

SHELF_REASONS = ("known, somebody is at it", "false alarm", "works on the equipment", "sensor is being changed")
DONE = ("reprocessed anew", "taken out of use", "checked, nothing to do", "cleaned up")
"""Common answers, ours; whoever has another writes it."""


class Deed(StrEnum):
    """What is done about an alert; the last part of the address to which it is sent."""

    ACKNOWLEDGE = "acknowledge"
    DECLINE = "decline"
    HAND_OVER = "hand-over"
    TAKE_OVER = "take-over"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    SETTLE = "settle"
    QUIET = "quiet"


Why = Annotated[str | None, StringConstraints(strip_whitespace=True, max_length=200), Blank]


class _Reasoned(Signed):
    """why: one of the common reasons; own: in other words, which count where there are any."""

    why: Why = None
    own: Why = None

    @property
    def reason(self) -> str:
        said = self.own or self.why
        if not said:
            raise _amiss("why")
        return said


class _ShelfForm(_Reasoned):
    minutes: Annotated[float | None, Field(gt=0), BeforeValidator(lambda said: None if said == UNTIL_IT_ENDS else said)]


class _SettleForm(Signed):
    done: Why = None
    done_own: Why = None

    @property
    def what(self) -> str:
        said = self.done_own or self.done
        if not said:
            raise _amiss("done")
        return said


class _HandOverForm(Signed):
    role: Text


class _TakeOverForm(Signed):
    """holder: who had it on the page from which it is taken over."""

    holder: Text


_EXPECTED = {
    "why": "Say why, in at most 200 characters: choose a reason or write your own.",
    "own": "Say why, in at most 200 characters.",
    "minutes": "Choose for how long it is put aside.",
    "done": "Say what was done, in at most 200 characters.",
    "done_own": "Say what was done, in at most 200 characters.",
    "role": "Choose to whom it is handed over.",
    "holder": "Say from whom you take it over: open the page of the alert anew.",
}


def _amiss(name: str) -> DeedError:
    return DeedError(_EXPECTED[name], {name: _EXPECTED[name]})


def entry_of(
    deed: Deed, fields: Mapping[str, str], alert: AlertPicture, picture: Picture, now: Micros, page: str | None = None
) -> AlertCommand:
    """The command that a form asks for; page: by whose link it is answered.

    Raises:
        DeedError: a field is missing or wrong.
    """
    who = filled(Signed, fields, _EXPECTED).who
    match deed:
        case Deed.ACKNOWLEDGE | Deed.DECLINE | Deed.UNSHELVE:
            own = {"own_contact": _own_contact()} if deed is Deed.DECLINE and page is None else {}
            return _PLAIN[deed](arrived=now, who=who, alert=alert.id, page=page, **own)
        case Deed.QUIET:
            return PauseSound(arrived=now, who=who, minutes=QUIET_MINUTES)
        case Deed.SETTLE:
            why = filled(_SettleForm, fields, _EXPECTED).what
            return Settle(arrived=now, who=who, alert=alert.id, page=page, why=why)
        case Deed.HAND_OVER:
            role = filled(_HandOverForm, fields, _EXPECTED).role
            if all(known.id != role for known in picture.roles):
                raise _amiss("role")
            return HandOver(arrived=now, who=who, alert=alert.id, page=page, role=role)
        case Deed.TAKE_OVER:
            holder = filled(_TakeOverForm, fields, _EXPECTED).holder
            return TakeOver(arrived=now, who=who, alert=alert.id, page=page, holder=holder)
        case Deed.SHELVE:
            return _shelve(filled(_ShelfForm, fields, _EXPECTED), alert, picture, now, page)


def _own_contact() -> str | None:
    visitor = VISITING.get()
    return None if visitor is None else visitor.contact


_PLAIN: Mapping[Deed, type[Acknowledge | Decline | Unshelve]] = {
    Deed.ACKNOWLEDGE: Acknowledge,
    Deed.DECLINE: Decline,
    Deed.UNSHELVE: Unshelve,
}
"""Deeds that need nothing but a name."""


def _shelve(form: _ShelfForm, alert: AlertPicture, picture: Picture, now: Micros, page: str | None) -> Shelve:
    most = picture.shelve_most_minutes[alert.priority]
    if form.minutes is not None and form.minutes > most:
        said = f"This alert can be put aside for at most {most:g} minutes here, by the site file."
        raise DeedError(said, {"minutes": said})
    return Shelve(
        arrived=now,
        who=form.who,
        alert=alert.id,
        page=page,
        minutes=most if form.minutes is None else form.minutes,
        one_shot=form.minutes is None,
        why=form.reason,
    )


# ---- what came of it ------------------------------------------------------------------------------------------------


def told(
    commands: Sequence[AlertCommand],
    events: Sequence[Event],
    alert: AlertPicture,
    picture: Picture,
    now: Micros,
    zone: ZoneInfo,
) -> Told:
    """What came of it, in a sentence; alert: as a picture knew it.

    Raises:
        NotTakenError: nothing did.
    """
    ended = {event.alert for event in events if isinstance(event, AlertOver)}
    counting = [event for event in events if not (isinstance(event, AlertAcknowledged) and event.alert in ended)]
    said = {event: words for event in counting if (words := _sentence(event, events, picture, now, zone))}
    if any(not isinstance(event, PageAsked) for event in said):
        sentences = dict.fromkeys(said.values())
        return Told(" ".join(sentences))
    stands = alert_of(picture, alert.id)
    if stands is not None and _has_it_already(commands[0], stands):
        return Told(f"You have it already, since {moment(stands.acknowledged_at or now, now, zone)}.", anew=False)
    raise NotTakenError(_OVER if stands is None else _why_not(commands[0], stands, now, zone))


def _has_it_already(command: AlertCommand, alert: AlertPicture) -> bool:
    """Whoever says once more that they go, or takes over what is theirs by now, is told that it is so."""
    return isinstance(command, Acknowledge | TakeOver) and alert.acknowledged_by == command.who


def _sentence(event: Event, events: Sequence[Event], picture: Picture, now: Micros, zone: ZoneInfo) -> str:
    match event:
        case AlertAcknowledged() | AlertTakenOver():
            had = f" {event.holder} had it before." if isinstance(event, AlertTakenOver) else ""
            return f"You have it: {event.who}, {hour(event.at, zone)}.{had}"
        case PageAsked(why=why) if why in LETS_OFF:
            return _TAKEN_OVER_TOLD if why is PageWhy.TAKEN_OVER else _LET_OFF_TOLD
        case AlertOver():
            words = end_words(event.why, event.who, event.remark)
            return f"It is over since {hour(event.at, zone)}: {words}. Nobody has to go any more."
        case AlertMoved():
            return _moved(event, events, picture, now, zone)
        case SoundPaused():
            return f"The walls are silent until {hour(event.until, zone)}."
        case _:
            return ""


def _moved(event: AlertMoved, events: Sequence[Event], picture: Picture, now: Micros, zone: ZoneInfo) -> str:
    match event.cause:
        case Cause.DECLINED:
            return f"Written down that you cannot go. {_told_now(events, picture)}"
        case Cause.HANDED_OVER:
            return _handed_over(event, picture, zone)
        case Cause.SHELVED:
            until = f" until {moment(event.until, now, zone)}" if event.until is not None else ""
            return f"Put aside{until}. Nobody is told until then."
        case Cause.TAKEN_FROM_SHELF:
            return "No longer put aside: it counts again."
        case _:
            return ""


def _told_now(events: Sequence[Event], picture: Picture) -> str:
    asked = dict.fromkeys(e.role for e in events if isinstance(e, PageAsked) and e.why not in LETS_OFF)
    if not asked:
        return "Nobody else could be told at once: tell somebody yourself."
    names = {role.id: role.name for role in picture.roles}
    return f"Told now: {listed([names.get(role, role) for role in asked])}."


def _handed_over(event: AlertMoved, picture: Picture, zone: ZoneInfo) -> str:
    role = next((role for role in picture.roles if role.id == event.role), None)
    handed = f"Handed over to {event.role if role is None else role.name} at {hour(event.at, zone)}"
    if role is not None and not role.contacts:
        return f"{handed}. Nobody is on duty there: whoever else is on duty is told now."
    return f"{handed}, who is told now and has to answer: until then nobody has it."


def _why_not(command: AlertCommand, alert: AlertPicture, now: Micros, zone: ZoneInfo) -> str:
    match command:
        case PauseSound():
            return "Nothing changed: the walls are as silent as you asked."
        case Unshelve():
            return "Nothing changed: it is not put aside."
        case Acknowledge() | Decline() if alert.acknowledged_at is not None:
            since = moment(alert.acknowledged_at, now, zone)
            return f"Answered already: {alert.acknowledged_by} has it, since {since}."
        case Acknowledge() | Decline() if alert.handed_to and alert.waits_since is not None:
            handed = f"It was handed over to {alert.handed_to} at {moment(alert.waits_since, now, zone)}"
            return f"{handed}, and this message does not answer it any more. Sign in to answer it yourself."
        case TakeOver() if alert.state not in HIDDEN and command.holder != alert.acknowledged_by:
            return _why_not_taken_over(command, alert, now, zone)
        case _:
            return _HIDDEN if alert.state in HIDDEN else _MOVED_ON


def _why_not_taken_over(command: TakeOver, alert: AlertPicture, now: Micros, zone: ZoneInfo) -> str:
    if alert.acknowledged_at is None:
        return "Nobody has it any more: tap 'I go'."
    since = moment(alert.acknowledged_at, now, zone)
    return f"{alert.acknowledged_by} has it, since {since}, and not {command.holder} any more: take it over from them."


_OVER = "Nothing more to do: this alert is over."
_HIDDEN = "Nothing changed: this alert is put aside, or out of service."
_TAKEN_OVER_TOLD = "Their device is told so."
_LET_OFF_TOLD = "The device of whoever had it is told so."
_MOVED_ON = "Nothing changed: this was answered already, or things have moved on. Look at what stands above."
