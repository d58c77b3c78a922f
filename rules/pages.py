"""Pages: asked for within the limit of each contact, followed until confirmed, tried by the next way, withdrawn."""

from collections.abc import Iterable, Sequence

from rules.agenda import Task
from rules.alert_commands import PageTold
from rules.alert_events import PageAsked, PageReported, PageWithdrawn
from rules.alert_words import Confirmation, PageEnd, PageWhy, Priority
from rules.calls import URGENCY, Call, Card, Held, Page, PagingState, Sent, sure_as
from rules.desk import Desk
from rules.page_limits import free_at, recent
from rules.page_text import page_words, summary_words, trial_words
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
        self._channels = {channel.id: channel for channel in site.channel}

    def waiting(self, calls: Iterable[str]) -> list[Card]:
        """What calls tell of, the most urgent first, then the oldest."""
        known = (self._state.calls[call] for call in dict.fromkeys(calls) if call in self._state.calls)
        cards = [self._state.cards[alert] for call in known for alert in call.alerts]
        return sorted(cards, key=lambda card: (URGENCY.index(card.priority), card.raised))

    # ---- asking ---------------------------------------------------------------------------------------------------

    def ask(self, call: Call, contact: str, role: str, why: PageWhy, now: Micros) -> None:
        """Tell a contact of a call, now or, where that is above the limit, with the next summary."""
        cards = self.waiting([call.id])
        for card in cards:
            card.told = True
        urgent = cards[0].priority is Priority.HIGH
        if self._free_at(contact, now, urgent=urgent) > now:
            self._hold(contact, Held(call.id, role), now)
        else:
            self._send(cards, [call.id], contact, role, why, now)

    def _hold(self, contact: str, what: Held, now: Micros) -> None:
        held = self._state.held.setdefault(contact, [])
        if all(other.call != what.call for other in held):
            held.append(what)
        self._plan_summary(contact, now)

    def _plan_summary(self, contact: str, now: Micros) -> None:
        cards = self.waiting(held.call for held in self._state.held.get(contact, ()))
        if cards:
            due = self._free_at(contact, now, urgent=cards[0].priority is Priority.HIGH)
            self._desk.agenda.set(Task(SUMMARY, contact), due)
        else:
            self._state.held.pop(contact, None)
            self._desk.agenda.cancel(Task(SUMMARY, contact))

    def summarise(self, contact: str, now: Micros) -> None:
        """Tell a contact of all that was held back, as soon as that is allowed."""
        held = [each for each in self._state.held.get(contact, ()) if each.call in self._state.calls]
        cards = self.waiting(each.call for each in held)
        if cards and self._free_at(contact, now, urgent=cards[0].priority is Priority.HIGH) <= now:
            del self._state.held[contact]
            roles = {each.call: each.role for each in held}
            calls = list(dict.fromkeys(card.call for card in cards))
            self._send(cards, calls, contact, roles[calls[0]], PageWhy.SUMMARY, now)
        else:
            self._plan_summary(contact, now)

    def _free_at(self, contact: str, now: Micros, *, urgent: bool) -> Micros:
        sent = self._state.sent[contact] = recent(self._state.sent.get(contact, ()), now)
        return free_at(sent, self._site.alerts.most_pages, now, urgent=urgent)

    def _send(
        self, cards: Sequence[Card], calls: Sequence[str], contact: str, role: str, why: PageWhy, now: Micros
    ) -> None:
        """A page of its own, which counts."""
        self._state.sent[contact].append(Sent(now, high=cards[0].priority is Priority.HIGH))
        self._emit(cards, self._new(contact, 0, role, why, calls, now))

    def _new(self, contact: str, leg: int, role: str, why: PageWhy, calls: Sequence[str], now: Micros) -> Page:
        self._state.pages_made += 1
        name, channel = f"page-{self._state.pages_made}", self._contacts[contact].ways[leg].channel
        return Page(name, now, why, [], list(calls), role, contact, channel, leg, chain=name)

    def _emit(self, cards: Sequence[Card], page: Page) -> None:
        calls = [self._state.calls[call] for call in page.calls if call in self._state.calls]
        page.alerts = [card.id for card in cards]
        for call in calls:
            call.pages = [*call.pages, page.id][-50:]
        brief, text = self._words(cards, calls, page.at)
        self._desk.say(
            PageAsked(
                at=page.at,
                page=page.id,
                why=page.why,
                alerts=tuple(page.alerts),
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

    def _words(self, cards: Sequence[Card], calls: Sequence[Call], now: Micros) -> tuple[str, str]:
        zone = self._site.site.zone
        if not cards:
            return trial_words(self._site.site.name, now, zone)
        if len(calls) > 1:
            return summary_words(cards, now, zone)
        return page_words(cards, self._gathered(cards), now, zone)

    def _gathered(self, cards: Sequence[Card]) -> str:
        """'Station A: 40 sensors silent'; '' where it is not said what they are together."""
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
                self._emit([], self._new(contact, leg, role, PageWhy.TEST, [], now))

    # ---- what became of them --------------------------------------------------------------------------------------

    def told(self, command: PageTold) -> Page | None:
        """Takes the gateway's word; gives the page where by it the last way to its contact failed."""
        page, outcome = self._state.pages.get(command.page), command.outcome
        if page is None or not _is_news(page, outcome):
            return None
        channel = self._channels.get(page.channel, _GONE)
        sure = sure_as(outcome, channel.asks)
        in_time = sure and command.arrived <= self._deadline(page)
        page.outcome = outcome
        said = PageReported(at=command.arrived, page=page.id, outcome=outcome, detail=command.detail, in_time=in_time)
        self._desk.say(said)
        if isinstance(outcome, PageEnd):
            return self._fail(page, command.arrived)
        if sure:
            self._confirmed(page, command.arrived)
        return None

    def deadline_over(self, page: str, now: Micros) -> Page | None:
        """A page was not confirmed in time; given where by that the last way to its contact failed."""
        return self._fail(self._state.pages[page], now)

    def _confirmed(self, page: Page, now: Micros) -> None:
        self._desk.agenda.cancel(Task(TOLD_BY, page.id))
        self._ways.works(page)
        for call in page.calls:
            if call in self._state.calls and page.contact in self._state.calls[call].failed:
                self._state.calls[call].failed.remove(page.contact)
        if page.why is not PageWhy.TEST:
            for other in self._state.pages.values():
                if other.chain == page.chain and other is not page:
                    self._withdraw(other, now)

    def _fail(self, page: Page, now: Micros) -> Page | None:
        self._desk.agenda.cancel(Task(TOLD_BY, page.id))
        if page.failed or page.withdrawn:
            return None
        page.failed = True
        self._ways.fails(page, test=page.why is PageWhy.TEST)
        cards = [card for alert in page.alerts if (card := self._state.cards.get(alert)) is not None and card.waits]
        contact = self._contacts.get(page.contact)
        if not cards or page.why is PageWhy.TEST:
            return None
        if contact is None or page.leg + 1 >= len(contact.ways):
            self._ways.exhausted(page.contact)
            return page
        calls = [call for call in page.calls if call in self._state.calls]
        fallback = self._new(page.contact, page.leg + 1, page.role, PageWhy.FALLBACK, calls, now)
        fallback.chain = page.chain
        self._emit(cards, fallback)
        return None

    def _deadline(self, page: Page) -> Micros:
        return Micros(page.at + micros(self._channels.get(page.channel, _GONE).deadline_seconds))

    # ---- an end ---------------------------------------------------------------------------------------------------

    def answered(self, alert: str, now: Micros) -> None:
        """Nobody waits for an answer to the alert any more: pages that tell of nothing else are not needed."""
        for page in self._state.pages.values():
            if alert in page.alerts and not any(self._waits(other) for other in page.alerts):
                self._withdraw(page, now)
                page.alerts, page.calls = [], []

    def _waits(self, alert: str) -> bool:
        card = self._state.cards.get(alert)
        return card is not None and card.waits

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


def _is_news(page: Page, outcome: Confirmation | PageEnd) -> bool:
    """Whether it says more than is known: that a page was given up after it was delivered does not."""
    if isinstance(outcome, Confirmation):
        return not sure_as(page.outcome, outcome)
    return not isinstance(page.outcome, PageEnd) and not sure_as(page.outcome, Confirmation.DELIVERED)
