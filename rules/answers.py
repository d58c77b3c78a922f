"""What was answered of spans of the past: as long as nothing is heard that bears on a span, the answer stands."""

from bisect import bisect_left, insort
from collections.abc import Callable
from typing import NamedTuple

from rules.exposure import Span
from rules.readings import Micros

MOST_ANSWERS = 16_384
"""So many are remembered at most (ours): those of a day of soaks in a house of forty basins; the rest is found anew."""


class Question(NamedTuple):
    """What is asked of a span, and about which thing."""

    about: str
    thing: str
    span: Span


class Answers:
    """Answers by question; whoever hears something tells from when on it may change them."""

    def __init__(self) -> None:
        self._found: dict[Question, bool] = {}
        self._by_end: list[tuple[Micros, Question]] = []

    def __len__(self) -> int:
        return len(self._found)

    def of(self, question: Question, find: Callable[[], bool]) -> bool:
        """The answer, found anew where it is not known."""
        known = self._found.get(question)
        if known is None:
            known = self._found[question] = find()
            insort(self._by_end, (question.span.end, question))
            if len(self._by_end) > MOST_ANSWERS:
                self._drop(MOST_ANSWERS // 2)
        return known

    def heard(self, since: Micros) -> None:
        """Something was heard that bears on spans that end then or later, and on no other."""
        by_end = self._by_end
        while by_end and by_end[-1][0] >= since:
            del self._found[by_end.pop()[1]]

    def forget(self, before: Micros) -> None:
        """Spans that ended before are not asked about any more."""
        self._drop(bisect_left(self._by_end, before, key=lambda entry: entry[0]))

    def _drop(self, oldest: int) -> None:
        for _, question in self._by_end[:oldest]:
            del self._found[question]
        del self._by_end[:oldest]
