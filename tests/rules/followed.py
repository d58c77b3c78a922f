"""The department of tests/rules/feeder.py with its probe followed, and what people enter of it."""

from collections.abc import Sequence

from rules.commands import Claim, Contact, Input, Inspected, Placed, StepsDone, Strike, Vouch
from rules.events import Event
from rules.probe_events import ProbeEvent, ProbeSoaked
from rules.probe_words import Place, Step, Surface
from rules.readings import Reading, SensorId, Value
from rules.site import Site
from rules.standing import Standing
from tests.rules.bath import pour, strip
from tests.rules.feeder import (
    HOOK_A,
    OFF_HOOK,
    ON_HOOK,
    Feeder,
    closed,
    department,
    in_order,
    instant,
    read,
    steps,
    warm,
)

TAG, SINK_TAG = SensorId("basin-1/tag"), SensorId("station-1/tag")
CONTACT, SHOCK = SensorId("cart-1/contact"), SensorId("cart-1/shock")

PROBE = "curved-1"
T1 = "T1"
"""Its tag."""

OTHER = {"id": "linear-1", "name": "Linear 1", "cart": "cart-1", "cord": "b", "tag": "T2"}

_SENSORS = [
    {"thing": "basin-1", "name": "temperature", "kind": "temperature", "uncertainty_celsius": 0, "report_seconds": 10},
    {"thing": "basin-1", "name": "tag", "kind": "tag"},
    {"thing": "station-1", "name": "tag", "kind": "tag"},
    {"thing": "cart-1", "name": "contact", "kind": "contact"},
    {"thing": "cart-1", "name": "shock", "kind": "shock"},
]


def followed(policy: dict[str, object] | None = None, **probe: object) -> Site:
    """One probe on cord a, by default an external one; the reprocessing policy and what differs of the probe."""
    return department(
        sensor=_SENSORS,
        solution={"recorded": True},
        reprocessing={"tracked": True, **(policy or {})},
        probe=[{"id": PROBE, "name": "Curved 1", "cart": "cart-1", "cord": "a", "tag": T1, **probe}],
    )


def hung(start: float, end: float, every: float = 60) -> list[Reading]:
    """Its hook says again and again that it hangs there."""
    return [read(HOOK_A, ON_HOOK, at) for at in steps(start, end, every)]


def contact(at: float, surface: str = "mucosa", arrived: float | None = None, exam: str | None = None) -> Contact:
    """Marked on the phone."""
    return Contact(
        arrived=instant(at if arrived is None else arrived),
        who="R. Nurse",
        probe=PROBE,
        measured=instant(at),
        surface=Surface(surface),
        exam=exam,
    )


def did(at: float, *what: Step, times: int = 1, arrived: float | None = None) -> StepsDone:
    """Steps done by a technician."""
    entered = instant(at if arrived is None else arrived)
    return StepsDone(arrived=entered, who="R. Tech", probe=PROBE, measured=instant(at), steps=what, times=times)


def placed(at: float, place: Place, thing: str | None = None, arrived: float | None = None) -> Placed:
    """Where a person says that it is."""
    entered = instant(at if arrived is None else arrived)
    return Placed(arrived=entered, who="R. Tech", probe=PROBE, measured=instant(at), place=place, thing=thing)


def claim(at: float, soak: str = "basin-1.1", role: str = "technician", since: float = 0) -> Claim:
    """The soak was this probe's, from ``since`` on."""
    return Claim(arrived=instant(at), who="R. Tech", probe=PROBE, measured=instant(since), soak=soak, role=role)


def vouch(at: float, role: str = "engineer") -> Vouch:
    """The engineer takes it into service."""
    return Vouch(arrived=instant(at), who="E. Ngineer", probe=PROBE, measured=instant(at), role=role, why="new")


def inspected(at: float, *, sound: bool = True) -> Inspected:
    """Somebody looked it over."""
    return Inspected(arrived=instant(at), who="R. Tech", probe=PROBE, measured=instant(at), sound=sound)


def two_probes(**policy: object) -> Feeder:
    """Curved 1 on cord a and Linear 1 on cord b."""
    site = followed(policy)
    both = (*site.probe, type(site.probe[0]).model_validate(OTHER))
    return Feeder(site.model_copy(update={"probe": both}))


def now_stands(feeder: Feeder, probe: str = PROBE) -> Standing:
    """How the engine says that it stands."""
    return next(p.standing for p in feeder.engine.picture().probes if p.id == probe)


def of_probe(events: Sequence[Event], probe: str = PROBE) -> list[ProbeEvent]:
    """What the record tells of it."""
    return [event for event in events if isinstance(event, ProbeEvent) and event.probe == probe]


def shares(feeder: Feeder, probe: str = PROBE) -> list[ProbeSoaked]:
    """What was told of its shares of soaks."""
    return [event for event in of_probe(feeder.events, probe) if isinstance(event, ProbeSoaked)]


def tagged(tags: str, start: float, end: float, after: str = "") -> list[Reading]:
    """The basin's reader names these tags from start on, every 30 s, and others from end on."""
    return [*(read(TAG, tags, at) for at in steps(start, end - 1e-6, 30)), read(TAG, after, end)]


def good_soak(start: float = 100, length: float = 730) -> list[Input]:
    """Solution and strip in order, warm enough and long enough for 12 min of ortho-phthalaldehyde."""
    readings = in_order(warm(21, start - 20, start + length + 20), closed(start, start + length))
    return [pour(start - 60), strip(start - 50), *readings]


def merged(*groups: Sequence[Input]) -> list[Input]:
    """Inputs in the order of their arrival."""
    return sorted((item for group in groups for item in group), key=lambda item: item.arrived)


def strike(entry: object, at: float) -> Strike:
    """It was entered of the wrong probe."""
    return Strike(arrived=instant(at), who="R. Tech", entry=entry, why="wrong probe")


def untimed(sensor: SensorId, value: Value, at: float) -> Reading:
    """A reading of a device that sends no time: it has that of its arrival."""
    return read(sensor, value, at)._replace(timed=False)


def used_and_washed() -> list[Input]:
    """Taken into service, used on mucosa, washed and dried within 40 s."""
    return [vouch(1), contact(20), did(40, Step.WASHED, Step.DRIED)]


def whole_way() -> list[Input]:
    """Exam on mucosa, hung back, to the sink, washed and dried, soaked, rinsed three times, dried, back on its hook."""
    return merged(
        [*hung(0, 10), read(HOOK_A, OFF_HOOK, 11), read(CONTACT, "mucosa", 30), *hung(60, 960), vouch(1)],
        [read(HOOK_A, OFF_HOOK, 1000), read(SINK_TAG, T1, 1030), did(1090, Step.WASHED, Step.DRIED)],
        [read(SINK_TAG, "", 1090)],
        tagged(T1, 1095, 1835),
        good_soak(1100),
        [did(1950, Step.RINSED, Step.DRIED, times=3), read(HOOK_A, ON_HOOK, 1980)],
    )
