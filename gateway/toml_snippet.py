"""Figures of rules and trackers as a piece of a site file."""

from collections.abc import Mapping

_RULE, _THRESHOLD, _LIMITS = "rule.", "threshold.", "limits."


def toml_snippet(values: Mapping[str, float]) -> str:
    """What the site file says where these figures are in force.

    values: by name, as in ``gateway.tuned``.
    """
    tables: dict[str, list[str]] = {}
    for name, value in values.items():
        table, key = _place(name)
        tables.setdefault(table, []).append(f"{key} = {value:.12g}")
    return "\n\n".join("\n".join((f"[{table}]", *lines)) for table, lines in tables.items()) + "\n"


def _place(name: str) -> tuple[str, str]:
    """The table that a figure stands in, and its key."""
    if name.startswith(_THRESHOLD):
        return "thresholds", name.removeprefix(_THRESHOLD)
    rule, _, key = name.removeprefix(_RULE).partition(".")
    if key.startswith(_LIMITS):
        return f"rules.{rule}.limits", key.removeprefix(_LIMITS)
    return f"rules.{rule}", key
