"""What the engineers' page shows."""

import json
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from dashboard.live import LiveView, RecordView, live_view, printable
from dashboard.premises import Premises
from gateway.hub import Feed, RecordHead
from rules.alert_words import State
from rules.picture import SensorPicture
from rules.readings import KINDS, SECOND, SensorKind, Value
from tests.dashboard.alert_pictures import standing
from tests.dashboard.pictures import NOON, alert, later, picture, rejected, sensor
from tests.gateway.mill_lane import NOW, NOW_SECONDS, WIRE, topic

UTC = ZoneInfo("UTC")


def live(*sensors: SensorPicture, feed: Feed | None = None) -> LiveView:
    return live_view(feed or Feed(picture(sensors=sensors)), "North Hall", NOON, UTC, Premises())


@pytest.mark.parametrize(
    ("kind", "value", "unit", "said"),
    [
        (SensorKind.TEMPERATURE, 21.4, "Cel", "21.4 °C"),
        (SensorKind.LID, True, "", "closed"),
        (SensorKind.LID, 0, "", "open"),
        (SensorKind.MOTION, False, "", "standing"),
        (SensorKind.MOTION, 0.8, "m/s2", "0.8 m/s²"),
        (SensorKind.HOOK, False, "", "off hook"),
        (SensorKind.BATTERY, 80.0, "%EL", "80 %"),
        (SensorKind.STRIP, "fail", "", "fail"),
    ],
)
def test_values_are_said_in_the_words_of_their_kind(kind: SensorKind, value: Value, unit: str, said: str) -> None:
    assert live(sensor(kind=kind, value=value, unit=unit)).sensors[0].value == said


def test_measured_and_arrived_are_told_apart() -> None:
    row = live(sensor(lag=7)).sensors[0]
    assert (row.measured, row.arrived, row.lag) == ("11:59:53", "12:00:00", "+7 s")


def test_a_sensor_stands_beside_the_name_that_its_thing_has_on_the_wall() -> None:
    rows = live(replace(sensor(), thing_name="Trauma, left"), sensor("gateway/link", SensorKind.LINK)).sensors
    assert [row.thing for row in rows] == ["Trauma, left", ""]


def test_a_device_without_a_clock_is_named_as_such() -> None:
    assert live(replace(sensor(), timed=False)).sensors[0].measured == "no time given"


def test_sensors_that_are_not_well_are_counted_and_stand_first_the_worst_before_the_others() -> None:
    ill = (sensor("basin-1/lid", value=None, health="never heard"), sensor("basin-2/lid", health="silent"))
    view = live(sensor(), *ill, sensor("cart-1/link", SensorKind.LINK, value=None, health="never heard"))
    assert (view.tally.sensors, view.tally.unwell_sensors) == ("2 of 4 sensors not well", True)
    assert [row.id for row in view.unwell] == ["basin-2/lid", "basin-1/lid"]


UNHEARD_LINK = sensor("cart-1/link", SensorKind.LINK, value=None, health="never heard")


@pytest.mark.parametrize(
    ("sensors", "said"),
    [
        ((sensor(), sensor("basin-2/lid")), "all 2 sensors well"),
        ((sensor(), sensor("gateway/link", SensorKind.LINK)), "1 sensor, well"),
        ((sensor(), sensor("basin-2/lid"), UNHEARD_LINK), "all 2 sensors well, 1 link never heard"),
        ((), "no sensor"),
    ],
)
def test_where_every_sensor_is_well_that_is_said(sensors: tuple[SensorPicture, ...], said: str) -> None:
    view = live(*sensors)
    assert (view.tally.sensors, view.tally.unwell_sensors, view.unwell) == (said, False, ())


def test_an_alert_says_its_urgency_and_who_has_it() -> None:
    (row,) = live(feed=Feed(picture(alerts=(standing(State.ACKNOWLEDGED, by="Ana"),)))).alerts
    assert (row.word, row.waits, row.stands.partition(",")[0]) == ("Now", False, "Ana has it")


def test_alerts_that_nobody_has_seen_are_counted() -> None:
    assert live(feed=Feed(picture(alerts=(alert(), alert(by="Ana"))))).tally.alerts == "2 alerts, 1 not seen yet"
    assert live().tally.alerts == "no alert"


def test_rejected_input_is_shown_with_its_beginning() -> None:
    row = live(feed=Feed(picture(), rejected=(rejected(b"\x00<b>\\"),))).rejected[0]
    assert (row.count, row.head) == (12, "\\x00<b>\\x5c")


@pytest.mark.parametrize(("kept", "shown"), [(63, "x" * 63), (64, "x" * 64 + "…")])
def test_the_beginning_of_longer_input_shows_that_it_is_cut(kept: int, shown: str) -> None:
    # 64 octets of a message are kept (gateway/wire.py).
    assert live(feed=Feed(picture(), rejected=(rejected(b"x" * kept),))).rejected[0].head == shown


def test_input_rejected_on_another_day_is_dated() -> None:
    row = live(feed=Feed(picture(), rejected=(rejected(at=later(-86_400)),))).rejected[0]
    assert row.last == "Mon 24 Nov 12:00"


def test_bytes_are_shown_so_that_each_can_be_told_from_every_other() -> None:
    assert len({printable(bytes([byte])) for byte in range(256)}) == 256
    assert printable(bytes(range(256))).isascii()


@pytest.mark.parametrize("kind", [SensorKind.TEMPERATURE, SensorKind.LID, SensorKind.TAG])
def test_while_no_sensor_spoke_the_topic_and_a_message_are_given(kind: SensorKind) -> None:
    example = live(sensor("gateway/link", SensorKind.LINK), sensor(kind=kind, value=None)).example
    assert example is not None
    assert example.topic == "sinkside/north/basin-1/temperature"
    (record,) = json.loads(example.message.replace("<seconds since 1970>", str(NOON // SECOND)))
    assert (record["n"], record["t"]) == ("temperature", NOON // SECOND)
    assert set(record) & {"v", "vb", "vs"}
    assert record.get("u", "") == (KINDS[kind].unit if "v" in record else "")


def test_the_message_given_is_one_that_the_gateway_takes() -> None:
    unheard = replace(sensor("basin-1/temperature", value=None), topic=topic("basin-1/temperature"))
    example = live(unheard).example
    assert example is not None
    payload = example.message.replace("<seconds since 1970>", str(NOW_SECONDS)).encode()
    (reading,), rejections = WIRE.decode(example.topic, payload, NOW)
    assert (reading.sensor, reading.value, rejections) == ("basin-1/temperature", 21.5, ())


def test_another_makers_sensor_whose_messages_we_do_not_write_is_no_example() -> None:
    foreign = replace(sensor(value=None), topic="maker/7/state")
    example = live(foreign, sensor("basin-2/lid", SensorKind.LID, value=None)).example
    assert example is not None
    assert example.topic == "sinkside/north/basin-2/lid"


def test_once_a_sensor_spoke_no_example_is_given() -> None:
    assert live(sensor(), sensor("basin-2/temperature", value=None)).example is None


def test_faults_below_are_told() -> None:
    feed = Feed(
        picture(),
        store_trouble="The disk is full.",
        warnings=("0.1 GB are free.",),
        sqlite_warning="SQLite 3.40 has a fault.",
    )
    assert live(feed=feed).warning == "The disk is full. 0.1 GB are free. SQLite 3.40 has a fault."


def test_the_head_of_the_record_can_be_noted_from_the_page() -> None:
    head = RecordHead(12_345, bytes(range(32)), NOON)
    assert live(feed=Feed(picture(), head=head)).record == RecordView("12345:0001-0203-0405-0607", "12:00:00")
    assert live().record is None
