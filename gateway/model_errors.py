"""What the models of a site file refuse, in the words of whoever has to mend it; the library's own reach nobody."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
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
    r"^[A-Za-z0-9.:_-]{1,253}$": "the name or the address of a host, such as 'mail.example.org'",
    r"^[\x21-\x7e]{1,120}$": "ASCII letters, digits and signs without blanks, at most 120",
    r"^([a-z][a-z0-9-]{0,39})?$": "one word of at most 40 small letters, digits and '-', or ''",
    r"^[A-Z]{3}$": "the three letters of a currency (ISO 4217), such as 'EUR'",
    r"^(always|[1-9][0-9]{0,5}(ms|s|m))$": "'always', or a time such as '500ms', '2s' or '1m'",
}
"""What the models' patterns mean."""

_EXPECTED = {
    "string_type": "text",
    "string_too_short": "text that is not empty",
    "string_too_long": "at most {max_length} characters",
    "too_short": "at least {min_length} in the list",
    "too_long": "at most {max_length} in the list",
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

_EXPECTED_OF = {
    "time_": "a time such as 07:30:00, without quotes",
    "datetime_": "a date and time such as 2026-12-24T07:30:00, without quotes",
    "timezone_": "a time without an offset, for it goes by the site's clock",
}
"""As ``_EXPECTED``, by what the type begins with: the library tells many ways in which text is no time."""

_SOMETHING_ELSE = "another value, as 'sinkside schema' tells"
"""Where this module knows the type of the error, or the pattern, no better."""

_NOT_IN_THIS_FILE = (
    "a password does not belong into this file: put it into an environment variable and name that in {env}, or into a"
    " file of its own and name that in {file}"
)
_LIKE_PASSWORD = re.compile("pas|pwd|secret|token")
_SECRET_TABLES = frozenset(("broker", "channel", "paging"))
_SECRET_KEYS = frozenset(
    (
        "url",
        "username",
        "heartbeat_url",
        *(f"{name}_{place}" for name in ("password", "secret", "url", "heartbeat_url") for place in ("env", "file")),
    )
)
"""Where a secret might stand by mistake: what is found there is not repeated."""

_OF_SEVERAL_MODELS = frozenset(("channel",))
"""Tables whose entries are of one of several models, as their 'kind' says."""

_INNER_SHAPES = {
    "tuple_type": 'a list in brackets, such as ["a", "b"]',
    "model_type": 'a table such as { value = 30, unit = "s", low = 0, high = 600, source = "ours" }',
    "model_attributes_type": "a table",
    "dict_type": "a table of names and values",
}
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")
_SHOWN_CHARACTERS = 40


def problems_of(error: ValidationError, data: Mapping[str, Any], model: type[BaseModel]) -> list[Problem]:
    """One problem for each place that the models refuse."""
    shape = _Shape(model, data)
    found: dict[Place, list[ErrorDetails]] = {}
    for details in error.errors(include_url=False):
        found.setdefault(_place_in(data, details), []).append(details)
    whole = found.pop((), [])
    return [
        *(_problem(place, group, shape) for place, group in found.items()),
        *(problem for details in whole for problem in named_problems(_own_error(details), data)),
    ]


def _place_in(data: Any, details: ErrorDetails) -> Place:
    """The error's location as far as the file has it; what follows are names of alternatives of the model."""
    place: Place = ()
    for part in _without_kind(details["loc"], data):
        if not _holds(data, part):
            return (*place, part) if details["type"] == "missing" else place
        data = data[part]
        place = (*place, part)
    return place


def _without_kind(loc: Place, data: Mapping[str, Any]) -> Place:
    """Without the kind of an entry that is of one of several models, which the library puts after its number."""
    match loc:
        case (str(table), int(number), str(kind), *inner) if _kind_of(data, table, number) == kind:
            return (table, number, *inner)
    return loc


def _kind_of(data: Mapping[str, Any], table: str, number: int) -> object:
    """What an entry says of its kind, where that tells which model it is of."""
    entries = data.get(table)
    if table not in _OF_SEVERAL_MODELS or not isinstance(entries, list) or not isinstance(entries[number], dict):
        return None
    return entries[number].get("kind")


def _holds(data: object, part: str | int) -> bool:
    if isinstance(data, list):
        return isinstance(part, int) and part < len(data)
    return isinstance(data, dict) and part in data


@dataclass(frozen=True, slots=True)
class _Shape:
    """The models of a file, and what stands in it, which tells of which model an entry is."""

    model: type[BaseModel]
    data: Mapping[str, Any]

    def at(self, place: Place) -> type[BaseModel]:
        """The model of what stands at a place."""
        model, kind = self.model, _kind_of(self.data, *place[:2]) if len(place) > 1 else None  # type: ignore[arg-type]  # a table and a number
        for part in place:
            field = model.model_fields.get(str(part))
            if field is not None:
                models = list(_models_in(field.annotation))
                model = next((m for m in models if _is_of_kind(m, kind)), next(iter(models), model))
        return model


def _models_in(annotation: object) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models_in(inner)


def _is_of_kind(model: type[BaseModel], kind: object) -> bool:
    return "kind" in model.model_fields and kind in get_args(model.model_fields["kind"].annotation)


def _problem(place: Place, group: list[ErrorDetails], shape: _Shape) -> Problem:
    """What is wrong at one place; several errors there are alternatives of which none fits."""
    first = group[0]
    kind, found = first["type"], first["input"]
    match kind:
        case "missing":
            return Problem(place, _missing(place, shape))
        case "extra_forbidden":
            return _unknown(place, found, shape)
        case "union_tag_not_found" | "union_tag_invalid" if place[0] in _OF_SEVERAL_MODELS:
            place = (*place, "kind")
            return Problem(place, _kind_expected(place, shape, found))
        case "value_error":
            told = "" if isinstance(found, dict) else _told(place, found)
            return Problem(place, f"{_own_words(first)}{told}")
        case "tuple_type" | "model_type" | "model_attributes_type" | "dict_type":
            return Problem(place, f"expected {_shape(kind, place)}{_told(place, found)}")
    expected = " or ".join(dict.fromkeys(map(_expectation, group)))
    return Problem(place, f"expected {expected}{_told(place, found)}{_remedy(first)}")


def _kind_expected(place: Place, shape: _Shape, entry: Any) -> str:
    models = _models_in(shape.model.model_fields[str(place[0])].annotation)
    kinds = [str(kind) for model in models for kind in get_args(model.model_fields["kind"].annotation)]
    expected = f"one of {', '.join(map(repr, kinds))}"
    if "kind" not in entry:
        return f"missing; add it, as {expected}"
    near = get_close_matches(str(entry["kind"]).lower(), kinds, 1, cutoff=0.7)
    return f"expected {expected}{_told(place, entry['kind'])}" + (f"; perhaps '{near[0]}' is meant" if near else "")


# ---- what was expected -------------------------------------------------------------------------------------------


def _own_words(details: ErrorDetails) -> str:
    """The sentence of a check of our own."""
    return str(_own_error(details))


def _own_error(details: ErrorDetails) -> Exception:
    error = details.get("ctx", {}).get("error")
    return error if isinstance(error, Exception) else ValueError(f"expected {_SOMETHING_ELSE}")


def _expectation(details: ErrorDetails) -> str:
    context = details.get("ctx", {})
    if details["type"] == "string_pattern_mismatch":
        return _PATTERNS.get(context["pattern"], _SOMETHING_ELSE)
    kind = details["type"]
    if kind in _EXPECTED:
        return _EXPECTED[kind].format(**context)
    return next((said for begin, said in _EXPECTED_OF.items() if kind.startswith(begin)), _SOMETHING_ELSE)


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


def _missing(place: Place, shape: _Shape) -> str:
    key = str(place[-1])
    kind = shape.at(place[:-1]).model_fields[key].annotation
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        needed = [name for name, inner in kind.model_fields.items() if inner.is_required()]
        return f"missing; add it, with {' and '.join(needed)}; 'sinkside example' prints a whole site file"
    if isinstance(kind, type) and issubclass(kind, StrEnum):
        return f"missing; add it, as one of {', '.join(map(repr, map(str, kind)))}"
    value = '"..."' if kind is str else "..."
    return f"missing; add a line such as {key} = {value}"


# ---- keys and tables that nobody knows ---------------------------------------------------------------------------


def _unknown(place: Place, found: object, shape: _Shape) -> Problem:
    key = str(place[-1])
    known = shape.at(place[:-1]).model_fields
    if len(place) == 1:
        return _unknown_table(key, found, shape.model)
    if place[0] in _SECRET_TABLES and _LIKE_PASSWORD.search(key.lower()):
        env = next((name for name in known if name.endswith("_env")), "password_env")
        return Problem(place, _NOT_IN_THIS_FILE.format(env=env, file=f"{env.removesuffix('_env')}_file"))
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


# ---- what was found ----------------------------------------------------------------------------------------------


def _told(place: Place, found: object) -> str:
    is_secret = bool(place) and place[0] in _SECRET_TABLES and place[-1] in _SECRET_KEYS
    return "" if is_secret else f"; found {_spelled(found)}"


def _spelled(found: object) -> str:
    """A value as TOML spells it, shortened."""
    match found:
        case dict():
            return "a table"
        case list():
            return "a list" if found else "an empty list"
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
