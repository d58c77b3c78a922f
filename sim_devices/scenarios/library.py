"""The situations that ship with Sinkside, by name."""

from collections.abc import Iterator
from importlib.abc import Traversable
from importlib.resources import files
from pathlib import Path

from rules.part import meant
from sim_devices.scenarios.mistakes import ScenarioError
from sim_devices.scenarios.reading import load_scenario, read_scenario
from sim_devices.scenarios.scenario import Scenario


def names() -> tuple[str, ...]:
    """All of them, in the order of the alphabet."""
    return tuple(
        sorted(entry.name.removesuffix(".toml") for entry in _folder().iterdir() if entry.name.endswith(".toml"))
    )


def shipped(name: str) -> Scenario:
    """The situation of that name.

    Raises:
        ScenarioError: there is none.
    """
    known = names()
    if name not in known:
        raise ScenarioError(f"no situation is called '{name}'; {meant(name, known)}; 'sinkside scenarios' lists them")
    text = _folder().joinpath(f"{name}.toml").read_text(encoding="utf-8")
    return read_scenario(text, name, f"{name}.toml")


def found(name: str) -> Scenario:
    """A shipped one by its name, or another by the path of its file, which ends in '.toml'.

    Raises:
        ScenarioError: there is none, or it cannot be used.
    """
    return load_scenario(Path(name)) if name.endswith(".toml") else shipped(name)


def library() -> Iterator[Scenario]:
    """All of them."""
    return map(shipped, names())


def _folder() -> Traversable:
    return files("sim_devices.scenarios").joinpath("library")
