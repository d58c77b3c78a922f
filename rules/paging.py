"""Whom to tell of alerts, and when: a fold over what the engine says of them.

Alerts of one cause and one route are one call. A call goes through the tiers of its route until every one of its alerts
is answered; what goes wrong on the way - nobody on duty, nobody reached, somebody cannot go - makes it go on at once.
"""

from collections.abc import Container, Iterable
from enum import Enum

from rules.agenda import NEVER, Task
from rules.alert_commands import PageTold, TryPages
from rules.alert_events import AlertAcknowledged, AlertMoved, AlertOver, AlertRaised, NobodyOnDuty
from rules.alert_words import WAITING, Cause, PageWhy, Priority
from rules.call_picture import CallPicture, RolePicture
from rules.call_views import draw_call, draw_roles
from rules.calls import URGENCY, Call, Card, Page, PagingState, card_of
from rules.desk import Desk
from rules.duty import Rota
from rules.events import Event
from rules.pages import SUMMARY, TOLD_BY, Pages
from rules.reach import Route, Tier
from rules.readings import Micros, micros
from rules.routing import Places, Routes
from rules.ruleset import RuleBook
from rules.site import Site
from rules.ways import STAFFED, Ways

CALL = "call"
"""Work of the agenda: the next step of a call is due."""


class _Reached(Enum):
    """What came of telling roles: a contact more, only such as had been told before, or nobody at all."""

    ANOTHER = 1
    THE_SAME = 2
    NOBODY = 3


class Paging:
    """Follows alerts, and asks for pages."""

    def __init__(self, site: Site, book: RuleBook, desk: Desk, state: PagingState | None = None) -> None:
        self.state = state or PagingState()
        self.rota = Rota(site.site.zone, site.duty, site.duty_change)
        self._site = site
        self._book = book
        self._desk = desk
        self._roles = tuple(role.id for role in site.role)
        self._gather = micros(site.alerts.gather_seconds)
        places = Places(site)
        self._routes = Routes(site.route, site.shift, site.site.zone, places)
        self._ways = Ways(site, desk, self.rota, self.state.troubles)
        self._pages = Pages(site, book, desk, places, self._ways, self.state)
        self._heard = 0
        self._work = {
            CALL: self._step_due,
            TOLD_BY: self._deadline_over,
            SUMMARY: self._pages.summarise,
            STAFFED: self._ways.look_at,
        }

    # ---- what the engine calls ------------------------------------------------------------------------------------

    def follow(self, said: list[Event], now: Micros) -> bool:
        """Take what was said since last time; whether there was anything.

        Args:
            said: all that was said since the last ``forget``; what follows is added to it.
            now: the engine's time.
        """
        if self._heard == len(said):
            return False
        while self._heard < len(said):
            self._heard += 1
            self._hear(said[self._heard - 1], now)
        for call in list(self.state.calls.values()):
            self._step(call, now)
        return True

    def forget(self) -> None:
        """What was said is taken away; what is said next begins a new list."""
        self._heard = 0

    def work(self, work: str, whom: str, due: Micros) -> None:
        """A timer of calls or pages is due."""
        self._work[work](whom, due)

    def known(self) -> dict[str, Container[str]]:
        """For whom each work of the agenda can be done."""
        contacts = self.state.held
        return {CALL: self.state.calls, TOLD_BY: self.state.pages, SUMMARY: contacts, STAFFED: self._roles}

    def obey(self, command: PageTold | TryPages) -> None:
        """The gateway tells of a page, or somebody wants to see whether pages arrive."""
        if isinstance(command, TryPages):
            self._try_all(command.arrived)
        elif (page := self._pages.told(command)) is not None:
            self._nobody_reached(page, command.arrived)

    def come_under_new_law(self, now: Micros) -> None:
        """Another site file: calls by routes that are gone are made anew, and so is one that only now has a route."""
        self._ways.come_under_new_law(now)
        self._pages.come_under_new_law()
        for call in list(self.state.calls.values()):
            if call.route and call.route not in self._routes.by_name:
                self._drop(call)
        for card in self.state.cards.values():
            if card.waits and not card.call:
                self._open(card, now)
        for call in list(self.state.calls.values()):
            if tiers := self._tiers(call):
                call.tier = min(call.tier, len(tiers) - 1)
            self._plan(call)
            self._step(call, now)

    def _drop(self, call: Call) -> None:
        for alert in call.alerts:
            card = self.state.cards[alert]
            card.call, card.told = "", False
        self._end(call)

    def pictures(self, now: Micros) -> tuple[tuple[CallPicture, ...], tuple[RolePicture, ...]]:
        """Calls that go on, the oldest first, and roles."""
        return (
            tuple(self._picture(call) for call in self.state.calls.values()),
            tuple(draw_roles(self._site, self.rota, now)),
        )

    def _picture(self, call: Call) -> CallPicture:
        alerts = tuple(card.id for card in self._pages.waiting([call.id]))
        climbs = self._tier_at(call) <= self._repeat_at(call)
        roles = self._tiers(call)[call.tier + 1].roles if climbs and call.next_at is not None else tuple(call.roles)
        return draw_call(call, alerts, roles, self.state)

    # ---- alerts ---------------------------------------------------------------------------------------------------

    def _hear(self, event: Event, now: Micros) -> None:
        if isinstance(event, AlertRaised):
            self.state.cards[event.alert] = card = card_of(event)
            self._open(card, now)
        elif isinstance(event, AlertAcknowledged):
            self._answered(event.alert, now)
        elif isinstance(event, AlertOver):
            self._answered(event.alert, now)
            self.state.cards.pop(event.alert, None)
        elif isinstance(event, AlertMoved) and event.alert:
            self._moved(event, now)

    def _moved(self, event: AlertMoved, now: Micros) -> None:
        if event.after not in WAITING:
            self._answered(event.alert, now)
            return
        card = self.state.cards.get(event.alert) or self._unheard_of(event)
        if event.cause is Cause.HANDED_OVER and event.role is not None:
            self._hand_over(card, event.role, now)
        elif event.cause is Cause.DECLINED and card.call:
            self._decline(card, event.page, now)
        elif not card.waits:
            card.waits = True
            self._open(card, now)

    def _unheard_of(self, event: AlertMoved) -> Card:
        """An alert that was never told, as it was hidden from its beginning."""
        compiled = self._book.rules.get(event.rule)
        priority = compiled.rule.priority if compiled is not None else Priority.MEDIUM
        text = f"{event.rule}: {event.subject}"
        card = Card(event.alert, event.rule, event.subject, priority, text, "", event.at, waits=False)
        self.state.cards[event.alert] = card
        return card

    def _open(self, card: Card, now: Micros) -> None:
        """Tell people of an alert: by a call that has begun for the same cause, or by one of its own."""
        route = self._routes.route(card.rule, card.subject, card.priority, now)
        if route is None:
            return
        compiled = self._book.rules.get(card.rule)
        gathers = compiled.rule.gathers if compiled is not None else ""
        call = self._company(card, route.name, gathers or card.rule, now, gathered=bool(gathers))
        if call is None:
            urgent = card.priority is Priority.HIGH
            starts = now if urgent else Micros(now + self._gather)
            call = self._new_call(route.name, gathers or card.rule, starts, now)
        self._join(card, call, now)

    def _company(self, card: Card, route: str, cause: str, now: Micros, *, gathered: bool) -> Call | None:
        for call in self.state.calls.values():
            if (call.route, call.cause) == (route, cause):
                waits = call.tier < 0 and call.starts >= now
                if waits or (gathered and (call.next_at is not None or self._is_more_urgent(card, call))):
                    return call
        return None

    def _is_more_urgent(self, card: Card, call: Call) -> bool:
        return URGENCY.index(card.priority) < call.urgency

    def _new_call(self, route: str, cause: str, starts: Micros, now: Micros) -> Call:
        self.state.calls_made += 1
        call = Call(f"call-{self.state.calls_made}", route, cause, since=now, starts=starts)
        self.state.calls[call.id] = call
        return call

    def _join(self, card: Card, call: Call, now: Micros) -> None:
        call.alerts.append(card.id)
        card.call, card.told = call.id, False
        if card.priority is Priority.HIGH:
            call.starts = Micros(min(call.starts, now))
        if call.tier >= 0 and self._is_more_urgent(card, call):
            self._tell(call, call.roles, PageWhy.FIRST, now, again=True)
        self._plan(call)

    def _answered(self, alert: str, now: Micros) -> None:
        """Nobody has to be told of the alert any more."""
        card = self.state.cards.get(alert)
        if card is None or not card.waits:
            return
        card.waits = False
        self._leave(card, now)
        self._pages.answered(alert, now)

    def _leave(self, card: Card, now: Micros) -> None:
        call = self.state.calls.get(card.call)
        card.call, card.told = "", False
        if call is None:
            return
        call.alerts.remove(card.id)
        if not call.alerts:
            self._end(call)
        elif call.tier >= 0 and not any(self.state.cards[other].told for other in call.alerts):
            self._begin_again(call, now)

    def _begin_again(self, call: Call, now: Micros) -> None:
        """Who answered knew only of the others: of those that are left nobody was told by name."""
        fresh = Call(call.id, call.route, call.cause, since=now, starts=now, alerts=call.alerts)
        self.state.calls[call.id] = fresh
        self._plan(fresh)

    def _end(self, call: Call) -> None:
        del self.state.calls[call.id]
        self._desk.agenda.cancel(Task(CALL, call.id))

    # ---- the steps of a call --------------------------------------------------------------------------------------

    def _tiers(self, call: Call) -> tuple[Tier, ...]:
        route = self._route(call)
        return () if route is None else route.tiers

    def _route(self, call: Call) -> Route | None:
        return self._routes.by_name.get(call.route)

    def _step_due(self, whom: str, due: Micros) -> None:
        self._step(self.state.calls[whom], due)
        for call in list(self.state.calls.values()):
            self._step(call, due)

    def _step(self, call: Call, now: Micros) -> None:
        """Whatever is due of the call."""
        while call.next_at is not None and call.next_at <= now:
            if self._tier_at(call) <= now:
                self._climb(call, now)
            else:
                call.repeats, call.tier_at = call.repeats + 1, now
                self._tell(call, call.roles, PageWhy.REPEAT, now, again=True)
            self._plan(call)

    def _plan(self, call: Call) -> None:
        due = min(self._tier_at(call), self._repeat_at(call))
        call.next_at = None if due == NEVER else due
        if call.next_at is None:
            self._desk.agenda.cancel(Task(CALL, call.id))
        else:
            self._desk.agenda.set(Task(CALL, call.id), due)

    def _tier_at(self, call: Call) -> Micros:
        """When the next tier is to be told."""
        tiers, following = self._tiers(call), call.tier + 1
        if following >= len(tiers):
            return NEVER
        return Micros(max(call.starts, call.since + micros(tiers[following].after_seconds)))

    def _repeat_at(self, call: Call) -> Micros:
        route = self._route(call)
        if route is None or call.tier_at is None or not route.repeat_seconds or call.repeats >= route.most_repeats:
            return NEVER
        return Micros(call.tier_at + micros(route.repeat_seconds))

    def _climb(self, call: Call, now: Micros, *, at_once: bool = False) -> None:
        """On to the next tier, and further where nobody is on duty in it.

        at_once: and further, too, where everybody in it knows already: whoever does has not helped.
        """
        tiers = self._tiers(call)
        while call.tier + 1 < len(tiers):
            why = PageWhy.FIRST if call.tier < 0 else PageWhy.ESCALATION
            call.tier, call.tier_at, call.repeats = call.tier + 1, now, 0
            call.roles = list(tiers[call.tier].roles)
            reached = self._tell(call, call.roles, why, now)
            if reached is _Reached.ANOTHER or (reached is _Reached.THE_SAME and not at_once):
                break
        self._plan(call)

    def _tell(self, call: Call, roles: Iterable[str], why: PageWhy, now: Micros, *, again: bool = False) -> _Reached:
        """Page whoever is on duty in the roles.

        again: those who have been told before, too. So are they where an alert has joined of which they know nothing.
        """
        again = again or any(not self.state.cards[alert].told for alert in call.alerts)
        on_duty = self._on_duty(call, roles, now)
        call.current = list(on_duty)
        call.urgency = min(call.urgency, URGENCY.index(self._pages.waiting([call.id])[0].priority))
        able = {contact: role for contact, role in on_duty.items() if contact not in call.declined} or on_duty
        asked = [contact for contact in able if again or contact not in call.told]
        for contact in asked:
            self._pages.ask(call, contact, able[contact], why, now)
        call.failed = [contact for contact in call.failed if contact not in asked]
        call.told += [contact for contact in asked if contact not in call.told]
        if not on_duty:
            return _Reached.NOBODY
        return _Reached.ANOTHER if asked else _Reached.THE_SAME

    def _on_duty(self, call: Call, roles: Iterable[str], now: Micros) -> dict[str, str]:
        """Role by contact; each contact once, however many roles it has."""
        found: dict[str, str] = {}
        for role in roles:
            contacts = self.rota.on_duty(role, now).contacts
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

    # ---- what goes wrong, and what people do about it -------------------------------------------------------------

    def _deadline_over(self, whom: str, due: Micros) -> None:
        page = self._pages.deadline_over(whom, due)
        if page is not None:
            self._nobody_reached(page, due)

    def _nobody_reached(self, page: Page, now: Micros) -> None:
        """No way to a contact is left: where that was the last one told, the next tier is told at once."""
        for name in list(page.calls):
            call = self.state.calls.get(name)
            if call is not None:
                call.failed += [page.contact] if page.contact not in call.failed else []
                if set(call.current) <= set(call.failed):
                    self._climb(call, now, at_once=True)

    def _decline(self, card: Card, page: str | None, now: Micros) -> None:
        call = self.state.calls[card.call]
        told = self.state.pages.get(page or "")
        if told is not None and told.contact not in call.declined:
            call.declined.append(told.contact)
        call.starts = Micros(min(call.starts, now))
        self._climb(call, now, at_once=True)

    def _hand_over(self, card: Card, role: str, now: Micros) -> None:
        """The role is told at once; after it, the tiers that were still to be told, as far apart as before."""
        before, route = self.state.calls.get(card.call), self._handed_route(card, now)
        self._leave(card, now)
        card.waits = True
        self._pages.answered(card.id, now)
        call = self._new_call(route.name if route else "", f"handed over {card.id}", now, now)
        call.tier, call.tier_at, call.roles = max(before.tier if before else 0, 0), now, [role]
        tiers = self._tiers(call)
        if tiers:
            call.tier = min(call.tier, len(tiers) - 1)
            call.since = Micros(now - micros(tiers[call.tier].after_seconds))
        call.alerts.append(card.id)
        card.call, card.told = call.id, False
        if self._tell(call, call.roles, PageWhy.HANDED_OVER, now) is _Reached.NOBODY:
            self._climb(call, now, at_once=True)
        self._plan(call)

    def _handed_route(self, card: Card, now: Micros) -> Route | None:
        before = self.state.calls.get(card.call)
        known = self._route(before) if before is not None else None
        return known or self._routes.route(card.rule, card.subject, card.priority, now)

    def _try_all(self, now: Micros) -> None:
        on_duty: dict[str, str] = {}
        for role in self._roles:
            for contact in self.rota.on_duty(role, now).contacts:
                on_duty.setdefault(contact, role)
        self._pages.try_all(on_duty.items(), now)
