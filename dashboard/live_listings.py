"""The live lists as they are stated: probes, basins, alerts, sensors, and what they can be sorted by and asked for."""

from collections.abc import Iterable
from typing import NamedTuple

from dashboard import fitness
from dashboard.held import Held, natural
from dashboard.listing import WHOLE, Choice, Column, Listing, Sort, Sorting
from dashboard.live_lists import Sieve
from dashboard.premises import Named
from dashboard.quiet import is_unwell
from dashboard.record_lists import words_of
from dashboard.solution import Standing
from rules.alert_words import Priority
from rules.picture import AlertPicture, BasinPicture, ProbePicture, SensorPicture
from rules.probe_words import Fitness
from rules.readings import SensorKind

Params = Iterable[tuple[str, str]]
"""The part of an address after its question mark."""

# ---- probes ---------------------------------------------------------------------------------------------------------


class ProbeNow(NamedTuple):
    """A probe, and how it is shown to stand: never better than what is heard now proves."""

    probe: ProbePicture
    shown: Fitness


PROBES = Listing(
    path="/probes",
    what="probe",
    columns=(
        Column("urgency", "Fitness", Sorting.URGENCY),
        Column("name", "Name", Sorting.TEXT),
        Column("cart", "Cart", Sorting.TEXT),
        Column("since", "Stands so since", Sorting.TIME),
    ),
    at_first=Sort(key="urgency"),
    search="Scan or type a probe's id, serial number, tag or name",
    choices=(Choice("stands", "Stands as", words_of(Fitness)),),
    paging=WHOLE,
    text_key="find",
)

_PROBES = Held[ProbeNow](
    by={
        "urgency": lambda row: fitness.URGENCY.index(row.shown),
        "name": lambda row: natural(row.probe.name),
        "cart": lambda row: natural(row.probe.cart_name),
        "since": lambda row: row.probe.standing.since,
    },
    words=lambda row: (row.probe.id, row.probe.name, row.probe.serial, row.probe.tag, row.probe.cart_name),
    options={"stands": lambda row: row.shown.value},
)


def probe_sieve(params: Params) -> Sieve[ProbeNow]:
    """Probes as an address asks for them; raises ListError."""
    return Sieve(PROBES, PROBES.asked(params), _PROBES, _probe_name, "The site file names no probes.")


def _probe_name(row: ProbeNow) -> Named:
    return Named(row.probe.id, row.probe.name)


# ---- basins ---------------------------------------------------------------------------------------------------------


class BasinNow(NamedTuple):
    """A basin, its place in the site file, and how its solution stands."""

    basin: BasinPicture
    place: int
    standing: Standing


_STANDS = {
    Standing.BAD: "must not be used",
    Standing.DUE: "due soon",
    Standing.GOOD: "good",
    Standing.NOT_RECORDED: "not recorded",
}

BASINS = Listing(
    path="/basins",
    what="basin",
    columns=(
        Column("place", "Place in the site file", Sorting.PLACE),
        Column("urgency", "Solution", Sorting.URGENCY),
        Column("name", "Name", Sorting.TEXT),
        Column("chemistry", "Chemistry", Sorting.TEXT),
    ),
    at_first=Sort(key="place"),
    search="Search name, station, chemistry, lot",
    choices=(Choice("stands", "Solution", tuple(Named(stands.word, _STANDS[stands]) for stands in Standing)),),
    paging=WHOLE,
)


def _basin_words(row: BasinNow) -> tuple[str | None, ...]:
    basin, lot = row.basin, row.basin.solution.lot
    return basin.id, basin.name, basin.station, basin.chemistry, lot.lot if lot else None


_BASINS = Held[BasinNow](
    by={
        "place": lambda row: row.place,
        "urgency": lambda row: row.standing,
        "name": lambda row: natural(row.basin.name),
        "chemistry": lambda row: row.basin.chemistry.casefold(),
    },
    words=_basin_words,
    options={"stands": lambda row: row.standing.word},
)


def basin_sieve(params: Params) -> Sieve[BasinNow]:
    """Basins as an address asks for them; raises ListError."""
    return Sieve(BASINS, BASINS.asked(params), _BASINS, _basin_name, "This site has no basins.")


def _basin_name(row: BasinNow) -> Named:
    return Named(row.basin.id, row.basin.name)


# ---- alerts ---------------------------------------------------------------------------------------------------------


class AlertNow(NamedTuple):
    """An alert, and its place among all by urgency."""

    alert: AlertPicture
    place: int


_WAITS, _TAKEN = Named("yes", "nobody has answered"), Named("no", "somebody has")

ALERTS = Listing(
    path="/alerts",
    what="alert",
    columns=(
        Column("urgency", "Urgency", Sorting.URGENCY),
        Column("raised", "Raised", Sorting.TIME),
        Column("rule", "Rule", Sorting.TEXT),
        Column("where", "Where", Sorting.TEXT),
    ),
    at_first=Sort(key="urgency"),
    search="Search words, rule, basin, cart, sensor",
    choices=(
        Choice("priority", "Priority", words_of(Priority)),
        Choice("waits", "Answered", (_WAITS, _TAKEN)),
    ),
    paging=WHOLE,
)

_ALERTS = Held[AlertNow](
    by={
        "urgency": lambda row: row.place,
        "raised": lambda row: row.alert.raised,
        "rule": lambda row: row.alert.rule,
        "where": lambda row: natural(row.alert.subject),
    },
    words=lambda row: (row.alert.text, row.alert.rule, row.alert.subject, row.alert.id),
    options={
        "priority": lambda row: row.alert.priority.value,
        "waits": lambda row: (_WAITS if row.alert.acknowledged_by is None else _TAKEN).id,
    },
)


def alert_sieve(params: Params) -> Sieve[AlertNow]:
    """Alerts as an address asks for them; raises ListError."""
    return Sieve(ALERTS, ALERTS.asked(params), _ALERTS, _alert_name, "")


def _alert_name(row: AlertNow) -> Named:
    return Named(row.alert.id, row.alert.text)


# ---- sensors --------------------------------------------------------------------------------------------------------


class SensorNow(NamedTuple):
    """A sensor, and its place in the site file."""

    sensor: SensorPicture
    place: int


_WELL, _UNWELL = Named("well", "well"), Named("unwell", "needs a look")

SENSORS = Listing(
    path="/live",
    what="sensor",
    columns=(
        Column("place", "Place in the site file", Sorting.PLACE),
        Column("name", "Sensor", Sorting.TEXT),
        Column("kind", "Kind", Sorting.TEXT),
        Column("health", "Health", Sorting.TEXT),
        Column("measured", "Measured", Sorting.TIME),
        Column("arrived", "Arrived", Sorting.TIME),
    ),
    at_first=Sort(key="place"),
    search="Search sensor, thing, topic",
    choices=(Choice("kind", "Kind", words_of(SensorKind)), Choice("health", "Health", (_WELL, _UNWELL))),
    paging=WHOLE,
)

_SENSORS = Held[SensorNow](
    by={
        "place": lambda row: row.place,
        "name": lambda row: natural(row.sensor.id),
        "kind": lambda row: row.sensor.kind.value,
        "health": lambda row: row.sensor.health,
        "measured": lambda row: row.sensor.measured,
        "arrived": lambda row: row.sensor.arrived,
    },
    words=lambda row: (row.sensor.id, row.sensor.thing_name, row.sensor.topic),
    options={
        "kind": lambda row: row.sensor.kind.value,
        "health": lambda row: (_UNWELL if is_unwell(row.sensor) else _WELL).id,
    },
)


def sensor_sieve(params: Params) -> Sieve[SensorNow]:
    """Sensors as an address asks for them; raises ListError."""
    return Sieve(SENSORS, SENSORS.asked(params), _SENSORS, _sensor_name, "")


def _sensor_name(row: SensorNow) -> Named:
    return Named(row.sensor.id, row.sensor.id)
