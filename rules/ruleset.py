"""Rules as data: what is read from standard.toml and from the site file, checked, and compiled once."""

import json
import re
import tomllib
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from itertools import product
from string import Formatter
from types import MappingProxyType
from typing import Literal

import cel
from pydantic import ValidationError

from rules.alert_words import Priority
from rules.board import FACTS, Fact
from rules.labels import read_labels
from rules.pairing import pairing_problems
from rules.part import Array, MistakesError, Part, meant
from rules.reach_checks import route_rule_problems
from rules.readings import SensorId, SensorKind
from rules.rule import Figure, Rule
from rules.site import Label, RuleOverride, Site
from rules.thresholds import Thresholds


class RuleError(MistakesError):
    """Rules, thresholds or labels that cannot be used."""


class _Problems(list[str]):
    """What was found so far, so that one load tells of all that is to mend and not of the first only."""

    def unknown(self, section: str, given: Iterable[str], known: Collection[str]) -> None:
        """Notes every name that is not known."""
        for name in given:
            if name not in known:
                expected = meant(name, known) if known else "there is nothing of the kind to change; leave it out"
                self.append(f"[{section}] '{name}' is not known; {expected}")

    def within(self, what: str, figure: Figure, wanted: float | None = None) -> Figure:
        """The figure with the value wanted; unchanged, and noted, where that is out of its range."""
        value = figure.value if wanted is None else wanted
        if figure.low <= value <= figure.high:
            return figure.model_copy(update={"value": value})
        unit = figure.unit and f" {figure.unit}"
        self.append(f"{what} is {value:g}{unit}; expected {figure.low:g} to {figure.high:g}{unit}")
        return figure


class _Standard(Part):
    threshold: dict[str, Figure]
    rule: Array[Rule]


@dataclass(frozen=True, slots=True)
class Compiled:
    """A rule with its conditions compiled.

    reads: the facts that the condition reads; suppression_reads: those of ``suppressed_when``.
    """

    rule: Rule
    program: cel.Program
    reads: frozenset[str]
    suppression: cel.Program | None
    suppression_reads: frozenset[str]

    @property
    def looked_at(self) -> frozenset[str]:
        """The facts at whose change it is looked at.

        Those in the text of an alert that stands until settled, too, as it is told anew where they change.
        """
        read = self.reads | self.suppression_reads
        if self.rule.stands_until != "settled":
            return read
        named = {name for _, name, _, _ in Formatter().parse(self.rule.text)}
        return read.union(name for name in FACTS[self.rule.watches] if name in named)

    def holds(self, facts: cel.Context) -> bool | None:
        """Whether the condition holds; None where it cannot be worked out, as where it divides by a fact that is 0."""
        return _truth(self.program, facts)

    def suppresses(self, facts: cel.Context) -> bool:
        """Whether people are told nothing, by design."""
        return self.suppression is not None and _truth(self.suppression, facts) is True


def _truth(program: cel.Program, facts: cel.Context) -> bool | None:
    try:
        answer = program.execute(facts)
    except _FAILURES:
        return None
    return answer if isinstance(answer, bool) else None


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
    problems = _Problems()
    figures = dict(_figures_in_force(site, standard, problems))
    rules = (*_standard_rules(site, standard, problems), *_own_rules(site, standard, problems))
    book = RuleBook(
        rules=MappingProxyType(dict(_compiled(rules, problems))),
        thresholds=_thresholds(figures),
        figures=MappingProxyType(figures),
        labels=MappingProxyType({**read_labels(labels_csv), **{label.id: label for label in site.label}}),
    )
    problems.extend(misfits(site, book))
    known = {rule.id for rule in (*standard.rule, *site.rule)}
    problems.extend(route_rule_problems(site.route, known))
    if problems:
        raise RuleError(*problems)
    return book


def _read_standard(text: str) -> _Standard:
    try:
        return _Standard.model_validate(tomllib.loads(text))
    except (tomllib.TOMLDecodeError, ValidationError) as error:
        raise RuleError(f"the standard rules cannot be read: {error}") from error


def _figures_in_force(site: Site, standard: _Standard, problems: _Problems) -> Iterator[tuple[str, Figure]]:
    problems.unknown("thresholds", site.thresholds, standard.threshold)
    for name, figure in standard.threshold.items():
        yield name, problems.within(f"threshold '{name}'", figure, site.thresholds.get(name))


def _thresholds(figures: Mapping[str, Figure]) -> Thresholds:
    names = {field.name for field in fields(Thresholds)}
    if names != set(figures):
        raise RuleError(f"the standard rules must give exactly the thresholds {', '.join(sorted(names))}")
    return Thresholds(**{name: figures[name].value for name in names})


def _standard_rules(site: Site, standard: _Standard, problems: _Problems) -> Iterator[Rule]:
    problems.unknown("rules", site.rules, [rule.id for rule in standard.rule])
    for rule in standard.rule:
        change = site.rules.get(rule.id)
        if change is None:
            yield rule
        elif change.enabled:
            yield _override(rule, change, problems)


def _override(rule: Rule, change: RuleOverride, problems: _Problems) -> Rule:
    where = f"rule '{rule.id}', key"
    problems.unknown(f"rules.{rule.id}.limits", change.limits, rule.limits)
    limits = {
        name: problems.within(f"{where} 'limits.{name}',", figure, change.limits.get(name))
        for name, figure in rule.limits.items()
    }
    figures = {
        name: problems.within(f"{where} '{name}',", getattr(rule, name), getattr(change, name))
        for name in ("on_delay_seconds", "off_delay_seconds", "deadband")
    }
    said = {
        "priority": None if change.priority is None else Priority(change.priority),
        "stands_until": change.stands_until,
        "suppressed_when": change.suppressed_when,
        "gathers": change.gathers,
    }
    words = {name: word for name, word in said.items() if word is not None}
    return rule.model_copy(update={**figures, "limits": limits, **words})


def _own_rules(site: Site, standard: _Standard, problems: _Problems) -> Iterator[Rule]:
    shipped = {rule.id for rule in standard.rule}
    seen: set[str] = set()
    for number, rule in enumerate(site.rule, 1):
        where = f"[[rule]] number {number}: '{rule.id}'"
        if rule.id in seen:
            problems.append(f"{where} is there twice; give each rule its own id")
        elif rule.id in shipped:
            problems.append(f"{where} is a standard rule; change it under [rules.{rule.id}]")
        else:
            for name, figure in _figures(rule):
                problems.within(f"rule '{rule.id}', key '{name}',", figure)
            seen.add(rule.id)
            yield rule


def _figures(rule: Rule) -> list[tuple[str, Figure]]:
    own = [(f"limits.{name}", figure) for name, figure in rule.limits.items()]
    delays = [("on_delay_seconds", rule.on_delay_seconds), ("off_delay_seconds", rule.off_delay_seconds)]
    return [*delays, ("deadband", rule.deadband), *own]


def _compiled(rules: Iterable[Rule], problems: _Problems) -> Iterator[tuple[str, Compiled]]:
    for rule in rules:
        problems.extend(_unfillable(rule))
        try:
            yield rule.id, compiled(rule)
        except RuleError as error:
            problems.extend(error.problems)


def compiled(rule: Rule) -> Compiled:
    """The rule with its conditions compiled, and tried out with facts of every kind.

    Raises:
        RuleError: a condition cannot be used; the message says what and where.
    """
    condition, reads = _compile_key(rule, "condition")
    if not rule.suppressed_when:
        return Compiled(rule, condition, reads, None, frozenset())
    suppression, suppression_reads = _compile_key(rule, "suppressed_when")
    return Compiled(rule, condition, reads, suppression, suppression_reads)


def _compile_key(rule: Rule, key: Literal["condition", "suppressed_when"]) -> tuple[cel.Program, frozenset[str]]:
    """What stands under the key, and the facts that it reads."""
    facts = FACTS[rule.watches]
    try:
        program = cel.compile(getattr(rule, key))
    except ValueError as error:
        raise RuleError(f"rule '{rule.id}', key '{key}': not a CEL expression{_syntax(error)}") from error
    names = set(program.variables())
    unknown = names - set(facts) - set(rule.limits) - {"deadband"}
    if unknown:
        raise RuleError(
            f"rule '{rule.id}', key '{key}': {', '.join(sorted(unknown))} is no fact of a {rule.watches.value}; "
            f"expected {', '.join(sorted({*facts, *rule.limits, 'deadband'}))}"
        )
    _try_out(rule, key, program, facts)
    return program, frozenset(names & set(facts))


def _try_out(rule: Rule, key: str, program: cel.Program, facts: Mapping[str, Fact]) -> None:
    """A condition that mixes types, or divides by what may be 0, shows itself at load and not at night."""
    limits = {name: figure.value for name, figure in rule.limits.items()}
    where = f"rule '{rule.id}', key '{key}'"
    read = {name: facts[name] for name in program.variables() if name in facts}
    for situation, deadband in product(_situations(read), {0.0, rule.deadband.value}):
        try:
            answer = program.execute({**situation, **limits, "deadband": deadband})
        except (ArithmeticError, LookupError) as error:
            raise RuleError(
                f"{where}: {error}{_written(situation)}; let it see to that first, such as 'n != 0 && 8 / n > 2'"
            ) from error
        except _FAILURES as error:
            said = str(error).partition("\n")[0].partition(". ")[0]
            raise RuleError(f"{where}: {said}; compare like with like, such as a number with a number") from error
        if not isinstance(answer, bool):
            raise RuleError(f"{where} gives {answer!r}; expected true or false")


def _written(situation: Mapping[str, Fact]) -> str:
    """As it is read in a sentence: ' where rolling = true and cords_off = 0'."""
    facts = " and ".join(f"{name} = {json.dumps(value)}" for name, value in situation.items())
    return facts and f" where {facts}"


def _unfillable(rule: Rule) -> Iterator[str]:
    """A text with an unknown placeholder."""
    facts = FACTS[rule.watches]
    for key in ("text", "advice"):
        try:
            str(getattr(rule, key)).format_map(facts)
        except (KeyError, ValueError, IndexError, AttributeError) as error:
            yield (
                f"rule '{rule.id}', key '{key}': {error} cannot be filled in; expected names of facts in braces: "
                f"{', '.join(sorted(facts))}"
            )


def _situations(read: Mapping[str, Fact]) -> Iterable[dict[str, Fact]]:
    """Facts in every combination that can matter, so that no side of an ``&&`` or ``||`` stays untried."""
    choices = (_TRIED.get(type(value), (value,)) for value in read.values())
    return (dict(zip(read, values, strict=True)) for values in product(*choices))


_TRIED: Mapping[type, tuple[Fact, ...]] = MappingProxyType(
    {bool: (False, True), int: (0, 1, 2, 3, -1_000_000, 1_000_000), float: (0.0, 1.0, -1e6, 1e6)}
)

_FAILURES = (TypeError, ValueError, RuntimeError, ArithmeticError, LookupError)
"""All that CEL raises for a condition that cannot be worked out."""


_SYNTAX = re.compile(r"<input>:\d+:(?P<column>\d+): (?:Syntax error: )?(?P<what>.*?)(?: expecting .*)?$", re.MULTILINE)


def _syntax(error: ValueError) -> str:
    """Where and why the parser gave up, without its list of all tokens that could have followed."""
    found = _SYNTAX.search(str(error))
    if found is None:
        return f": {error}"
    what = found["what"].replace("'<EOF>'", "the end")
    return f" at character {found['column']}: {what}; expected such as 'soaking && solution_celsius < 15.0'"


def misfits(site: Site, book: RuleBook) -> list[str]:
    """What of the site cannot be judged by the labels and figures of the book, a sentence each."""
    return [*_basin_problems(site, book), *_silence_problems(site, book), *pairing_problems(site, book.labels)]


def _basin_problems(site: Site, book: RuleBook) -> Iterator[str]:
    for basin in site.basin:
        label = book.labels.get(basin.label)
        if label is None:
            yield (
                f"basin '{basin.id}', key 'label': '{basin.label}' is not known, neither as a [[label]] of this file "
                f"nor as one that comes with it; {meant(basin.label, book.labels)}"
            )
        elif label.mode == "automated":
            yield (
                f"basin '{basin.id}', key 'label': '{label.id}' states conditions of an automated processor, which "
                "never apply to an open basin; expected a label with mode 'manual'"
            )
        elif site.solution.recorded and label.reuse_days is None:
            yield (
                f"basin '{basin.id}', key 'label': '{label.id}' gives no reuse_days, so that no solution could be "
                "shown to be in date; add reuse_days to its [[label]], 0 for a single soak"
            )


def _silence_problems(site: Site, book: RuleBook) -> Iterator[str]:
    """A lid or thermometer that says nothing is only believed for so long: a dead one says nothing either."""
    known, most = site.sensors(), book.thresholds.max_gap_seconds
    for sensor in (known[SensorId(f"{basin.id}/{kind}")] for basin in site.basin for kind in ("lid", "temperature")):
        seconds = sensor.expected_report_seconds
        if not 0 < seconds <= most:
            how = f"reports every {seconds:g} s" if seconds else "reports on change only"
            yield (
                f"sensor '{sensor.id}', key 'report_seconds' is {seconds:g}: it {how}, so that no soak could be "
                f"proven; expected more than 0 s and at most {most:g} s (threshold 'max_gap_seconds'); let the device "
                "repeat its state that often"
            )
    for sensor in known.values():
        reads = sensor.kind is SensorKind.TAG or sensor.kind is SensorKind.HOOK
        if site.reprocessing.tracked and reads and sensor.expected_report_seconds == 0:
            yield (
                f"sensor '{sensor.id}', key 'report_seconds' is 0: it reports on change only, so that it would never be"
                " noticed that it is dead and a probe no longer there; let the device repeat its state"
            )
