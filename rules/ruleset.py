"""Rules as data: what is read from standard.toml and from the site file, checked, and compiled once."""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from itertools import product
from types import MappingProxyType
from typing import Annotated, Literal

import cel
from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from rules.board import FACTS, Fact, SubjectKind
from rules.events import Priority
from rules.labels import read_labels
from rules.site import Label, RuleOverride, Site
from rules.thresholds import Thresholds

DAY_SECONDS = 86_400


class RuleError(ValueError):
    """A rule, threshold or label that cannot be used; the message is one sentence that names it and how to mend it."""


class _Entry(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Figure(_Entry):
    """A number that a site may change within [low, high]; ``source`` says where the default comes from."""

    value: float
    unit: str = "s"
    low: float
    high: float
    text: str = ""
    source: str


_NO_DELAY = Figure(value=0, low=0, high=DAY_SECONDS, source="ours")
_NO_DEADBAND = Figure(value=0, unit="", low=0, high=0, source="ours")


class Rule(_Entry):
    """One rule.

    watches: the kind of thing that it looks at; condition: CEL over that thing's facts (rules/board.py), the rule's own
        ``limits``, and ``deadband``, which is 0 until the alert is raised and the rule's deadband from then on.
    stands_until: 'cleared' - the alert is over when the condition is; 'acknowledged' - it tells of something that
        happened and stands until a person answers for it.
    """

    id: Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9-]{0,59}$")]
    watches: SubjectKind
    condition: Annotated[str, StringConstraints(min_length=1, max_length=1000)]
    on_delay_seconds: Figure = _NO_DELAY
    off_delay_seconds: Figure = _NO_DELAY
    deadband: Figure = _NO_DEADBAND
    limits: dict[str, Figure] = Field(default_factory=dict)
    stands_until: Literal["cleared", "acknowledged"] = "cleared"
    priority: Priority
    text: Annotated[str, StringConstraints(min_length=1, max_length=200)]
    advice: Annotated[str, StringConstraints(max_length=400)] = ""
    source: Annotated[str, StringConstraints(min_length=1, max_length=400)]


class _Standard(_Entry):
    threshold: dict[str, Figure]
    rule: tuple[Rule, ...]


@dataclass(frozen=True, slots=True)
class Compiled:
    """A rule with its condition compiled.

    reads: the facts that the condition reads. uses_deadband: whether it reads ``deadband``.
    """

    rule: Rule
    program: cel.Program
    reads: frozenset[str]
    uses_deadband: bool


@dataclass(frozen=True, slots=True)
class RuleBook:
    """All that judges: rules by id, thresholds, labels by id; ``figures`` are the thresholds with range and source."""

    rules: Mapping[str, Compiled]
    thresholds: Thresholds
    figures: Mapping[str, Figure]
    labels: Mapping[str, Label]


def load_book(site: Site, standard_toml: str, labels_csv: str) -> RuleBook:
    """The standard rules with the site's changes and additions.

    Raises:
        RuleError: something does not fit; the message says what, where and how to mend it.
    """
    standard = _read_standard(standard_toml)
    figures = {
        name: _within(f"threshold '{name}'", f, site.thresholds.get(name)) for name, f in standard.threshold.items()
    }
    _only_known("thresholds", site.thresholds, figures)
    rules = {rule.id: rule for rule in standard.rule}
    _only_known("rules", site.rules, rules)
    changed = [_override(rule, site.rules.get(rule.id)) for rule in standard.rule if _enabled(site, rule)]
    own: dict[str, Rule] = {}
    for number, entry in enumerate(site.rule, 1):
        rule = _own_rule(entry, number, rules, own)
        own[rule.id] = rule
    book = RuleBook(
        rules=MappingProxyType({rule.id: _compile(rule) for rule in (*changed, *own.values())}),
        thresholds=_thresholds(figures),
        figures=MappingProxyType(figures),
        labels=MappingProxyType({**read_labels(labels_csv), **{label.id: label for label in site.label}}),
    )
    _check_basins(site, book)
    return book


def _read_standard(text: str) -> _Standard:
    try:
        return _Standard.model_validate(tomllib.loads(text))
    except (tomllib.TOMLDecodeError, ValidationError) as error:
        raise RuleError(f"the standard rules cannot be read: {error}") from error


def _only_known(section: str, given: Iterable[str], known: Mapping[str, object]) -> None:
    for name in given:
        if name not in known:
            raise RuleError(f"[{section}] '{name}' is not known; expected one of {', '.join(sorted(known))}")


def _within(what: str, figure: Figure, wanted: float | None) -> Figure:
    value = figure.value if wanted is None else wanted
    if not figure.low <= value <= figure.high:
        unit = figure.unit and f" {figure.unit}"
        raise RuleError(f"{what} is {value:g}{unit}; expected {figure.low:g} to {figure.high:g}{unit}")
    return figure.model_copy(update={"value": value})


def _thresholds(figures: Mapping[str, Figure]) -> Thresholds:
    names = {field.name for field in fields(Thresholds)}
    if names != set(figures):
        raise RuleError(f"the standard rules must give exactly the thresholds {', '.join(sorted(names))}")
    return Thresholds(**{name: figures[name].value for name in names})


def _enabled(site: Site, rule: Rule) -> bool:
    override = site.rules.get(rule.id)
    return override is None or override.enabled


def _override(rule: Rule, change: RuleOverride | None) -> Rule:
    if change is None:
        return rule
    where = f"rule '{rule.id}'"
    _only_known(f"rules.{rule.id}.limits", change.limits, rule.limits)
    limits = {
        name: _within(f"{where}, key 'limits.{name}',", figure, change.limits.get(name))
        for name, figure in rule.limits.items()
    }
    return rule.model_copy(
        update={
            "on_delay_seconds": _within(
                f"{where}, key 'on_delay_seconds',", rule.on_delay_seconds, change.on_delay_seconds
            ),
            "off_delay_seconds": _within(
                f"{where}, key 'off_delay_seconds',", rule.off_delay_seconds, change.off_delay_seconds
            ),
            "deadband": _within(f"{where}, key 'deadband',", rule.deadband, change.deadband),
            "limits": limits,
            "priority": Priority(change.priority) if change.priority else rule.priority,
        }
    )


def _own_rule(
    entry: Mapping[str, object], number: int, standard: Mapping[str, object], own: Mapping[str, object]
) -> Rule:
    try:
        rule = Rule.model_validate(entry)
    except ValidationError as error:
        first = error.errors()[0]
        key = ".".join(str(part) for part in first["loc"]) or "the whole entry"
        raise RuleError(f"[[rule]] number {number}, key '{key}': {first['msg']}") from error
    if rule.id in own:
        raise RuleError(f"[[rule]] number {number}: '{rule.id}' is there twice; give each rule its own id")
    if rule.id in standard:
        raise RuleError(f"[[rule]] number {number}: '{rule.id}' is a standard rule; change it under [rules.{rule.id}]")
    for name, figure in _figures(rule):
        _within(f"rule '{rule.id}', key '{name}',", figure, None)
    return rule


def _figures(rule: Rule) -> list[tuple[str, Figure]]:
    own = [(f"limits.{name}", figure) for name, figure in rule.limits.items()]
    delays = [("on_delay_seconds", rule.on_delay_seconds), ("off_delay_seconds", rule.off_delay_seconds)]
    return [*delays, ("deadband", rule.deadband), *own]


def _compile(rule: Rule) -> Compiled:
    facts = FACTS[rule.watches]
    try:
        program = cel.compile(rule.condition)
    except ValueError as error:
        raise RuleError(f"rule '{rule.id}', key 'condition': not a CEL expression: {_first_line(error)}") from error
    names = set(program.variables())
    unknown = names - set(facts) - set(rule.limits) - {"deadband"}
    if unknown:
        raise RuleError(
            f"rule '{rule.id}', key 'condition': {', '.join(sorted(unknown))} is no fact of a {rule.watches.value}; "
            f"expected {', '.join(sorted({*facts, *rule.limits, 'deadband'}))}"
        )
    _try_out(rule, program, facts)
    return Compiled(rule, program, frozenset(names & set(facts)), "deadband" in names)


def _try_out(rule: Rule, program: cel.Program, facts: Mapping[str, Fact]) -> None:
    """A condition that mixes types, or a text with an unknown placeholder, shows itself at load and not at night."""
    limits = {name: figure.value for name, figure in rule.limits.items()}
    for situation in _situations({name: facts[name] for name in program.variables() if name in facts}):
        try:
            answer = program.execute({**situation, **limits, "deadband": 0.0})
        except (TypeError, ValueError, RuntimeError) as error:
            raise RuleError(f"rule '{rule.id}', key 'condition': {_first_line(error)}") from error
        if not isinstance(answer, bool):
            raise RuleError(f"rule '{rule.id}', key 'condition' gives {answer!r}; expected true or false")
    for key in ("text", "advice"):
        try:
            str(getattr(rule, key)).format_map(facts)
        except (KeyError, ValueError, IndexError, AttributeError) as error:
            raise RuleError(
                f"rule '{rule.id}', key '{key}': {error} cannot be filled in; expected names of facts in braces: "
                f"{', '.join(sorted(facts))}"
            ) from error


def _situations(read: Mapping[str, Fact]) -> Iterable[dict[str, Fact]]:
    """Facts in every combination that can matter, so that no side of an ``&&`` or ``||`` stays untried."""
    choices = (_TRIED.get(type(value), (value,)) for value in read.values())
    return (dict(zip(read, values, strict=True)) for values in product(*choices))


_TRIED: Mapping[type, tuple[Fact, ...]] = MappingProxyType(
    {bool: (False, True), int: (0, -1_000_000, 1_000_000), float: (0.0, -1e6, 1e6)}
)


def _first_line(error: Exception) -> str:
    return str(error).partition("\n")[0]


def _check_basins(site: Site, book: RuleBook) -> None:
    for basin in site.basin:
        label = book.labels.get(basin.label)
        if label is None:
            raise RuleError(
                f"basin '{basin.id}', key 'label': '{basin.label}' is not known; expected a [[label]] of this file "
                f"or one of {', '.join(sorted(book.labels))}"
            )
        if label.mode == "automated":
            raise RuleError(
                f"basin '{basin.id}', key 'label': '{label.id}' states conditions of an automated processor, which "
                "never apply to an open basin; expected a label with mode 'manual'"
            )
    for sensor in site.sensors().values():
        if sensor.kind == "temperature" and sensor.expected_report_seconds > book.thresholds.max_gap_seconds:
            raise RuleError(
                f"sensor '{sensor.id}' reports every {sensor.expected_report_seconds:g} s, more than the threshold "
                f"'max_gap_seconds' ({book.thresholds.max_gap_seconds:g} s): no soak could ever be proven; "
                "let it report more often"
            )
