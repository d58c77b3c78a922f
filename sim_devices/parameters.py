"""Figures of the simulators: each with its unit, its range, what it means, and where it comes from."""

from collections.abc import Iterator
from typing import Any, NamedTuple

from pydantic import Field, model_validator

from rules.part import Part


def figure(value: float, text: str, *, unit: str, high: float, low: float = 0, source: str = "ours") -> Any:
    """A field of ``Parameters``.

    value: the default, within [low, high]. unit: '' for a bare number, 'share' for a part of 1. source: of the
        default; 'ours' is a choice of this project.
    """
    return Field(value, ge=low, le=high, description=text, json_schema_extra={"unit": unit, "source": source})


class Told(NamedTuple):
    """A figure as it is told to people."""

    name: str
    value: float
    unit: str
    low: float
    high: float
    text: str
    source: str


class Parameters(Part):
    """A group of figures, each a float made by ``figure``."""

    @model_validator(mode="after")
    def _spreads_are_in_order(self) -> "Parameters":
        for name in type(self).model_fields:
            if name.startswith("least_"):
                most = f"most_{name.removeprefix('least_')}"
                if getattr(self, name) > getattr(self, most):
                    raise ValueError(f"{name} is more than {most}; exchange them")
        return self

    def told(self) -> Iterator[Told]:
        """Every figure with all that is known of it."""
        shown = type(self).model_json_schema()["properties"]
        for name, about in shown.items():
            low, high = about["minimum"], about["maximum"]
            yield Told(name, getattr(self, name), about["unit"], low, high, about["description"], about["source"])
