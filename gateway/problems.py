"""What is wrong with a site file, said to the engineer who has to mend it: line, key, what was expected."""

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from gateway.toml_lines import Lines, Place
from rules.part import MistakesError

_TABLES = ("station", "basin", "cabinet", "cart", "probe", "sensor", "label")
_NAMED = re.compile(
    r"(?P<what>station, basin, cabinet or cart|station|basin|cabinet|cart|probe|sensor|label) '(?P<id>[^']+)'"
    r"(?:, key '(?P<key>\w+)')?"
)
_SECTION = re.compile(
    r"\[(?P<section>thresholds|reprocessing|care|rules(?:\.[a-z0-9-]+\.limits)?)\](?:, key)? '(?P<id>[^']+)'"
)
_THRESHOLD = re.compile(r"threshold '(?P<id>[^']+)'")
_RULE = re.compile(r"rule '(?P<id>[^']+)'(?:, key '(?P<key>[\w.]+)')?")
_NUMBERED = re.compile(r"\[\[(?P<table>\w+)\]\] number (?P<number>\d+)(?:, key '(?P<key>[\w.]+)')?")


class Problem(NamedTuple):
    """One thing to mend.

    place: () where it concerns the file as a whole.
    named: the sentence itself says what it is about, by its id.
    other: where else what is there twice is.
    """

    place: Place
    sentence: str
    named: bool = False
    other: Place = ()


def named_problems(error: Exception, data: Mapping[str, Any]) -> list[Problem]:
    """The problems of an error whose sentences begin with the name of what they are about."""
    sentences = error.problems if isinstance(error, MistakesError) else (str(error),)
    return [_named(said, data) for said in sentences]


def rendered(problems: Iterable[Problem], file: str, text: str) -> list[str]:
    """Each problem as one line that begins with file, line and key."""
    lines = Lines(text)
    ordered = sorted(problems, key=lambda problem: lines.of(problem.place) or 0)
    return [_line(problem, file, lines) for problem in ordered]


def _line(problem: Problem, file: str, lines: Lines) -> str:
    number = lines.of(problem.place)
    where = file if number is None else f"{file}, line {number}"
    key = "" if problem.named else _spelled(problem.place)
    said = f"{problem.sentence} (the other is on line {lines.of(problem.other)})" if problem.other else problem.sentence
    return f"{where}: {key}: {said}" if key else f"{where}: {said}"


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


# ---- from sentences that name what they are about ----------------------------------------------------------------


def _named_place(sentence: str, data: Mapping[str, Any]) -> Place:
    if match := _NUMBERED.match(sentence):
        return (match["table"], int(match["number"]) - 1, *_keys(match["key"]))
    if match := _SECTION.match(sentence):
        return (*match["section"].split("."), match["id"])
    if match := _THRESHOLD.match(sentence):
        return ("thresholds", match["id"])
    if match := _RULE.match(sentence):
        own = next(reversed([*_with_id(data, "rule", match["id"])]), ())
        return (*(own or ("rules", match["id"])), *_keys(match["key"]))
    if match := _NAMED.match(sentence):
        entries = _entries(match["what"], match["id"], data)
        return (*entries[-1], *_keys(match["key"])) if entries else ()
    return ()


def _named(sentence: str, data: Mapping[str, Any]) -> Problem:
    place = _named_place(sentence, data)
    return Problem(place, sentence, named=True, other=_other(sentence, place, data))


def _other(sentence: str, place: Place, data: Mapping[str, Any]) -> Place:
    match = _NAMED.match(sentence)
    if match is None or match["key"] or "is there twice" not in sentence:
        return ()
    return next((entry for entry in _entries(match["what"], match["id"], data) if entry != place), ())


def _keys(dotted: str | None) -> Place:
    return tuple(dotted.split(".")) if dotted else ()


def _entries(what: str, name: str, data: Mapping[str, Any]) -> list[Place]:
    """The entries of that name; of two, the last is the one to look at."""
    return [place for table in _TABLES if table in what for place in _with_id(data, table, name)]


def _with_id(data: Mapping[str, Any], table: str, name: str) -> Iterator[Place]:
    for position, entry in enumerate(data.get(table, [])):
        if isinstance(entry, Mapping) and name in (entry.get("id"), f"{entry.get('thing')}/{entry.get('name')}"):
            yield table, position
