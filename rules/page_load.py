"""What pages ask of people: how many, to whom, why, and whether they arrived in time."""

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from rules.alert_events import NobodyOnDuty, PageAsked, PageEvent, PageReported, PageWithdrawn
from rules.alert_words import PageEnd, PageWhy
from rules.rates import Rates, rates
from rules.readings import Micros
from rules.stretch import Stretch


class Arrival(StrEnum):
    """What is known of a page in the end; ``LATE``: confirmed, but not within the deadline of its channel."""

    IN_TIME = "confirmed in time"
    LATE = "confirmed late or too little"
    FAILED = "refused or given up"
    WITHDRAWN = "withdrawn unconfirmed"
    NO_WORD = "no word of it"


@dataclass(frozen=True, slots=True)
class PageLoad:
    """Of all pages, or of some; test pages are left out.

    why: pages by their reason. by_day: by the days of the stretch. arrivals: see ``Arrival``.
    in_time_share: of those that were not withdrawn, 0 to 1; None where there are none.
    alerts: number of alerts that they tell of. per_alert: pages that tell of one, on average and at most.
    """

    rates: Rates
    why: Mapping[PageWhy, int]
    by_day: tuple[int, ...]
    arrivals: Mapping[Arrival, int]
    in_time_share: float | None
    alerts: int
    per_alert: float | None
    most_per_alert: int


@dataclass(frozen=True, slots=True)
class RoleLoad:
    """What a role gets; nobody_on_duty: how often nobody was, when it was to be told."""

    role: str
    pages: PageLoad
    nobody_on_duty: int


@dataclass(frozen=True, slots=True)
class ContactLoad:
    """What goes to one contact."""

    contact: str
    pages: int
    per_day: float | None
    most_in_ten_minutes: int


@dataclass(slots=True)
class Pages:
    """Pages that were asked for, in order, test pages apart, and what became of each."""

    asked: list[PageAsked] = field(default_factory=list)
    tests: list[PageAsked] = field(default_factory=list)
    unmanned: list[NobodyOnDuty] = field(default_factory=list)
    became: dict[str, Arrival] = field(default_factory=dict)

    @classmethod
    def of(cls, events: Iterable[PageEvent]) -> "Pages":
        """By events in the order of their telling."""
        pages = cls()
        for event in events:
            match event:
                case PageAsked():
                    (pages.tests if event.why is PageWhy.TEST else pages.asked).append(event)
                case PageWithdrawn(page=page):
                    pages.became.setdefault(page, Arrival.WITHDRAWN)
                case PageReported():
                    pages.became[event.page] = _became(pages.became.get(event.page), event)
                case NobodyOnDuty():
                    pages.unmanned.append(event)
        return pages

    @property
    def alerts(self) -> set[str]:
        """Ids of the alerts that they tell of."""
        return {alert for page in self.asked for alert in page.alerts}

    def about(self, alerts: Collection[str]) -> "Pages":
        """Those that tell of one of the alerts."""
        return self._only(lambda event: any(alert in alerts for alert in event.alerts))

    def to(self, role: str) -> "Pages":
        """Those to a role."""
        return self._only(lambda event: event.role == role)

    def since(self, start: Micros) -> "Pages":
        """Those asked for from then on."""
        return self._only(lambda event: event.at >= start)

    def _only(self, fits: Callable[[PageAsked | NobodyOnDuty], bool]) -> "Pages":
        asked, tests = (list(filter(fits, pages)) for pages in (self.asked, self.tests))
        return Pages(asked, tests, list(filter(fits, self.unmanned)), self.became)


def _became(before: Arrival | None, event: PageReported) -> Arrival:
    """The best that was said of it: what arrived in time has."""
    if event.in_time or before is Arrival.IN_TIME:
        return Arrival.IN_TIME
    return Arrival.FAILED if isinstance(event.outcome, PageEnd) else Arrival.LATE


def page_load(pages: Pages, stretch: Stretch) -> PageLoad:
    """Of pages that were asked for within the stretch."""
    asked = pages.asked
    by_day = Counter(stretch.day_of(page.at) for page in asked)
    became = Counter(pages.became.get(page.page, Arrival.NO_WORD) for page in asked)
    sent = len(asked) - became[Arrival.WITHDRAWN]
    of_each = Counter(alert for page in asked for alert in page.alerts)
    return PageLoad(
        rates=rates([page.at for page in asked], stretch.span),
        why={why: sum(page.why is why for page in asked) for why in PageWhy if why is not PageWhy.TEST},
        by_day=tuple(by_day[number] for number in range(len(stretch.days))),
        arrivals={arrival: became[arrival] for arrival in Arrival},
        in_time_share=became[Arrival.IN_TIME] / sent if sent else None,
        alerts=len(of_each),
        per_alert=of_each.total() / len(of_each) if of_each else None,
        most_per_alert=max(of_each.values(), default=0),
    )


def role_loads(pages: Pages, stretch: Stretch) -> tuple[RoleLoad, ...]:
    """Of each role that was paged or should have been, by id."""
    roles = sorted({page.role for page in pages.asked} | {event.role for event in pages.unmanned})
    of_roles = ((role, pages.to(role)) for role in roles)
    return tuple(RoleLoad(role, page_load(mine, stretch), len(mine.unmanned)) for role, mine in of_roles)


def contact_loads(asked: Sequence[PageAsked], stretch: Stretch) -> tuple[ContactLoad, ...]:
    """Of each contact that was paged, the most pages first."""
    times: dict[str, list[Micros]] = {}
    for page in asked:
        times.setdefault(page.contact, []).append(page.at)
    loads = ((contact, rates(at, stretch.span)) for contact, at in times.items())
    found = [ContactLoad(contact, rate.count, rate.per_day, rate.most) for contact, rate in loads]
    return tuple(sorted(found, key=lambda load: (-load.pages, load.contact)))
