"""The steps of a call: from tier to tier until everybody answered, again and again, and further at once."""

from enum import Enum

from rules.agenda import NEVER, Task
from rules.alert_events import NobodyOnDuty
from rules.alert_words import PageWhy
from rules.calls import URGENCY, Call, Page, PagingState
from rules.desk import Desk
from rules.duty import Rota
from rules.pages import Pages
from rules.reach import Tier
from rules.readings import SECOND, Micros, micros
from rules.routing import Routes
from rules.ways import Ways

CALL = "call"
"""Work of the agenda: the next step of a call is due."""

HANDED_TOGETHER = Micros(SECOND)
"""After so long a role is told of what it was handed over: alerts that one answer hands over are one page (ours)."""

_LOST_APART = Micros(300 * SECOND)
"""So long after all others, of which none arrived, another page is tried at the earliest (ours)."""


class _Reached(Enum):
    """What came of telling roles: a contact more, only such as had been told before, or nobody who could go."""

    ANOTHER = 1
    THE_SAME = 2
    NOBODY = 3


class Calling:
    """Makes the steps of calls."""

    def __init__(self, desk: Desk, rota: Rota, routes: Routes, ways: Ways, pages: Pages, state: PagingState) -> None:
        self._desk = desk
        self._rota = rota
        self._routes = routes
        self._ways = ways
        self._pages = pages
        self._state = state
        self._planned = {call.id for call in state.calls.values() if call.next_at is not None}

    # ---- when ------------------------------------------------------------------------------------------------------

    def step_all(self, now: Micros) -> None:
        """Whatever is due of any call, the oldest first; most of those that stand have no step to come any more."""
        due = [name for name in self._planned if (at := self._state.calls[name].next_at) is not None and at <= now]
        for name in sorted(due, key=_number):
            self.step(name, now)

    def step(self, name: str, now: Micros) -> None:
        """Whatever is due of the call."""
        call = self._state.calls[name]
        while call.next_at is not None and call.next_at <= now:
            if call.handed_over:
                self._tell_handed_over(call, now)
            elif self._tier_at(call) <= now:
                self._climb(call, now)
            else:
                call.repeats, call.tier_at = call.repeats + 1, now
                self.tell(call, PageWhy.REPEAT, now, again=True)
            self.plan(call)

    def plan(self, call: Call) -> None:
        """Set the timer of its next step."""
        due = self._due(call) if call.alerts else NEVER
        call.next_at = None if due == NEVER else due
        if call.next_at is None:
            self.leave(call)
        else:
            self._planned.add(call.id)
            self._desk.agenda.set(Task(CALL, call.id), due)

    def leave(self, call: Call) -> None:
        """No step of it is to come."""
        self._planned.discard(call.id)
        self._desk.agenda.cancel(Task(CALL, call.id))

    @property
    def steps_to_come(self) -> int:
        """Of how many calls a step is to come: those that are looked at with each thing said."""
        return len(self._planned)

    def _due(self, call: Call) -> Micros:
        if call.handed_over:
            return call.starts
        return min(self._tier_at(call), self._repeat_at(call)) if self._pages.to_tell(call) else NEVER

    def next_roles(self, call: Call) -> tuple[str, ...]:
        """Who is told with the next step, if there is one."""
        climbs = not call.handed_over and self._tier_at(call) <= self._repeat_at(call)
        return self._tiers(call)[call.tier + 1].roles if climbs and call.next_at is not None else tuple(call.roles)

    def _tiers(self, call: Call) -> tuple[Tier, ...]:
        route = self._routes.by_name.get(call.route)
        return () if route is None else route.tiers

    def _tier_at(self, call: Call) -> Micros:
        """When the next tier is to be told."""
        tiers, following = self._tiers(call), call.tier + 1
        if following >= len(tiers):
            return NEVER
        return Micros(max(call.starts, call.since + micros(tiers[following].after_seconds)))

    def _repeat_at(self, call: Call) -> Micros:
        """When the tier reached last is to be told again; without bound as long as nobody can have heard of it."""
        route = self._routes.by_name.get(call.route)
        if route is None or call.tier_at is None:
            return NEVER
        if route.repeat_seconds and call.repeats < route.most_repeats:
            return Micros(call.tier_at + micros(route.repeat_seconds))
        if self._pages.are_lost(call):
            return Micros(call.tier_at + max(micros(route.repeat_seconds), _LOST_APART))
        return NEVER

    # ---- whence and whither ----------------------------------------------------------------------------------------

    def begun_again(self, call: Call, now: Micros) -> Call:
        """The call, but as if nobody had been told yet."""
        fresh = Call(call.id, call.route, call.cause, now, now, call.alerts, call.answered, pages=call.pages)
        self._state.calls[call.id] = fresh
        return fresh

    def hand_over(self, call: Call, role: str, tier: int, now: Micros) -> None:
        """A new call begins with a role; tier: after which it goes on by its route.

        The last tier is told in any case where that role does not answer: what it was told before answers no more.
        """
        call.handed_over, call.roles, call.tier = True, [role], tier
        tiers = self._tiers(call)
        if tiers:
            call.tier = max(0, min(tier, len(tiers) - 2))
            call.since = Micros(now - micros(tiers[call.tier].after_seconds))

    def come_under_new_law(self, call: Call) -> None:
        """Its route may have fewer tiers, or other times."""
        if tiers := self._tiers(call):
            call.tier = min(call.tier, len(tiers) - 1)
        self.plan(call)

    def reached_nobody(self, page: Page, now: Micros) -> None:
        """No way to a contact is left: where that was the last one told, the next tier is told at once."""
        for call in filter(self._pages.to_tell, self._pages.calls_of(page)):
            call.failed += [page.contact] if page.contact not in call.failed else []
            if set(call.current) <= set(call.failed):
                self.go_on(call, now)

    def go_on(self, call: Call, now: Micros) -> None:
        """To the next tier at once, and further where everybody in it knows already: whoever does has not helped.

        Where none follows, and nobody is asked any more, those tiers begin anew in which somebody knows nothing yet.
        """
        if (
            not self._climb(call, now, at_once=True)
            and not self._pages.is_asked(call)
            and self._is_anybody_left(call, now)
        ):
            self._begin_anew(call, now)
        self.plan(call)

    def _is_anybody_left(self, call: Call, now: Micros) -> bool:
        """Whether somebody is on duty in a tier who was told nothing of the call."""
        roles = (role for tier in self._tiers(call) for role in tier.roles)
        contacts = {contact for role in roles for contact in self._rota.on_duty(role, now).contacts}
        return not contacts <= {*call.told, *call.declined}

    def _begin_anew(self, call: Call, now: Micros) -> None:
        call.tier = -1
        self._climb(call, now)

    def take_back(self, call: Call, tier: int, now: Micros) -> None:
        """Who had answered cannot go: whoever follows the tier reached before is told, else that one, else all anew."""
        tiers = self._tiers(call)
        call.tier = min(tier, len(tiers) - 1)
        if not self._climb(call, now, at_once=True):
            call.tier_at, call.repeats, call.roles = now, 0, list(tiers[call.tier].roles)
            if self.tell(call, PageWhy.AGAIN, now, again=True) is _Reached.NOBODY:
                call.tier = -1
                self._climb(call, now, at_once=True)
        call.since = Micros(now - micros(tiers[call.tier].after_seconds))
        self.plan(call)

    def resume(self, call: Call, since: Micros, now: Micros) -> None:
        """A condition that had ended holds again: tiers that nobody was to be told of meanwhile are as far off as then.

        since: when it had ended.
        """
        if call.next_at is None and not call.handed_over:
            call.since = Micros(call.since + now - since)
        self.plan(call)

    def _climb(self, call: Call, now: Micros, *, at_once: bool = False) -> bool:
        """On to the next tier, and further where nobody in it can go; whether a contact more was told."""
        tiers = self._tiers(call)
        while call.tier + 1 < len(tiers):
            first = PageWhy.AGAIN if call.again else PageWhy.FIRST
            why = first if call.tier < 0 else PageWhy.ESCALATION
            call.tier, call.tier_at, call.repeats = call.tier + 1, now, 0
            call.roles = list(tiers[call.tier].roles)
            reached = self.tell(call, why, now)
            if reached is _Reached.ANOTHER or (reached is _Reached.THE_SAME and not at_once):
                return reached is _Reached.ANOTHER
        return False

    def _tell_handed_over(self, call: Call, now: Micros) -> None:
        """The role to which it was handed over; where nobody is there those that follow, else all anew."""
        call.handed_over, call.tier_at = False, now
        if self.tell(call, PageWhy.HANDED_OVER, now) is _Reached.NOBODY and not self._climb(call, now, at_once=True):
            self._begin_anew(call, now)

    # ---- whom ------------------------------------------------------------------------------------------------------

    def tell(self, call: Call, why: PageWhy, now: Micros, *, again: bool = False) -> _Reached:
        """Page whoever is on duty in its roles.

        again: those who have been told before, too. So are they where an alert has joined of which they know nothing.
        """
        again = again or any(not self._state.cards[alert].told for alert in call.alerts)
        on_duty = self._on_duty(call, now)
        call.current = list(on_duty)
        call.urgency = min(call.urgency, URGENCY.index(self._pages.waiting([call.id])[0].priority))
        able = {contact: role for contact, role in on_duty.items() if contact not in call.declined}
        if not able and why is PageWhy.REPEAT:
            able = on_duty
        asked = [contact for contact in able if again or contact not in call.told]
        for contact in asked:
            self._pages.ask(call, contact, able[contact], why, now)
        call.failed = [contact for contact in call.failed if contact not in asked]
        call.told += [contact for contact in asked if contact not in call.told]
        if not able:
            return _Reached.NOBODY
        return _Reached.ANOTHER if asked else _Reached.THE_SAME

    def _on_duty(self, call: Call, now: Micros) -> dict[str, str]:
        """Role by contact; each contact once, however many roles it has."""
        found: dict[str, str] = {}
        for role in call.roles:
            contacts = self._rota.on_duty(role, now).contacts
            for contact in contacts:
                found.setdefault(contact, role)
            if not contacts:
                self._miss(call, role, now)
        return found

    def _miss(self, call: Call, role: str, now: Micros) -> None:
        cards = self._pages.waiting([call.id])
        if role not in call.unmanned or not all(card.told for card in cards):
            call.unmanned.append(role)
            for card in cards:
                card.told = True
            alerts = tuple(card.id for card in cards)
            self._desk.say(NobodyOnDuty(at=now, alerts=alerts, route=call.route, tier=max(call.tier, 0), role=role))
        self._ways.unmanned(role, now)


def _number(call: str) -> int:
    """Calls are numbered as they are made."""
    return int(call.rpartition("-")[2])
