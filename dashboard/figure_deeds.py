"""How figures of rules and trackers are changed by command and withdrawn: the form as a command, and what came of it.

A form has a field ``value:<name>`` for each figure that is to be changed, ``name:<name>`` for each that is withdrawn.
"""

from collections.abc import Iterator, Mapping, Sequence
from enum import StrEnum
from math import isfinite
from typing import Annotated

from pydantic import StringConstraints

from dashboard.forms import DeedError, NotTakenError, Signed, Told, filled
from dashboard.premises import Premises
from gateway.figure_telling import change_words
from rules.events import Event
from rules.figure_commands import MOST_FIGURES, FigureCommand, SetFigures, WithdrawFigures
from rules.figure_events import FiguresChanged, FiguresRefused
from rules.figure_picture import FigurePicture
from rules.figures import out_of_range
from rules.part import meant
from rules.picture import Picture
from rules.readings import Micros

VALUE, NAME = "value:", "name:"


class Deed(StrEnum):
    """What is done about figures; the last part of the address to which it is sent."""

    SET = "set"
    WITHDRAW = "withdraw"


class _Form(Signed):
    role: Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80)]
    why: Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)]


_EXPECTED = {
    "role": "Say as what you do it: choose a role.",
    "why": "Say why, in at most 200 characters: it is kept with the figures.",
}
_NOTHING = "Nothing changed: these figures are in force already."


def entry_of(deed: Deed, fields: Mapping[str, str], picture: Picture, premises: Premises, now: Micros) -> FigureCommand:
    """The command that a form asks for.

    Raises:
        DeedError: a field is missing or wrong, a figure is not known or out of its range.
    """
    form = filled(_Form, fields, _EXPECTED)
    if form.role not in premises.maintenance_roles:
        raise DeedError(_EXPECTED["role"])
    known = {figure.name: figure for figure in picture.figures}
    if deed is Deed.WITHDRAW:
        names = _bounded([key.removeprefix(NAME) for key in fields if key.startswith(NAME)])
        for name in names:
            if _figure(name, known).ordered is None:
                raise DeedError(f"'{name}' is what the site file says; nothing of it was changed by command.")
        return WithdrawFigures(arrived=now, who=form.who, role=form.role, names=tuple(names), why=form.why)
    given = {key.removeprefix(VALUE): text for key, text in fields.items() if key.startswith(VALUE) and text.strip()}
    values = {name: _value(text, _figure(name, known)) for name, text in given.items()}
    _bounded(list(values))
    return SetFigures(arrived=now, who=form.who, role=form.role, values=values, why=form.why)


def _bounded(names: list[str]) -> list[str]:
    if not 0 < len(names) <= MOST_FIGURES:
        raise DeedError(f"Choose the figures: at least one, at most {MOST_FIGURES} at once.")
    return names


def _figure(name: str, known: Mapping[str, FigurePicture]) -> FigurePicture:
    if name not in known:
        raise DeedError(f"'{name}' is no figure; {meant(name, known)}.")
    return known[name]


def _value(text: str, figure: FigurePicture) -> float:
    unit = figure.unit and f" {figure.unit}"
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        value = float("nan")
    if not isfinite(value):
        raise _amiss(figure, f"'{figure.name}': expected a number from {figure.low:g} to {figure.high:g}{unit}.")
    if (said := out_of_range(figure.name, value, figure.low, figure.high, figure.unit)) is not None:
        raise _amiss(figure, f"{said}.")
    return value


def _amiss(figure: FigurePicture, said: str) -> DeedError:
    return DeedError(said, {f"{VALUE}{figure.name}": said})


def told(events: Sequence[Event]) -> Told:
    """What came of it, in a sentence.

    Raises:
        NotTakenError: nothing did.
    """
    for event in events:
        if isinstance(event, FiguresRefused):
            raise NotTakenError(event.problem)
    said = list(_sentences(events))
    if not said:
        raise NotTakenError(_NOTHING)
    return Told(" ".join(said))


def _sentences(events: Sequence[Event]) -> Iterator[str]:
    for event in events:
        if isinstance(event, FiguresChanged):
            yield f"In force from now on: {'; '.join(map(change_words, event.changes))}."
