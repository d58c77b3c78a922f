"""A simulated ward as a gateway hears it: the inputs of days that nobody has recorded."""

from collections.abc import Iterator
from heapq import merge
from operator import attrgetter

from gateway.doubles import Doubles
from gateway.recording import gateway_heard
from rules.commands import Input
from rules.engine import Engine
from rules.readings import SECOND, Micros, Reading, SensorId, Value
from rules.ruleset import RuleBook
from sim_devices.running.heard import Heard
from sim_devices.running.simulation import Simulation

PIECE = Micros(600 * SECOND)
"""Life and what is heard of it take turns in pieces of so much time; so often people look for soaks to be claimed."""

_arrived = attrgetter("arrived")


class _NoPast:
    """A gateway that begins has no past."""

    def newest_measured(self, _sensor: SensorId) -> Micros | None:
        return None

    def newest_untimed(self, _sensor: SensorId, _value: Value) -> Micros | None:
        return None

    def recorded(self, _sensor: SensorId, _measured: Micros, _value: Value) -> bool:
        return False


def lived(simulation: Simulation, book: RuleBook, until: Micros) -> Iterator[Input]:
    """All that reaches the gateway from now on up to ``until``, by arrival.

    book: of the site as it is: by its engine it is known which soaks there are to be claimed.
    """
    site = simulation.ward.site
    heard, doubles = Heard(site), Doubles({name: each.kind for name, each in site.sensors().items()}, _NoPast())
    engine = Engine(site, book)
    after = simulation.lived
    yield from _taken(engine, gateway_heard(after))
    while after < until:
        now = Micros(min(after + PIECE, until))
        simulation.live(now)
        readings = (reading for sent in simulation.sent(after, now) for reading in heard.readings(sent))
        new = (reading for reading in readings if not doubles.seen(reading))
        yield from _taken(engine, merge(new, simulation.entries(after, now), key=_arrived))
        engine.advance(now)
        yield from _taken(engine, _claims(simulation, engine, now))
        after = now


def _taken(engine: Engine, inputs: Iterator[Input] | list[Reading]) -> Iterator[Input]:
    for item in inputs:
        engine.apply(item)
        yield item


def _claims(simulation: Simulation, engine: Engine, now: Micros) -> Iterator[Input]:
    """Whoever owes a claim looks at the page that lists the soaks, and enters it."""
    claims, roles = simulation.ward.claims, simulation.ward.site.reprocessing.claim_roles
    if roles and any(claiming.due <= now for claiming in claims.waiting):
        yield from claims.made(engine.picture().unclaimed, roles[0], now)
