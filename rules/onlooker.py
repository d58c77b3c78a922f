"""Somebody who looks on while the engine judges, as tuning does, and changes nothing."""

from collections.abc import Mapping
from typing import Protocol

from rules.agenda import Task
from rules.board import Fact, Subject
from rules.readings import Micros


class Onlooker(Protocol):
    """Told of each look at a subject, in the order of the engine's work.

    ``fires`` and ``takes`` say whose work all calls are that follow, up to the next of the two.
    """

    def fires(self, due: Micros, task: Task) -> None:
        """A timer fires; ``due``: when it was to, which is in the past where a late reading has set it."""

    def takes(self, arrived: Micros) -> None:
        """An input is taken; each timer due by its arrival has fired."""

    def judged(self, rule: str, subject: Subject, facts: Mapping[str, Fact], now: Micros) -> None:
        """A rule is judged on a subject; ``facts``: all that is known of it, which is not to be kept but copied."""

    def held(self) -> None:
        """Nothing is heard any more: no delay runs on, but for what the gateway says of itself."""

    def gone(self, subject: Subject, now: Micros) -> None:
        """Nobody watches the subject any more."""
