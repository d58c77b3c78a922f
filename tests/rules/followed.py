"""The department of tests/rules/feeder.py with its probe followed, and what people enter of it."""

from rules.commands import Claim, Contact, Inspected, Placed, StepsDone, Vouch
from rules.probe_words import Place, Step, Surface
from rules.readings import Reading, SensorId
from rules.site import Site
from tests.rules.feeder import HOOK_A, ON_HOOK, department, instant, read, steps

TAG, SINK_TAG = SensorId("basin-1/tag"), SensorId("station-1/tag")
CONTACT, SHOCK = SensorId("cart-1/contact"), SensorId("cart-1/shock")

PROBE = "curved-1"
T1 = "T1"
"""Its tag."""

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
