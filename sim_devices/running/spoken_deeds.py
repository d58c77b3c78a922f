"""Deeds as people write them: ``open-lid basin=basin-1``."""

from collections.abc import Mapping, Sequence
from functools import cache
from types import MappingProxyType
from typing import Any, get_args

from pydantic import ValidationError

from gateway.hands import HandsError
from gateway.model_errors import problems_of
from gateway.problems import Problem
from rules.part import meant
from sim_devices.ward.deeds import DEED, Deed

KINDS: Mapping[str, type[Deed]] = MappingProxyType(
    {kind.model_fields["do"].default: kind for kind in get_args(get_args(Deed)[0])}
)
"""Every deed, by what stands in ``do``."""

MOST_CHARACTERS = 200
"""Of a key's value (ours)."""

NEVER = "never"

THINGS = ("basin", "cart", "probe", "station", "thing", "sensor")
"""Keys that name what a deed is done to."""

_SHOWN = 40
_NUMBERS = {"number": "a number", "integer": "a whole number"}
_TRUTHS = {"true": True, "yes": True, "on": True, "false": False, "no": False, "off": False}


def words_of(spoken: Sequence[str]) -> dict[str, str]:
    """``["open-lid", "basin=basin-1"]`` as ``{"do": "open-lid", "basin": "basin-1"}``.

    Raises:
        HandsError: it has another form.
    """
    do, *rest = spoken or [""]
    words = {"do": do}
    for part in rest:
        key, equals, value = part.partition("=")
        if not equals:
            raise HandsError(f"'{part}' is no key with its value; expected such as basin=basin-1 after the deed")
        if key in words:
            raise HandsError(f"key '{key}' is there twice; leave one out")
        words[key] = value
    return words


def deed_of(words: Mapping[str, str]) -> Deed:
    """The deed that is meant.

    words: ``do`` and the deed's keys. '' leaves a key that may be left out at its default; 'never' is for times after
        which nobody does something.

    Raises:
        HandsError: there is no such deed, or a key of it is missing, unknown or of a value that cannot be.
    """
    do = words.get("do", "")
    if do not in KINDS:
        raise HandsError(f"there is no deed '{do[:MOST_CHARACTERS]}'; {meant(do, KINDS)}")
    kind = KINDS[do]
    fields = kind.model_fields
    # A form sends every key, those that nobody filled in as ''.
    given = {key: text for key, text in words.items() if text or key not in fields or fields[key].is_required()}
    for key in given.keys() - fields.keys():
        raise HandsError(f"'{do}' has no key '{key}'; {meant(key, fields.keys() - {'do'})}")
    for key, field in fields.items():
        if field.is_required() and key not in given:
            raise HandsError(f"'{do}' needs the key '{key}'; add {key}=...")
    for key, text in given.items():
        if len(text) > MOST_CHARACTERS:
            raise HandsError(f"key '{key}' is too long; expected at most {MOST_CHARACTERS} characters")
    data = {key: _value(_schema(kind)[key], text) for key, text in given.items()}
    try:
        return DEED.validate_python(data)
    except ValidationError:
        raise HandsError(_wrong(kind, data)) from None


def _wrong(kind: type[Deed], data: Mapping[str, Any]) -> str:
    """What is wrong with the values, a sentence."""
    thing = next((f" {str(data[key])[:_SHOWN]}" for key in THINGS if data.get(key)), "")
    try:
        kind.model_validate(data)
    except ValidationError as error:
        problems = problems_of(error, data, kind)
        said = (f"key '{one.place[0]}': {_within(kind, data, one)}" for one in problems if one.place)
        return f"'{data['do']}'{thing}: {'; '.join(said)}"
    return f"'{data['do']}'{thing} cannot be read"


def _within(kind: type[Deed], data: Mapping[str, Any], problem: Problem) -> str:
    """The problem, of a number with what it may be."""
    key = str(problem.place[0])
    types, parts = _schema(kind)[key], _parts(kind.model_json_schema(), key)
    part = next((part for part in parts if part.get("type") in _NUMBERS and "maximum" in part), None)
    if part is None or "array" in types:
        return problem.sentence
    low = f"{part['minimum']:g}" if "minimum" in part else f"more than {part['exclusiveMinimum']:g}"
    never = ", or 'never'" if "null" in types else ""
    found = str(data[key])[:_SHOWN]
    return f"expected {_NUMBERS[part['type']]} from {low} to {part['maximum']:g}{never}; found '{found}'"


def _parts(whole: Mapping[str, Any], key: str) -> Sequence[Mapping[str, Any]]:
    """The alternatives of a key in a JSON Schema."""
    about: Mapping[str, Any] = whole["properties"][key]
    found: Sequence[Mapping[str, Any]] = about.get("anyOf", [about])
    return found


@cache
def _schema(kind: type[Deed]) -> Mapping[str, frozenset[str]]:
    """Which JSON types each key of a deed may have."""
    whole = kind.model_json_schema()
    return {key: frozenset(types_of(whole, about)) for key, about in whole["properties"].items()}


def types_of(whole: Mapping[str, Any], about: Mapping[str, Any]) -> set[str]:
    """The JSON types that a part of a JSON Schema allows."""
    if "anyOf" in about:
        return {kind for part in about["anyOf"] for kind in types_of(whole, part)}
    if "$ref" in about:
        return types_of(whole, whole["$defs"][about["$ref"].removeprefix("#/$defs/")])
    return {about.get("type", "string")}


def _value(types: frozenset[str], text: str) -> object:
    """The text as the types want it; left as it is where it does not fit, so that what is wrong with it is told."""
    if "null" in types and text.lower() == NEVER:
        return None
    if "array" in types:
        return [part.strip() for part in text.split(",")]
    if "boolean" in types:
        return _TRUTHS.get(text.lower(), text)
    if types & {"number", "integer"}:
        return _number(text)
    return text


def _number(text: str) -> object:
    try:
        return int(text)
    except ValueError:
        try:
            return float(text)
        except ValueError:
            return text
