"""What the list of alerts shows: those that stand, those that nobody is told of and why, and what is out of service."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from dashboard.alert_standing import by_urgency
from dashboard.called import Names, call_of, told_last
from dashboard.live_listings import AlertNow
from dashboard.live_lists import Sieve, Sifted
from dashboard.one_alert import AlertRow, alert_row
from dashboard.premises import Premises
from dashboard.service_deeds import out_words
from dashboard.words import counted, hour, moment
from rules.alert_words import State
from rules.picture import AlertPicture, OutPicture, Picture
from rules.readings import Micros


@dataclass(frozen=True, slots=True)
class Hidden:
    """Alerts that nobody is told of for the same reason; said: which, and what that means."""

    title: str
    said: str
    rows: tuple[AlertRow, ...]


@dataclass(frozen=True, slots=True)
class AlertListView:
    """Alerts that stand, the most urgent first, or those that are asked for.

    tally: how many, and how many wait. sound: until when the walls are silent, '' where they are not.
    """

    tally: str
    sifted: Sifted[AlertRow]
    hidden: tuple[Hidden, ...]
    sound: str


@dataclass(frozen=True, slots=True)
class OutRow:
    """What is out of service: what, since when, by whom and why; value: by which it is put back."""

    value: str
    what: str
    said: str


_HIDDEN = (
    (State.SHELVED, "Put aside", "By a person, for a time. Nobody is told until then."),
    (State.SUPPRESSED, "Held back", "By their rule, as long as that applies. Nobody is told."),
    (State.OUT_OF_SERVICE, "Out of service", "By maintenance. Nobody is told until they are put back."),
)


def alert_list_view(
    picture: Picture, now: Micros, zone: ZoneInfo, names: Mapping[str, str], sieve: Sieve[AlertNow]
) -> AlertListView:
    """All alerts at an instant, or those that are asked for; names: of contacts, by their ids."""
    known = Names.of(picture.roles, names)
    standing = _placed(picture.alerts)

    def row(one: AlertNow) -> AlertRow:
        told = told_last(call_of(one.alert.id, picture.calls), known, now, zone)
        return replace(alert_row(one.alert, now, zone), told_last=told)

    waiting = sum(alert_row(one.alert, now, zone).waits for one in standing)
    tally = f"{counted(len(standing), 'alert')}, {waiting or 'none'} not answered yet."
    until = picture.sound_paused_until
    return AlertListView(
        tally=tally if standing else "No alert stands.",
        sifted=sieve.rows(standing, now, row),
        hidden=tuple(_hidden(picture.hidden, now, zone, sieve)),
        sound="" if until is None else f"The walls are silent until {hour(until, zone)}.",
    )


def _placed(alerts: Sequence[AlertPicture]) -> list[AlertNow]:
    return [AlertNow(alert, place) for place, alert in enumerate(by_urgency(alerts))]


def _hidden(alerts: Sequence[AlertPicture], now: Micros, zone: ZoneInfo, sieve: Sieve[AlertNow]) -> list[Hidden]:
    fit = sieve.picked([AlertNow(alert, place) for place, alert in enumerate(alerts)])
    groups = ((title, said, [one.alert for one in fit if one.alert.state is state]) for state, title, said in _HIDDEN)
    return [
        Hidden(title, said, tuple(alert_row(alert, now, zone) for alert in those))
        for title, said, those in groups
        if those
    ]


def out_rows(outs: Sequence[OutPicture], premises: Premises, now: Micros, zone: ZoneInfo) -> tuple[OutRow, ...]:
    """What maintenance took out of service."""
    return tuple(
        OutRow(
            value=f"{out.thing} {out.rule or ''}".strip(),
            what=out_words(out.thing, out.rule, premises),
            said=f"since {moment(out.since, now, zone)}, by {out.who}: {out.why}",
        )
        for out in outs
    )
