"""Pages to people as a table: a row for each that was asked for, with what came of it."""

from zoneinfo import ZoneInfo

from gateway.csv_text import Cell
from gateway.outbox_reading import PageLine
from gateway.when import written_whole

PAGE_COLUMNS = (
    "page",
    "asked",
    "why",
    "alerts",
    "role",
    "contact",
    "channel",
    "priority",
    "text",
    "outcome",
    "outcome_told",
    "detail",
    "not_needed_since",
    "waits",
    "tries",
    "event",
)


def page_row(line: PageLine, zone: ZoneInfo) -> list[Cell]:
    """A cell for each of ``PAGE_COLUMNS``; outcome: the surest word so far, empty while there is none."""
    told, withdrawn = (None if at is None else written_whole(at, zone) for at in (line.told, line.withdrawn))
    return [
        line.page,
        written_whole(line.asked, zone),
        line.why.value,
        "; ".join(line.alerts),
        line.role,
        line.contact,
        line.channel,
        line.priority.value,
        line.text,
        None if line.outcome is None else line.outcome.value,
        told,
        line.detail,
        withdrawn,
        line.waits,
        line.attempts,
        line.event,
    ]
