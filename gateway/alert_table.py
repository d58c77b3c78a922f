"""Alerts as a table: a row for each that was raised, with who was told of it in one cell."""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from gateway.alert_log import AlertStory
from gateway.csv_text import Cell
from gateway.event_words import EventWords
from gateway.outbox import SURENESS
from gateway.when import written_whole
from rules.alert_events import NobodyOnDuty, PageAsked, PageReported, PageWithdrawn

ALERT_COLUMNS = (
    "alert",
    "raised",
    "rule",
    "subject",
    "subject_name",
    "priority",
    "text",
    "told",
    "answered",
    "answered_by",
    "over",
    "why",
    "by",
    "remark",
    "event",
)


def alert_row(story: AlertStory, words: EventWords, zone: ZoneInfo) -> list[Cell]:
    """A cell for each of ``ALERT_COLUMNS``; subject: kind and id of what it is about."""
    line = story.line
    raised, answered, over = (
        None if at is None else written_whole(at, zone) for at in (line.raised, line.answered, line.over)
    )
    return [
        line.alert,
        raised,
        line.rule,
        line.subject,
        words.name(line.subject.partition(" ")[2]),
        line.priority.value,
        line.text,
        "; ".join(_told(story, zone)),
        answered,
        line.answered_by,
        over,
        line.over_why,
        line.over_by,
        line.remark,
        line.number,
    ]


def _told(story: AlertStory, zone: ZoneInfo) -> Iterator[str]:
    """Each page in the order of asking: when, to whom, as what, by what, and what came of it."""
    events = [found.event for found in story.told]
    gone = {event.page for event in events if isinstance(event, PageWithdrawn)}
    surest: dict[str, PageReported] = {}
    for event in events:
        if isinstance(event, PageReported):
            known = surest.get(event.page)
            if known is None or SURENESS[event.outcome] > SURENESS[known.outcome]:
                surest[event.page] = event
    for event in events:
        if isinstance(event, PageAsked):
            word = surest.get(event.page)
            came = word.outcome.value if word else "not needed any more" if event.page in gone else "not confirmed"
            said = f" ({word.detail})" if word and word.detail else ""
            yield f"{written_whole(event.at, zone)} {event.contact} as {event.role} by {event.channel}: {came}{said}"
        elif isinstance(event, NobodyOnDuty):
            yield f"{written_whole(event.at, zone)} nobody on duty as {event.role}"
