"""Timers of the engine: what falls due when, as data."""

from heapq import heapify, heappop, heappush
from typing import NamedTuple

from rules.readings import Micros

NEVER = Micros(1 << 62)
"""Later than any instant."""


class Task(NamedTuple):
    """What is to be done: the tracker's kind of work, and for whom."""

    work: str
    whom: str


class Agenda:
    """Due times by task, at most one a task; tasks due at the same instant come in the order of their names."""

    def __init__(self) -> None:
        self._due: dict[Task, Micros] = {}
        self._heap: list[tuple[Micros, Task]] = []
        self.next_due: Micros = NEVER

    def set(self, task: Task, due: Micros) -> None:
        """The task falls due then, and not at an earlier planned time."""
        if self._due.get(task) == due:
            return
        self._due[task] = due
        heappush(self._heap, (due, task))
        self.next_due = min(self.next_due, due)

    def cancel(self, task: Task) -> None:
        """Forget the task, if it was planned."""
        self._due.pop(task, None)

    def planned(self, task: Task) -> bool:
        """Whether the task is on the agenda."""
        return task in self._due

    def pop(self, until: Micros) -> tuple[Micros, Task] | None:
        """The earliest task due at or before ``until``, taken off the agenda."""
        while self._heap and self._heap[0][0] <= until:
            due, task = heappop(self._heap)
            if self._due.get(task) == due:
                del self._due[task]
                self._note_next()
                return due, task
        self._note_next()
        return None

    def _note_next(self) -> None:
        self.next_due = self._heap[0][0] if self._heap else NEVER

    def entries(self) -> list[tuple[Micros, Task]]:
        """What is planned, in order."""
        return sorted((due, task) for task, due in self._due.items())

    def load(self, entries: list[tuple[Micros, Task]]) -> None:
        """Plan exactly these."""
        self._due = {task: due for due, task in entries}
        self._heap = list(entries)
        heapify(self._heap)
        self._note_next()
