"""The small ward in which scenarios take place, and how a scenario changes it."""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any


def small() -> Mapping[str, Any]:
    """The tables of its site file."""
    return tomllib.loads(_text())


@cache
def _text() -> str:
    return files("sim_devices.scenarios").joinpath("small.toml").read_text(encoding="utf-8")


def merged(tables: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """Tables of a site file with those of another laid over them, key by key.

    In a list of entries one of the same id, or of the same thing and name, takes the place of the one before, key by
    key; others are added.
    """
    found = dict(tables)
    for key, value in changes.items():
        before = found.get(key)
        if isinstance(before, Mapping) and isinstance(value, Mapping):
            found[key] = merged(before, value)
        elif isinstance(before, list) and _are_entries(before) and isinstance(value, list) and _are_entries(value):
            found[key] = _laid_over(before, value)
        else:
            found[key] = value
    return found


def _are_entries(value: list[Any]) -> bool:
    return all(isinstance(entry, dict) for entry in value)


def _laid_over(entries: list[dict[str, Any]], changes: list[dict[str, Any]]) -> list[dict[str, Any]]:
    found = list(entries)
    for change in changes:
        place = next((n for n, entry in enumerate(found) if _name(entry) == _name(change)), None)
        if place is None:
            found.append(change)
        else:
            found[place] = merged(found[place], change)
    return found


def _name(entry: Mapping[str, Any]) -> tuple[Any, ...]:
    return entry.get("id"), entry.get("thing"), entry.get("name") if "thing" in entry else None
