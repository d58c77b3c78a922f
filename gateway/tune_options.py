"""A question about thresholds as options of a command, or as a file."""

import re
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from gateway.model_errors import problems_of
from gateway.problems import Problem, rendered
from gateway.toml_text import TomlError, read_toml, too_large
from gateway.tuned import Asked
from rules.part import MistakesError, meant

MOST_VALUES = 1000
"""Of one figure."""

_RANGE = re.compile(r"(?P<first>[^./]+(\.\d+)?)\.\.(?P<last>[^/]+?)(/(?P<step>.+))?")


class QuestionError(MistakesError):
    """A question that cannot be read; each problem is one sentence."""


@dataclass(frozen=True, slots=True)
class AskedByOptions:
    """The options as they were given.

    tried: such as 'cord-down-rolling.on_delay_seconds=0..30/2'. others: what else a question may have, None where it
    was not given.
    """

    rules: tuple[str, ...]
    tried: tuple[str, ...]
    on: tuple[str, ...]
    others: dict[str, Any]

    @property
    def is_given(self) -> bool:
        """Whether any was."""
        return bool(self.rules or self.tried or self.on or any(value is not None for value in self.others.values()))

    def question(self) -> Asked:
        """What is asked.

        Raises:
            QuestionError: it is none.
        """
        vary = [_vary(text) for text in self.tried]
        own = [figure.split(".")[1] for figure, _ in vary if figure.startswith("rule.")]
        rules = tuple(dict.fromkeys((*self.rules, *own)))
        for what, given in (("--on", self.on), ("--try", vary), ("--rule", rules)):
            if not given:
                raise QuestionError(f"Nothing is given with {what}; {_EXPECTED[what]}.")
        others = {name: value for name, value in self.others.items() if value is not None}
        goal = {name: others.pop(name) for name in _GOAL if name in others}
        tried = [{"figure": figure, "values": values} for figure, values in vary]
        try:
            return Asked.model_validate({"rules": rules, "vary": tried, "on": self.on, "goal": goal, **others})
        except ValidationError as error:
            first = error.errors()[0]
            where = ".".join(map(str, first["loc"]))
            said = f"{first['msg'][:1].lower()}{first['msg'][1:]}"
            raise QuestionError(f"{where}: {said}, not {first['input']!r}.") from error


_GOAL = ("most_false_per_cart_week", "least_detected", "each_rule")

_EXPECTED = {
    "--on": "expected a folder with a record, 'population:DAYSxCARTS', or the name of a scenario",
    "--try": "expected a figure with its values, such as --try cord-down-rolling.on_delay_seconds=0..30/2",
    "--rule": "expected the id of a rule whose alerts are judged, as a figure of the trackers bears on several",
}


def _vary(text: str) -> tuple[str, tuple[float, ...]]:
    figure, equals, values = text.partition("=")
    if not equals or not figure.strip() or not values.strip():
        raise QuestionError(f"'{text}' is no figure with its values; {_EXPECTED['--try']}.")
    name = figure.strip()
    return name if name.startswith(("rule.", "threshold.")) else f"rule.{name}", values_of(values)


def values_of(text: str) -> tuple[float, ...]:
    """Of ``1,2,4``, of ``0..30/2`` (from, to and, after the stroke, by how much), or of both with commas between.

    Raises:
        QuestionError: that is no list of numbers, or one of too many.
    """
    found = [value for part in text.split(",") for value in _part(part.strip(), text)]
    if len(found) > MOST_VALUES:
        raise QuestionError(f"'{text}' are {len(found):,} values; expected at most {MOST_VALUES:,}.")
    return tuple(map(float, found))


def _part(part: str, text: str) -> list[Decimal]:
    """In decimal, so that tenths come out as they are written."""
    span = _RANGE.fullmatch(part)
    try:
        if span is None:
            return [_number(part)]
        first, last, step = _number(span["first"]), _number(span["last"]), _number(span["step"] or "1")
    except InvalidOperation as error:
        raise QuestionError(f"'{text}' are no values; expected numbers such as 1,2,4 or 0..30/2.") from error
    if step <= 0 or last < first:
        raise QuestionError(f"'{part}' is no range; expected from the least to the most by more than 0, as 0..30/2.")
    count = int((last - first) / step) + 1
    if count > MOST_VALUES:
        raise QuestionError(f"'{part}' are {count:,} values; expected at most {MOST_VALUES:,}.")
    return [first + n * step for n in range(count)]


def _number(text: str) -> Decimal:
    number = Decimal(text)
    if not number.is_finite():
        raise InvalidOperation
    return number


def load_question(path: Path) -> Asked:
    """A question from a file in TOML, or in JSON where its name ends so.

    Raises:
        QuestionError: it cannot be used; one line for each thing to mend.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise QuestionError(f"{path.name}: not UTF-8 text at octet {error.start}; save it as UTF-8") from error
    except OSError as error:
        raise QuestionError(f"{path}: cannot be read: {error.strerror}; expected a question in TOML or JSON") from error
    if path.suffix == ".json":
        try:
            return Asked.model_validate_json(text)
        except ValidationError as error:
            raise QuestionError(f"{path.name}: is no question about thresholds, or one of another version") from error
    return _read(text, path.name)


def _read(text: str, name: str) -> Asked:
    try:
        data = read_toml(text)
    except TomlError as error:
        where = name if error.line is None else f"{name}, line {error.line}"
        raise QuestionError(f"{where}: {error}") from error
    unknown = [
        Problem((key,), f"'{key}' is not known; {meant(key, Asked.model_fields)}", named=True)
        for key in data.keys() - Asked.model_fields.keys()
    ]
    if problems := [*too_large(data), *unknown]:
        raise QuestionError(*rendered(problems, name, text))
    try:
        return Asked.model_validate(data)
    except ValidationError as error:
        raise QuestionError(*rendered(problems_of(error, data, Asked), name, text)) from error
