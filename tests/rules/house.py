"""A house with people on duty: alerts happen to it in one line each, and what it says of pages is kept."""

from functools import lru_cache
from typing import Any

from pydantic import TypeAdapter

from rules.alert_commands import PageTold, TryPages
from rules.alert_events import (
    AlertAcknowledged,
    AlertMoved,
    AlertOver,
    AlertRaised,
    AlertTakenOver,
    NobodyOnDuty,
    PageAsked,
    PageReported,
    PageWithdrawn,
)
from rules.alert_words import Cause, Confirmation, PageEnd, PageWhy, Priority, State
from rules.calls import PagingState
from rules.desk import Desk
from rules.events import Event, event_json
from rules.paging import Paging
from rules.readings import Micros
from rules.site import Site
from rules.steadiness import GATEWAY
from tests.rules.feeder import book_of, department, instant, seconds

STATE: TypeAdapter[PagingState] = TypeAdapter(PagingState)

HIGH, MEDIUM, LOW = Priority.HIGH, Priority.MEDIUM, Priority.LOW
ACCEPTED, DELIVERED, READ, ANSWERED = tuple(Confirmation)
REFUSED, GIVEN_UP = PageEnd.REFUSED, PageEnd.GIVEN_UP

ALL_DAY = {"start": "00:00:00", "end": "00:00:00"}

ROUTE = {
    "name": "All",
    "tiers": [{"roles": ["tech"]}, {"roles": ["charge"], "after_seconds": 300}],
    "repeat_seconds": 120,
    "most_repeats": 3,
}


def contact(name: str, *channels: str) -> dict[str, Any]:
    ways = [{"channel": channel, "address": f"{name}-{channel}"} for channel in channels]
    return {"id": name, "name": name.title(), "ways": ways}


def duty(role: str, *contacts: str, **further: Any) -> dict[str, Any]:
    return {"role": role, "contacts": contacts, **ALL_DAY, **further}


def long_ago(role: str, *contacts: str) -> dict[str, Any]:
    """Somebody was on duty once, so that a role without duties is no mistake of the site file."""
    return {"role": role, "contacts": contacts, "start": "2020-01-01T00:00:00", "end": "2020-01-02T00:00:00"}


def rule(name: str, **further: Any) -> dict[str, Any]:
    """A rule that no fact ever raises: tests say when it is."""
    return {
        "id": name,
        "watches": "sensor",
        "condition": "false",
        "priority": "low",
        "text": "-",
        "source": "ours, for tests",
        **further,
    }


def manned(**further: Any) -> Site:
    """A technician with a phone and a pager, a charge nurse with a pager; whoever is told has a minute to confirm."""
    parts: dict[str, Any] = {
        "role": [{"id": "tech", "name": "Technician"}, {"id": "charge", "name": "Charge nurse"}],
        "channel": [{"id": "mail", "deadline_seconds": 60}, {"id": "pager", "deadline_seconds": 30}],
        "contact": [contact("phone", "mail", "pager"), contact("nurse", "pager")],
        "duty": [duty("tech", "phone"), duty("charge", "nurse")],
        "duty_change": [long_ago("tech", "phone"), long_ago("charge", "nurse")],
        "route": [ROUTE],
        "rule": [
            rule("quiet", gathers="devices", many="sensors quiet"),
            rule("dark", gathers="devices", many="devices dark"),
            rule("wipe", watches="cart", many="wipe-downs due"),
            rule("alone"),
        ],
    }
    return _site(_json(parts | further))


@lru_cache(maxsize=64)
def _site(parts: str) -> Site:
    return department(**TypeAdapter(dict[str, Any]).validate_json(parts))


def _json(parts: dict[str, Any]) -> str:
    return TypeAdapter(dict[str, Any]).dump_json(parts).decode()


class House:
    """Alerts come to it by name, 'a' as alert 'a'; times are seconds of the test."""

    def __init__(self, site: Site | None = None) -> None:
        self.site = site or manned()
        self.events: list[Event] = []
        self._furnish(None)

    def _furnish(self, state: PagingState | None) -> None:
        self.desk = Desk()
        self.desk.board.add(GATEWAY, name="gateway")
        self.paging = Paging(self.site, book_of(self.site), self.desk, state)

    def restart(self, site: Site | None = None, at: float | None = None) -> "House":
        """From what was written of its state; with another site file if given."""
        written, planned = STATE.dump_json(self.paging.state), self.desk.agenda.entries()
        facts = self.desk.board.facts[GATEWAY]
        self.site = site or self.site
        self._furnish(STATE.validate_json(written))
        self.desk.board.facts[GATEWAY].update(facts)
        known = self.paging.known()
        self.desk.agenda.load([(due, task) for due, task in planned if task.whom in known[task.work]])
        if site is not None and at is not None:
            self.paging.come_under_new_law(instant(at))
            self._keep(instant(at))
        return self

    # ---- what happens ---------------------------------------------------------------------------------------------

    def until(self, at: float) -> "House":
        """Time passes."""
        while (entry := self.desk.agenda.pop(instant(at))) is not None:
            due, task = entry
            self.paging.work(task.work, task.whom, due)
            self._keep(due)
        return self

    def say(self, at: float, *events: Event) -> "House":
        """The engine says something of alerts."""
        self.until(at)
        self.desk.said += events
        self._keep(instant(at))
        return self

    def _keep(self, now: Micros) -> None:
        self.paging.follow(self.desk.said, now)
        self.events += self.desk.said
        self.desk.said = []
        self.paging.forget()

    def raised(
        self,
        at: float,
        *alerts: str,
        priority: Priority = HIGH,
        rule: str = "alone",
        subject: str = "cart cart-1",
        text: str = "Cart 1: something",
    ) -> "House":
        """Alerts are raised, one after the other at the same instant."""
        return self.say(
            at,
            *(
                AlertRaised(
                    at=instant(at),
                    alert=alert,
                    rule=rule,
                    subject=subject,
                    priority=priority,
                    text=text,
                    advice="Do something.",
                )
                for alert in alerts
            ),
        )

    def acknowledged(self, at: float, *alerts: str) -> "House":
        return self.say(at, *(AlertAcknowledged(at=instant(at), alert=alert, who="R. Tech") for alert in alerts))

    def taken_over(self, at: float, alert: str, holder: str) -> "House":
        taken = AlertTakenOver(at=instant(at), alert=alert, who="N. Nurse", holder=holder)
        return self.say(at, taken)

    def over(self, at: float, *alerts: str) -> "House":
        return self.say(at, *(AlertOver(at=instant(at), alert=alert, why="cleared") for alert in alerts))

    def moved(
        self,
        at: float,
        alert: str,
        cause: Cause,
        before: State = State.UNACKNOWLEDGED,
        after: State = State.UNACKNOWLEDGED,
        role: str | None = None,
        page: str | None = None,
    ) -> "House":
        return self.say(
            at,
            AlertMoved(
                at=instant(at),
                alert=alert,
                rule="alone",
                subject="cart cart-1",
                before=before,
                after=after,
                cause=cause,
                who="R. Tech",
                role=role,
                page=page,
            ),
        )

    def declined(self, at: float, alert: str, page: str | None = None) -> "House":
        return self.moved(at, alert, Cause.DECLINED, page=page)

    def handed_over(self, at: float, alert: str, role: str) -> "House":
        return self.moved(at, alert, Cause.HANDED_OVER, role=role)

    def shelved(self, at: float, alert: str) -> "House":
        return self.moved(at, alert, Cause.SHELVED, after=State.SHELVED)

    def told(self, at: float, outcome: Confirmation | PageEnd, *pages: str) -> "House":
        """The gateway tells of pages."""
        self.until(at)
        for page in pages:
            self.paging.obey(PageTold(arrived=instant(at), who="gateway", page=page, outcome=outcome))
            self._keep(instant(at))
        return self

    def tried(self, at: float) -> "House":
        self.until(at).paging.obey(TryPages(arrived=instant(at), who="R. Engineer"))
        self._keep(instant(at))
        return self

    # ---- what it said ---------------------------------------------------------------------------------------------

    @property
    def asked(self) -> list[PageAsked]:
        return [event for event in self.events if isinstance(event, PageAsked)]

    @property
    def pages(self) -> list[tuple[float, str, PageWhy]]:
        """When, to whom, why."""
        return [(seconds(page.at), page.contact, page.why) for page in self.asked]

    @property
    def withdrawn(self) -> list[tuple[float, str]]:
        return [(seconds(event.at), event.page) for event in self.events if isinstance(event, PageWithdrawn)]

    @property
    def reported(self) -> list[tuple[str, str, bool]]:
        return [(e.page, e.outcome.value, e.in_time) for e in self.events if isinstance(e, PageReported)]

    @property
    def unmanned(self) -> list[tuple[float, str]]:
        return [(seconds(event.at), event.role) for event in self.events if isinstance(event, NobodyOnDuty)]

    @property
    def lines(self) -> list[str]:
        return [event_json(event) for event in self.events]

    def fact(self, name: str) -> object:
        """What rules can read of the ways to people."""
        return self.desk.board.facts[GATEWAY][name]


def confirmed(*pages: str) -> House:
    """Alert 'a' at 0, and these pages confirmed at 1."""
    return House().raised(0, "a").told(1, ACCEPTED, *pages)
