"""What is wrong with a site file, said to the engineer who has to mend it: line, key, what was expected."""

import re
from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from typing import Any, NamedTuple, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from gateway.toml_lines import Lines, Place

_PLAIN_WORDS = {
    "^[a-z0-9][a-z0-9-]{0,39}$": "expected lower-case letters, digits and '-', at most 40, such as 'cart-2'",
    "^[a-z0-9][a-z0-9.-]{0,59}$": "expected lower-case letters, digits, '.' and '-', at most 60",
    "^[^+#\\x00$][^+#\\x00]{0,254}$": "expected an MQTT topic without '+' and '#', at most 255 characters",
    "^(/([^~/]|~[01])*)*$": "expected a JSON Pointer (RFC 6901), such as '/data/temperature'",
}
_HINTS = {
    (
        "broker",
        "password",
    ): "a password does not belong into this file: put it into an environment variable and name that"
    " in password_env, or into a file of its own and name that in password_file",
}
_NAMED = re.compile(
    r"(?:station, basin or cart|station|basin|cart|probe|sensor|label) '(?P<id>[^']+)'(?:, key '(?P<key>\w+)')?"
)
_JOINT = re.compile(r"; (?=(?:station|basin|cart|probe|sensor|label)[a-z, ]* ')")
_SECTION = re.compile(r"\[(?P<section>thresholds|rules)\] '(?P<id>[^']+)'")
_THRESHOLD = re.compile(r"threshold '(?P<id>[^']+)'")
_RULE = re.compile(r"rule '(?P<id>[^']+)'(?:, key '(?P<key>[\w.]+)')?")
_NUMBERED_RULE = re.compile(r"\[\[rule\]\] number (?P<number>\d+)(?:, key '(?P<key>[\w.]+)')?")
_SHOWN_CHARACTERS = 40


class Problem(NamedTuple):
    """One thing to mend.

    place: () where it concerns the file as a whole.
    named: the sentence itself says what it is about, by its id.
    """

    place: Place
    sentence: str
    named: bool = False


def problems_of(error: ValidationError, data: Mapping[str, Any], model: type[BaseModel]) -> list[Problem]:
    """One problem for each place that the models refuse."""
    found: dict[Place, list[str]] = {}
    for details in error.errors(include_url=False):
        place = _place_in(data, details)
        sentences = found.setdefault(place, [])
        sentence = _sentence(details, place, model)
        if sentence not in sentences:
            sentences.append(sentence)
    whole = found.pop((), [])
    return [
        *(Problem(place, ", or ".join(sentences)) for place, sentences in found.items()),
        *(problem for sentence in whole for problem in named_problems(sentence, data)),
    ]


def named_problems(sentence: str, data: Mapping[str, Any]) -> list[Problem]:
    """The problems of a sentence, or several joined by ';', each of which begins with the name of what it is about."""
    return [Problem(_named_place(part, data), part, named=True) for part in _JOINT.split(sentence)]


def rendered(problems: Iterable[Problem], file: str, text: str) -> list[str]:
    """Each problem as one line that begins with file, line and key."""
    lines = Lines(text)
    ordered = sorted(problems, key=lambda problem: lines.of(problem.place) or 0)
    return [_line(problem, file, lines) for problem in ordered]


def _line(problem: Problem, file: str, lines: Lines) -> str:
    number = lines.of(problem.place)
    where = file if number is None else f"{file}, line {number}"
    key = "" if problem.named else _spelled(problem.place)
    return f"{where}: {key}: {problem.sentence}" if key else f"{where}: {problem.sentence}"


def _spelled(place: Place) -> str:
    """('basin', 1, 'label') as "[[basin]] number 2, key 'label'"."""
    match place:
        case ():
            return ""
        case (str(table), int(position), *inner):
            head = f"[[{table}]] number {position + 1}"
        case ("rules", str(rule), *inner):
            head = f"[rules.{rule}]"
        case (table, *inner):
            head = f"[{table}]"
    key = ".".join(str(part) for part in inner if isinstance(part, str))
    return f"{head}, key '{key}'" if key else head


# ---- from what the models say ------------------------------------------------------------------------------------


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


def _sentence(details: ErrorDetails, place: Place, model: type[BaseModel]) -> str:
    kind, found = details["type"], details["input"]
    if kind == "missing":
        return "missing, but needed"
    if kind == "extra_forbidden":
        return _unknown_key(place, model)
    if kind == "value_error":
        return str(details.get("ctx", {}).get("error", details["msg"]))
    expected = _expected(details)
    # What stands under [broker] is never repeated: it might be a secret in the wrong place.
    if place[:1] == ("broker",) or isinstance(found, (dict, list)):
        return expected
    return f"{expected}; found {found!r:.{_SHOWN_CHARACTERS}}"


def _expected(details: ErrorDetails) -> str:
    pattern = details.get("ctx", {}).get("pattern")
    if pattern in _PLAIN_WORDS:
        return _PLAIN_WORDS[pattern]
    if details["type"] in ("tuple_type", "model_type"):
        return "expected a table, or with [[...]] several"
    return re.sub(r"^\w+ should (be|have|match) ", "expected ", details["msg"])


def _unknown_key(place: Place, model: type[BaseModel]) -> str:
    hint = _HINTS.get((str(place[0]), str(place[-1])))
    if hint is not None:
        return hint
    known = sorted(_model_at(place[:-1], model).model_fields)
    near = get_close_matches(str(place[-1]), known, 1, cutoff=0.7)
    if near:
        return f"no such key; perhaps '{near[0]}' is meant"
    return f"no such key; expected one of {', '.join(known)}"


def _model_at(place: Place, model: type[BaseModel]) -> type[BaseModel]:
    for part in place:
        field = model.model_fields.get(str(part))
        if field is not None:
            inner = (field.annotation, *get_args(field.annotation))
            model = next((m for m in inner if isinstance(m, type) and issubclass(m, BaseModel)), model)
    return model


# ---- from sentences that name what they are about ----------------------------------------------------------------


def _named_place(sentence: str, data: Mapping[str, Any]) -> Place:
    if match := _NUMBERED_RULE.match(sentence):
        return ("rule", int(match["number"]) - 1, *_keys(match["key"]))
    if match := _SECTION.match(sentence):
        return (match["section"], match["id"])
    if match := _THRESHOLD.match(sentence):
        return ("thresholds", match["id"])
    if match := _RULE.match(sentence):
        own = _last_with_id(data, "rule", match["id"])
        return (*(own or ("rules", match["id"])), *_keys(match["key"]))
    if match := _NAMED.match(sentence):
        return _entry(match["id"], data, _keys(match["key"]))
    return ()


def _keys(dotted: str | None) -> Place:
    return tuple(dotted.split(".")) if dotted else ()


def _entry(name: str, data: Mapping[str, Any], key: Place) -> Place:
    for table in ("station", "basin", "cart", "probe", "sensor", "label"):
        place = _last_with_id(data, table, name)
        if place:
            return (*place, *key)
    return ()


def _last_with_id(data: Mapping[str, Any], table: str, name: str) -> Place:
    """The last such entry: of two with one name, the second is the one to look at."""
    entries = data.get(table, [])
    for position in reversed(range(len(entries))):
        entry = entries[position]
        if isinstance(entry, Mapping) and name in (entry.get("id"), f"{entry.get('thing')}/{entry.get('name')}"):
            return (table, position)
    return ()
