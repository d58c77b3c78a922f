"""A small department, and a feeder that turns seconds into readings: the arrangement of a test in one line."""

from collections.abc import Callable, Iterable
from functools import lru_cache
from importlib.resources import files
from typing import Any

from rules.alert_commands import Acknowledge, Settle
from rules.alert_events import AlertMoved, AlertOver, AlertRaised
from rules.alert_words import Cause, State
from rules.commands import Entry, Input
from rules.engine import Engine
from rules.events import Event, SoakAmended, SoakEnded, event_json
from rules.readings import SECOND, Micros, Reading, SensorId, Value, micros
from rules.ruleset import RuleBook, load_book
from rules.site import Label, Site
from rules.verdict import Verdict

START = 1_700_000_000
"""Second 0 of every test, in seconds since the epoch."""

LID, TEMPERATURE = SensorId("basin-1/lid"), SensorId("basin-1/temperature")
MOTION, HOOK_A, HOOK_B = SensorId("cart-1/motion"), SensorId("cart-1/hook-a"), SensorId("cart-1/hook-b")
CART_LINK, BASIN_LINK = SensorId("cart-1/link"), SensorId("basin-1/link")

CLOSED, LIFTED = True, False
"""What a lid's switch says."""

ROLLS, STANDS = True, False
"""What a cart's motion sensor says."""

ON_HOOK, OFF_HOOK = True, False
"""What a cord's hook says."""

ONLINE, OFFLINE = True, False
"""What a device's link says, and the gateway's own."""

STANDARD = files("rules").joinpath("standard.toml").read_text(encoding="utf-8")
LABELS = files("rules").joinpath("labels.csv").read_text(encoding="utf-8")

QUICK = Label(id="quick", chemistry="water", min_minutes=1, min_celsius=20, reuse_days=14, source="ours, for tests")
"""One minute at 20 Cel, so that random histories see many soaks."""

Curve = Callable[[float], float]
"""Temperature in Cel by seconds."""


def instant(seconds: float) -> Micros:
    """Seconds of the test as microseconds since the epoch."""
    return Micros(START * SECOND + micros(seconds))


def seconds(at: int) -> float:
    """Microseconds since the epoch as seconds of the test."""
    return (at - START * SECOND) / SECOND


def department(label: str = "opa-0.55-manual", guard: float = 0, every: float = 10, **further: Any) -> Site:
    """One basin with the label, its thermometer's uncertainty and report interval; one cart with cords a and b.

    A cart rolls after a second here, whatever the shipped figure is.
    """
    thermometer = {"thing": "basin-1", "name": "temperature", "kind": "temperature"}
    return Site.model_validate(
        {
            "site": {"id": "here", "name": "Here"},
            "station": [{"id": "station-1", "name": "Station 1"}],
            "basin": [{"id": "basin-1", "name": "Basin 1", "station": "station-1", "label": label}],
            "cart": [{"id": "cart-1", "name": "Cart 1", "cords": ["a", "b"]}],
            "sensor": [{**thermometer, "uncertainty_celsius": guard, "report_seconds": every}],
            "label": [QUICK.model_dump()],
            **further,
            "thresholds": {"rolling_after_seconds": 1} | further.get("thresholds", {}),
        }
    )


def book_of(site: Site) -> RuleBook:
    """The standard rules as the site has them; compiled once for each site."""
    return _book(site.model_dump_json())


@lru_cache(maxsize=64)
def _book(site_json: str) -> RuleBook:
    return load_book(Site.model_validate_json(site_json), STANDARD, LABELS)


def read(sensor: SensorId, value: Value, measured: float, arrived: float | None = None) -> Reading:
    """A reading by seconds of the test; it arrives when it is measured unless told otherwise. Numbers become floats."""
    said = float(value) if type(value) is int else value
    return Reading(sensor, instant(measured), instant(measured if arrived is None else arrived), said)


def retold(item: Reading | Entry, measured: float, arrived: float) -> Reading | Entry:
    """The same reading or entry of another time, seconds of the test."""
    if isinstance(item, Reading):
        return read(item.sensor, item.value, measured, arrived)
    return item.model_copy(update={"measured": instant(measured), "arrived": instant(arrived)})


class Feeder:
    """An engine that is fed in seconds; ``events`` is all that it said."""

    def __init__(self, site: Site | None = None) -> None:
        self.site = site or department()
        self.engine = Engine(self.site, book_of(self.site))
        self.events: list[Event] = []

    def say(self, sensor: SensorId, value: Value, at: float, measured: float | None = None) -> "Feeder":
        """A reading arrives at ``at``; measured then too, unless told otherwise."""
        return self.feed([read(sensor, value, at if measured is None else measured, at)])

    def feed(self, inputs: Iterable[Input]) -> "Feeder":
        """Inputs in the order of their arrival."""
        for item in inputs:
            self.events += self.engine.apply(item)
        return self

    def until(self, at: float) -> "Feeder":
        """Time passes, nothing arrives."""
        self.events += self.engine.advance(instant(at))
        return self

    def acknowledge(self, alert: str, at: float, who: str = "R. Tech") -> "Feeder":
        """Somebody answers for an alert."""
        return self.feed([Acknowledge(arrived=instant(at), who=who, alert=alert)])

    def settle(self, alert: str, at: float, who: str = "R. Tech", why: str = "soaked again") -> "Feeder":
        """Somebody says what was done."""
        return self.feed([Settle(arrived=instant(at), who=who, alert=alert, why=why)])

    def restart(self, site: Site | None = None) -> "Feeder":
        """The program is stopped and started again from its checkpoint, with another site file if given."""
        self.site = site or self.site
        self.engine = Engine.restore(self.site, book_of(self.site), self.engine.snapshot())
        return self

    @property
    def verdicts(self) -> list[Verdict]:
        """First and amended verdicts, in the order of their coming."""
        return [e.verdict for e in self.events if isinstance(e, (SoakEnded, SoakAmended))]

    @property
    def lines(self) -> list[str]:
        """The events as they are written to the journal."""
        return [event_json(event) for event in self.events]

    def raised(self, rule: str, sensor: SensorId | None = None) -> list[float]:
        """When the rule's alerts were raised, seconds of the test; all of them, or those on the sensor."""
        raised = (e for e in self.events if isinstance(e, AlertRaised) and e.rule == rule)
        return [seconds(e.at) for e in raised if sensor is None or e.subject == f"sensor {sensor}"]

    def over(self, rule: str) -> list[tuple[float, str]]:
        """When the rule's alerts were over, and why."""
        ids = alert_ids(self, rule)
        return [(seconds(e.at), e.why) for e in self.events if isinstance(e, AlertOver) and e.alert in ids]

    def asked(self, rule: str) -> list[float]:
        """When people were asked by an alert of the rule: raised, or come to wait for an answer anew."""
        moved = (e for e in self.events if isinstance(e, AlertMoved) and e.rule == rule)
        anew = (seconds(e.at) for e in moved if e.after is State.UNACKNOWLEDGED)
        return sorted([*self.raised(rule), *anew])

    def ended(self, rule: str) -> list[float]:
        """When the condition of the rule's alerts ended while people knew of them."""
        moved = (e for e in self.events if isinstance(e, AlertMoved) and e.rule == rule)
        returned = (seconds(e.at) for e in moved if e.cause is Cause.CONDITION_ENDED)
        return sorted([*returned, *(at for at, why in self.over(rule) if why == "cleared")])

    def standing(self) -> list[str]:
        """Rules whose alerts stand now."""
        return [alert.rule for alert in self.engine.picture().alerts]

    def holding(self) -> list[str]:
        """Rules with an alert that stands and whose condition holds."""
        return [alert.rule for alert in self.engine.picture().alerts if alert.holds]


def alert_ids(feeder: Feeder, rule: str) -> set[str]:
    """Names of the alerts that a rule has raised."""
    return {e.alert for e in feeder.events if isinstance(e, AlertRaised) and e.rule == rule}


def health(feeder: Feeder, sensor: str) -> str:
    """What screens say of a sensor's health."""
    return next(s.health for s in feeder.engine.picture().sensors if s.id == sensor)


def celsius(feeder: Feeder) -> float | None:
    """The temperature that screens show for the basin, None where it is not known."""
    return feeder.engine.picture().basins[0].celsius


def steps(start: float, end: float, every: float) -> list[float]:
    """start, start + every, ... up to and including end."""
    return [start + every * n for n in range(int((end - start) / every + 1e-9) + 1)]


def warm(celsius: float | Curve, start: float, end: float, every: float = 10) -> list[Reading]:
    """The thermometer reports from start to end."""
    curve = celsius if callable(celsius) else lambda _: celsius
    return [read(TEMPERATURE, curve(at), at) for at in steps(start, end, every)]


def closed(start: float, end: float, every: float = 30) -> list[Reading]:
    """The lid closes at start, says so again and again, and is lifted at end."""
    return [*(read(LID, CLOSED, at) for at in steps(start, end - 1e-6, every)), read(LID, LIFTED, end)]


def in_order(*groups: Iterable[Reading]) -> list[Reading]:
    """Readings of several sensors in the order of their arrival."""
    return sorted((reading for group in groups for reading in group), key=lambda r: (r.arrived, r.sensor))


def soak(length: float, celsius: float | Curve, every: float = 10, start: float = 100) -> list[Reading]:
    """One soak of ``length`` seconds, with temperatures from before it until after it."""
    end = start + length
    return in_order(warm(celsius, start - 2 * every, end + 2 * every, every), closed(start, end))


def late(readings: list[Reading], at: float, every: float = 0.01) -> list[Reading]:
    """The same readings, delivered one after the other from ``at`` on."""
    return [read(r.sensor, r.value, seconds(r.measured), at + n * every) for n, r in enumerate(readings)]


def temperatures(readings: list[Reading]) -> list[Reading]:
    """Those of the thermometer."""
    return [r for r in readings if r.sensor == TEMPERATURE]


def without(readings: list[Reading], start: float, end: float) -> tuple[list[Reading], list[Reading]]:
    """The readings without the temperatures measured from start to end, and those temperatures."""
    lost = [r for r in temperatures(readings) if start <= seconds(r.measured) <= end]
    return [r for r in readings if r not in lost], lost


def judged(readings: list[Reading], site: Site | None = None) -> Verdict:
    """The last verdict after the readings and a quiet while."""
    feeder = Feeder(site).feed(readings)
    return feeder.until(seconds(readings[-1].arrived) + 200).verdicts[-1]
