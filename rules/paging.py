"""Whom to tell of alerts, and when: a fold over what the engine says of them.

Alerts of one cause and one route are one call. A call goes through the tiers of its route until every one of its alerts
is answered; what goes wrong on the way - nobody on duty, nobody reached, somebody cannot go - makes it go on at once.
"""

from collections.abc import Container

from rules.alert_commands import Acknowledge, Decline, PageTold, TryPages
from rules.alert_events import AlertAcknowledged, AlertMoved, AlertOver, AlertRaised, AlertTakenOver
from rules.alert_words import LETS_OFF, WAITING, Cause, Confirmation, PageWhy, Priority, State
from rules.call_picture import CallPicture, RolePicture
from rules.call_views import draw_call, draw_roles
from rules.calling import CALL, HANDED_TOGETHER, Calling
from rules.calls import URGENCY, Call, Card, PagingState, card_of
from rules.desk import Desk
from rules.duty import Rota
from rules.events import Event
from rules.pages import SUMMARY, TOLD_BY, Pages
from rules.reach import Route
from rules.readings import Micros, micros
from rules.routing import Places, Routes
from rules.ruleset import RuleBook
from rules.site import Site
from rules.ways import STAFFED, Ways


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
        self._calling = Calling(desk, self.rota, self._routes, self._ways, self._pages, self.state)
        self._heard = 0
        self._work = {
            CALL: self._calling.step,
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
        self._calling.step_all(now)
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
        elif (page := self.state.pages.get(command.page)) is not None:
            if self._pages.told(page, command):
                self._calling.reached_nobody(page, command.arrived)
            for call in self._pages.calls_of(page):
                self._calling.plan(call)

    def come_under_new_law(self, now: Micros) -> None:
        """Another site file: calls by routes that are gone are made anew, and so is one that only now has a route."""
        self._ways.come_under_new_law(now)
        self._pages.come_under_new_law()
        for call in list(self.state.calls.values()):
            if call.route and call.route not in self._routes.by_name:
                self._drop(call, now)
        for card in self.state.cards.values():
            if card.waits and not card.call:
                self._open(card, now)
        for call in list(self.state.calls.values()):
            self._calling.come_under_new_law(call)
        self._calling.step_all(now)

    def _drop(self, call: Call, now: Micros) -> None:
        for card in [self.state.cards[alert] for alert in (*call.alerts, *call.answered)]:
            self._pages.let_go(card, now)
            self._part(card)

    @property
    def steps_to_come(self) -> int:
        """Of how many calls a step is to come: those that are looked at with each thing that is said."""
        return self._calling.steps_to_come

    def pictures(self, now: Micros) -> tuple[tuple[CallPicture, ...], tuple[RolePicture, ...]]:
        """Calls whose alerts are not over, the oldest first, and roles."""
        return (
            tuple(self._picture(call) for call in self.state.calls.values()),
            tuple(draw_roles(self._site, self.rota, now)),
        )

    def _picture(self, call: Call) -> CallPicture:
        waiting = (card.id for card in self._pages.waiting([call.id]))
        return draw_call(call, (*waiting, *call.answered), self._calling.next_roles(call), self.state)

    # ---- alerts ---------------------------------------------------------------------------------------------------

    def _hear(self, event: Event, now: Micros) -> None:
        if isinstance(event, AlertRaised):
            self.state.cards[event.alert] = card = card_of(event)
            self._open(card, now)
        elif isinstance(event, AlertAcknowledged):
            self._answered(event.alert, now, event.who)
        elif isinstance(event, AlertTakenOver):
            self._taken_over(event, now)
        elif isinstance(event, AlertOver):
            self._answered(event.alert, now)
            self._over(event.alert)
        elif isinstance(event, AlertMoved) and event.alert:
            self._moved(event, now)

    def _moved(self, event: AlertMoved, now: Micros) -> None:
        if event.after not in WAITING:
            if event.cause is Cause.SHELVED:
                self._let_off(event, PageWhy.PUT_ASIDE, now)
            self._answered(event.alert, now)
            return
        card = self.state.cards.get(event.alert) or self._unheard_of(event)
        self._note_whether_over(card, event, now)
        if event.cause is Cause.HANDED_OVER and event.role is not None:
            card.handed, card.handed_to = now, event.role
            self._let_off(event, PageWhy.PASSED_ON, now)
            self._hand_over(card, event.role, now)
            return
        card.holder = ""
        if not card.waits:
            self._ask_anew(card, event, now)
        elif event.cause is Cause.DECLINED and card.call:
            self._decline(self.state.calls[card.call], event, now)

    def _note_whether_over(self, card: Card, event: AlertMoved, now: Micros) -> None:
        """Of what is over nobody more has to be told than knows of it; what comes back goes on."""
        was_over, ended = card.over, card.over_since
        card.over = event.after is State.RETURNED
        if not card.over:
            card.over_since = None
        elif event.before is State.UNACKNOWLEDGED or event.cause is Cause.SHELF_ENDED_WITH_CONDITION:
            card.over_since = event.at
        call = self.state.calls.get(card.call)
        if call is not None and card.waits and card.over is not was_over:
            self._calling.resume(call, ended if was_over and ended is not None else now, now)

    def _ask_anew(self, card: Card, event: AlertMoved, now: Micros) -> None:
        """What was answered, or hidden, waits again: from the first tier on, or past whoever takes an answer back.

        Nobody is asked alone any more, so that whoever goes may say so by any page.
        """
        card.waits, card.handed, card.handed_to = True, None, ""
        before = self.state.calls.get(card.call)
        if before is None or not before.route or before.tier < 0 or event.cause is not Cause.DECLINED:
            self._open(card, now)
            return
        call = self._new_call(card, before.route, before.cause, now, now)
        self._part(card)
        call.alerts.append(card.id)
        card.call = call.id
        call.declined += self._who_cannot(event)
        self._calling.take_back(call, before.tier, now)

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
            self._part(card)
            return
        compiled = self._book.rules.get(card.rule)
        gathers = compiled.rule.gathers if compiled is not None else ""
        call = self._company(card, route.name, gathers or card.rule, now, gathered=bool(gathers))
        if call is None:
            starts = now if card.priority is Priority.HIGH else Micros(now + self._gather)
            call = self._new_call(card, route.name, gathers or card.rule, starts, now)
        self._join(card, call, now)

    def _company(self, card: Card, route: str, cause: str, now: Micros, *, gathered: bool) -> Call | None:
        """Never a call for which somebody cannot go: that was said of what they knew of, not of what comes later."""
        for call in self.state.calls.values():
            if call.cause == cause and call.route == route and not call.declined:
                waits = call.tier < 0 and call.starts >= now
                goes_on = waits or (gathered and (call.next_at is not None or self._cannot_wait(card, call)))
                if goes_on and self._pages.to_tell(call):
                    return call
        return None

    def _cannot_wait(self, card: Card, call: Call) -> bool:
        """For the next step of a call in which people know of something less urgent, or of another that is urgent."""
        return card.priority is Priority.HIGH or URGENCY.index(card.priority) < call.urgency

    def _new_call(self, card: Card, route: str, cause: str, starts: Micros, now: Micros) -> Call:
        """With what is known of who was told of the alert before."""
        self.state.calls_made += 1
        before = self.state.calls.get(card.call)
        call = Call(f"call-{self.state.calls_made}", route, cause, since=now, starts=starts)
        if before is not None and before.pages:
            call.pages, call.again = list(before.pages), True
        self.state.calls[call.id] = call
        return call

    def _join(self, card: Card, call: Call, now: Micros) -> None:
        self._part(card)
        call.alerts.append(card.id)
        card.call, card.told = call.id, False
        if card.priority is Priority.HIGH:
            call.starts = Micros(min(call.starts, now))
        if call.tier >= 0 and self._cannot_wait(card, call):
            self._calling.tell(call, PageWhy.FIRST, now, again=True)
        self._calling.plan(call)

    def _answered(self, alert: str, now: Micros, who: str = "") -> None:
        """Nobody has to be told of the alert any more; as long as it is not over it is known who was.

        who: who has it now; '' where nobody does.
        """
        card = self.state.cards.get(alert)
        if card is not None:
            card.holder = who
        if card is None or not card.waits:
            return
        card.waits = False
        self._pages.let_go(card, now)
        call = self.state.calls.get(card.call)
        if call is not None:
            call.alerts.remove(alert)
            call.answered.append(alert)
            self._see_who_is_left(call, now)

    def _see_who_is_left(self, call: Call, now: Micros) -> None:
        """Who answered may have known only of others: then of those that are left nobody was told by name."""
        if call.alerts and call.tier >= 0 and not any(self.state.cards[other].told for other in call.alerts):
            call = self._calling.begun_again(call, now)
        self._calling.plan(call)

    def _over(self, alert: str) -> None:
        card = self.state.cards.pop(alert, None)
        if card is not None:
            self._part(card)

    def _part(self, card: Card) -> Call | None:
        """Take an alert out of its call, which is given where it goes on; it ends with its last alert."""
        call = self.state.calls.get(card.call)
        card.call, card.told = "", False
        if call is None:
            return None
        for alerts in (call.alerts, call.answered):
            if card.id in alerts:
                alerts.remove(card.id)
        if call.alerts or call.answered:
            return call
        self._end(call)
        return None

    def _end(self, call: Call) -> None:
        del self.state.calls[call.id]
        self._calling.leave(call)

    # ---- what goes wrong, and what people do about it -------------------------------------------------------------

    def _deadline_over(self, whom: str, due: Micros) -> None:
        page = self.state.pages[whom]
        if self._pages.fail(page, due):
            self._calling.reached_nobody(page, due)

    def _decline(self, call: Call, event: AlertMoved, now: Micros) -> None:
        """The next tier is told at once; that somebody cannot go is news only once, though it be said of each alert."""
        unable = self._who_cannot(event)
        for contact in unable:
            self._pages.excuse(call, contact, now)
        if unable and set(unable) <= set(call.declined):
            return
        call.declined += [contact for contact in unable if contact not in call.declined]
        if not call.handed_over:  # else whoever it was handed over to is told in an instant
            call.starts = Micros(min(call.starts, now))
            self._calling.go_on(call, now)

    def _who_cannot(self, event: AlertMoved) -> list[str]:
        """Who said so, as a contact: the one that was paged, or that is theirs who said it at a screen."""
        page = self.state.pages.get(event.page or "")
        if page is not None:
            page.cannot = True
            return [page.contact]
        return [event.own_contact] if event.own_contact is not None else []

    def _taken_over(self, event: AlertTakenOver, now: Micros) -> None:
        card = self.state.cards.get(event.alert)
        if card is not None:
            card.holder = event.who
            self._tell_let_off(card, self._contact_named(event.holder, now), PageWhy.TAKEN_OVER, now)

    def _let_off(self, event: AlertMoved, why: PageWhy, now: Micros) -> None:
        """Whoever had it, and did not give it away themselves, does not have it any more."""
        card = self.state.cards.get(event.alert)
        if card is None:
            return
        holder, card.holder = card.holder, ""
        contact = self._contact_named(holder, now)
        asked_anew = event.role is not None and contact in self.rota.on_duty(event.role, now).contacts
        if holder != event.who and not asked_anew:
            self._tell_let_off(card, contact, why, now)

    def _contact_named(self, name: str, now: Micros) -> str:
        """Of several that share a name, as the devices of a role's shifts do, the one that is on duty."""
        known = [contact.id for contact in self._site.contact if contact.name == name]
        on_duty = {contact for role in self._roles for contact in self.rota.on_duty(role, now).contacts}
        return next((contact for contact in known if contact in on_duty), "")

    def _tell_let_off(self, card: Card, contact: str, why: PageWhy, now: Micros) -> None:
        """By their device; one whose shift is over is not woken for that."""
        role = next((role for role in self._roles if contact in self.rota.on_duty(role, now).contacts), None)
        if card.call and role is not None:
            self._pages.let_off(card, contact, role, why, now)

    def is_late(self, deed: Acknowledge | Decline) -> bool:
        """Whether it is an answer to a page from before the alert was given to a role, which alone is asked since.

        Not that of whoever has it and takes that back, nor that somebody of that role goes.
        """
        card, page = self.state.cards.get(deed.alert), self.state.pages.get(deed.page or "")
        return (
            card is not None
            and card.handed is not None
            and deed.page is not None
            and deed.who != card.holder
            and (page is None or page.at <= card.handed)  # one that is known no more is older than those that are
            and not (isinstance(deed, Acknowledge) and page is not None and self._is_asked(card, page.contact, deed))
        )

    def _is_asked(self, card: Card, contact: str, deed: Acknowledge | Decline) -> bool:
        return contact in self.rota.on_duty(card.handed_to, deed.arrived).contacts

    def tell_late(self, deed: Acknowledge | Decline) -> None:
        """Whoever says by such a page that they go is told, once, who was asked instead."""
        card, page = self.state.cards[deed.alert], self.state.pages.get(deed.page or "")
        is_new = page is not None and page.why not in LETS_OFF and page.outcome is not Confirmation.ANSWERED
        if page is not None and is_new and isinstance(deed, Acknowledge):
            self._tell_let_off(card, page.contact, PageWhy.PASSED_ON, deed.arrived)

    def _hand_over(self, card: Card, role: str, now: Micros) -> None:
        """The role is told; after it, the tiers that were still to be told, as far apart as before."""
        before, route = self.state.calls.get(card.call), self._handed_route(card, now)
        cause = f"{card.call} to {role}"
        starts = Micros(now + HANDED_TOGETHER)
        self._pages.let_go(card, now)
        call = next((c for c in self.state.calls.values() if c.handed_over and c.alerts and c.cause == cause), None)
        if call is None:
            call = self._new_call(card, route.name if route else "", cause, starts, now)
            self._calling.hand_over(call, role, max(before.tier if before else 0, 0), now)
        card.waits = True
        self._join_handed(card, call, now)

    def _join_handed(self, card: Card, call: Call, now: Micros) -> None:
        left = self._part(card)
        call.alerts.append(card.id)
        card.call = call.id
        self._calling.plan(call)
        if left is not None:
            self._see_who_is_left(left, now)

    def _handed_route(self, card: Card, now: Micros) -> Route | None:
        before = self.state.calls.get(card.call)
        known = self._routes.by_name.get(before.route) if before is not None else None
        return known or self._routes.route(card.rule, card.subject, card.priority, now)

    def _try_all(self, now: Micros) -> None:
        on_duty: dict[str, str] = {}
        for role in self._roles:
            for contact in self.rota.on_duty(role, now).contacts:
                on_duty.setdefault(contact, role)
        self._pages.try_all(on_duty.items(), now)
