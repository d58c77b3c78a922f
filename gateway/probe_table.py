"""Probes as a table: a row for each thing that was ever told of one."""

from zoneinfo import ZoneInfo

from gateway.csv_text import Cell
from gateway.event_words import EventWords
from gateway.soak_log import ProbeName
from gateway.told import Told
from gateway.when import written_whole
from rules.probe_events import ProbeEvent

PROBE_COLUMNS = (
    "probe",
    "probe_name",
    "serial",
    "measured",
    "told",
    "kind",
    "words",
    "who",
    "counts",
    "struck_at",
    "struck_by",
    "struck_because",
    "event",
    "after_input",
)


def probe_row(probe: ProbeName, told: Told, words: EventWords, zone: ZoneInfo) -> list[Cell]:
    """A cell for each of ``PROBE_COLUMNS``; counts: neither struck nor taken back by the telling itself."""
    struck = told.struck
    is_taken_back = isinstance(told.event, ProbeEvent) and told.event.withdrawn
    return [
        probe.id,
        probe.name,
        probe.serial,
        written_whole(told.measured, zone),
        written_whole(told.at, zone),
        told.event.kind,
        words.words(told.event),
        told.who,
        struck is None and not is_taken_back,
        written_whole(struck.at, zone) if struck else None,
        struck.who if struck else None,
        struck.why if struck else None,
        told.number,
        told.after_input,
    ]
