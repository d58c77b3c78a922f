"""The site file as models: what a department has, and which label governs each basin."""

from collections import Counter
from collections.abc import Iterable, Iterator
from difflib import get_close_matches
from functools import cache
from typing import Annotated, Literal, Self
from zoneinfo import ZoneInfo, available_timezones

from pydantic import Field, StringConstraints, field_validator, model_validator

from rules.part import Array, MistakesError, Part, Word, meant
from rules.policy import CarePolicy, ExposurePolicy, ReprocessingPolicy, Shift, ShiftName, SolutionPolicy
from rules.reach import AlertPolicy, Channel, Contact, Duty, DutyChange, DutyRole, Route
from rules.reach_checks import reach_problems
from rules.readings import GATEWAY_LINK, GATEWAY_STORE, KINDS, SensorId, SensorKind
from rules.rule import Gathers, Rule, StandsUntil, SuppressedWhen

Slug = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9-]{0,39}$")]
"""A short name used in topics: lower-case letters, digits, '-'; at most 40 characters."""

Title = Annotated[str, StringConstraints(min_length=1, max_length=80, strip_whitespace=True)]
TopicName = Annotated[str, StringConstraints(pattern=r"^[^+#\x00$][^+#\x00]{0,254}$")]
PointerText = Annotated[str, StringConstraints(pattern=r"^(/([^~/]|~[01])*)*$", max_length=200)]


@cache
def _known_zones() -> frozenset[str]:
    """All that the system and tzdata have; to look for them takes as long as to read the rest of a site file."""
    return frozenset(available_timezones())


class Head(Part):
    """Who and where: ``id`` is the second level of every topic; ``timezone`` an IANA name."""

    id: Slug
    name: Title
    timezone: str = "UTC"

    @field_validator("timezone")
    @classmethod
    def _is_known_zone(cls, name: str) -> str:
        known = _known_zones()
        if name not in known:
            near = get_close_matches(name, known, 1) or ["Europe/Lisbon"]
            raise ValueError(f"expected the name of an IANA time zone, such as '{near[0]}'")
        return name

    @property
    def zone(self) -> ZoneInfo:
        """The time zone of the site."""
        return ZoneInfo(self.timezone)


class Label(Part):
    """Exposure conditions of a chemistry, as its product label or a cited guideline states them.

    min_minutes: least contact time, at or above ``min_celsius``.
    mode: 'automated' conditions never apply to an open basin; '' leaves it open.
    reuse_days: for how long it may be used once poured, 0 = for one soak.
    opened_days: for how long an opened bottle may be used, where the label says so.
    strip_after_seconds, strip_within_seconds: how long after its dip a strip is to be read, where its maker says so.
    max_minutes: longest contact time, where the label has one.
    rinses: how many separate rinses of fresh water follow, where the label says so.
    """

    id: Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9.-]{0,59}$")]
    chemistry: Title
    mode: Literal["manual", "automated", ""] = "manual"
    min_minutes: Annotated[float, Field(gt=0, le=1440)]
    min_celsius: Annotated[float, Field(ge=0, le=100)]
    reuse_days: Annotated[int, Field(ge=0, le=365)] | None = None
    mec_percent: Annotated[float, Field(gt=0, lt=100)] | None = None
    opened_days: Annotated[int, Field(ge=0, le=1000)] | None = None
    strip_after_seconds: Annotated[float, Field(ge=0, le=3600)] | None = None
    strip_within_seconds: Annotated[float, Field(gt=0, le=3600)] | None = None
    max_minutes: Annotated[float, Field(gt=0, le=1440)] | None = None
    rinses: Annotated[int, Field(ge=1, le=20)] | None = None
    source: Annotated[str, StringConstraints(min_length=1, max_length=400)]

    @model_validator(mode="after")
    def _limits_fit_together(self) -> Self:
        if self.max_minutes is not None and self.max_minutes < self.min_minutes:
            raise ValueError("max_minutes is less than min_minutes, so that no soak could meet both; look at the label")
        after, within = self.strip_after_seconds, self.strip_within_seconds
        if after is not None and within is not None and within < after:
            raise ValueError("strip_within_seconds is less than strip_after_seconds; look at the strips' instructions")
        return self


class Station(Part):
    """A place with basins.

    shifts: names of the [[shift]] in which it is open; left out, it always is.
    """

    id: Slug
    name: Title
    shifts: Array[ShiftName] = ()


class Basin(Part):
    """A basin; ``label`` names the exposure conditions of the solution in it."""

    id: Slug
    name: Title
    station: Slug
    label: str


class Cabinet(Part):
    """A place where probes are stored; its tag reader, where it has one, is a ``[[sensor]]`` of kind 'tag'."""

    id: Slug
    name: Title


class Cart(Part):
    """A cart; ``cords`` are the names of its probes' cords, each with a hook sensor ``hook-<cord>``."""

    id: Slug
    name: Title
    cords: Array[Slug] = ()


class Probe(Part):
    """A probe and the cord of the cart that it hangs on.

    serial: its maker's number. tag: what a tag reader or a barcode says of it.
    price: what a new one costs, in the site's currency; for the cost at risk.
    basins: where it is soaked. max_soak_minutes, max_celsius, chemistries: what it stands by its maker's word; left
        out, anything. Chemistries as the labels name them.
    """

    id: Slug
    name: Title
    cart: Slug
    cord: Slug
    internal: bool = False
    serial: Title | None = None
    tag: Annotated[str, StringConstraints(pattern=r"^\S{1,64}$")] | None = None
    price: Annotated[float, Field(gt=0, le=10_000_000)] | None = None
    basins: Array[Slug] = ()
    max_soak_minutes: Annotated[float, Field(gt=0, le=1440)] | None = None
    max_celsius: Annotated[float, Field(gt=0, le=100)] | None = None
    chemistries: Array[Title] = ()


class Sensor(Part):
    """A sensor: our own device by default, another maker's where ``topic`` and ``value`` say so.

    thing, name: together its id and the end of its own topic.
    topic: where it speaks, if not on ``sinkside/<site>/<thing>/<name>``.
    value, time: JSON Pointers (RFC 6901) into another maker's JSON; ``value`` unset means SenML.
    time_form: how another maker writes the time.
    unit: unit of another maker's number, converted to the kind's own.
    true_when: what counts as true, where a truth value is written otherwise.
    true_above: for a motion sensor that gives m/s2: at or above this the cart rolls.
    report_seconds: longest time between reports of a healthy device; 0 = it speaks on change only.
    uncertainty_celsius: expanded uncertainty (k = 2) of a thermometer, the guard band of every soak judged by it.
    """

    thing: Slug
    name: Slug
    kind: Word[SensorKind]
    topic: TopicName | None = None
    value: PointerText | None = None
    time: PointerText | None = None
    time_form: Literal["s", "ms", "rfc3339"] = "s"
    unit: Annotated[str, StringConstraints(min_length=1, max_length=40)] | None = None
    true_when: Array[bool | float | str] = ()
    true_above: Annotated[float, Field(gt=0, le=160)] | None = None
    report_seconds: Annotated[float, Field(ge=0, le=86_400)] | None = None
    uncertainty_celsius: Annotated[float, Field(ge=0, le=5)] | None = None

    @property
    def id(self) -> SensorId:
        """``thing/name``."""
        return SensorId(f"{self.thing}/{self.name}")

    @property
    def expected_report_seconds(self) -> float:
        """The site's figure, else the kind's default."""
        return KINDS[self.kind].report_seconds if self.report_seconds is None else self.report_seconds

    @model_validator(mode="after")
    def _mapping_is_whole(self) -> Self:
        if self.value is None and (self.time is not None or self.unit is not None or self.true_when):
            raise ValueError(
                "time, unit and true_when go with 'value', the JSON Pointer to another maker's value; add it, or leave"
                " them out"
            )
        if self.true_above is not None and self.kind is not SensorKind.MOTION:
            raise ValueError("true_above belongs to a sensor of kind 'motion'; leave it out")
        if self.uncertainty_celsius is not None and self.kind is not SensorKind.TEMPERATURE:
            raise ValueError("uncertainty_celsius belongs to a sensor of kind 'temperature'; leave it out")
        return self


class Limits(Part):
    """How far a device's clock may be off before its reading is rejected; defaults are ours."""

    max_ahead_seconds: Annotated[float, Field(ge=0, le=3600)] = 5
    max_behind_seconds: Annotated[float, Field(ge=60, le=7 * 86_400)] = 86_400


class RuleOverride(Part):
    """What a site may change of a shipped rule; each number must lie in the rule's permitted range.

    stands_until, suppressed_when, gathers: as in ``Rule``; left out, as shipped.
    """

    on_delay_seconds: float | None = None
    off_delay_seconds: float | None = None
    deadband: float | None = None
    limits: dict[str, float] = Field(default_factory=dict)
    priority: Literal["high", "medium", "low"] | None = None
    stands_until: StandsUntil | None = None
    suppressed_when: SuppressedWhen | None = None
    gathers: Gathers | None = None
    enabled: bool = True


DEFAULT_UNCERTAINTY_CELSIUS = 0.5
"""+-0.5 Cel from -10 to 85 Cel: data sheet of the common 1-Wire thermometer class (secondary)."""


class Site(Part):
    """A whole department.

    sensor: only what cannot be inferred: every basin has a lid and a temperature sensor, every cart a motion sensor and
        a hook sensor per cord; an entry here with the same thing and name replaces the inferred one.
    thresholds: the site's own figures for thresholds of the shipped rules, by name.
    rules: changes to shipped rules, by rule id.
    rule: whole rules of the site's own.
    role, contact, duty, duty_change, route: whom to tell of alerts, and how; without a route nobody is paged.
    """

    site: Head
    station: Array[Station] = ()
    basin: Array[Basin] = ()
    cabinet: Array[Cabinet] = ()
    cart: Array[Cart] = ()
    probe: Array[Probe] = ()
    sensor: Array[Sensor] = ()
    label: Array[Label] = ()
    limits: Limits = Limits()
    exposure: ExposurePolicy = ExposurePolicy()
    solution: SolutionPolicy = SolutionPolicy()
    reprocessing: ReprocessingPolicy = ReprocessingPolicy()
    care: CarePolicy = CarePolicy()
    alerts: AlertPolicy = AlertPolicy()
    shift: Array[Shift] = ()
    role: Array[DutyRole] = ()
    channel: Array[Channel] = ()
    contact: Array[Contact] = ()
    duty: Array[Duty] = ()
    duty_change: Array[DutyChange] = ()
    route: Array[Route] = ()
    thresholds: dict[str, float] = Field(default_factory=dict)
    rules: dict[str, RuleOverride] = Field(default_factory=dict)
    rule: Array[Rule] = ()

    @model_validator(mode="after")
    def _names_fit_together(self) -> Self:
        problems = [*self._repeated(), *self._dangling(), *self._unfounded(), *reach_problems(self)]
        if problems:
            raise MistakesError(*problems)
        return self

    def _repeated(self) -> Iterator[str]:
        things = [t.id for group in (self.station, self.basin, self.cabinet, self.cart) for t in group]
        groups = (("station, basin, cabinet or cart", things), ("probe", [p.id for p in self.probe]))
        tags = ("tag of a probe", [p.tag for p in self.probe if p.tag is not None])
        for what, ids in (
            *groups,
            tags,
            ("sensor", [s.id for s in self.sensor]),
            ("label", [x.id for x in self.label]),
            ("shift", [x.name for x in self.shift]),
        ):
            for name in _twice(ids):
                yield f"{what} '{name}' is there twice; give each its own id"
        for cart in self.cart:
            for name in _twice(cart.cords):
                yield f"cart '{cart.id}', key 'cords': '{name}' is there twice; give each cord its own name"

    def _unfounded(self) -> Iterator[str]:
        if self.reprocessing.tracked and not self.solution.recorded:
            yield (
                "[reprocessing], key 'tracked': true needs [solution] recorded = true, for without the record of"
                " solution and strips no soak proves that a probe is fit for use; set it, or leave 'tracked' out"
            )
        if self.care.wipes and not self.shift:
            yield (
                "[care], key 'wipes': true needs the shifts by which wipe-downs are due; add a [[shift]] with name,"
                " start and end for each, or leave wipes out"
            )

    def _unknown_shifts(self) -> Iterator[str]:
        shifts = [shift.name for shift in self.shift]
        for station in self.station:
            for name in station.shifts:
                if name not in shifts:
                    known = meant(name, shifts) if shifts else "add one"
                    yield f"station '{station.id}', key 'shifts': no [[shift]] has the name '{name}'; {known}"

    def _dangling(self) -> Iterator[str]:
        stations = {s.id for s in self.station}
        yield from self._unknown_shifts()
        for basin in self.basin:
            if basin.station not in stations:
                known = meant(basin.station, stations) if stations else "add one"
                yield f"basin '{basin.id}', key 'station': no [[station]] has the id '{basin.station}'; {known}"
        cords = {cart.id: cart.cords for cart in self.cart}
        for probe in self.probe:
            if probe.cart not in cords:
                known = meant(probe.cart, cords) if cords else "add one"
                yield f"probe '{probe.id}', key 'cart': no [[cart]] has the id '{probe.cart}'; {known}"
            elif probe.cord not in cords[probe.cart]:
                known = meant(probe.cord, cords[probe.cart]) if cords[probe.cart] else "add it to its cords"
                yield f"probe '{probe.id}', key 'cord': cart '{probe.cart}' has no cord '{probe.cord}'; {known}"
            yield from self._unknown_basins(probe)

    def _unknown_basins(self, probe: Probe) -> Iterator[str]:
        basins = [basin.id for basin in self.basin]
        for name in probe.basins:
            if name not in basins:
                known = meant(name, basins) if basins else "add one"
                yield f"probe '{probe.id}', key 'basins': no [[basin]] has the id '{name}'; {known}"

    def sensors(self) -> dict[SensorId, Sensor]:
        """Every sensor of the site: the inferred ones, then the listed ones, then the gateway's own two."""
        inferred = (*_basin_sensors(self.basin), *_cart_sensors(self.cart))
        listed = {sensor.id: sensor for sensor in (*inferred, *self.sensor)}
        links = {s.id: s for s in _link_sensors(dict.fromkeys(s.thing for s in listed.values()))}
        own = {
            GATEWAY_LINK: Sensor(thing="gateway", name="link", kind=SensorKind.LINK),
            GATEWAY_STORE: Sensor(thing="gateway", name="store", kind=SensorKind.STORE),
        }
        return {**listed, **links, **own}

    def topic_of(self, sensor: Sensor) -> str:
        """The topic on which the sensor speaks."""
        return sensor.topic or f"sinkside/{self.site.id}/{sensor.thing}/{sensor.name}"


def _twice(names: Iterable[str]) -> list[str]:
    return [name for name, times in Counter(names).items() if times > 1]


def _basin_sensors(basins: Iterable[Basin]) -> Iterator[Sensor]:
    for basin in basins:
        yield Sensor(thing=basin.id, name="lid", kind=SensorKind.LID)
        yield Sensor(thing=basin.id, name="temperature", kind=SensorKind.TEMPERATURE)


def _cart_sensors(carts: Iterable[Cart]) -> Iterator[Sensor]:
    for cart in carts:
        yield Sensor(thing=cart.id, name="motion", kind=SensorKind.MOTION)
        for cord in cart.cords:
            yield Sensor(thing=cart.id, name=f"hook-{cord}", kind=SensorKind.HOOK)


def _link_sensors(things: Iterable[str]) -> Iterator[Sensor]:
    for thing in things:
        yield Sensor(thing=thing, name="link", kind=SensorKind.LINK)
