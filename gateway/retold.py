"""What another site file would have said, told to people and to programs."""

from collections.abc import Iterator
from dataclasses import dataclass

from pydantic import TypeAdapter

from gateway.event_words import EventWords
from gateway.replay import WhatIf
from rules.events import Event
from rules.site import Site

_WHAT_IF: TypeAdapter[WhatIf] = TypeAdapter(WhatIf)


def as_json(found: WhatIf) -> str:
    """One JSON object with the fields of ``WhatIf``; times are microseconds since the epoch."""
    return _WHAT_IF.dump_json(found, indent=2).decode()


def another_site(recorded: str | None, other: str) -> str | None:
    """A sentence where the other file is of a site with another id than the recorded one."""
    if recorded in (None, other):
        return None
    return (
        f"the data are of site '{recorded}', the file is of site '{other}': only what has the same id in both can be"
        " compared."
    )


@dataclass(frozen=True, slots=True)
class Telling:
    """How a comparison is told."""

    told: EventWords

    @classmethod
    def of(cls, site: Site) -> "Telling":
        """As the site calls things."""
        return cls(EventWords.of(site))

    def lines(self, found: WhatIf) -> Iterator[str]:
        """The counts first, then a line for each event that is not the same, by time."""
        yield (
            f"{_counted(found.same)} would be the same, {len(found.vanished)} would not be said any more,"
            f" {len(found.appeared)} would be said newly, {len(found.changed)} would be said otherwise."
        )
        if found.vanished or found.appeared or found.changed:
            yield f"Times are local to {self.told.zone.key}."
        yield from self._listed("Not said any more", [self.told.line(event) for event in found.vanished])
        yield from self._listed("Said newly", [self.told.line(event) for event in found.appeared])
        yield from self._listed("Said otherwise", [self._change(pair.was, pair.now) for pair in found.changed])

    @staticmethod
    def _listed(heading: str, lines: list[str]) -> Iterator[str]:
        if lines:
            yield ""
            yield f"{heading}:"
            yield from (f"  {line}" for line in lines)

    def _change(self, was: Event, now: Event) -> str:
        before = [self.told.time(was.at)] if was.at != now.at else []
        if self.told.words(was) != self.told.words(now):
            before.append(self.told.words(was))
        line = self.told.line(now)
        return f"{line} (was: {', '.join(before)})" if before else line


def _counted(events: int) -> str:
    return "1 event" if events == 1 else f"{events} events"
