"""What the engineers' live page shows: every sensor's last word, input that could not be used, alerts."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from dashboard.alert_standing import by_urgency
from dashboard.basins import basin_view
from dashboard.carts import cart_view
from dashboard.head import StateView, state_view
from dashboard.one_alert import AlertRow, alert_row
from dashboard.premises import Premises
from dashboard.quiet import is_own, is_unwell, quiet
from dashboard.set_up import Example, first_example
from dashboard.words import clock, counted, moment
from gateway.hub import Feed, RejectedRow
from gateway.when import local
from gateway.wire import HEAD_OCTETS
from rules.picture import Picture, SensorPicture
from rules.readings import KINDS, SECOND, Micros, SensorKind, Shape

_PRINTABLE = frozenset(range(0x20, 0x7F)) - {ord("\\")}


@dataclass(frozen=True, slots=True)
class SensorRow:
    """One sensor: its newest reading, when it was measured and when it arrived, and its health.

    thing: name of what it belongs to, empty where that has none of its own.
    lag: how much later it arrived, empty below a second; untimed where the device gave no usable time.
    tone: 'ok', 'quiet' (never heard) or 'bad'. unwell: whether it stands among those that need a look.
    """

    id: str
    thing: str
    kind: str
    topic: str
    value: str
    measured: str
    arrived: str
    lag: str
    health: str
    tone: str
    unwell: bool


@dataclass(frozen=True, slots=True)
class Tally:
    """How much needs a look: alerts and sensors in words, and whether there are any."""

    alerts: str
    open_alerts: bool
    sensors: str
    unwell_sensors: bool


@dataclass(frozen=True, slots=True)
class RejectedView:
    """Input that could not be used: why, how often, where, and how it began; that ends with '…' where more followed.

    Of a message exactly as long as what is kept of one, that is not known, and said as well.
    """

    reason: str
    count: int
    topic: str
    head: str
    last: str


@dataclass(frozen=True, slots=True)
class RecordView:
    """The head of the record, to be noted elsewhere: as `sinkside verify --head` takes it, and of when it is."""

    head: str
    at: str


@dataclass(frozen=True, slots=True)
class LiveView:
    """The whole live page.

    quiet: what is said where there is no alert. sensors: all, in the site's order; unwell: those that need a look,
        the worst first. example: set while no sensor ever spoke; warning: what is wrong with the gateway's disk.
    """

    state: StateView
    tally: Tally
    alerts: tuple[AlertRow, ...]
    quiet: str
    sensors: tuple[SensorRow, ...]
    unwell: tuple[SensorRow, ...]
    rejected: tuple[RejectedView, ...]
    example: Example | None
    warning: str
    record: RecordView | None


def live_view(feed: Feed, site_name: str, now: Micros, zone: ZoneInfo, premises: Premises) -> LiveView:
    """The live page at an instant; ``now`` is the gateway's time."""
    picture = feed.picture
    state = state_view(feed, site_name, now, zone)
    rows = tuple(_row(sensor, now, zone) for sensor in picture.sensors)
    return LiveView(
        state=state,
        tally=_tally(picture),
        alerts=tuple(alert_row(alert, now, zone) for alert in by_urgency(picture.alerts)),
        quiet=quiet(
            picture,
            [basin_view(basin, picture.hearing, now, zone) for basin in picture.basins],
            [cart_view(cart, picture.hearing) for cart in picture.carts],
            troubled=bool(state.troubles),
        ).words,
        sensors=rows,
        unwell=tuple(sorted((row for row in rows if row.unwell), key=lambda row: row.tone != "bad")),
        rejected=tuple(_rejected(row, now, zone) for row in feed.rejected),
        example=first_example(picture.sensors, premises),
        warning=" ".join(filter(None, (feed.store_trouble, *feed.warnings, feed.sqlite_warning))),
        record=record_view(feed, now, zone),
    )


def record_view(feed: Feed, now: Micros, zone: ZoneInfo) -> RecordView | None:
    """The head of the record, None before the first."""
    return RecordView(feed.head.short, _when(feed.head.at, now, zone)) if feed.head else None


def _row(sensor: SensorPicture, now: Micros, zone: ZoneInfo) -> SensorRow:
    return SensorRow(
        id=sensor.id,
        thing="" if sensor.id.startswith(f"{sensor.thing_name}/") else sensor.thing_name,
        kind=sensor.kind.value,
        topic=sensor.topic,
        value="" if sensor.value is None else _value_words(sensor),
        measured=_when(sensor.measured, now, zone) if sensor.timed else "no time given",
        arrived=_when(sensor.arrived, now, zone),
        lag=_lag(sensor),
        health=sensor.health,
        tone={"ok": "ok", "never heard": "quiet"}.get(sensor.health, "bad"),
        unwell=is_unwell(sensor),
    )


def _value_words(sensor: SensorPicture) -> str:
    value = sensor.value
    if isinstance(value, str):
        return value
    if isinstance(value, bool) or KINDS[sensor.kind].shapes == {Shape.TRUTH}:
        return _truth_words(sensor.kind, true=bool(value))
    return f"{value:.4g} {_UNITS.get(sensor.unit, sensor.unit)}".strip()


_UNITS = {"Cel": "°C", "m/s2": "m/s²", "%EL": "%"}
_TRUTH = {
    SensorKind.LID: ("closed", "open"),
    SensorKind.MOTION: ("rolling", "standing"),
    SensorKind.HOOK: ("on hook", "off hook"),
    SensorKind.WIPED: ("wiped", "not wiped"),
    SensorKind.MAINS: ("plugged in", "unplugged"),
    SensorKind.LINK: ("online", "offline"),
    SensorKind.STORE: ("can write", "cannot write"),
}


def _truth_words(kind: SensorKind, *, true: bool) -> str:
    yes, no = _TRUTH.get(kind, ("true", "false"))
    return yes if true else no


def _when(at: Micros | None, now: Micros, zone: ZoneInfo) -> str:
    if at is None:
        return ""
    same_day = local(at, zone).date() == local(now, zone).date()
    return clock(at, zone) if same_day else moment(at, now, zone)


def _lag(sensor: SensorPicture) -> str:
    if sensor.measured is None or sensor.arrived is None:
        return ""
    late = (sensor.arrived - sensor.measured) / SECOND
    return f"{late:+.0f} s" if abs(late) >= 1 else ""


def _tally(picture: Picture) -> Tally:
    unseen = sum(alert.acknowledged_by is None for alert in picture.alerts)
    seen = f"{unseen} not seen yet" if unseen else "all seen"
    own = [sensor for sensor in picture.sensors if not is_own(sensor)]
    unwell = sum(is_unwell(sensor) for sensor in own)
    well = sum(sensor.health == "ok" for sensor in own)
    return Tally(
        alerts=f"{counted(len(picture.alerts), 'alert')}, {seen}" if picture.alerts else "no alert",
        open_alerts=unseen > 0,
        sensors=f"{unwell} of {counted(len(own), 'sensor')} not well" if unwell else _all_well(well, len(own) - well),
        unwell_sensors=unwell > 0,
    )


def _all_well(well: int, unheard_links: int) -> str:
    """``all 74 sensors well``; links of devices that do not say whether they are connected are no part of it."""
    said = f"all {well} sensors well" if well > 1 else f"{counted(well, 'sensor')}, well" if well else "no sensor"
    return f"{said}, {counted(unheard_links, 'link')} never heard" if unheard_links else said


def _rejected(row: RejectedRow, now: Micros, zone: ZoneInfo) -> RejectedView:
    cut = "…" if len(row.head) >= HEAD_OCTETS else ""
    return RejectedView(row.reason, row.count, row.topic, printable(row.head) + cut, _when(row.last, now, zone))


def printable(head: bytes) -> str:
    """Bytes as text that cannot be mistaken: printable ASCII as it is, everything else as its two hex digits."""
    return "".join(chr(byte) if byte in _PRINTABLE else f"\\x{byte:02x}" for byte in head)
