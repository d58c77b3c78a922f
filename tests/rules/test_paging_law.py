"""Laws of paging, on random alerts, people, duties and channels.

Nothing waiting is lost; whoever has answered is left alone; no contact is paged too often; a restart changes nothing.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.alert_events import (
    AlertAcknowledged,
    AlertMoved,
    AlertOver,
    AlertRaised,
    NobodyOnDuty,
    PageAsked,
    PageReported,
    PageWithdrawn,
)
from rules.alert_words import WAITING, Cause, Confirmation, PageEnd, PageWhy, Priority, State
from rules.events import Event
from rules.page_limits import URGENT_APART, WINDOW
from rules.readings import Micros
from rules.site import Site
from tests.rules.feeder import seconds
from tests.rules.house import House, contact, duty, manned

ALERTS = [f"a{n}" for n in range(8)]
ROLES = ("tech", "charge")
SUBJECTS = ("cart cart-1", "basin basin-1", "sensor basin-1/lid", "gateway gateway")
HOUR = 3600


@dataclass(frozen=True)
class Step:
    """After so many seconds something happens; which, is written in ``does``."""

    after: float
    does: Callable[[House, float], object]
    name: str

    def __repr__(self) -> str:
        return f"+{self.after}: {self.name}"


def steps(of: st.SearchStrategy[tuple[str, Callable[[House, float], object]]]) -> st.SearchStrategy[Step]:
    return st.builds(lambda after, deed: Step(after, deed[1], deed[0]), st.sampled_from([0, 1, 5, 30, 200, 700]), of)


def raise_one(alert: str, priority: Priority, rule: str, subject: str) -> tuple[str, Callable[[House, float], object]]:
    def does(house: House, at: float) -> object:
        known = house.paging.state.cards
        return None if alert in known else house.raised(at, alert, priority=priority, rule=rule, subject=subject)

    return f"raise {alert} {priority} {rule} {subject}", does


def of_known(
    name: str, deed: Callable[[House, float, str], object]
) -> Callable[[str], tuple[str, Callable[..., object]]]:
    """Something that only happens to an alert that waits."""

    def made(alert: str) -> tuple[str, Callable[[House, float], object]]:
        def does(house: House, at: float) -> object:
            card = house.paging.state.cards.get(alert)
            return deed(house, at, alert) if card is not None and card.waits else None

        return f"{name} {alert}", does

    return made


def decline(house: House, at: float, alert: str) -> object:
    pages = [page.page for page in house.asked if alert in page.alerts]
    return house.declined(at, alert, pages[-1] if pages else None)


def remind(alert: str) -> tuple[str, Callable[[House, float], object]]:
    def does(house: House, at: float) -> object:
        card = house.paging.state.cards.get(alert)
        if card is None or card.waits:
            return None
        return house.moved(at, alert, Cause.REMINDED, before=State.ACKNOWLEDGED)

    return f"remind {alert}", does


def end(house: House, at: float, alert: str) -> object:
    return house.moved(at, alert, Cause.CONDITION_ENDED, after=State.RETURNED)


def come_back(house: House, at: float, alert: str) -> object:
    over = house.paging.state.cards[alert].over
    return house.moved(at, alert, Cause.CONDITION_CAME_BACK, before=State.RETURNED) if over else None


def tell(number: int, outcome: Confirmation | PageEnd) -> tuple[str, Callable[[House, float], object]]:
    return f"page-{number} {outcome}", lambda house, at: house.told(at, outcome, f"page-{number}")


NAMES = st.sampled_from(ALERTS)
STEPS = steps(
    st.one_of(
        st.builds(
            raise_one,
            NAMES,
            st.sampled_from(Priority),
            st.sampled_from(["alone", "quiet", "dark", "wipe"]),
            st.sampled_from(SUBJECTS),
        ),
        NAMES.map(of_known("acknowledge", House.acknowledged)),
        NAMES.map(of_known("over", House.over)),
        NAMES.map(of_known("shelve", House.shelved)),
        NAMES.map(of_known("decline", decline)),
        NAMES.map(of_known("end", end)),
        NAMES.map(of_known("come back", come_back)),
        NAMES.map(remind),
        st.builds(
            lambda alert, role: of_known(role, lambda h, at, a: h.handed_over(at, a, role))(alert),
            NAMES,
            st.sampled_from(ROLES),
        ),
        st.builds(tell, st.integers(1, 30), st.sampled_from([*Confirmation, *PageEnd])),
    )
)

CONTACTS = [contact("phone", "mail", "pager"), contact("nurse", "pager"), contact("second", "mail")]
TIMES = st.sampled_from(["00:00:00", "22:00:00", "22:15:00", "22:30:00", "23:00:00"])
DUTIES = st.builds(
    lambda role, contacts, start, end: duty(role, *contacts, start=start, end=end),
    st.sampled_from(ROLES),
    st.lists(st.sampled_from(["phone", "nurse", "second"]), min_size=1, max_size=2, unique=True),
    TIMES,
    TIMES,
)
TIERS = st.lists(st.lists(st.sampled_from(ROLES), min_size=1, max_size=2, unique=True), min_size=1, max_size=3).map(
    lambda tiers: [{"roles": roles, "after_seconds": 100 * n} for n, roles in enumerate(tiers)]
)
ROUTES = st.lists(
    st.fixed_dictionaries(
        {
            "tiers": TIERS,
            "repeat_seconds": st.sampled_from([0, 60, 300]),
            "most_repeats": st.integers(0, 3),
            "priorities": st.lists(st.sampled_from([p.value for p in Priority]), unique=True),
            "places": st.sampled_from([[], ["station-1"], ["cart-1"]]),
        }
    ),
    max_size=3,
).map(lambda routes: [{"name": f"Route {n}", **route} for n, route in enumerate(routes)])
SITES = st.builds(
    lambda duties, routes, most: manned(contact=CONTACTS, duty=duties, route=routes, alerts={"most_pages": most}),
    st.lists(DUTIES, max_size=4),
    ROUTES,
    st.sampled_from([2, 4, 10]),
)


def play(site: Site, story: list[Step], *, restarts: bool = False) -> House:
    """The story, and then nothing for six hours."""
    house, at = House(site), 0.0
    for step in story:
        at += step.after
        step.does(house, at)
        if restarts:
            house.restart()
    for later in (1, 700, 6 * HOUR):
        house.until(at + later)
        if restarts:
            house.restart()
    return house


@settings(max_examples=100)
@given(SITES, st.lists(STEPS, max_size=30))
def test_whatever_happens_the_laws_of_paging_hold(site: Site, story: list[Step]) -> None:
    house = play(site, story)
    what_waits_is_told_to_somebody_or_it_is_said_that_nobody_is_there(house)
    what_is_urgent_is_told_within_half_a_minute(house)
    nobody_is_paged_of_what_needs_nobody(house.events)
    another_way_is_tried_only_of_what_was_asked_of_that_contact_and_is_not_answered(house.events)
    whoever_confirms_nothing_is_tried_by_the_next_way(house.events)
    no_contact_is_paged_more_often_than_the_site_allows(house)
    times_never_run_backwards_and_no_page_has_the_name_of_another(house)
    what_is_remembered_of_each_other_agrees(house)
    what_is_over_and_known_is_told_to_nobody_more(house.events)
    the_story_ends(house)


@settings(max_examples=40)
@given(SITES, st.lists(STEPS, max_size=20))
def test_a_restart_anywhere_changes_nothing(site: Site, story: list[Step]) -> None:
    assert play(site, story, restarts=True).lines == play(site, story).lines


def until_another_way_is_tried(*between: Callable[[House, float, str], object]) -> list[Event]:
    """Of an alert that is raised, and to which this happens before the first way should have been confirmed."""
    house = House().raised(0, "a")
    for n, deed in enumerate(between):
        deed(house, 20 + n, "a")
    return house.until(60).events


@pytest.mark.parametrize("between", [(), (end,), (end, come_back)])
def test_another_way_is_tried_of_what_is_over_but_not_answered(between: tuple[Callable[..., object], ...]) -> None:
    events = until_another_way_is_tried(*between)
    assert [page.why for page in events if isinstance(page, PageAsked)] == [PageWhy.FIRST, PageWhy.FALLBACK]
    another_way_is_tried_only_of_what_was_asked_of_that_contact_and_is_not_answered(events)
    whoever_confirms_nothing_is_tried_by_the_next_way(events)
    with pytest.raises(AssertionError):
        whoever_confirms_nothing_is_tried_by_the_next_way(events[:-1])


def hand_over(house: House, at: float, alert: str) -> object:
    return house.handed_over(at, alert, "charge")


@pytest.mark.parametrize("answer", [House.acknowledged, House.over, House.shelved, decline, hand_over])
@pytest.mark.parametrize("between", [(), (end,)])
def test_the_law_is_broken_by_another_way_that_is_tried_after_an_answer(
    answer: Callable[..., object], between: tuple[Callable[..., object], ...]
) -> None:
    right, another_way = until_another_way_is_tried(*between, answer), until_another_way_is_tried()[-1]
    another_way_is_tried_only_of_what_was_asked_of_that_contact_and_is_not_answered(right)
    with pytest.raises(AssertionError):
        another_way_is_tried_only_of_what_was_asked_of_that_contact_and_is_not_answered([*right, another_way])


def test_of_what_is_over_and_known_nothing_holds_for_a_later_alert_of_the_same_name() -> None:
    house = House().raised(0, "a").told(1, Confirmation.ACCEPTED, "page-1")
    end(house, 20, "a")
    house.over(21, "a").raised(22, "a").told(23, Confirmation.ACCEPTED, "page-2").until(400)
    assert {page.why for page in house.asked} >= {PageWhy.REPEAT, PageWhy.ESCALATION}
    what_is_over_and_known_is_told_to_nobody_more(house.events)


def what_waits_is_told_to_somebody_or_it_is_said_that_nobody_is_there(house: House) -> None:
    now = Micros(house.events[-1].at) if house.events else Micros(0)
    for card in house.paging.state.cards.values():
        route = house.paging._routes.route(card.rule, card.subject, card.priority, now)
        if card.waits and (card.call or route):
            since = max(n for n, event in enumerate(house.events) if asks_anew(event, card.id))
            assert any(tells(event, card.id) for event in house.events[since:])


def asks_anew(event: Event, alert: str) -> bool:
    if isinstance(event, AlertMoved):
        return event.alert == alert and event.cause in (Cause.REMINDED, Cause.HANDED_OVER)
    return isinstance(event, AlertRaised) and event.alert == alert


def tells(event: Event, alert: str) -> bool:
    return isinstance(event, PageAsked | NobodyOnDuty) and alert in event.alerts


def what_is_urgent_is_told_within_half_a_minute(house: House) -> None:
    for n, event in enumerate(house.events):
        if isinstance(event, AlertRaised) and event.priority is Priority.HIGH:
            follows = [later for later in house.events[n + 1 :] if concerns(later, event.alert)]
            route = house.paging._routes.route(event.rule, event.subject, event.priority, Micros(event.at))
            assert route is None or follows[0].at - event.at <= URGENT_APART


def concerns(event: Event, alert: str) -> bool:
    moved = isinstance(event, AlertAcknowledged | AlertOver | AlertMoved) and event.alert == alert
    return moved or tells(event, alert)


def nobody_is_paged_of_what_needs_nobody(events: list[Event]) -> None:
    waiting: set[str] = set()
    asked: set[str] = set()
    for event in events:
        if isinstance(event, AlertRaised):
            waiting.add(event.alert)
        elif isinstance(event, AlertAcknowledged | AlertOver):
            waiting.discard(event.alert)
        elif isinstance(event, AlertMoved):
            (waiting.add if event.after in WAITING else waiting.discard)(event.alert)
        elif isinstance(event, PageAsked):
            assert set(event.alerts) <= waiting
            asked.add(event.page)
        elif isinstance(event, PageWithdrawn):
            assert event.page in asked


def another_way_is_tried_only_of_what_was_asked_of_that_contact_and_is_not_answered(events: list[Event]) -> None:
    open_to: dict[str, set[str]] = {}
    contacts: dict[str, str] = {}
    for event in events:
        if isinstance(event, PageAsked):
            contacts[event.page] = event.contact
            known = open_to.setdefault(event.contact, set())
            assert event.why is not PageWhy.FALLBACK or known.issuperset(event.alerts)
            known.update(event.alerts)
        elif isinstance(event, AlertMoved) and event.cause is Cause.DECLINED:
            open_to.get(contacts.get(event.page or "", ""), set()).discard(event.alert)
        elif isinstance(event, AlertAcknowledged | AlertOver | AlertMoved) and not is_no_answer(event):
            for known in open_to.values():
                known.discard(event.alert)


def is_no_answer(event: Event) -> bool:
    """A condition that ends or comes back answers nothing; what is over stands until somebody does."""
    if not isinstance(event, AlertMoved) or event.cause not in (Cause.CONDITION_ENDED, Cause.CONDITION_CAME_BACK):
        return False
    return {event.before, event.after} <= WAITING


def whoever_confirms_nothing_is_tried_by_the_next_way(events: list[Event]) -> None:
    asked = [event for event in events if isinstance(event, PageAsked)]
    confirmed = {e.page for e in events if isinstance(e, PageReported) and isinstance(e.outcome, Confirmation)}
    withdrawn = {event.page for event in events if isinstance(event, PageWithdrawn)}
    for page in asked:
        if (page.contact, page.leg) == ("phone", 0) and page.page not in confirmed | withdrawn:
            assert any(is_next_way(other, page) for other in asked)


def is_next_way(page: PageAsked, before: PageAsked) -> bool:
    """Within the minute in which the first way should have been confirmed."""
    same = page.contact == before.contact and set(page.alerts) <= set(before.alerts)
    return same and (page.why, page.leg) == (PageWhy.FALLBACK, 1) and 0 <= seconds(page.at) - seconds(before.at) <= 60


def no_contact_is_paged_more_often_than_the_site_allows(house: House) -> None:
    most = house.site.alerts.most_pages
    asked = [page for page in house.asked if page.why is not PageWhy.FALLBACK]
    for name in ("phone", "nurse", "second"):
        own = [page for page in asked if page.contact == name]
        for before, last, page in zip(own, own[most - 1 :], own[most:], strict=False):
            is_urgent = page.priority is Priority.HIGH and page.why is not PageWhy.REPEAT
            assert page.at - before.at >= WINDOW or (is_urgent and page.at - last.at >= URGENT_APART)
        lesser = [page for page in own if page.priority is not Priority.HIGH]
        half = max(1, most // 2)
        assert all(later.at - first.at >= WINDOW for first, later in zip(lesser, lesser[half:], strict=False))


def times_never_run_backwards_and_no_page_has_the_name_of_another(house: House) -> None:
    assert all(before.at <= after.at for before, after in pairwise(house.events))
    assert len({page.page for page in house.asked}) == len(house.asked)


def what_is_over_and_known_is_told_to_nobody_more(events: list[Event]) -> None:
    """Unless somebody declines, after which whoever is next is told."""
    over: set[str] = set()
    known: set[str] = set()
    tells_of: dict[str, set[str]] = {}
    for event in events:
        if isinstance(event, AlertMoved):
            (over.add if event.after is State.RETURNED else over.discard)(event.alert)
            moved = known.copy() if event.cause is Cause.DECLINED else {event.alert}
            known -= moved
            tells_of = {page: told - moved for page, told in tells_of.items()}
        elif isinstance(event, AlertRaised):  # another one, where the name is that of one that was over
            over.discard(event.alert)
            known.discard(event.alert)
            tells_of = {page: told - {event.alert} for page, told in tells_of.items()}
        elif isinstance(event, PageReported) and isinstance(event.outcome, Confirmation):
            known |= tells_of[event.page]
        elif isinstance(event, PageAsked):
            tells_of[event.page] = set(event.alerts)
            assert event.why not in (PageWhy.ESCALATION, PageWhy.REPEAT) or not over & known & set(event.alerts)


def what_is_remembered_of_each_other_agrees(house: House) -> None:
    known = house.paging.state
    by_call = {alert: call.id for call in known.calls.values() for alert in (*call.alerts, *call.answered)}
    assert by_call == {card.id: card.call for card in known.cards.values() if card.call}
    assert all(known.cards[alert].waits for call in known.calls.values() for alert in call.alerts)
    assert all(call.alerts or call.answered for call in known.calls.values())
    tells_of = {(alert, page.id) for page in known.pages.values() for alert in page.alerts}
    assert tells_of == {(card.id, page) for card in known.cards.values() for page in card.pages if card.waits}


def the_story_ends(house: House) -> None:
    # 3 tiers, each told 1 + 3 times, over at most 2 ways to 3 contacts; held back for 10 min at a time.
    quiet = len(house.asked)
    assert len(house.until(seconds(house.events[-1].at) + 40 * HOUR if house.events else HOUR).asked) == quiet
