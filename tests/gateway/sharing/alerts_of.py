"""The alerts of a record."""

from pathlib import Path

from gateway.recording import Recording
from rules.alert_events import AlertEvent


def alerts_of(folder: Path) -> list[AlertEvent]:
    with Recording.open(folder) as days:
        return list(days.alerts())
