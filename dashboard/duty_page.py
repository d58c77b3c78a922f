"""Who is on duty now and in the coming days, and when nobody is."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, time, timedelta
from zoneinfo import ZoneInfo

from dashboard.called import Names
from dashboard.head import state_view
from dashboard.listing import WHOLE, Choice, Listing, Sort
from dashboard.listing_view import sift_view
from dashboard.live_listings import Params
from dashboard.pages import Page, Region, head
from dashboard.premises import Named, Premises
from dashboard.words import for_minutes, hour, listed, moment
from gateway.hub import Feed
from gateway.when import local
from rules.duty import Rota, Stretch, wall_span
from rules.picture import Picture
from rules.readings import SECOND, Micros

DAYS = 14
"""So far ahead (ours): a fortnight's duties are usually known, and a gap can still be filled."""

_MIDNIGHT = time()


@dataclass(frozen=True, slots=True)
class OnDuty:
    """A role now: who is on duty in it, '' where nobody is, and until when."""

    role: str
    who: str
    until: str


@dataclass(frozen=True, slots=True)
class GapRow:
    """A time in which nobody is on duty in a role."""

    role: str
    said: str


@dataclass(frozen=True, slots=True)
class Turn:
    """A part of a day in one role; gap: nobody is on duty, and nobody has said that it should be so."""

    times: str
    who: str
    gap: bool


@dataclass(frozen=True, slots=True)
class DayOfRole:
    """One role on one day, in order."""

    role: str
    turns: tuple[Turn, ...]


@dataclass(frozen=True, slots=True)
class DutyDay:
    """One day by the site's clock."""

    title: str
    roles: tuple[DayOfRole, ...]


@dataclass(frozen=True, slots=True)
class DutyTable:
    """The coming days: when nobody is on duty, and each day."""

    gaps: tuple[GapRow, ...]
    days: tuple[DutyDay, ...]


def on_duty_rows(picture: Picture, now: Micros, zone: ZoneInfo) -> tuple[OnDuty, ...]:
    """Each role as it is now."""
    return tuple(
        OnDuty(
            role=role.name,
            who=listed(list(role.contacts)) if role.contacts else "",
            until="" if role.until is None else f"until {moment(role.until, now, zone)}",
        )
        for role in picture.roles
    )


def duty_table(premises: Premises, now: Micros, zone: ZoneInfo) -> DutyTable:
    """The coming fortnight from today's midnight; gaps from now on."""
    rota = premises.rota
    if rota is None or not premises.duty_roles:
        return DutyTable((), ())
    names = Names(premises.duty_roles, premises.names)
    today = local(now, zone).date()
    days = [today + timedelta(days=count) for count in range(DAYS)]
    return DutyTable(
        gaps=tuple(_gaps(rota, names, now, zone)),
        days=tuple(_day(rota, names, day, zone) for day in days),
    )


def _gaps(rota: Rota, names: Names, now: Micros, zone: ZoneInfo) -> Iterator[GapRow]:
    _, end = _span(local(now, zone).date() + timedelta(days=DAYS - 1), zone)
    found = [(gap, role) for role in names.roles for gap in rota.gaps(role, now, end)]
    for gap, role in sorted(found, key=lambda one: one[0].start):
        begins = "now" if gap.start <= now else moment(gap.start, now, zone)
        long = for_minutes((gap.end - gap.start) / SECOND / 60)
        ends = f"to {moment(gap.end, now, zone)}, {long}" if gap.end < end else "on, for all of the fortnight"
        yield GapRow(names.role(role), f"{begins} {ends}")


def _span(day: date, zone: ZoneInfo) -> tuple[Micros, Micros]:
    return wall_span(day, _MIDNIGHT, _MIDNIGHT, zone)


def _day(rota: Rota, names: Names, day: date, zone: ZoneInfo) -> DutyDay:
    start, end = _span(day, zone)
    roles = (
        DayOfRole(name, tuple(_turn(turn, end, names, zone) for turn in rota.timetable(role, start, end)))
        for role, name in names.roles.items()
    )
    return DutyDay(f"{day:%A} {day.day} {day:%B}", tuple(roles))


def _turn(turn: Stretch, midnight: Micros, names: Names, zone: ZoneInfo) -> Turn:
    who = listed([names.other(contact) for contact in turn.contacts]) if turn.contacts else "nobody"
    ends = "24:00" if turn.end >= midnight else hour(turn.end, zone)
    on_purpose = ", on purpose" if turn.on_purpose and not turn.contacts else ""
    return Turn(f"{hour(turn.start, zone)}-{ends}", f"{who}{on_purpose}", turn.is_gap)


def duty_listing(roles: Mapping[str, str]) -> Listing:
    """The days in their order, of all roles or of one; roles: names by their ids."""
    role = Choice("role", "Role", tuple(Named(role, name) for role, name in roles.items()))
    return Listing("/duty", "role", (), Sort(key="day"), choices=(role,), paging=WHOLE)


class DutyPage(Page):
    """Who is on duty in all roles, or in one; the table of days is drawn anew only when the hour changes."""

    def __init__(self, site_name: str, zone: ZoneInfo, premises: Premises, params: Params = ()) -> None:
        super().__init__("duty", site_name, zone)
        self._listing = duty_listing(premises.duty_roles)
        self._asked = self._listing.asked(params)
        wanted = self._asked.chosen.get("role")
        roles = {role: name for role, name in premises.duty_roles.items() if wanted in (None, role)}
        self._premises = replace(premises, duty_roles=roles)
        self._only = None if wanted is None else roles[wanted]
        self._table: tuple[int, DutyTable] | None = None

    def draw(self, feed: Feed, now: Micros) -> tuple[Region, ...]:
        """The page's regions at an instant."""
        return (
            head(state_view(feed, self.site_name, now, self.zone), self.zone),
            Region("now-on-duty", "_on_duty.html", self._now(feed.picture, now)),
            Region("table", "_duty_table.html", self._table_at(now)),
        )

    def html(self, feed: Feed, now: Micros) -> str:
        """The whole page."""
        stream = self._listing.address(self._asked).removeprefix("/")
        return self.render(feed, now, "duty.html", stream, sift=sift_view(self._listing, self._asked))

    def _now(self, picture: Picture, now: Micros) -> tuple[OnDuty, ...]:
        rows = on_duty_rows(picture, now, self.zone)
        return tuple(row for row in rows if self._only in (None, row.role))

    def _table_at(self, now: Micros) -> DutyTable:
        hours = now // (3600 * SECOND)
        if self._table is None or self._table[0] != hours:
            self._table = (hours, duty_table(self._premises, now, self.zone))
        return self._table[1]
