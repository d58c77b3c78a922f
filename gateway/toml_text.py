"""TOML text read into plain values, and what is wrong with it said so that it can be mended."""

import re
import tomllib
from collections.abc import Iterator, Mapping

from gateway.problems import Problem
from gateway.toml_lines import Place

_SYNTAX = re.compile(r"(?P<what>.*) \(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)", re.DOTALL)
_TABLE = re.compile(r"\('(?P<name>[^)]*)',?\)")
_MANY_DIGITS = re.compile(r"[0-9]{4000}")
_USUAL = 'expected lines such as key = "text" or [table]'
_REMEDIES: Mapping[str, str] = {
    "Invalid value": 'expected text in straight double quotes, a number such as 8.5, true, false, or a list ["a", "b"]',
    "Cannot overwrite a value": "it is there twice; keep one; what may be there several times has double brackets,"
    " such as [[basin]]",
    "Cannot declare": "it is there twice; keep one; what may be there several times has double brackets,"
    " such as [[basin]]",
    "Expected newline": 'expected one key = value a line, with a point in a number and text in double quotes: "text"',
    "Illegal character": "expected text that ends with a double quote on the same line",
    "Unclosed array": "expected a comma between values and a ']' after the last",
    "Unescaped": "write \\\\ for a backslash, or put the text in single quotes",
}
"""By how the parser's words begin."""

_LARGEST = 2**63 - 1
"""TOML 1.0 asks for no larger whole numbers."""


class TomlError(ValueError):
    """The text is not TOML.

    line: None where the fault has none.
    """

    def __init__(self, sentence: str, line: int | None) -> None:
        super().__init__(sentence)
        self.line = line


def read_toml(text: str) -> dict[str, object]:
    """The document's values.

    Raises:
        TomlError: it is not TOML.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _told(str(error), text) from error
    except RecursionError as error:
        raise TomlError("brackets nested too deep; expected tables of plain values", None) from error
    except ValueError as error:  # Python reads no whole number of more than some thousand digits
        where = _MANY_DIGITS.search(text)
        line = None if where is None else text.count("\n", 0, where.start()) + 1
        raise TomlError("a whole number of far too many digits; expected at most 18", line) from error


def _told(message: str, text: str) -> TomlError:
    match = _SYNTAX.fullmatch(message)
    if match is None:
        return TomlError(f"not TOML: {message}; {_USUAL}", None)
    what = _TABLE.sub(lambda table: "[" + table["name"].replace("', '", ".") + "]", match["what"])
    line = int(match["line"] or text.count("\n") + 1)
    column = f" at column {match['column']}" if match["column"] else " at the end"
    remedy = next((remedy for words, remedy in _REMEDIES.items() if what.startswith(words)), _USUAL)
    return TomlError(f"not TOML{column}: {what}; {remedy}", line)


def too_large(value: object, place: Place = ()) -> Iterator[Problem]:
    """Every whole number that is larger than TOML promises, which would overflow later."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from too_large(inner, (*place, key))
    elif isinstance(value, list):
        for position, inner in enumerate(value):
            yield from too_large(inner, (*place, position))
    elif isinstance(value, int) and abs(value) > _LARGEST:
        yield Problem(place, "a whole number of more than 18 digits; expected a smaller one")
