"""What the page of one alert shows: what happened, where, since when, what to do, who was told, who has it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import chain
from urllib.parse import quote
from zoneinfo import ZoneInfo

from dashboard.alert_standing import WORDS
from dashboard.called import CallView, Names, call_of, call_view
from dashboard.deed import to_do
from dashboard.fitness import look_back_href
from dashboard.words import hour, listed, moment, running
from rules.alert_words import HIDDEN, WAITING, State
from rules.picture import AlertPicture, Picture
from rules.readings import SECOND, Micros
from rules.soaks import basin_of

_KIND_PAGES = {"basin": "basin", "cart": "cart", "probe": "probe"}
"""Kinds of things that have a page of their own."""

_STRIP_FAILED = "strip-failed"
"""The rule whose alert is about what was soaked before, too."""

LATCHED = frozenset({State.LATCHED_UNACKNOWLEDGED, State.LATCHED_ACKNOWLEDGED})


@dataclass(frozen=True, slots=True)
class Where:
    """Where it happened; href: the page of that thing, '' where it has none."""

    name: str
    href: str


@dataclass(frozen=True, slots=True)
class AlertRow:
    """An alert in a list: priority as style and in a word, what happened, since when, and how it stands.

    waits: somebody has still to answer. href: its page, '' where it has none.
    told_last: who was; '' where that is not said.
    """

    href: str
    priority: str
    word: str
    text: str
    since: str
    stands: str
    waits: bool
    told_last: str = ""


@dataclass(frozen=True, slots=True)
class OneAlertView:
    """An alert on its page.

    since_ms: when it was raised, in ms since 1970; lasting: how long ago that was, which the page counts on.
    lasts: whether it is still going on. ends: when it is over, in a sentence; '' where that is said already. before:
        what was to be done while it went on, where that is over and nobody had answered. together: other alerts of
        which people are told together with this one.
    held: the probes that a failed strip puts in doubt; look_back: where that is told in full, '' where no strip failed.
    """

    row: AlertRow
    where: Where
    since_ms: int
    lasting: str = field(compare=False)
    lasts: bool
    advice: str
    before: str
    ends: str
    call: CallView
    together: tuple[AlertRow, ...]
    held: tuple[Where, ...] = ()
    look_back: str = ""


@dataclass(frozen=True, slots=True)
class DeedsView:
    """What can be done about an alert now.

    many: of how many alerts an answer is. after_all: somebody has answered, and passing it on takes that back, which
        only they can, as anybody else can take it over: holder is their name, by which the page knows which it shows.
    sound: until when the walls are silent, '' where they are not.
    """

    answer: bool
    many: int
    decline: bool
    after_all: bool
    holder: str
    take_over: bool
    hand_over: bool
    shelve: bool
    unshelve: bool
    settle: bool
    sound: str


@dataclass(frozen=True, slots=True)
class RoleRow:
    """A role to which an alert can be given, and who is on duty in it; '' where nobody is."""

    id: str
    name: str
    on_duty: str


def alert_of(picture: Picture, name: str) -> AlertPicture | None:
    """The alert with this id that is not over, hidden or not; none has the id ''."""
    standing = chain(picture.alerts, picture.hidden)
    return next((alert for alert in standing if name and alert.id == name), None)


@dataclass(frozen=True, slots=True)
class Entrance:
    """By which way an alert's page was opened.

    here: the address at which its deeds are done. answers_as: who answers, as the link was sent to them; '' where
    whoever reads it says so. alerts: ids of all that the link tells of; of the one alone where there was no link.
    asked: when the message with the link was asked for; None where there was none.
    """

    here: str
    answers_as: str = ""
    alerts: tuple[str, ...] = ()
    asked: Micros | None = None

    def asks(self, alert: AlertPicture) -> bool:
        """Whether an answer by this way counts: by none does one to a message from before the alert was handed over."""
        is_late = self.asked is not None and alert.waits_since is not None and self.asked <= alert.waits_since
        return not (alert.handed_to and is_late)

    def href(self, alert: str) -> str:
        """Where another alert stands, by the same way if it leads there; '' for one that was never raised."""
        if alert in self.alerts:
            return f"{self.here}?alert={alert}"
        return f"/alert/{alert}" if alert else ""

    def end(self, alert: str) -> str:
        """Where it is told how an alert ended, by the same way."""
        return (
            f"{self.here}/end?alert={quote(alert, safe='')}"
            if alert in self.alerts
            else f"/alert/{quote(alert, safe='')}/end"
        )


FRONT = Entrance("")
"""None in particular."""


def one_alert_view(
    alert: AlertPicture,
    picture: Picture,
    now: Micros,
    zone: ZoneInfo,
    names: Mapping[str, str],
    entrance: Entrance = FRONT,
) -> OneAlertView:
    """The page of one alert at an instant; names: of things and contacts, by their ids."""
    call = call_of(alert.id, picture.calls)
    others = dict.fromkeys((*entrance.alerts, *(call.alerts if call else ())))
    found = (alert_of(picture, other) for other in others if other != alert.id)
    return OneAlertView(
        row=alert_row(alert, now, zone, entrance),
        where=where_of(alert.subject, names),
        since_ms=alert.raised // 1000,
        lasting=running((now - alert.raised) / SECOND),
        lasts=alert.returned is None,
        advice=_too_late(alert, now, zone) or to_do(alert, picture, zone).words,
        before=alert.advice if alert.state is State.RETURNED else "",
        ends=_ends(alert),
        call=call_view(call, Names.of(picture.roles, names), now, zone, waits=alert.state in WAITING),
        together=tuple(alert_row(other, now, zone, entrance) for other in found if other is not None),
        held=tuple(_held(alert, picture)),
        look_back=look_back_href(_thing(alert)) if alert.rule == _STRIP_FAILED else "",
    )


def _ends(alert: AlertPicture) -> str:
    """When it is over: by itself, or once somebody has answered; of what a person settles it is said how it stands."""
    if alert.state in HIDDEN or alert.settles or alert.state in LATCHED:
        return ""
    if alert.returned is not None:
        return "Over as soon as somebody answers." if alert.asks else ""
    by_itself = f"Over when {alert.ends}" if alert.ends else "Over when this is no longer so"
    first = ", and somebody has answered" if alert.asks and alert.state in WAITING else ""
    return f"{by_itself}{first}. Nobody has to say that it is done."


def _held(alert: AlertPicture, picture: Picture) -> Iterator[Where]:
    """The probes whose soaks in the basin a failed strip puts in doubt."""
    for probe in picture.probes if alert.rule == _STRIP_FAILED else ():
        if probe.standing.held is not None and basin_of(probe.standing.held) == _thing(alert):
            yield Where(probe.name, f"/probe/{probe.id}")


def _thing(alert: AlertPicture) -> str:
    return alert.subject.partition(" ")[2]


def _too_late(alert: AlertPicture, now: Micros, zone: ZoneInfo) -> str:
    """What to do about one whose condition ended before anybody answered; '' of any other."""
    if alert.state is not State.RETURNED or alert.returned is None:
        return ""
    ended = moment(alert.returned, now, zone)
    return f"It ended at {ended} before anybody answered. Look whether something is left to do."


def alert_row(alert: AlertPicture, now: Micros, zone: ZoneInfo, entrance: Entrance = FRONT) -> AlertRow:
    """An alert in a list."""
    return AlertRow(
        href=entrance.href(alert.id),
        priority=alert.priority.value,
        word=WORDS[alert.priority],
        text=alert.text,
        since=moment(alert.raised, now, zone),
        stands=" ".join(_stands(alert, now, zone)),
        waits=alert.state in WAITING,
    )


def where_of(subject: str, names: Mapping[str, str]) -> Where:
    """Where a rule's subject is, ``basin basin-1``; a sensor is where its thing is."""
    kind, _, name = subject.partition(" ")
    thing = name.partition("/")[0]
    href = f"/{_KIND_PAGES[kind]}/{name}" if kind in _KIND_PAGES else ""
    if kind == "soak":
        thing = basin_of(name)
    called = names.get(thing, thing)
    return Where(f"{called}, sensor {name}" if kind == "sensor" else called, href)


def _stands(alert: AlertPicture, now: Micros, zone: ZoneInfo) -> Iterator[str]:
    aside = _aside(alert, now, zone)
    if aside:
        yield aside
        if alert.acknowledged_by is not None:
            yield f"{alert.acknowledged_by} had it then."
        return
    if alert.acknowledged_by is not None and alert.acknowledged_at is not None:
        yield f"{alert.acknowledged_by} has it, since {moment(alert.acknowledged_at, now, zone)}."
    elif alert.handed_to and alert.waits_since is not None:
        since = moment(alert.waits_since, now, zone)
        yield f"Handed over to {alert.handed_to} at {since}: nobody there has answered yet."
    elif alert.reminded:
        yield "It asks anew: somebody had it, and it goes on."
    else:
        yield "Nobody has answered yet."
    if alert.returned is not None:
        yield f"What it tells of ended at {moment(alert.returned, now, zone)}."
    if alert.state in LATCHED or alert.settles:
        yield "It stands until somebody says what was done."


def _aside(alert: AlertPicture, now: Micros, zone: ZoneInfo) -> str:
    """Of a hidden one: by whom, why and until when; '' of any other."""
    by = f" by {alert.aside_by}" if alert.aside_by else ""
    why = f": {alert.aside_why}" if alert.aside_why else ""
    until = f" until {moment(alert.aside_until, now, zone)}" if alert.aside_until is not None else ""
    match alert.state:
        case State.SHELVED:
            return f"Put aside{until}{by}{why}. Nobody is told until then."
        case State.SUPPRESSED:
            return "Held back by its rule for as long as that applies. Nobody is told."
        case State.OUT_OF_SERVICE:
            return f"Out of service{until}{by}{why}. Nobody is told until it is put back."
        case _:
            return ""


def deeds_view(alert: AlertPicture, picture: Picture, zone: ZoneInfo, entrance: Entrance = FRONT) -> DeedsView:
    """What can be done about it now; an answer by a link is one to all that it tells of."""
    waits, hidden = alert.state in WAITING, alert.state in HIDDEN
    told_of = [other for other in picture.alerts if other.id in {alert.id, *entrance.alerts}]
    waiting = sum(other.state in WAITING and entrance.asks(other) for other in told_of)
    until = picture.sound_paused_until
    holder = alert.acknowledged_by or ""
    theirs = entrance.answers_as in ("", holder)
    return DeedsView(
        answer=waiting > 0,
        many=waiting,
        decline=bool(picture.roles)
        and not hidden
        and (call_of(alert.id, picture.calls) is not None and entrance.asks(alert) if waits else theirs),
        after_all=not waits and not hidden,
        holder=holder,
        take_over=holder != "" and not hidden and entrance.answers_as != holder,
        hand_over=bool(picture.roles) and not hidden,
        shelve=not hidden,
        unshelve=alert.state is State.SHELVED,
        settle=alert.settles and not hidden,
        sound="" if until is None else f"The walls are silent until {hour(until, zone)}.",
    )


def role_rows(picture: Picture) -> tuple[RoleRow, ...]:
    """Roles, those in which somebody is on duty first."""
    rows = [RoleRow(role.id, role.name, listed(list(role.contacts)) if role.contacts else "") for role in picture.roles]
    return tuple(sorted(rows, key=lambda row: row.on_duty == ""))


def shelf_minutes(most_minutes: float) -> tuple[int, ...]:
    """For how long an alert can be put aside: usual times, as far as the site's policy allows them."""
    most = int(most_minutes)
    return tuple(minutes for minutes in (15, 30, 60, 120, 240, 480) if minutes <= most) or (max(1, most),)
