"""What the models of a site file refuse, in the words of whoever has to mend it; the library's own reach nobody."""

import re
from collections.abc import Mapping
from datetime import date, time
from difflib import get_close_matches
from enum import StrEnum
from typing import Any, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from gateway.problems import Problem, named_problems
from gateway.toml_lines import Place
from rules.part import meant

_PATTERNS = {
    r"^[a-z0-9][a-z0-9-]{0,39}$": "lower-case letters, digits and '-', at most 40, such as 'cart-2'",
    r"^[a-z0-9][a-z0-9-]{0,59}$": "lower-case letters, digits and '-', at most 60, such as 'lid-open-long'",
    r"^[a-z0-9][a-z0-9.-]{0,59}$": "lower-case letters, digits, '.' and '-', at most 60, such as 'peroxide-2.0'",
    r"^[^+#\x00$][^+#\x00]{0,254}$": "an MQTT topic without '+' and '#', at most 255 characters",
    r"^(/([^~/]|~[01])*)*$": "a JSON Pointer (RFC 6901), such as '/data/temperature'",
    r"^[A-Za-z_][A-Za-z0-9_]*$": "the name of an environment variable, such as 'SINKSIDE_BROKER_PASSWORD'",
    r"^\S{1,64}$": "text without blanks, at most 64 characters",
    r"^https?://[^\s/?#@]{1,255}$": "where phones reach the screens, without a path, as 'https://sinkside.example.org'",
    r"^https?://[^\s#@]{1,1000}$": "an address such as 'https://watch.example.org/sinkside', without a user name",
    r"^[^\x00-\x1f\x7f]{1,254}$": "text of one line, at most 254 characters",
    r"^[A-Z]{3}$": "the three letters of a currency (ISO 4217), such as 'EUR'",
    r"^(always|[1-9][0-9]{0,5}(ms|s|m))$": "'always', or a time such as '500ms', '2s' or '1m'",
}
"""What the models' patterns mean."""

_EXPECTED = {
    "string_type": "text",
    "string_too_short": "text that is not empty",
    "string_too_long": "at most {max_length} characters",
    "int_type": "a whole number",
    "float_type": "a number",
    "bool_type": "true or false",
    "path_type": "the path of a file as text",
    "greater_than": "more than {gt:g}",
    "greater_than_equal": "at least {ge:g}",
    "less_than": "less than {lt:g}",
    "less_than_equal": "at most {le:g}",
    "literal_error": "{expected}",
    "enum": "{expected}",
}
"""By the type of the models' error; what stands in braces comes with it."""

_NOT_IN_THIS_FILE = (
    "a password does not belong into this file: put it into an environment variable and name that in password_env, or"
    " into a file of its own and name that in password_file"
)
_LIKE_PASSWORD = re.compile("pas|pwd|secret|token")
_SECRETS = frozenset(
    [
        *(("broker", key) for key in ("url", "username", "password_env", "password_file")),
        *(("paging", key) for key in ("heartbeat_url", "heartbeat_url_env")),
    ]
)
"""Where a secret might stand by mistake: what is found there is not repeated."""

_INNER_SHAPES = {
    "tuple_type": 'a list in brackets, such as ["a", "b"]',
    "model_type": 'a table such as { value = 30, unit = "s", low = 0, high = 600, source = "ours" }',
    "dict_type": "a table of names and values",
}
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")
_SHOWN_CHARACTERS = 40


def problems_of(error: ValidationError, data: Mapping[str, Any], model: type[BaseModel]) -> list[Problem]:
    """One problem for each place that the models refuse."""
    found: dict[Place, list[ErrorDetails]] = {}
    for details in error.errors(include_url=False):
        found.setdefault(_place_in(data, details), []).append(details)
    whole = found.pop((), [])
    return [
        *(_problem(place, group, model) for place, group in found.items()),
        *(problem for details in whole for problem in named_problems(details["ctx"]["error"], data)),
    ]


def _place_in(data: object, details: ErrorDetails) -> Place:
    """The error's location as far as the file has it; what follows are names of alternatives of the model."""
    place: Place = ()
    for part in details["loc"]:
        if not _holds(data, part):
            return (*place, part) if details["type"] == "missing" else place
        data = data[part]  # type: ignore[index]  # _holds looked
        place = (*place, part)
    return place


def _holds(data: object, part: str | int) -> bool:
    if isinstance(data, list):
        return isinstance(part, int) and part < len(data)
    return isinstance(data, dict) and part in data


def _problem(place: Place, group: list[ErrorDetails], model: type[BaseModel]) -> Problem:
    """What is wrong at one place; several errors there are alternatives of which none fits."""
    first = group[0]
    kind, found = first["type"], first["input"]
    match kind:
        case "missing":
            return Problem(place, _missing(place, model))
        case "extra_forbidden":
            return _unknown(place, found, model)
        case "value_error":
            told = "" if isinstance(found, dict) else _told(place, found)
            return Problem(place, f"{_own_words(first)}{told}")
        case "tuple_type" | "model_type" | "dict_type":
            return Problem(place, f"expected {_shape(kind, place)}{_told(place, found)}")
    expected = " or ".join(dict.fromkeys(map(_expectation, group)))
    return Problem(place, f"expected {expected}{_told(place, found)}{_remedy(first)}")


# ---- what was expected -------------------------------------------------------------------------------------------


def _own_words(details: ErrorDetails) -> str:
    """The sentence of a check of our own."""
    return str(details.get("ctx", {}).get("error", details["msg"]))


def _expectation(details: ErrorDetails) -> str:
    context = details.get("ctx", {})
    if details["type"] == "string_pattern_mismatch":
        return _PATTERNS[context["pattern"]]
    return _EXPECTED[details["type"]].format(**context)


def _shape(kind: str, place: Place) -> str:
    """Which table or list belongs there."""
    match place:
        case (table,):
            return f"[[{table}]], with double brackets" if kind == "tuple_type" else f"[{table}], with single brackets"
        case ("rules", rule):
            return f"a table [rules.{rule}], such as with enabled = false in it"
        case (table, int()):
            return f"a table [[{table}]]"
    return _INNER_SHAPES[kind]


def _missing(place: Place, model: type[BaseModel]) -> str:
    key = str(place[-1])
    kind = _model_at(place[:-1], model).model_fields[key].annotation
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        needed = [name for name, inner in kind.model_fields.items() if inner.is_required()]
        return f"missing; add it, with {' and '.join(needed)}; 'sinkside example' prints a whole site file"
    if isinstance(kind, type) and issubclass(kind, StrEnum):
        return f"missing; add it, as one of {', '.join(map(repr, map(str, kind)))}"
    value = '"..."' if kind is str else "..."
    return f"missing; add a line such as {key} = {value}"


# ---- keys and tables that nobody knows ---------------------------------------------------------------------------


def _unknown(place: Place, found: object, model: type[BaseModel]) -> Problem:
    key = str(place[-1])
    known = _model_at(place[:-1], model).model_fields
    if len(place) == 1:
        return _unknown_table(key, found, model)
    if place[0] == "broker" and _LIKE_PASSWORD.search(key.lower()):
        return Problem(place, _NOT_IN_THIS_FILE)
    return Problem(place, f"no such key; {meant(key, known)}")


def _unknown_table(name: str, found: object, model: type[BaseModel]) -> Problem:
    if not isinstance(found, dict) and not (isinstance(found, list) and found and isinstance(found[0], dict)):
        said = f"key '{name}' stands above the first table; put it below the one that it belongs to, such as [site]"
        return Problem((name,), said, named=True)
    near = get_close_matches(name, model.model_fields, 1, cutoff=0.7)
    if near:
        return Problem((name,), f"no such table; perhaps {_headed(near[0], model)} is meant")
    known = ", ".join(_headed(table, model) for table in model.model_fields)
    return Problem((name,), f"no such table; expected one of {known}")


def _headed(name: str, model: type[BaseModel]) -> str:
    return f"[[{name}]]" if get_origin(model.model_fields[name].annotation) is tuple else f"[{name}]"


def _model_at(place: Place, model: type[BaseModel]) -> type[BaseModel]:
    for part in place:
        field = model.model_fields.get(str(part))
        if field is not None:
            inner = (field.annotation, *get_args(field.annotation))
            model = next((m for m in inner if isinstance(m, type) and issubclass(m, BaseModel)), model)
    return model


# ---- what was found ----------------------------------------------------------------------------------------------


def _told(place: Place, found: object) -> str:
    return "" if place in _SECRETS else f"; found {_spelled(found)}"


def _spelled(found: object) -> str:
    """A value as TOML spells it, shortened."""
    match found:
        case dict():
            return "a table"
        case list():
            return "a list"
        case bool():
            return str(found).lower()
        case str():
            return repr(found if len(found) <= _SHOWN_CHARACTERS else f"{found[:_SHOWN_CHARACTERS]}...")
        case date() | time():
            return found.isoformat()
    return str(found)


def _remedy(details: ErrorDetails) -> str:
    """What most likely mends it, where that can be told from what was found."""
    match details["type"], details["input"]:
        case ("int_type" | "float_type", str(text)) if _NUMBER.fullmatch(text):
            return "; leave the quotes out"
        case "bool_type", "true" | "false":
            return "; leave the quotes out"
        case "string_type", bool() | int() | float() | date() | time():
            return "; put it in quotes"
        case ("literal_error" | "enum", str(word)):
            near = get_close_matches(word.lower(), re.findall("'([^']+)'", details["ctx"]["expected"]), 1, cutoff=0.7)
            return f"; perhaps '{near[0]}' is meant" if near else ""
    return ""
