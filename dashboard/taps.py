"""What a page sends once takes effect once, however often it comes again: the network lost the answer, not the tap."""

from collections import OrderedDict
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field

from rules.commands import Command
from rules.events import Event

MOST_TAPS = 500
"""So many are remembered, the newest (ours): a phone sends again within minutes, and a department has dozens."""

LEAST_LETTERS, MOST_LETTERS = 16, 64
"""Of a tap's own id: what a page makes up for it, so that no two are alike."""


@dataclass(frozen=True, slots=True)
class Asked:
    """Commands that were handed to the pump, and what it will answer to each."""

    commands: Sequence[Command]
    answers: Sequence[Future[list[Event]]]

    @property
    def is_void(self) -> bool:
        """Whether one of them was not taken, so that it may be asked again."""
        return any(answer.done() and (answer.cancelled() or answer.exception() is not None) for answer in self.answers)


@dataclass(slots=True)
class Taps:
    """What came of the taps of late; until the gateway's next start."""

    _kept: OrderedDict[tuple[str, ...], Asked] = field(default_factory=OrderedDict)

    def once(self, key: tuple[str, ...], tap: str, ask: Callable[[], Asked]) -> Asked:
        """What was asked with this tap before, or is asked now; without a tap always now.

        key: what it was sent to; tap: its id, as the page made it up, '' where it gave none.
        """
        if not LEAST_LETTERS <= len(tap) <= MOST_LETTERS:
            return ask()
        known = self._kept.get((*key, tap))
        if known is not None and not known.is_void:
            return known
        self._kept[*key, tap] = asked = ask()
        while len(self._kept) > MOST_TAPS:
            self._kept.popitem(last=False)
        return asked
