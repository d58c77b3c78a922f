"""A ward with a sensor of every kind, for the tests of what its devices make of it."""

import tomllib

from rules.readings import Micros, SensorId, Value, micros
from rules.site import Site
from sim_devices.chance import Chance
from sim_devices.sensing.figures import SENSORS, SensorFigures
from sim_devices.sensing.radio import Radio
from sim_devices.sensing.radio_figures import RADIO, RadioFigures
from sim_devices.sensing.sample import Sample
from sim_devices.sensing.senses import Senses
from sim_devices.ward.ward import Ward

EPOCH = Micros(1_790_000_000_000_000)

SITE = """
site = {id = "mill-lane", name = "Mill Lane ultrasound"}
station = [{id = "soak-room", name = "Soak room"}]
basin = [
    {id = "basin-1", name = "Basin 1", station = "soak-room", label = "ours"},
    {id = "basin-2", name = "Basin 2", station = "soak-room", label = "ours"},
]
cabinet = [{id = "cabinet-1", name = "Cabinet"}]
cart = [{id = "cart-1", name = "Cart 1", cords = ["a", "b"]}, {id = "cart-2", name = "Cart 2", cords = ["a"]}]
probe = [
    {id = "curved-1", name = "Curved 1", cart = "cart-1", cord = "a", tag = "E1"},
    {id = "inner-1", name = "Inner 1", cart = "cart-1", cord = "b", tag = "E2"},
    {id = "linear-1", name = "Linear 1", cart = "cart-2", cord = "a"},
]
sensor = [
    {thing = "basin-2", name = "temperature", kind = "temperature", topic = "t", value = "/t", unit = "degF"},
    {thing = "cart-2", name = "motion", kind = "motion", true_above = 0.8},
    {thing = "basin-1", name = "tags", kind = "tag"},
    {thing = "basin-1", name = "strip", kind = "strip"},
    {thing = "cabinet-1", name = "tags", kind = "tag"},
    {thing = "cart-1", name = "mains", kind = "mains"},
    {thing = "cart-1", name = "contact", kind = "contact"},
    {thing = "cart-1", name = "wiped", kind = "wiped"},
    {thing = "cart-1", name = "shock-a", kind = "shock"},
    {thing = "cart-1", name = "battery", kind = "battery", report_seconds = 600},
    {thing = "soak-room", name = "vapour", kind = "vapour"},
    {thing = "soak-room", name = "air", kind = "temperature", report_seconds = 60},
]
[[label]]
id = "ours"
chemistry = "ortho-phthalaldehyde 0.55 %"
min_minutes = 12
min_celsius = 20
source = "an invented example"
"""


def at(seconds: float) -> Micros:
    """So many seconds after the ward's epoch."""
    return Micros(EPOCH + micros(seconds))


def a_ward(seed: int = 7) -> Ward:
    """A new one, in which nothing has happened."""
    return Ward(Site.model_validate(tomllib.loads(SITE)), {}, EPOCH, Chance(seed))


def senses_of(ward: Ward, figures: SensorFigures = SENSORS) -> Senses:
    """The sensors of a ward."""
    return Senses(ward, ward.chance, figures)


def words(samples: list[Sample], sensor: str) -> list[tuple[float, Value]]:
    """What one sensor said, with the seconds since the epoch."""
    return [((s.measured - EPOCH) / 1e6, s.value) for s in samples if s.sensor == SensorId(sensor)]


def radio_of(ward: Ward, figures: RadioFigures = RADIO) -> Radio:
    """The radios of a ward's devices."""
    return Radio(ward, senses_of(ward), ward.chance, figures)
