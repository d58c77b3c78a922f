"""What a tracker works with: the agenda, the board of facts, and a place to say what happened."""

from dataclasses import dataclass, field

from rules.agenda import Agenda
from rules.board import Board
from rules.events import Event


@dataclass(slots=True)
class Desk:
    """Shared by all trackers of one engine; trackers know nothing of each other."""

    agenda: Agenda = field(default_factory=Agenda)
    board: Board = field(default_factory=Board)
    said: list[Event] = field(default_factory=list)

    def say(self, event: Event) -> None:
        """Add to what this input brought about."""
        self.said.append(event)
