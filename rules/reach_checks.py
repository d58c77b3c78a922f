"""What cannot be meant in the roles, contacts, duties and routes of a site file, and what most likely is not."""

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import datetime
from itertools import pairwise
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from rules.alert_words import Priority
from rules.duty import Rota, Stretch
from rules.part import meant
from rules.reach import Duty, DutyChange, Route
from rules.readings import SECOND, Micros
from rules.rule import Rule

if TYPE_CHECKING:
    from rules.site import Site

FORESIGHT = Micros(14 * 86_400 * SECOND)
"""So far ahead gaps of duty are looked for (ours)."""

_NAMED = 2
"""So many gaps of a role are named."""


def reach_problems(site: "Site") -> Iterator[str]:
    """A sentence for each thing to mend."""
    yield from _repeated(site)
    yield from _unknown_names(site)
    yield from _unfit_changes(site)
    yield from _unfit_tiers(site)


def route_rule_problems(routes: Iterable[Route], rules: Collection[str]) -> Iterator[str]:
    """Rules that a route names and that do not exist; one that the site has switched off does."""
    for number, route in enumerate(routes, 1):
        for name in route.rules:
            if name not in rules:
                yield f"[[route]] number {number}, key 'rules': no rule has the id '{name}'; {meant(name, rules)}"


def _repeated(site: "Site") -> Iterator[str]:
    groups: Mapping[str, list[str]] = {
        "role": [role.id for role in site.role],
        "channel": [channel.id for channel in site.channel],
        "contact": [contact.id for contact in site.contact],
        "route": [route.name for route in site.route],
    }
    for table, names in groups.items():
        seen: Counter[str] = Counter()
        for number, name in enumerate(names, 1):
            seen[name] += 1
            if seen[name] == 2:  # noqa: PLR2004 - the second time is the first that is too much
                key = "name" if table == "route" else "id"
                yield f"[[{table}]] number {number}, key '{key}': '{name}' is there twice; give each its own"


def _unknown_names(site: "Site") -> Iterator[str]:
    roles, contacts = [role.id for role in site.role], [contact.id for contact in site.contact]
    channels, shifts = [channel.id for channel in site.channel], [shift.name for shift in site.shift]
    places = _places(site)
    for number, contact in enumerate(site.contact, 1):
        ways = [way.channel for way in contact.ways]
        yield from _unknown(f"[[contact]] number {number}, key 'ways.channel'", ways, "channel", channels)
    for where, entry in _duties(site):
        yield from _unknown(f"{where}, key 'role'", [entry.role], "role", roles)
        yield from _unknown(f"{where}, key 'contacts'", entry.contacts, "contact", contacts)
    for number, route in enumerate(site.route, 1):
        where = f"[[route]] number {number}, key"
        yield from _unknown(f"{where} 'places'", route.places, "station, basin, cart or probe", places)
        yield from _unknown(f"{where} 'shifts'", route.shifts, "shift", shifts, "name")
        named = [role for tier in route.tiers for role in tier.roles]
        yield from _unknown(f"{where} 'tiers.roles'", named, "role", roles)


def _duties(site: "Site") -> Iterator[tuple[str, Duty | DutyChange]]:
    yield from ((f"[[duty]] number {number}", duty) for number, duty in enumerate(site.duty, 1))
    yield from ((f"[[duty_change]] number {number}", change) for number, change in enumerate(site.duty_change, 1))


def _places(site: "Site") -> list[str]:
    groups = (site.station, site.basin, site.cabinet, site.cart, site.probe)
    return [thing.id for group in groups for thing in group]


def _unknown(where: str, given: Iterable[str], table: str, known: Collection[str], key: str = "id") -> Iterator[str]:
    what = table if ", " in table else f"[[{table}]]"
    for name in dict.fromkeys(given):
        if name not in known:
            yield f"{where}: no {what} has the {key} '{name}'; {meant(name, known) if known else 'add one'}"


def _unfit_changes(site: "Site") -> Iterator[str]:
    for number, change in enumerate(site.duty_change, 1):
        where = f"[[duty_change]] number {number}, key"
        offsets = [key for key, at in (("start", change.start), ("end", change.end)) if at.tzinfo is not None]
        for key in offsets:
            yield f"{where} '{key}': leave out what follows the seconds; a time of the site's wall clock is expected"
        if not offsets and change.end <= change.start:
            yield f"{where} 'end': it is not after 'start', {_written(change.start)}; give a later date and time"


def _unfit_tiers(site: "Site") -> Iterator[str]:
    staffed = {entry.role for _, entry in _duties(site)}
    for number, route in enumerate(site.route, 1):
        where = f"[[route]] number {number}, key"
        delays = [tier.after_seconds for tier in route.tiers]
        for earlier, later in pairwise(delays):
            if later <= earlier:
                yield (
                    f"{where} 'tiers.after_seconds': {later:g} follows {earlier:g}; expected that each tier is told"
                    " later than the one before it, counted from when the alert was raised"
                )
        known = {role.id for role in site.role} - staffed
        for role in dict.fromkeys(role for tier in route.tiers for role in tier.roles if role in known):
            yield f"{where} 'tiers.roles': nobody is ever on duty as '{role}'; add a [[duty]] for it, or leave it out"


# ---- what is most likely not meant --------------------------------------------------------------------------------


def reach_warnings(site: "Site", rules: Iterable[Rule], now: Micros) -> Iterator[str]:
    """A sentence for each thing that can be meant but most likely is not; none where nobody is to be paged."""
    if not site.route:
        return
    for rule in rules:
        if rule.priority is Priority.HIGH and not any(_takes_everywhere(route, rule) for route in site.route):
            yield (
                f"rule '{rule.id}' is of high priority, and no [[route]] takes its alerts at every place and at all"
                " times: then nobody is paged of them; add a route without places and shifts at the end."
            )
    yield from _hidden_routes(site.route)
    yield from _doubled_contacts(site)
    yield from _gap_warnings(site, now)


def _hidden_routes(routes: Iterable[Route]) -> Iterator[str]:
    taker = ""
    for number, route in enumerate(routes, 1):
        if taker:
            yield (
                f"[[route]] number {number}, '{route.name}', is never taken: '{taker}' before it takes every alert;"
                " put it before that one, or leave it out."
            )
        elif not (route.priorities or route.rules or route.places or route.shifts):
            taker = route.name


def _doubled_contacts(site: "Site") -> Iterator[str]:
    for where, entry in _duties(site):
        for name, times in Counter(entry.contacts).items():
            if times > 1:
                yield f"{where}, key 'contacts': '{name}' is there {times} times, and is paged once; name it once."


def _takes_everywhere(route: Route, rule: Rule) -> bool:
    fits = (not route.priorities or rule.priority in route.priorities) and (not route.rules or rule.id in route.rules)
    return fits and not route.places and not route.shifts


def _gap_warnings(site: "Site", now: Micros) -> Iterator[str]:
    rota = Rota(site.site.zone, site.duty, site.duty_change)
    needed = dict.fromkeys(role for route in site.route for tier in route.tiers for role in tier.roles)
    for role in needed:
        gaps = rota.gaps(role, now, Micros(now + FORESIGHT))
        if gaps:
            yield f"nobody is on duty as '{role}' {_listed(gaps, site.site.zone)}; add a [[duty]] for it."


def _listed(gaps: list[Stretch], zone: ZoneInfo) -> str:
    spans = [f"from {_local(gap.start, zone)} to {_local(gap.end, zone)}" for gap in gaps[:_NAMED]]
    more = f", and {len(gaps) - _NAMED} times more in the next 14 days" if len(gaps) > _NAMED else ""
    return f"{' and '.join(spans)}{more}"


def _local(instant: Micros, zone: ZoneInfo) -> str:
    return _written(datetime.fromtimestamp(instant // SECOND, zone))


def _written(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d %H:%M}"
