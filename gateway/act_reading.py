"""What people did, read from the journal's commands."""

from collections.abc import Iterable, Mapping, Sequence
from functools import partial
from types import MappingProxyType

from gateway.act_log import ActFilter, ActLine, ActOrder, what_was_done
from gateway.act_words import ActWords
from gateway.days import ALWAYS
from gateway.found import RecordView
from gateway.ordered import Rows, Term, Turn
from gateway.part import Listed, Part
from rules.acts import Acted
from rules.commands import Command

MOST_LOOKED_AT = 10_000
"""So many acts are looked through for a text in one go (ours); the list goes on from there."""

NEWEST_COMMANDS = 2_000
"""Among so many an act is looked for that may have been written before a kill; ours."""

Numbered = tuple[int, Command]


def _of_command(key: str) -> str:
    # A text that was damaged or tampered with must not make the list unusable: it says nothing.
    return f"coalesce(CASE WHEN json_valid(command) THEN command ->> '$.{key}' END, '')"


_WHO, _KIND = _of_command("who"), _of_command("kind")
_WHAT = f"iif({_KIND} = 'acted', {_of_command('act')}, {_KIND})"

# Sensor and time are both named, so that their index gives commands in order. Nobody does what became of a page.
_ALL = Rows(f"sensor IS NULL AND measured IS NULL AND {_KIND} <> 'page told'")

_TERMS: Mapping[ActOrder, str] = MappingProxyType({ActOrder.TOLD: "seq", ActOrder.WHO: _WHO, ActOrder.WHAT: _WHAT})


def _order(turn: Turn[ActOrder]) -> tuple[Term, ...]:
    """Among those that are alike the newest comes first."""
    if turn.by is ActOrder.TOLD:
        return (Term("seq", turn.rising),)
    return Term(_TERMS[turn.by], turn.rising), Term("seq", rising=False)


class CommandShelf:
    """The commands of a record."""

    def __init__(self, view: RecordView) -> None:
        self._view = view

    def in_order(self, rows: Rows, order: Sequence[Term], beside: int | None, most: int) -> list[int]:
        """Numbers of the first ``most``, or of those after the row ``beside``."""
        return self._view.commands_in_order(rows, order, beside, most)

    def of_numbers(self, numbers: Sequence[int]) -> list[Numbered]:
        """The commands of these numbers, in the order given."""
        return self._view.commands_of(numbers)

    def has_act(self, key: str) -> bool:
        """Whether an act of that key is among the newest commands."""
        newest = self.in_order(_ALL, (Term("seq", rising=False),), None, NEWEST_COMMANDS)
        oldest = newest[-1] if newest else 0
        rows = _ALL.also(f"seq >= ? AND {_of_command('key')} = ?", oldest, key)
        return bool(self.in_order(rows, (Term("seq", rising=False),), None, 1))


class Acts:
    """Reads over one connection; ``words`` tells what each is about."""

    def __init__(self, view: RecordView, words: ActWords) -> None:
        self._view = view
        self._words = words

    def part(self, which: ActFilter, turn: Turn[ActOrder], most: int) -> Part[ActLine, ActOrder]:
        """At most so many of what people did that the filter lets through, from where the list is opened."""
        fits = partial(_is_asked_for, which.text.casefold())
        listed = Listed(self._rows(which), _order(turn), MOST_LOOKED_AT, self._lines, fits)
        return listed.part(CommandShelf(self._view), turn, most)

    def _rows(self, which: ActFilter) -> Rows:
        rows = _ALL
        if which.during != ALWAYS:
            first, end = map(self._view.input_at, which.during)
            rows = rows.also("seq >= ? AND seq < ?", first, end)
        if which.who:
            rows = rows.also(f"{_WHO} = ?", which.who)
        if which.what:
            rows = rows.also(f"{_WHAT} = ?", which.what)
        return rows

    def _lines(self, found: Sequence[Numbered]) -> Iterable[ActLine]:
        return (self._line(number, command) for number, command in found)

    def _line(self, number: int, command: Command) -> ActLine:
        access, times = (command.access, command.times) if isinstance(command, Acted) else (None, 1)
        about = self._words.about(command)
        return ActLine(number, command.arrived, command.who, access, what_was_done(command), about, times)


def _is_asked_for(text: str, line: ActLine) -> bool:
    return text in f"{line.who} {line.about}".casefold()
