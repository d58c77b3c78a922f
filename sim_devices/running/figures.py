"""Every figure of a simulation in one model: how people behave, what things are like, what sensors and radios do."""

from collections.abc import Iterator
from typing import NamedTuple

from pydantic import BaseModel

from sim_devices.parameters import Parameters, Told
from sim_devices.physics.figures import PhysicsFigures
from sim_devices.sensing.figures import SensorFigures
from sim_devices.sensing.radio_figures import RadioFigures
from sim_devices.staff.habits import Department, Habits, Kind
from sim_devices.ward.figures import WardFigures

KINDS: tuple[Kind, ...] = ("emergency", "ward", "clinic")


class Figures(Habits):
    """What a file of habits may say: habits, and figures of ward, physics, sensors, and of the devices' radio."""

    ward: WardFigures = WardFigures()
    physics: PhysicsFigures = PhysicsFigures()
    sensors: SensorFigures = SensorFigures()
    radio: RadioFigures = RadioFigures()


FIGURES = Figures()
"""As usual."""


class Group(NamedTuple):
    """Figures that belong together. table: where they stand in a file of habits. about: what they are of."""

    table: str
    about: str
    figures: tuple[Told, ...]


def groups(figures: BaseModel = FIGURES, table: str = "") -> Iterator[Group]:
    """All figures, group by group."""
    if isinstance(figures, Parameters):
        about = (type(figures).__doc__ or "").strip().split("\n\n")[0]
        yield Group(table, about, tuple(figures.told()))
        return
    for name in type(figures).model_fields:
        inner = getattr(figures, name)
        if isinstance(inner, BaseModel):
            yield from groups(inner, f"{table}.{name}" if table else name)


def _all() -> Iterator[Group]:
    yield from groups()
    for kind in KINDS:
        usual = Department(id=kind, kind=kind, carts=("cart-1",))
        for name, figures in (("arrivals", usual.comes), ("exams", usual.examines)):
            table = f'departments.{name}]  of an entry in [[departments]] with kind = "{kind}'
            yield from groups(figures, table)


def told() -> Iterator[str]:
    """All figures as lines: name, default, unit, range, what it means, and where the default comes from."""
    for table, about, figures in _all():
        yield f"[{table}]  {about}"
        for figure in figures:
            unit = f" {figure.unit}" if figure.unit else ""
            yield f"  {figure.name} = {figure.value:g}{unit}  ({figure.low:g} to {figure.high:g})"
            yield f"      {figure.text}; {figure.source}"
        yield ""
