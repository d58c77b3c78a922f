"""Everything that happened in a stretch of time as a table: a row for each thing."""

from zoneinfo import ZoneInfo

from gateway.csv_text import Cell
from gateway.event_words import EventWords
from gateway.happened_log import Happening
from gateway.when import written_whole
from rules.probe_events import ProbeEvent

_ABOUT = ("basin", "probe", "cart", "soak", "page")
HAPPENED_COLUMNS = (
    "happened",
    "told",
    "kind",
    "words",
    "who",
    *_ABOUT,
    "alert",
    "alert_subject",
    "alert_text",
    "counts",
    "struck_at",
    "struck_by",
    "struck_because",
    "event",
    "after_input",
)


def happened_row(one: Happening, words: EventWords, zone: ZoneInfo) -> list[Cell]:
    """A cell for each of ``HAPPENED_COLUMNS``; counts: neither struck nor taken back by the telling itself."""
    told, event, struck, alert = one.told, one.told.event, one.told.struck, one.alert
    is_taken_back = isinstance(event, ProbeEvent) and event.withdrawn
    return [
        written_whole(told.measured, zone),
        written_whole(told.at, zone),
        event.kind,
        words.words(event),
        told.who,
        *(getattr(event, name, None) for name in _ABOUT),
        alert.alert if alert else None,
        alert.subject if alert else None,
        alert.text if alert else None,
        struck is None and not is_taken_back,
        written_whole(struck.at, zone) if struck else None,
        struck.who if struck else None,
        struck.why if struck else None,
        told.number,
        told.after_input,
    ]
