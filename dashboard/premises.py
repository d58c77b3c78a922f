"""What the site file says of places, probes and policy: what the forms of the phone pages ask with."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Self

from rules.board import SubjectKind
from rules.duty import Rota
from rules.pairing import unfit
from rules.policy import CarePolicy, ReprocessingPolicy
from rules.rule import Rule
from rules.ruleset import RuleBook
from rules.sensor_words import sensor_called
from rules.site import Basin, Cabinet, Cart, Label, Probe, Sensor, Site, Station


@dataclass(frozen=True, slots=True)
class Named:
    """A place with its id."""

    id: str
    name: str


@dataclass(frozen=True, slots=True)
class Premises:
    """Places, and what is asked of probes and carts.

    sinks, cabinets: beside the basins and carts that the picture has. unsuited: for each probe the basins into which
    it must not go by its maker's word, or which are none of its own, and why; both by id. rinses: how often a probe is
    rinsed after a soak, by basin id. names: of things and contacts, by their ids.
    watched: what maintenance may take out of service, by id with a name. rules: ids of all rules; rule_names: what they
    are called where people choose one, by id. tunable: texts of
    those whose figures can be tried, by id: not of those that watch Sinkside itself, as they hang on all other alerts.
    kinds: what each of those watches, by id.
    duty_roles: names of the roles in which people are on duty, by their ids; rota: who is, None where nobody says.
    ways: to each contact by which channel, both by id. makers: of each sensor of another maker, by id, what the site
    file says of its messages. broker: the address of the broker, as devices reach it.
    """

    policy: ReprocessingPolicy = field(default_factory=ReprocessingPolicy)
    care: CarePolicy = field(default_factory=CarePolicy)
    sinks: tuple[Named, ...] = ()
    cabinets: tuple[Named, ...] = ()
    unsuited: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    rinses: Mapping[str, int] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    watched: Mapping[str, str] = field(default_factory=dict)
    rules: tuple[str, ...] = ()
    rule_names: Mapping[str, str] = field(default_factory=dict)
    tunable: Mapping[str, str] = field(default_factory=dict)
    kinds: Mapping[str, SubjectKind] = field(default_factory=dict)
    maintenance_roles: tuple[str, ...] = ()
    duty_roles: Mapping[str, str] = field(default_factory=dict)
    rota: Rota | None = None
    ways: frozenset[tuple[str, str]] = frozenset()
    makers: Mapping[str, str] = field(default_factory=dict)
    broker: str = "mqtt://BROKER"

    @property
    def acting_roles(self) -> tuple[str, ...]:
        """The roles in which people can act: those that are asked for with an entry, and those that are on duty."""
        named = (*self.policy.claim_roles, *self.policy.vouch_roles, *self.maintenance_roles, *self.duty_roles)
        return tuple(sorted(set(named)))

    @classmethod
    def of(cls, site: Site, book: RuleBook, broker: str = "mqtt://BROKER") -> Self:
        """From the site file, the rules and labels that it may name, and the address of the broker."""
        labels, things = book.labels, {thing.id: thing.name for thing in things_of(site)}
        return cls(
            policy=site.reprocessing,
            care=site.care,
            sinks=_named(site.station),
            cabinets=_named(site.cabinet),
            unsuited={probe.id: dict(_unsuited(probe, site, labels)) for probe in site.probe},
            names={**{contact.id: contact.name for contact in site.contact}, **things},
            watched={**things, **{name: _sensor_name(sensor, things) for name, sensor in site.sensors().items()}},
            rules=tuple(sorted(book.rules)),
            rule_names={name: rule_name(each.rule) for name, each in book.rules.items()},
            tunable={name: each.rule.text for name, each in book.rules.items() if not _watches_us(each.rule)},
            kinds={name: each.rule.watches for name, each in book.rules.items() if not _watches_us(each.rule)},
            maintenance_roles=tuple(site.alerts.maintenance_roles),
            duty_roles={role.id: role.name for role in site.role},
            rota=Rota(site.site.zone, site.duty, site.duty_change),
            ways=frozenset((contact.id, way.channel) for contact in site.contact for way in contact.ways),
            makers={sensor.id: _mapping(sensor) for sensor in site.sensor if sensor.value is not None},
            broker=broker,
            rinses={b.id: labels[b.label].rinses or site.reprocessing.rinses for b in site.basin},
        )


_OWN = {"gateway": "Sinkside"}


def _sensor_name(sensor: Sensor, things: Mapping[str, str]) -> str:
    return (
        f"{_OWN.get(sensor.thing) or things.get(sensor.thing, sensor.thing)}: {sensor_called(sensor.kind, sensor.name)}"
    )


_TOLD = re.compile(r"\{[^}]*\}")


def rule_name(rule: Rule) -> str:
    """What a rule is called where people choose one: what it watches, and its text up to what is told of one thing."""
    said = _TOLD.split(re.sub(r"^\{[^}]*\}:? *", "", rule.text))[0].rstrip(" ,:(")
    return f"{rule.watches.value.capitalize()}: {said or rule.many or rule.id}"


def _watches_us(rule: Rule) -> bool:
    return rule.watches is SubjectKind.GATEWAY


def things_of(site: Site) -> tuple[Basin | Cart | Station | Cabinet | Probe, ...]:
    """Whatever has a name and sensors."""
    return (*site.basin, *site.cart, *site.station, *site.cabinet, *site.probe)


def _mapping(sensor: Sensor) -> str:
    time = "" if sensor.time is None else f", its time at {sensor.time}"
    unit = "" if sensor.unit is None else f", in {sensor.unit}"
    return f"JSON as its maker sends it, with the value at {sensor.value or 'the top'}{unit}{time}"


def _named(places: Iterable[Station | Cabinet]) -> tuple[Named, ...]:
    return tuple(Named(place.id, place.name) for place in places)


def _unsuited(probe: Probe, site: Site, labels: Mapping[str, Label]) -> Iterator[tuple[str, str]]:
    for basin in site.basin:
        why = [clause for _, clause in unfit(probe, labels[basin.label])]
        if why:
            yield basin.id, why[0]
        elif probe.basins and basin.id not in probe.basins:
            yield basin.id, "the site file names other basins for this probe"
