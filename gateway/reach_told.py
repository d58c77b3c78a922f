"""What ``sinkside check`` says of who is paged: contacts, who is on duty now, and each route in words."""

from collections.abc import Iterator

from gateway.sitefile import SiteFile
from rules.duty import Rota
from rules.reach import Route, Tier
from rules.readings import Micros


def reach_lines(file: SiteFile, now: Micros) -> Iterator[str]:
    """What was understood, as it is at an instant."""
    if file.contact:
        yield "\nContacts, and the ways to each in their order"
    for contact in file.contact:
        ways = ", then ".join(f"{way.channel} {way.address}" for way in contact.ways)
        yield f"  {contact.id} ({contact.name}): {ways}"
    if file.role:
        yield "\nOn duty now"
    rota = Rota(file.site.zone, file.duty, file.duty_change)
    for role in file.role:
        yield f"  {role.id} ({role.name}): {', '.join(rota.on_duty(role.id, now).contacts) or 'nobody'}"
    yield "\nRoutes: the first that fits an alert is taken" if file.route else "\nNo [[route]]: nobody is paged."
    for route in file.route:
        yield f"  {route.name}, {_for(route)}:"
        yield f"      {'; '.join(_tier(tier) for tier in route.tiers)}{_again(route)}"


def _for(route: Route) -> str:
    priorities = f"{' or '.join(route.priorities)} alerts" if route.priorities else "all alerts"
    rules = f" of {' or '.join(route.rules)}" if route.rules else ""
    places = f" at {' or '.join(route.places)}" if route.places else ""
    shifts = f" in shift {' or '.join(route.shifts)}" if route.shifts else ""
    return f"{priorities}{rules}{places}{shifts}"


def _tier(tier: Tier) -> str:
    when = f"after {tier.after_seconds:g} s" if tier.after_seconds else "at once"
    return f"{' and '.join(tier.roles)} {when}"


def _again(route: Route) -> str:
    if not route.repeat_seconds or not route.most_repeats:
        return ""
    return f"; the last again every {route.repeat_seconds:g} s, at most {route.most_repeats} x a tier"
