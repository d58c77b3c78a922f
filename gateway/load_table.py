"""The load on people as a table: a row for each figure of all, of each rule, role and contact, and of the top ten."""

from collections.abc import Iterable, Iterator

from gateway.csv_text import Cell
from gateway.load_figures import Figure, alert_figures, page_figures
from gateway.load_log import RecordedLoad
from gateway.when import written_whole

LOAD_COLUMNS = ("since", "until", "of", "name", "figure", "value", "unit", "target", "meets")


def load_rows(found: RecordedLoad) -> Iterator[list[Cell]]:
    """A cell for each of ``LOAD_COLUMNS``; a share is 0 to 1."""
    stretch = found.load.stretch
    span: list[Cell] = [written_whole(at, found.zone) for at in (stretch.since, stretch.until)]
    yield from ([*span, *row] for row in _rows(found))


def _rows(found: RecordedLoad) -> Iterator[list[Cell]]:
    load = found.load
    yield from _of("all", "", alert_figures(load.alerts))
    yield from _of("all", "", page_figures(load.pages))
    yield ["all", "", "test_pages", load.tests, "pages", "", ""]
    yield ["all", "", "unheard", found.unheard_hours, "h", "", ""]
    for often in load.alerts.top:
        yield ["top ten", f"{often.rule} {often.subject}", "alerts", often.count, "alerts", "", ""]
    for rule in load.rules:
        yield from _of("rule", rule.rule, alert_figures(rule.alerts))
    for role in load.roles:
        yield from _of("role", role.role, page_figures(role.pages))
        yield ["role", role.role, "nobody_on_duty", role.nobody_on_duty, "times", "", ""]
    for contact in load.contacts:
        yield ["contact", contact.contact, "pages", contact.pages, "pages", "", ""]
        yield ["contact", contact.contact, "pages_per_day", contact.per_day, "pages", "", ""]
        yield ["contact", contact.contact, "pages_most_in_ten_minutes", contact.most_in_ten_minutes, "pages", "", ""]


def _of(kind: str, name: str, figures: Iterable[Figure]) -> Iterator[list[Cell]]:
    for one in figures:
        yield [kind, name, one.key, one.value, one.unit, one.target, one.meets.value]
