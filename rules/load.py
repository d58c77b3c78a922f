"""The load that alerts and pages are on people, after ISA-18.2 / IEC 62682 and EEMUA 191 (all secondary).

Counted is what people are told. An activation is an alert that was raised, whose condition came back, or that is hidden
no longer; reminders are counted on their own, test pages nowhere else. Slots of ten minutes are fixed, from the
stretch's start on; the most in ten minutes, floods and chattering go by windows that slide. Only what was told within
the stretch counts; how long something stood or was hidden is known from before its start.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from rules.alert_events import AlertEvent, PageEvent
from rules.alert_lives import AlertLives
from rules.alert_load import AlertLoad, alert_load
from rules.page_load import ContactLoad, PageLoad, Pages, RoleLoad, contact_loads, page_load, role_loads
from rules.rates import slots
from rules.stretch import Stretch


@dataclass(frozen=True, slots=True)
class Which:
    """rule: only its alerts, and pages that tell of one. role: only its pages, and the alerts that they tell of."""

    rule: str | None = None
    role: str | None = None


EVERYTHING = Which()


@dataclass(frozen=True, slots=True)
class RuleLoad:
    """What the alerts of one rule ask of people."""

    rule: str
    alerts: AlertLoad


@dataclass(frozen=True, slots=True)
class Load:
    """All figures of a stretch.

    slots: activations in each fixed slot of ten minutes. rules: the most activations first. tests: test pages.
    """

    stretch: Stretch
    which: Which
    slots: tuple[int, ...]
    alerts: AlertLoad
    rules: tuple[RuleLoad, ...]
    pages: PageLoad
    roles: tuple[RoleLoad, ...]
    contacts: tuple[ContactLoad, ...]
    tests: int


def load_of(events: Iterable[AlertEvent | PageEvent], stretch: Stretch, which: Which = EVERYTHING) -> Load:
    """The figures.

    events: in the order of their telling; of alerts that stood or were hidden when the stretch began those from before
        it, too. Events from its end on do not count.
    """
    told = [event for event in events if event.at < stretch.until]
    lives = AlertLives.of((event for event in told if isinstance(event, AlertEvent)), stretch.until)
    pages = Pages.of(event for event in told if isinstance(event, PageEvent))
    if which.rule is not None:
        lives = lives.only(lambda item: item.whose.rule == which.rule)
        pages = pages.about({activation.alert for activation in lives.activations})
    if which.role is not None:
        pages = pages.to(which.role)
        told_of = pages.alerts
        lives = lives.only(lambda item: item.alert in told_of)
    return _load(lives.since(stretch.since), pages.since(stretch.since), stretch, which)


def _load(lives: AlertLives, pages: Pages, stretch: Stretch, which: Which) -> Load:
    return Load(
        stretch=stretch,
        which=which,
        slots=tuple(slots([activation.at for activation in lives.activations], stretch.span)),
        alerts=alert_load(lives, stretch),
        rules=_rule_loads(lives, stretch),
        pages=page_load(pages, stretch),
        roles=role_loads(pages, stretch),
        contacts=contact_loads(pages.asked, stretch),
        tests=len(pages.tests),
    )


def _rule_loads(lives: AlertLives, stretch: Stretch) -> tuple[RuleLoad, ...]:
    loads = [RuleLoad(rule, alert_load(mine, stretch)) for rule, mine in lives.by_rule().items() if mine.activations]
    return tuple(sorted(loads, key=lambda load: (-load.alerts.rates.count, load.rule)))
