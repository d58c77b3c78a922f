"""Scenario files: TOML read and checked, and every mistake named with its file, line and key."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple, get_args

from pydantic import Field, ValidationError, create_model

from gateway.model_errors import problems_of
from gateway.problems import Problem, named_problems, rendered
from gateway.toml_lines import Place
from gateway.toml_text import TomlError, read_toml, too_large
from rules.part import Array, Part, meant
from rules.ruleset import RuleBook, RuleError, load_book
from rules.site import Site
from sim_devices.chance import Chance
from sim_devices.scenarios.clock import Since
from sim_devices.scenarios.mistakes import ScenarioError
from sim_devices.scenarios.scenario import NotRaised, Raised, Scenario, ScenarioTables, Step
from sim_devices.scenarios.small import merged, small
from sim_devices.ward.deeds import DEED, Deed
from sim_devices.ward.first_deeds import first_deeds
from sim_devices.ward.refusal import DeedError
from sim_devices.ward.ward import Ward

_KINDS: Mapping[str, type[Part]] = MappingProxyType(
    {kind.model_fields["do"].default: kind for kind in get_args(get_args(Deed)[0])}
)
"""Models of deeds by how a file writes them."""


def load_scenario(path: Path) -> Scenario:
    """Read and check a scenario file.

    Raises:
        ScenarioError: it cannot be used.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise ScenarioError(f"{path.name}: not UTF-8 text at octet {error.start}; save it as UTF-8") from error
    except OSError as error:
        raise ScenarioError(f"{path}: cannot be read: {error.strerror}; expected a scenario file in TOML") from error
    return read_scenario(text, path.stem, path.name)


def read_scenario(text: str, name: str, file: str) -> Scenario:
    """As ``load_scenario``, from the text; ``file``: how mistakes call it.

    Raises:
        ScenarioError: it cannot be used.
    """
    try:
        data = read_toml(text)
    except TomlError as error:
        where = file if error.line is None else f"{file}, line {error.line}"
        raise ScenarioError(f"{where}: {error}") from error
    found = _Checked(data)
    if found.problems:
        raise ScenarioError(*rendered(found.problems, file, text))
    return found.scenario(name)


class _Checked:
    """What could be made of a file's values, and all that is wrong with them."""

    def __init__(self, data: Mapping[str, Any]) -> None:
        self.problems = list(too_large(data))
        self._tables = None if self.problems else self._read_tables(data)
        self._steps: list[Step] = []
        if self._tables is not None:
            self._steps = sorted(self._read_steps(self._tables.step), key=lambda step: step.at)
            self._law = self._read_site(self._tables.site)
            if self._law is not None:
                self.problems += _unknown_names(self._tables, *self._law)
            if self._law is not None and not self.problems and self._tables.people is None:
                self.problems += _rehearsed(self.scenario(""))

    def scenario(self, name: str) -> Scenario:
        """What can be run; only where there are no problems."""
        if self._tables is None or self._law is None:
            raise AssertionError("a file with problems is no scenario")
        return Scenario(name, self._tables, *self._law, tuple(self._steps))

    def _read_tables(self, data: Mapping[str, Any]) -> ScenarioTables | None:
        try:
            return ScenarioTables.model_validate(data)
        except ValidationError as error:
            self.problems += problems_of(error, data, ScenarioTables)
            return None

    def _read_steps(self, steps: Iterable[dict[str, Any]]) -> Iterator[Step]:
        for number, step in enumerate(steps):
            kind = _KINDS.get(str(step.get("do")))
            if kind is None:
                self.problems.append(_no_such_deed(number, step))
                continue
            data = {"step": [step]}
            shape = _shape(kind)
            try:
                shape.model_validate(data)
            except ValidationError as error:
                self.problems += (_moved(problem, number) for problem in problems_of(error, data, shape))
                continue
            timed = _Timed.model_validate({"at": step["at"]})
            deed = DEED.validate_python({key: value for key, value in step.items() if key != "at"})
            yield Step(timed.at, deed, number)

    def _read_site(self, changes: Mapping[str, Any]) -> tuple[Site, RuleBook] | None:
        data = merged(small(), changes)
        try:
            site = Site.model_validate(data)
            return site, load_book(site, _shipped("standard.toml"), _shipped("labels.csv"))
        except ValidationError as error:
            self.problems += (_of_site(problem, changes) for problem in problems_of(error, data, Site))
        except RuleError as error:
            self.problems += (_of_site(problem, changes) for problem in named_problems(error, data))
        return None


def _rehearsed(scenario: Scenario) -> Iterator[Problem]:
    """The first step that cannot be done, where nobody but the scenario does anything."""
    ward = Ward(scenario.site, scenario.book.labels, scenario.begins, Chance(0))
    for deed in first_deeds(ward):
        ward.do(scenario.begins, deed)
    for step in scenario.steps:
        try:
            ward.do(scenario.instant(step.at), step.deed)
        except DeedError as error:
            yield Problem(("step", step.number), str(error))
            return


class _Timed(Part):
    at: Since


def _shape(kind: type[Part]) -> type[Part]:
    """A file of which each [[step]] is of one kind of deed."""
    step = create_model(f"{kind.__name__}Step", __base__=kind, at=(Since, Field()))
    return create_model("Steps", __base__=Part, step=(Array[step], Field()))


def _no_such_deed(number: int, step: Mapping[str, Any]) -> Problem:
    if "do" not in step:
        return Problem(("step", number, "do"), f"missing; add it, as one of {', '.join(map(repr, _KINDS))}")
    return Problem(("step", number, "do"), f"no deed is called {step['do']!r}; {meant(str(step['do']), _KINDS)}")


def _moved(problem: Problem, number: int) -> Problem:
    """From the only step of a file to the step of that number."""
    place = problem.place
    return problem._replace(place=("step", number, *place[2:]) if place[:1] == ("step",) else place)


def _of_site(problem: Problem, changes: Mapping[str, Any]) -> Problem:
    """Where the file changes the site: of an entry in a list it is known in which list it stands."""
    place: Place = ()
    for part in problem.place:
        if not isinstance(part, str) or (not place and part not in changes):
            break
        place = (*place, part)
    inner = [str(part) for part in problem.place[len(place) :] if isinstance(part, str)]
    said = f"of an entry, key '{'.'.join(inner)}': {problem.sentence}" if inner and place else problem.sentence
    return Problem(("site", *place), said)


def _shipped(name: str) -> str:
    return files("rules").joinpath(name).read_text(encoding="utf-8")


# ---- names ----------------------------------------------------------------------------------------------------------


class _Named(NamedTuple):
    place: Place
    name: str
    what: str
    known: Iterable[str]


def _unknown_names(tables: ScenarioTables, site: Site, book: RuleBook) -> Iterator[Problem]:
    for place, name, what, known in _names(tables, site, book):
        if name not in known:
            yield Problem(place, f"there is no {what} '{name}'; {meant(name, known)}")


def _names(tables: ScenarioTables, site: Site, book: RuleBook) -> Iterator[_Named]:
    things = sorted({*_things(site), ""})
    lists: tuple[tuple[str, Sequence[Raised | NotRaised]], ...] = (
        ("raised", tables.raised),
        ("not_raised", tables.not_raised),
    )
    for table, entries in lists:
        for number, entry in enumerate(entries):
            yield _Named((table, number, "rule"), entry.rule, "rule", list(book.rules))
            yield _Named((table, number, "thing"), entry.thing, "thing", things)
    for number, wrong in enumerate(tables.wrong):
        yield _Named(("wrong", number, "thing"), wrong.thing, "thing", things)
    for number, verdict in enumerate(tables.verdict):
        yield _Named(("verdict", number, "basin"), verdict.basin, "basin", [basin.id for basin in site.basin])
    for rule in tables.scenario.besides:
        yield _Named(("scenario", "besides"), rule, "rule", list(book.rules))


def _things(site: Site) -> Iterator[str]:
    for group in (site.station, site.basin, site.cabinet, site.cart, site.probe):
        yield from (thing.id for thing in group)
    yield from site.sensors()
    yield "gateway"
