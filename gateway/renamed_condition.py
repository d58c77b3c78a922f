"""A condition of a rule without the names in it: what it compares goes by other names, and remarks are left out.

Nothing of it is kept but facts, and words of the language and of the program.
"""

import re

import cel

from gateway.pseudonyms import Pseudonyms
from rules.board import FACTS
from rules.health import Trouble
from rules.probe_words import Fitness, Level, Place
from rules.readings import SensorKind
from rules.verdict import Outcome, Reason

KNOWN_FACTS = frozenset(name for facts in FACTS.values() for name in facts)

_UNTOLD = "?"
"""Takes the place of a text that is neither a word of the program nor a name."""

_WORDS = frozenset(
    {"", *(word.value for words in (Fitness, Level, Outcome, Place, Reason, SensorKind, Trouble) for word in words)}
)
"""What the program itself writes into facts."""

_LANGUAGE = frozenset(
    {
        "true",
        "false",
        "null",
        "in",
        "has",
        "all",
        "exists",
        "exists_one",
        "map",
        "filter",
        "size",
        "contains",
        "startsWith",
        "endsWith",
        "matches",
        "int",
        "uint",
        "double",
        "string",
        "bool",
        "bytes",
        "type",
        "dyn",
        "min",
        "max",
        "abs",
        "deadband",
    }
)
"""Words of CEL (language definition, section 'List of Standard Definitions'), and the one that every rule has."""

_TOKEN = re.compile(
    r"""(?P<remark>//[^\n]*)
    |(?P<text>(?:[bB]?[rR]|[rR][bB])(?:\"{3}.*?\"{3}|\'{3}.*?\'{3}|"[^"]*"|'[^']*')
        |[bB]?(?:\"{3}(?:\\.|.)*?\"{3}|\'{3}(?:\\.|.)*?\'{3}|"(?:\\.|[^"\\])*"|'(?:\\.|[^'\\])*'))
    |(?P<number>0[xX][0-9a-fA-F]+[uU]?|(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?[uU]?)
    |(?P<word>[A-Za-z_][A-Za-z0-9_]*)
    |(?P<sign>[\s!-/:-@\[-`{-~])
    |(?P<other>.)""",
    re.VERBOSE | re.DOTALL,
)
"""As CEL's lexer (language definition, section 'Syntax')."""


def renamed_condition(text: str, names: Pseudonyms) -> str:
    """Names in it, and of its limits, by those that take their places."""
    return "".join(_renamed(token, names) for token in _TOKEN.finditer(text)).strip()


def _renamed(token: re.Match[str], names: Pseudonyms) -> str:
    match token.lastgroup:
        case "text":
            return _literal(token[0], names)
        case "word" if names.is_limit(token[0]) or token[0] not in KNOWN_FACTS | _LANGUAGE:
            return names.limit(token[0])
        case "remark" | "other":
            return " "
        case _:
            return token[0]


def _literal(literal: str, names: Pseudonyms) -> str:
    try:
        text = cel.compile(literal).execute({})
    except (ValueError, RuntimeError, TypeError):
        return f"'{_UNTOLD}'"
    if not isinstance(text, str):
        return f"b'{_UNTOLD}'"
    if text in _WORDS:
        return f"'{text}'"
    return f"'{names.known(text) or _UNTOLD}'"
