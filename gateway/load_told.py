"""The load on people, told to people and to programs."""

from collections.abc import Iterable, Iterator, Sequence
from math import floor

from pydantic import TypeAdapter

from gateway.load_figures import SOURCE, Figure, alert_figures, lasting, page_figures, percent, rounded
from gateway.load_log import PROVISIONAL_BELOW_DAYS, RecordedLoad
from gateway.when import written
from rules.alert_load import Often
from rules.load import Load, RuleLoad
from rules.page_load import ContactLoad, RoleLoad
from rules.rates import MOST_IN_TEN_MINUTES
from rules.readings import SECOND

_LOAD: TypeAdapter[Load] = TypeAdapter(Load)

PROVISIONAL = f"Less than {PROVISIONAL_BELOW_DAYS} days of record: figures are provisional."

_NAME, _SAID, _TARGET = 50, 30, 24


def as_json(found: RecordedLoad) -> str:
    """One JSON object with the fields of ``rules.load.Load``; times are microseconds since the epoch."""
    return _LOAD.dump_json(found.load, indent=2).decode()


def lines(found: RecordedLoad) -> Iterator[str]:
    """A report: the figures beside their targets, then where they come from and whom they reach."""
    yield from headline(found)
    yield ""
    yield from _figures("Alerts, as people were told of them", alert_figures(found.load.alerts))
    yield from _top(found, found.load.alerts.top)
    yield from _rules(found.load.rules)
    yield ""
    yield from _figures("Pages", page_figures(found.load.pages))
    yield f"  {'test pages, not counted above':<{_NAME}}{found.load.tests}"
    yield from _roles(found, found.load.roles)
    yield from _contacts(found, found.load.contacts)


def headline(found: RecordedLoad) -> Iterator[str]:
    """Of what time it is, and what is to be known before it is read."""
    stretch, which = found.load.stretch, found.load.which
    since, until = (written(at, found.zone) for at in (stretch.since, stretch.until))
    days = stretch.length_days
    long = f"{floor(days * 100) / 100:g} days" if days >= 1 else lasting(stretch.span.micros / SECOND)
    yield f"Load of alerts and pages on people, {since} to {until}, local to {found.zone.key}: {long}"
    if which.rule is not None:
        yield f"Only of rule '{which.rule}'."
    if which.role is not None:
        yield f"Only what {found.name(which.role)} was paged of."
    if found.is_provisional:
        yield PROVISIONAL
    unheard_seconds = found.unheard_hours * 3600
    if round(unheard_seconds):
        unheard = lasting(unheard_seconds)
        yield f"The gateway was cut off from its sensors for {unheard} of it, which counts as time without alerts."
    yield SOURCE


def _figures(title: str, figures: Iterable[Figure]) -> Iterator[str]:
    yield f"{title:<{_NAME + 2}}{'':<{_SAID}}{'target':<{_TARGET}}".rstrip()
    for one in figures:
        yield f"  {one.name:<{_NAME}}{one.said:<{_SAID}}{one.target:<{_TARGET}}{one.meets.value}".rstrip()


def _top(found: RecordedLoad, top: Sequence[Often]) -> Iterator[str]:
    if top:
        yield ""
        yield "The most frequent"
    for often in top:
        what = f"{often.rule}, {found.subject(often.subject)}"
        yield f"  {what:<{_NAME}}{often.count:>6}  {percent(often.share)}"


def _rules(rules: Sequence[RuleLoad]) -> Iterator[str]:
    if not rules:
        return
    yield ""
    yield f"{'By rule':<{_NAME + 2}}{'alerts':>6}{'a day':>9}{'fleeting':>10}{'answered after':>18}{'unanswered':>12}"
    for rule in rules:
        load, median = rule.alerts, rule.alerts.answers.median_seconds
        after = "-" if median is None else lasting(median)
        figures = f"{load.rates.count:>6}{rounded(load.rates.per_day):>9}{load.fleeting:>10}{after:>18}"
        yield f"  {rule.rule:<{_NAME}}{figures}{load.answers.unanswered:>12}"


def _roles(found: RecordedLoad, roles: Sequence[RoleLoad]) -> Iterator[str]:
    if not roles:
        return
    yield ""
    heads = f"{'pages':>6}{'a day':>9}{'most a day':>12}{'most in 10 min':>16}{'in time':>10}{'nobody on duty':>16}"
    yield f"{'By role':<{_NAME + 2}}{heads}"
    for role in roles:
        pages, share = role.pages, role.pages.in_time_share
        over = " above 10" if pages.rates.most > MOST_IN_TEN_MINUTES else ""
        figures = f"{pages.rates.count:>6}{rounded(pages.rates.per_day):>9}{max(pages.by_day, default=0):>12}"
        in_time = "-" if share is None else percent(share)
        yield (
            f"  {found.name(role.role):<{_NAME}}{figures}{pages.rates.most:>16}{in_time:>10}"
            f"{role.nobody_on_duty:>16}{over}"
        )


def _contacts(found: RecordedLoad, contacts: Sequence[ContactLoad]) -> Iterator[str]:
    if contacts:
        yield ""
        yield f"{'By contact':<{_NAME + 2}}{'pages':>6}{'a day':>9}{'most in 10 min':>28}"
    for contact in contacts:
        figures = f"{contact.pages:>6}{rounded(contact.per_day):>9}{contact.most_in_ten_minutes:>28}"
        yield f"  {found.name(contact.contact):<{_NAME}}{figures}"
