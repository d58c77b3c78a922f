"""The pump when the disk or the database refuses."""

from collections.abc import Callable

from gateway.journal import Batch
from gateway.schema import DATABASE
from rules.events import AlertOver, AlertRaised
from rules.readings import GATEWAY_STORE
from tests.gateway.ward import START, Ward


def test_while_the_database_is_locked_nothing_is_acknowledged_or_answered_and_screens_say_so(
    ward: Ward, locked: Callable[[], None]
) -> None:
    ward.say("basin-1/temperature", 20.5, 0)
    answer = ward.ask("alert-1")
    for _ in range(3):
        ward.step(1)
    assert (ward.acknowledged, answer.done()) == ([], False)
    assert "locked" in (ward.feeds[-1].store_trouble or "")
    assert ward.feeds[-1].picture.basins[0].celsius == 20.5
    locked()
    ward.step(1)
    assert (len(ward.acknowledged), answer.done()) == (1, True)
    assert ward.feeds[-1].store_trouble is None


def test_trouble_is_in_the_record_as_an_alert_raised_and_over(ward: Ward, locked: Callable[[], None]) -> None:
    ward.say("basin-1/temperature", 20.5, 0)
    ward.step(1)
    began = ward.now
    ward.step(30)
    locked()
    ward.step(1)
    words = [(bool(reading.value), reading.measured) for reading in ward.readings_of(GATEWAY_STORE)]
    assert words[1:] == [(False, began), (True, ward.now)]
    (raised,) = (e for e in ward.events() if isinstance(e, AlertRaised) and e.rule == "gateway-cannot-store")
    (over,) = (e for e in ward.events() if isinstance(e, AlertOver) and e.alert == raised.alert)
    assert raised.at == over.at == ward.now


def test_alerts_in_trouble_go_to_the_screens_from_memory_but_not_to_mqtt(
    ward: Ward, locked: Callable[[], None]
) -> None:
    ward.connect(connected=False)
    ward.step()
    ward.step(10)
    assert [alert.rule for alert in ward.feeds[-1].picture.alerts] == ["gateway-cut-off"]
    assert not ward.alerts
    locked()
    ward.step(1)
    assert [alert.rule for alert in ward.alerts] == ["gateway-cut-off"]


def test_a_full_disk_loses_nothing_and_recovers_by_itself(ward: Ward) -> None:
    pages = ward.journal._db.execute("PRAGMA page_count").fetchone()[0]
    ward.journal._db.execute(f"PRAGMA max_page_count = {pages}")
    for at in range(2000):
        ward.say("basin-1/temperature", 20.0 + at / 1000, at / 1000)
    ward.step(3)
    ward.step(1)
    assert "full" in (ward.feeds[-1].store_trouble or "")
    assert ward.acknowledged == []
    ward.journal._db.execute("PRAGMA max_page_count = 1073741823")
    for _ in range(5):
        ward.step(1)
    assert len(ward.acknowledged) == 2000
    assert [reading.value for reading in ward.readings_of("basin-1/temperature")] == [
        20.0 + n / 1000 for n in range(2000)
    ]


def test_the_log_is_shortened_on_request(ward: Ward) -> None:
    ward.journal.commit(Batch(clock=START))
    assert (ward.folder / f"{DATABASE}-wal").stat().st_size > 0
    ward.pump.shorten_log()
    ward.step(0)
    assert (ward.folder / f"{DATABASE}-wal").stat().st_size == 0
