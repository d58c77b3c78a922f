"""Pages: asked for within the limit of each contact, followed until confirmed, tried by the next way, withdrawn."""

from collections.abc import Iterable, Sequence

from rules.agenda import Task
from rules.alert_commands import PageTold
from rules.alert_events import PageAsked, PageReported, PageWithdrawn
from rules.alert_words import Confirmation, PageEnd, PageWhy, Priority
from rules.calls import URGENCY, Call, Card, Held, Page, PagingState, Sent, sure_as
from rules.desk import Desk
from rules.page_limits import free_at, recent
from rules.page_text import aside_words, page_words, passed_words, summary_words, taken_words, trial_words
from rules.reach import Channel
from rules.readings import SECOND, Micros, micros
from rules.routing import Places
from rules.ruleset import RuleBook
from rules.site import Site
from rules.ways import Ways

TOLD_BY = "page deadline"
"""Work of the agenda: a page should be confirmed by now."""

SUMMARY = "page summary"
"""Work of the agenda: a contact may be told by now of what was held back."""

_KEPT = 300
"""So many pages are kept, so that what is heard late of one can be told; those that somebody waits for, always."""

_TRIED_APART = Micros(60 * SECOND)
"""Pages are tested no more often (ours)."""


class Pages:
    """Asks for pages, and knows what became of each."""

    def __init__(self, site: Site, book: RuleBook, desk: Desk, places: Places, ways: Ways, state: PagingState) -> None:
        self._site = site
        self._book = book
        self._desk = desk
        self._places = places
        self._ways = ways
        self._state = state
        self._contacts = {contact.id: contact for contact in site.contact}
        self._role_names = {role.id: role.name for role in site.role}
        self._channels = {channel.id: channel for channel in site.channel}

    def waiting(self, calls: Iterable[str]) -> list[Card]:
        """What calls tell of, the most urgent first, then the oldest."""
        known = (self._state.calls[call] for call in dict.fromkeys(calls) if call in self._state.calls)
        cards = [self._state.cards[alert] for call in known for alert in call.alerts]
        return sorted(cards, key=lambda card: (URGENCY.index(card.priority), card.raised))

    def to_tell(self, call: Call) -> list[Card]:
        """What is still to be told of a call: what is over to nobody more, as soon as somebody is reached."""
        return [card for card in self.waiting([call.id]) if not (card.over and self._has_reached(card))]

    def _has_reached(self, card: Card) -> bool:
        return any(self._is_confirmed(self._state.pages[page]) for page in card.pages)

    # ---- asking ---------------------------------------------------------------------------------------------------

    def ask(self, call: Call, contact: str, role: str, why: PageWhy, now: Micros) -> None:
        """Tell a contact of a call, now or, where that is above the limit, with the next summary."""
        cards = self.to_tell(call) or self.waiting([call.id])
        is_known = why is PageWhy.REPEAT and all(card.told for card in cards) and not self.are_lost(call)
        what = Held(call.id, role, again=is_known)
        for card in cards:
            card.told = True
        if self._free_at(contact, [what], now) > now:
            self._hold(contact, what, now)
        else:
            self._hold_no_more(contact, call, now)
            self._send(cards, contact, role, why, now)

    def _hold(self, contact: str, what: Held, now: Micros) -> None:
        held = self._state.held.setdefault(contact, [])
        known = next((other for other in held if other.call == what.call), None)
        if known is None:
            held.append(what)
        else:
            known.again = known.again and what.again
        self._plan_summary(contact, now)

    def _hold_no_more(self, contact: str, call: Call, now: Micros) -> None:
        if contact in self._state.held:
            held = self._state.held[contact]
            self._state.held[contact] = [each for each in held if each.call != call.id]
            self._plan_summary(contact, now)

    def _plan_summary(self, contact: str, now: Micros) -> None:
        held = self._state.held.get(contact, [])
        if self._tells(held):
            self._desk.agenda.set(Task(SUMMARY, contact), self._free_at(contact, held, now))
        else:
            self._state.held.pop(contact, None)
            self._desk.agenda.cancel(Task(SUMMARY, contact))

    def _tells(self, held: Iterable[Held]) -> list[Card]:
        return self.waiting(each.call for each in held)

    def summarise(self, contact: str, now: Micros) -> None:
        """Tell a contact of all that was held back, as soon as that is allowed."""
        held = self._state.held.get(contact, [])
        cards = self._tells(held)
        if cards and self._free_at(contact, held, now) <= now:
            del self._state.held[contact]
            roles = {each.call: each.role for each in held}
            self._send(cards, contact, roles[cards[0].call], PageWhy.SUMMARY, now)
        else:
            self._plan_summary(contact, now)

    def _free_at(self, contact: str, held: Sequence[Held], now: Micros) -> Micros:
        """When all of it may be told to a contact in one page."""
        sent = self._state.sent[contact] = recent(self._state.sent.get(contact, ()), now)
        is_new = _is_high(self._tells(each for each in held if not each.again))
        is_high = is_new or _is_high(self._tells(held))
        return free_at(sent, self._site.alerts.most_pages, now, high=is_high, new=is_new)

    def let_off(self, card: Card, contact: str, role: str, why: PageWhy, now: Micros) -> None:
        """Tell a contact that an alert is not theirs any more.

        By their first way and no other, and not at all above the limit: nobody waits for an answer to it.
        """
        if self._free_at(contact, (), now) <= now:
            self._state.sent[contact].append(Sent(now, high=False))
            page = self._new(contact, 0, role, why, now)
            self._ask_for(page, [card], [self._state.calls[card.call]] if card.call else [])

    def _send(self, cards: Sequence[Card], contact: str, role: str, why: PageWhy, now: Micros) -> None:
        """A page of its own, which counts."""
        self._state.sent[contact].append(Sent(now, high=_is_high(cards)))
        self._emit(cards, self._new(contact, 0, role, why, now))

    def _new(self, contact: str, leg: int, role: str, why: PageWhy, now: Micros) -> Page:
        self._state.pages_made += 1
        name, channel = f"page-{self._state.pages_made}", self._contacts[contact].ways[leg].channel
        return Page(name, now, why, [], role, contact, channel, leg, chain=name)

    def _emit(self, cards: Sequence[Card], page: Page) -> None:
        for card in cards:
            card.pages.append(page.id)
        page.alerts = [card.id for card in cards]
        calls = self.calls_of(page)
        for call in calls:
            call.pages = [*call.pages, page.id][-50:]
        self._ask_for(page, cards, calls)

    def _ask_for(self, page: Page, cards: Sequence[Card], calls: Sequence[Call]) -> None:
        brief, text = self._words(page, cards, calls)
        self._desk.say(
            PageAsked(
                at=page.at,
                page=page.id,
                why=page.why,
                alerts=tuple(card.id for card in cards),
                route=calls[0].route if calls else "",
                tier=max(calls[0].tier, 0) if calls else 0,
                role=page.role,
                contact=page.contact,
                channel=page.channel,
                leg=page.leg,
                priority=cards[0].priority if cards else Priority.LOW,
                brief=brief,
                text=text,
            )
        )
        self._state.pages[page.id] = page
        self._desk.agenda.set(Task(TOLD_BY, page.id), self._deadline(page))
        self._let_old_ones_go()

    def are_lost(self, call: Call) -> bool:
        """Whether no page of the call can have been seen: each was refused, or given up."""
        known = (page for name in call.pages if (page := self._state.pages.get(name)) is not None)
        outcomes = [page.outcome for page in known if page.alerts]
        return bool(outcomes) and all(isinstance(outcome, PageEnd) for outcome in outcomes)

    def is_asked(self, call: Call) -> bool:
        """Whether somebody's answer is waited for, or a page held back that will ask for it."""
        held = (each.call for contact in self._state.held.values() for each in contact)
        return call.id in held or any(card.pages for card in self.waiting([call.id]))

    def calls_of(self, page: Page) -> list[Call]:
        """For whose alerts an answer to the page is waited for."""
        names = dict.fromkeys(self._state.cards[alert].call for alert in page.alerts)
        return [self._state.calls[name] for name in names]

    def _words(self, page: Page, cards: Sequence[Card], calls: Sequence[Call]) -> tuple[str, str]:
        now, zone = page.at, self._site.site.zone
        if not cards:
            return trial_words(self._site.site.name, now, zone)
        match page.why:
            case PageWhy.TAKEN_OVER:
                return taken_words(cards[0], now, zone)
            case PageWhy.PASSED_ON:
                role = cards[0].handed_to
                return passed_words(cards[0], self._role_names.get(role, role), now, zone)
            case PageWhy.PUT_ASIDE:
                return aside_words(cards[0], now, zone)
        if len(calls) > 1:
            return summary_words(cards, now, zone)
        return page_words(cards, self._gathered(cards), now, zone)

    def _gathered(self, cards: Sequence[Card]) -> str:
        """'Station A: 40 sensors without a signal'; '' where it is not said what they are together."""
        known = [self._book.rules[card.rule].rule for card in cards if card.rule in self._book.rules]
        words = {rule.many for rule in known}
        if len(cards) == 1 or len(known) < len(cards):
            return ""
        what = words.pop() if len(words) == 1 else "alerts" if all(rule.gathers for rule in known) else ""
        place = self._places.shared(card.subject for card in cards)
        return what and f"{f'{place}: ' if place else ''}{len(cards)} {what}"

    def try_all(self, on_duty: Iterable[tuple[str, str]], now: Micros) -> None:
        """Test every way of each contact and role given."""
        if self._state.tried is not None and self._state.tried + _TRIED_APART > now:
            return
        self._state.tried = now
        for contact, role in on_duty:
            for leg in range(len(self._contacts[contact].ways)):
                self._emit([], self._new(contact, leg, role, PageWhy.TEST, now))

    # ---- what became of them --------------------------------------------------------------------------------------

    def told(self, page: Page, command: PageTold) -> bool:
        """Takes the gateway's word; whether by it the last way to the page's contact failed."""
        outcome = command.outcome
        if not _is_news(page, outcome):
            return False
        channel = self._channels.get(page.channel, _GONE)
        sure = sure_as(outcome, channel.asks)
        in_time = sure and command.arrived <= self._deadline(page)
        page.outcome = outcome
        said = PageReported(at=command.arrived, page=page.id, outcome=outcome, detail=command.detail, in_time=in_time)
        self._desk.say(said)
        if isinstance(outcome, PageEnd):
            return self.fail(page, command.arrived)
        if sure:
            self._confirmed(page, command.arrived)
        return False

    def _confirmed(self, page: Page, now: Micros) -> None:
        self._desk.agenda.cancel(Task(TOLD_BY, page.id))
        self._ways.works(page)
        for call in self.calls_of(page):
            if page.contact in call.failed:
                call.failed.remove(page.contact)
        if page.why is not PageWhy.TEST:
            for other in self._state.pages.values():
                if other.chain == page.chain and other is not page:
                    self._withdraw(other, now)

    def fail(self, page: Page, now: Micros) -> bool:
        """A page was not confirmed in time, or never will be; whether by that the last way to its contact failed."""
        self._desk.agenda.cancel(Task(TOLD_BY, page.id))
        if page.failed or page.withdrawn:
            return False
        page.failed = True
        self._ways.fails(page, test=page.why is PageWhy.TEST)
        contact = self._contacts.get(page.contact)
        if not page.alerts:
            return False
        if contact is None or page.leg + 1 >= len(contact.ways):
            self._ways.exhausted(page.contact)
            return True
        fallback = self._new(page.contact, page.leg + 1, page.role, PageWhy.FALLBACK, now)
        fallback.chain = page.chain
        self._emit([self._state.cards[alert] for alert in page.alerts], fallback)
        return False

    def _deadline(self, page: Page) -> Micros:
        return Micros(page.at + micros(self._channels.get(page.channel, _GONE).deadline_seconds))

    # ---- an end ---------------------------------------------------------------------------------------------------

    def let_go(self, card: Card, now: Micros, contact: str | None = None) -> None:
        """Nobody waits for an answer to an alert by its pages, or those of one contact; what tells of no other goes."""
        ending = [page for page in card.pages if contact in (None, self._state.pages[page].contact)]
        card.pages = [page for page in card.pages if page not in ending]
        for page in (self._state.pages[name] for name in ending):
            page.alerts.remove(card.id)
            if not page.alerts:
                self._withdraw(page, now)

    def excuse(self, call: Call, contact: str, now: Micros) -> None:
        """A contact cannot go: it is tried by no other way, and what was held back for it is not sent."""
        for card in self.waiting([call.id]):
            self.let_go(card, now, contact)
        self._hold_no_more(contact, call, now)

    def _withdraw(self, page: Page, now: Micros) -> None:
        if page.withdrawn or isinstance(page.outcome, PageEnd) or self._is_confirmed(page):
            return
        page.withdrawn = True
        self._desk.agenda.cancel(Task(TOLD_BY, page.id))
        self._desk.say(PageWithdrawn(at=now, page=page.id))

    def _is_confirmed(self, page: Page) -> bool:
        return sure_as(page.outcome, self._channels.get(page.channel, _GONE).asks)

    def _let_old_ones_go(self) -> None:
        pages = self._state.pages
        if len(pages) <= _KEPT:
            return
        done = [page.id for page in pages.values() if not page.alerts and self._is_over(page)]
        for page in done[: len(pages) - _KEPT]:
            del pages[page]

    def _is_over(self, page: Page) -> bool:
        return page.withdrawn or page.failed or self._is_confirmed(page)

    def come_under_new_law(self) -> None:
        """Nobody is told who is not in the site file any more."""
        for contact in list(self._state.held):
            if contact not in self._contacts:
                del self._state.held[contact]


_GONE = Channel(id="gone")
"""A channel that the site file does not name any more is taken for the plainest one."""


def _is_high(cards: Sequence[Card]) -> bool:
    """Whether the first, which is the most urgent one, is of high priority."""
    return bool(cards) and cards[0].priority is Priority.HIGH


def _is_news(page: Page, outcome: Confirmation | PageEnd) -> bool:
    """Whether it says more than is known: that a page was given up after it was delivered does not."""
    if isinstance(outcome, Confirmation):
        return not sure_as(page.outcome, outcome)
    return not isinstance(page.outcome, PageEnd) and not sure_as(page.outcome, Confirmation.DELIVERED)
