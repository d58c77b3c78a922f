"""On which line of a TOML document a key stands, which the standard parser does not tell."""

import tomllib
from collections.abc import Iterator

Place = tuple[str | int, ...]
"""Keys and, within arrays, positions from 0: ``("basin", 1, "label")``."""


class Lines:
    """The line of every key of a valid TOML document, first line 1."""

    def __init__(self, text: str) -> None:
        self._line_of: dict[Place, int] = {}
        self._tables_of: dict[Place, int] = {}
        table: Place = ()
        for number, statement, parsed in _statements(text):
            if statement.startswith("["):
                table = self._open(parsed, number)
            else:
                self._note(table, parsed, number)

    def of(self, place: Place) -> int | None:
        """The line of the place, or of the nearest table around it; None where even that has none."""
        for length in range(len(place), 0, -1):
            line = self._line_of.get(place[:length])
            if line is not None:
                return line
        return None

    def _open(self, header: object, number: int) -> Place:
        """The place of a table whose header parsed to nested tables, such as {"a": {"b": [{}]}} for [[a.b]]."""
        place: Place = ()
        while isinstance(header, dict) and header:
            ((key, header),) = header.items()
            place = (*place, key)
            self._line_of.setdefault(place, number)
            if isinstance(header, list):
                self._tables_of[place] = self._tables_of.get(place, 0) + 1
            if place in self._tables_of:
                place = (*place, self._tables_of[place] - 1)
                self._line_of.setdefault(place, number)
        return place

    def _note(self, place: Place, value: object, number: int) -> None:
        self._line_of.setdefault(place, number)
        if isinstance(value, dict):
            for key, inner in value.items():
                self._note((*place, key), inner, number)
        elif isinstance(value, list):
            for position, inner in enumerate(value):
                self._note((*place, position), inner, number)


def _statements(text: str) -> Iterator[tuple[int, str, dict[str, object]]]:
    """Line, text and meaning of each statement: the fewest lines that the parser takes as a document of their own."""
    lines = text.replace("\r\n", "\n").split("\n")
    start = 0
    while start < len(lines):
        for end in range(start + 1, len(lines) + 1):
            statement = "\n".join(lines[start:end]).strip()
            try:
                parsed = tomllib.loads(statement)
            except tomllib.TOMLDecodeError:
                continue
            if parsed:
                yield start + 1, statement, parsed
            start = end
            break
        else:
            return
