"""How a ward's things really are, over time. Sensors look at it, and the truth about it is told from it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from rules.probe_words import Place, Step, Surface
from rules.readings import Micros
from sim_devices.physics.heat import Heat
from sim_devices.physics.vapour import Vapour
from sim_devices.ward.tracks import Track


class Liquid(NamedTuple):
    """A solution in a basin. strong: it is at or above its least concentration.

    expires: from then on it is out of date, by what is printed on its bottle or by the day on which that was opened.
    """

    lot: str
    label: str
    poured: Micros
    expires: Micros
    strong: bool = True


@dataclass(frozen=True, slots=True)
class BasinState:
    """inside: the probes in it, in the order in which they came. strips: when each was read, and what it said."""

    lid_closed: Track[bool]
    inside: Track[tuple[str, ...]]
    liquid: Track[Liquid | None]
    heat: Heat
    strips: list[tuple[Micros, str]] = field(default_factory=list)


class Jolt(NamedTuple):
    """The cart's accelerometer feels it for ``seconds``."""

    at: Micros
    mps2: float
    seconds: float


@dataclass(frozen=True, slots=True)
class CartState:
    """on_hook: by cord. gel_opened: when the gel bottle on it was, None where there is none."""

    rolling: Track[bool]
    plugged_in: Track[bool]
    on_hook: Mapping[str, Track[bool]]
    jolts: list[Jolt] = field(default_factory=list)
    wiped: list[Micros] = field(default_factory=list)
    gel_opened: Track[Micros | None] = field(default_factory=lambda: Track(None))


class Stay(NamedTuple):
    """Where a probe is. thing: id of cart, station, basin or cabinet, '' in hands. read: its tag is seen there."""

    place: Place
    thing: str = ""
    read: bool = True


class Contact(NamedTuple):
    """A probe touched a patient from ``start`` on."""

    start: Micros
    surface: Surface


class Treatment(NamedTuple):
    """A step of reprocessing was done, so often."""

    at: Micros
    step: Step
    times: int


class Knock(NamedTuple):
    """A probe or its holder was knocked. height_m: of a fall that knocks as hard."""

    at: Micros
    height_m: float


@dataclass(frozen=True, slots=True)
class ProbeState:
    """A probe's life; the lists are in the order of time. laid_down: when it was left lying after an exam."""

    stay: Track[Stay]
    contacts: list[Contact] = field(default_factory=list)
    laid_down: list[Micros] = field(default_factory=list)
    treatments: list[Treatment] = field(default_factory=list)
    knocks: list[Knock] = field(default_factory=list)
    inspected: list[Micros] = field(default_factory=list)
    vouched: list[Micros] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class RoomState:
    """The room of a station."""

    celsius: Track[float]
    vapour: Vapour


class Ailment(NamedTuple):
    """What is wrong with a sensor; see ``deeds.Defect``."""

    how: Literal["silent", "stuck", "off", "loses", "spoilt"]
    by: float


@dataclass(frozen=True, slots=True)
class DeviceState:
    """ahead_seconds: of its clock. charge: percent at the instant it was last set, None where nobody set it."""

    powered: Track[bool]
    network: Track[bool]
    ahead_seconds: Track[float]
    charge: Track[float | None]
