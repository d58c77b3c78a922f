"""The entry behind an event: what a person sent, so that it can be struck word by word as it was entered."""

from dataclasses import dataclass

from gateway.found import RecordView
from gateway.strikes import Strikes, came_of, entered
from gateway.told import Told
from rules.commands import Entry


@dataclass(frozen=True, slots=True)
class LoggedEntry:
    """An entry as it was sent, and what the record tells of it, its strike too."""

    told: Told
    entry: Entry


def entry_behind(view: RecordView, number: int) -> LoggedEntry | None:
    """The entry of which the event of that number tells; None where it tells of none."""
    found = view.numbered(number)
    key = None if found is None else came_of(found.event)
    if found is None or key is None or getattr(found.event, "who", None) is None:
        return None  # what a sensor told has no entry, and to look for one would go back to the beginning
    for command in view.commands_back(found.after_input):
        if isinstance(command, Entry) and entered(command) == key:
            return LoggedEntry(Strikes.of(view).told(found), command)
    return None
