"""A small record with truth: carts that roll with a cord down, and hooks that say so where it is not."""

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from distributed import Client

from gateway.recording import Writer, gateway_heard, law_of
from gateway.tuned import Answer, Asked, Vary
from rules.board import Subject, SubjectKind
from rules.readings import DAY, SECOND, Micros, Reading, SensorId
from sim_devices.troubles.episode import Episode, Trouble
from sim_devices.troubles.table import TRUTH_FILE, Run, write_truth
from sim_devices.tuning.tune import Plan, tune

BEGIN = Micros(20_700 * DAY)  # a midnight, UTC
RULE = "cord-down-rolling"
ON_DELAY = f"rule.{RULE}.on_delay_seconds"

SITE = """
[site]
id = "small-ward"
name = "Small ward"

[thresholds]
rolling_after_seconds = 1

[[cart]]
id = "cart-1"
name = "Cart 1"
cords = ["linear"]

[[cart]]
id = "cart-2"
name = "Cart 2"
cords = ["linear"]
"""


class Roll(NamedTuple):
    """A cart rolls, and its hook says that the cord is down. at: seconds from the start. real: it is down."""

    at: float
    seconds: float
    real: bool = True
    cart: str = "cart-1"


def hourly(day: int, *, real_seconds: float, false_seconds: float, cart: str = "cart-1") -> list[Roll]:
    """Twelve hours of a day: in each the cord is down once, and once only seems to be."""
    start = 86_400 * day + 3600 * 6
    rolls = [(start + 3600 * hour, real_seconds, True, cart) for hour in range(12)]
    rolls += [(start + 3600 * hour + 1800, false_seconds, False, cart) for hour in range(12)]
    return [Roll(*roll) for roll in sorted(rolls)]


def record(folder: Path, rolls: Sequence[Roll], days: int, *, truth: bool = True, site: str = SITE) -> Path:
    """Write a data folder of so many days."""
    inputs = sorted((reading for roll in rolls for reading in _readings(roll)), key=lambda each: each.arrived)
    end = Micros(BEGIN + days * DAY)
    with Writer.new(folder, law_of(site)) as writer:
        writer.take([*gateway_heard(BEGIN), *inputs])
        writer.advance(end)
    if truth:
        run = Run(site="small-ward", seed=0, since=BEGIN, until=end)
        write_truth(folder / TRUTH_FILE, run, episodes(rolls))
    return folder


def _readings(roll: Roll) -> Iterable[Reading]:
    start, end = _at(roll.at), _at(roll.at + roll.seconds)
    hook, motion = SensorId(f"{roll.cart}/hook-linear"), SensorId(f"{roll.cart}/motion")
    for at, is_over in ((start, False), (end, True)):
        yield Reading(hook, at, at, is_over)
        yield Reading(motion, at, at, not is_over)


def episodes(rolls: Iterable[Roll]) -> Iterator[Episode]:
    """What really went wrong."""
    for roll in rolls:
        if roll.real:
            subject = Subject(SubjectKind.CART, roll.cart)
            yield Episode(Trouble.CORD_DOWN_ROLLING, subject, _at(roll.at), _at(roll.at + roll.seconds))


def _at(seconds: float) -> Micros:
    return Micros(BEGIN + round(seconds * SECOND))


def asked(*on: Path, delays: tuple[float, ...] = (0, 4, 7, 10), **others: object) -> Asked:
    """Which on-delay serves best."""
    vary = (Vary(figure=ON_DELAY, values=delays),)
    return Asked.model_validate({"rules": (RULE,), "vary": vary, "on": tuple(map(str, on)), **others})


def answer(question: Asked, client: Client) -> Answer:
    """As it comes of it, in no time."""
    return tune(Plan.of(question), client, lambda _: None, lambda: 0.0)
