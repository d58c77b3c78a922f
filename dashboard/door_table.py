"""Which access each route asks for. This is the one table: a route that is not in it is shut to everybody."""

from collections.abc import Mapping, Sequence
from enum import Enum

from starlette.routing import BaseRoute, Match, compile_path
from starlette.types import Scope

from gateway.answer_link import LINK_PATH
from rules.acts import Access


class Key(Enum):
    """What opens a door other than being signed in.

    NONE: nothing is asked; a form there shows the token of the visit's own cookie. LINK: the address itself, as it
    stands in a message to somebody; its route looks whether it is one.
    """

    NONE = "none"
    LINK = "link"


Door = Key | Access

DOORS: Mapping[tuple[str, str], Door] = {
    # ---- without signing in
    ("GET", "/static"): Key.NONE,
    ("GET", "/healthz"): Key.NONE,
    ("GET", "/sign-in"): Key.NONE,
    ("POST", "/sign-in"): Key.NONE,
    ("GET", "/invited"): Key.NONE,
    ("POST", "/invited"): Key.NONE,
    ("GET", "/display"): Key.NONE,
    ("POST", "/display"): Key.NONE,
    ("GET", f"{LINK_PATH}{{token}}"): Key.LINK,
    ("GET", f"{LINK_PATH}{{token}}/end"): Key.LINK,
    ("POST", f"{LINK_PATH}{{token}}/{{deed}}"): Key.LINK,
    ("GET", f"/stream{LINK_PATH}{{token}}"): Key.LINK,
    # ---- the wall
    ("GET", "/"): Access.DISPLAY,
    ("GET", "/wall"): Access.DISPLAY,
    ("GET", "/stream/wall"): Access.DISPLAY,
    ("GET", "/stream/sounding-wall"): Access.DISPLAY,
    ("GET", "/sound/{name}.wav"): Access.DISPLAY,
    # ---- one's own account
    ("POST", "/sign-out"): Access.RESPONDER,
    ("GET", "/me"): Access.RESPONDER,
    ("POST", "/me/password"): Access.RESPONDER,
    ("POST", "/me/sessions"): Access.RESPONDER,
    # ---- how it is used
    ("GET", "/guide"): Access.RESPONDER,
    ("GET", "/guide/{name}"): Access.RESPONDER,
    ("GET", "/guide/pictures/{name}.png"): Access.RESPONDER,
    # ---- what is going on, and what is done about it
    ("GET", "/alerts"): Access.RESPONDER,
    ("POST", "/alerts/{deed}"): Access.RESPONDER,
    ("GET", "/alert/{name}"): Access.RESPONDER,
    ("POST", "/alert/{name}/{deed}"): Access.RESPONDER,
    ("GET", "/alert/{alert}/end"): Access.RESPONDER,
    ("GET", "/basins"): Access.RESPONDER,
    ("GET", "/basin/{name}"): Access.RESPONDER,
    ("POST", "/basin/{name}/{deed}"): Access.RESPONDER,
    ("GET", "/probes"): Access.RESPONDER,
    ("GET", "/probe/{name}"): Access.RESPONDER,
    ("POST", "/probe/{name}/{deed}"): Access.RESPONDER,
    ("GET", "/cart/{name}"): Access.RESPONDER,
    ("POST", "/cart/{name}/{deed}"): Access.RESPONDER,
    ("GET", "/duty"): Access.RESPONDER,
    ("GET", "/pages"): Access.RESPONDER,
    ("GET", "/pages.csv"): Access.RESPONDER,
    ("POST", "/pages/test"): Access.RESPONDER,
    ("GET", "/stream/{name}"): Access.RESPONDER,
    ("GET", "/stream/{kind}/{name}"): Access.RESPONDER,
    # ---- the record
    ("GET", "/load"): Access.RESPONDER,
    ("GET", "/load.csv"): Access.RESPONDER,
    ("GET", "/logbook"): Access.RESPONDER,
    ("GET", "/logbook/soaks"): Access.RESPONDER,
    ("GET", "/logbook/soaks.csv"): Access.RESPONDER,
    ("GET", "/logbook/soak/{soak}"): Access.RESPONDER,
    ("GET", "/logbook/soak/{soak}/trace.svg"): Access.RESPONDER,
    ("GET", "/logbook/soak/{soak}/record.pdf"): Access.RESPONDER,
    ("GET", "/logbook/probes"): Access.RESPONDER,
    ("GET", "/logbook/probes.csv"): Access.RESPONDER,
    ("GET", "/logbook/probe/{probe}"): Access.RESPONDER,
    ("GET", "/logbook/probe/{probe}/time-line.csv"): Access.RESPONDER,
    ("GET", "/logbook/solutions"): Access.RESPONDER,
    ("GET", "/logbook/solutions.csv"): Access.RESPONDER,
    ("GET", "/logbook/day"): Access.RESPONDER,
    ("GET", "/logbook/day/{station}/{day}"): Access.RESPONDER,
    ("GET", "/logbook/day/{station}/{day}/soaks.csv"): Access.RESPONDER,
    ("GET", "/logbook/day/{station}/{day}/entries.csv"): Access.RESPONDER,
    ("GET", "/logbook/alerts"): Access.RESPONDER,
    ("GET", "/logbook/alerts.csv"): Access.RESPONDER,
    ("GET", "/logbook/alert/{alert}"): Access.RESPONDER,
    ("GET", "/logbook/happened"): Access.RESPONDER,
    ("GET", "/logbook/happened.csv"): Access.RESPONDER,
    ("GET", "/logbook/look-back"): Access.RESPONDER,
    ("GET", "/logbook/look-back.csv"): Access.RESPONDER,
    ("POST", "/logbook/look-back/thermometer"): Access.ENGINEER,
    ("GET", "/logbook/entry/{number}"): Access.RESPONDER,
    ("POST", "/logbook/entry/{number}/strike"): Access.RESPONDER,
    # ---- the engineers' pages
    ("GET", "/logbook/actions"): Access.ENGINEER,
    ("GET", "/logbook/actions.csv"): Access.ENGINEER,
    ("GET", "/openapi.json"): Access.ENGINEER,
    ("GET", "/live"): Access.ENGINEER,
    ("GET", "/stream/live"): Access.ENGINEER,
    ("GET", "/set-up"): Access.ENGINEER,
    ("GET", "/logbook/rejected"): Access.ENGINEER,
    ("GET", "/logbook/rejected.csv"): Access.ENGINEER,
    ("GET", "/stream/set-up"): Access.ENGINEER,
    ("GET", "/bench"): Access.ENGINEER,
    ("GET", "/bench/figures"): Access.ENGINEER,
    ("POST", "/bench/figures/set"): Access.ENGINEER,
    ("POST", "/bench/figures/withdraw"): Access.ENGINEER,
    ("GET", "/bench/traces"): Access.ENGINEER,
    ("GET", "/bench/trace/{soak}.{form}"): Access.ENGINEER,
    ("GET", "/bench/hands"): Access.ENGINEER,
    ("POST", "/bench/hands"): Access.ENGINEER,
    ("GET", "/bench/tune"): Access.ENGINEER,
    ("POST", "/bench/tune"): Access.ENGINEER,
    ("GET", "/bench/situations"): Access.ENGINEER,
    ("POST", "/bench/situations"): Access.ENGINEER,
    ("GET", "/bench/job/{number}"): Access.ENGINEER,
    ("GET", "/bench/job/{number}/state"): Access.ENGINEER,
    ("POST", "/bench/job/{number}/cancel"): Access.ENGINEER,
    ("POST", "/bench/job/{number}/apply"): Access.ENGINEER,
    ("GET", "/bench/job/{number}/answer.json"): Access.ENGINEER,
    ("GET", "/bench/job/{number}/changes.csv"): Access.ENGINEER,
    ("GET", "/bench/job/{number}/site.toml"): Access.ENGINEER,
    ("GET", "/bench/job/{number}/curve.{form}"): Access.ENGINEER,
    ("GET", "/bench/job/{number}/day-{day}.{form}"): Access.ENGINEER,
    # ---- people and displays
    ("GET", "/people"): Access.ADMINISTRATOR,
    ("POST", "/people/add"): Access.ADMINISTRATOR,
    ("GET", "/people/{name}"): Access.ADMINISTRATOR,
    ("POST", "/people/{name}/{deed}"): Access.ADMINISTRATOR,
    ("POST", "/displays/add"): Access.ADMINISTRATOR,
    ("POST", "/displays/revoke"): Access.ADMINISTRATOR,
}


def route_of(routes: Sequence[BaseRoute], scope: Scope) -> BaseRoute | None:
    """The route that will answer a request, as the router chooses it: the first that fits address and method."""
    return next((route for route in routes if route.matches(scope)[0] is Match.FULL), None)


def door_of(route: BaseRoute, method: str) -> Door | None:
    """What a route asks for; None where the table does not know it, so that it is shut."""
    return DOORS.get(("GET" if method == "HEAD" else method, getattr(route, "path", "")))


_SENT_TO = tuple((compile_path(path)[0], door) for (method, path), door in DOORS.items() if method == "POST")


def door_to(path: str) -> Door | None:
    """What is asked of whoever sends a form to a path, as the table has it; None where no form is taken."""
    return next((door for pattern, door in _SENT_TO if pattern.fullmatch(path)), None)


def opens(access: Access | None, path: str) -> bool:
    """Whether a page without a part that varies may be looked at with an access."""
    door = DOORS[("GET", path)]
    return isinstance(door, Key) or (access is not None and access.covers(door))
