"""The first minutes of the demo, in simulated time: whom alerts reach, and what people do about them."""

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TypeVar

import pytest

from rules.alert_commands import Acknowledge, Decline, PageTold
from rules.alert_events import AlertAcknowledged, AlertMoved, AlertOver, AlertRaised, PageAsked
from rules.alert_words import Cause, Confirmation, PageWhy
from rules.events import Event, event_json
from rules.readings import SECOND, Micros
from rules.site import Label, Site
from sim_devices.answering.answers import answers
from sim_devices.answering.pager_book import Draft, Fate, Page
from sim_devices.answering.pagers import CANNOT, GOES, step
from sim_devices.chance import Chance
from sim_devices.demo import MISLAID_ROLE, MISLAID_SECONDS, SEED, numbers_of
from tests.sim_devices.conftest import EPOCH
from tests.sim_devices.test_first_minutes import begun

Kind = TypeVar("Kind")
CHANCE = Chance(SEED)
OFFERED = ((GOES, "go"), (CANNOT, "cannot"))


@dataclass
class Minutes:
    """The demo's department second by second; its pagers take a page at once and tell of it at once."""

    site: Site
    labels: Mapping[str, Label]
    pages: dict[str, tuple[Page, PageAsked]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.week = begun(self.site, self.labels)
        self.mislaid = numbers_of(self.site, MISLAID_ROLE)
        self.numbers = {contact.id: contact.ways[0].address for contact in self.site.contact}

    def live(self, seconds: int) -> list[Event]:
        """What the engine said by then."""
        given = deque(self.week.inputs(EPOCH, Micros(EPOCH + seconds * SECOND)))
        for second in range(seconds):
            now = Micros(EPOCH + (second + 1) * SECOND)
            while given and given[0].arrived <= now:
                self.week.apply([given.popleft()])
            self.week.events += self.week.engine.advance(now)
            self._send(now)
            for page in list(self.pages):
                self._carry(page, now)
            self.week.apply(answers(self.week.engine.picture(), now, CHANCE))
        return self.week.events

    def _send(self, now: Micros) -> None:
        for asked in self.said(PageAsked):
            if asked.page not in self.pages:
                draft = Draft((self.numbers[asked.contact],), asked.text, two_way=True, choices=OFFERED)
                self.pages[asked.page] = Page(asked.page, "", draft, Fate.DELIVERED, now), asked
                self._tell(asked.page, Confirmation.DELIVERED, now)

    def _carry(self, name: str, now: Micros) -> None:
        page, asked = self.pages[name]
        is_mislaid = page.draft.pagers[0] in self.mislaid and now < EPOCH + MISLAID_SECONDS * SECOND
        done = None if is_mislaid else step(page, now, CHANCE)
        if done is None:
            return
        self.pages[name] = replace(page, fate=done.fate, reply=done.reply, moved=now), asked
        self._tell(name, Confirmation.ANSWERED if done.reply else Confirmation.READ, now)
        if done.reply:
            deed = Acknowledge if done.reply == GOES else Decline
            self.week.apply(deed(arrived=now, who=asked.contact, alert=alert, page=name) for alert in asked.alerts)

    def _tell(self, page: str, outcome: Confirmation, now: Micros) -> None:
        self.week.apply([PageTold(arrived=now, who="gateway", page=page, outcome=outcome)])

    def said(self, kind: type[Kind]) -> list[Kind]:
        """Of one kind, in order."""
        return [event for event in self.week.events if isinstance(event, kind)]


@pytest.fixture(scope="module")
def minutes(site: Site, labels: dict[str, Label]) -> Minutes:
    found = Minutes(site, labels)
    found.live(400)
    return found


def within(event: Event, seconds: float) -> bool:
    return event.at <= EPOCH + seconds * SECOND


def test_somebody_is_paged_within_the_first_minute(minutes: Minutes) -> None:
    assert any(within(asked, 60) for asked in minutes.said(PageAsked))


def test_a_page_that_nobody_hears_goes_on_to_somebody_else_within_three_minutes(minutes: Minutes) -> None:
    further = [asked for asked in minutes.said(PageAsked) if asked.why is PageWhy.ESCALATION]
    assert any(within(asked, 180) and asked.role == "charge" for asked in further)


def test_alerts_are_answered_and_declined_by_pager(minutes: Minutes) -> None:
    assert any(answered.page is not None for answered in minutes.said(AlertAcknowledged))
    assert any(moved.cause is Cause.DECLINED and moved.page is not None for moved in minutes.said(AlertMoved))


def test_what_happened_is_settled_with_what_was_done(minutes: Minutes) -> None:
    settled = [over for over in minutes.said(AlertOver) if over.why == "settled"]
    assert all(over.who and over.remark for over in settled)
    assert settled


def test_no_alert_of_high_priority_waits_for_long(minutes: Minutes) -> None:
    answered = {said.alert: said.at for said in minutes.said(AlertAcknowledged)}
    high = [raised for raised in minutes.said(AlertRaised) if raised.priority == "high" and within(raised, 240)]
    assert high
    assert all(answered[raised.alert] - raised.at <= 180 * SECOND for raised in high)


def test_the_same_seed_gives_the_same_minutes(site: Site, labels: dict[str, Label]) -> None:
    first, second = (Minutes(site, labels).live(120) for _ in range(2))
    assert list(map(event_json, first)) == list(map(event_json, second))
