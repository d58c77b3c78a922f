"""The demo's department at a real broker: it goes on where it stopped, and everything is entered once."""

import threading
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from queue import Empty, Queue
from typing import Any

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from gateway.broker import EmbeddedBroker
from gateway.endpoint import Endpoint
from gateway.sitefile import load
from gateway.wire import Wire, topics_of
from rules.commands import Entry, Vouch
from rules.engine import Engine
from rules.picture import Picture
from rules.probe_words import Place
from rules.readings import GATEWAY_LINK, GATEWAY_STORE, KINDS, SECOND, Micros, Reading, SensorId
from rules.ruleset import load_book
from rules.site import Label, Site
from sim_devices.demo import LONGEST_LIFE_SECONDS, SITE_FILE, Demo, going_on, opened, relived
from sim_devices.diary import Diary
from sim_devices.troubles.look import Look
from sim_devices.ward.deeds import Drop, SetCelsius
from tests.rules.feeder import LABELS, STANDARD
from tests.sim_devices.conftest import EPOCH

PATIENCE_SECONDS = 30
HOUR = 3600


def at(seconds: float) -> Micros:
    return Micros(EPOCH + round(seconds * SECOND))


class Listener:
    """Subscribed to everything of the site, before the devices speak."""

    def __init__(self, site: Site, port: int) -> None:
        self.wire, self.now, self.readings = Wire(site), EPOCH, Queue[Reading]()
        self.topics = topics_of(site, all_sites=False)
        self.client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id="listener")
        self.client.on_message = self._hear
        self.client.on_connect = self._subscribe
        self.subscribed = threading.Event()
        self.client.on_subscribe = lambda *_: self.subscribed.set()
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        assert self.subscribed.wait(PATIENCE_SECONDS)

    def _subscribe(self, client: mqtt.Client, *_: Any) -> None:
        client.subscribe([(topic, 1) for topic in self.topics])

    def _hear(self, _client: Any, _data: Any, message: mqtt.MQTTMessage) -> None:
        for reading in self.wire.decode(message.topic, bytes(message.payload), self.now).readings:
            self.readings.put(reading)

    def until(self, enough: Callable[[list[Reading]], bool]) -> list[Reading]:
        """What is heard until that is enough."""
        heard: list[Reading] = []
        while not enough(heard):
            try:
                heard.append(self.readings.get(timeout=PATIENCE_SECONDS))
            except Empty:
                pytest.fail(f"not enough after {len(heard)} readings: {heard[-3:]}")
        return heard

    def close(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()


@pytest.fixture
def endpoint(tmp_path: Path) -> Iterator[Endpoint]:
    with EmbeddedBroker(tmp_path / "broker") as running:
        yield Endpoint("127.0.0.1", running.port)


@pytest.fixture
def listener(site: Site, endpoint: Endpoint) -> Iterator[Listener]:
    listening = Listener(site, endpoint.port)
    yield listening
    listening.close()


@pytest.fixture
def picture(site: Site) -> Picture:
    """Before anything was heard."""
    return Engine(site, load_book(site, STANDARD, LABELS)).picture()


def test_the_demos_site_file_loads_with_its_labels() -> None:
    setup = load(SITE_FILE)
    assert {basin.label for basin in setup.file.basin} <= set(setup.book.labels)


def test_it_tells_at_once_what_it_is_at_and_enters_everything_once_also_after_a_second_start(
    site: Site, labels: Mapping[str, Label], endpoint: Endpoint, listener: Listener, tmp_path: Path, picture: Picture
) -> None:
    clock = [at(0)]
    demo = Demo(site, labels, tmp_path, endpoint, lambda: clock[0])
    demo.start()
    told = demo.entries(picture)
    assert sum(isinstance(entry, Vouch) for entry in told) == len(site.probe)
    assert all(entry.arrived == at(0) for entry in told)
    assert demo.entries(picture) == []
    clock[0] = listener.now = at(12)
    everybody = {s.id for s in site.sensors().values() if not KINDS[s.kind].momentary} - {GATEWAY_LINK, GATEWAY_STORE}
    heard = listener.until(lambda readings: {reading.sensor for reading in readings} >= everybody)
    # What basins remember of the time before: the lid was closed 430 s before the start (first_minutes.toml).
    lids = [r.measured for r in heard if r.sensor == SensorId("basin-1/lid") and r.value is True]
    assert min(abs(measured - at(-430)) for measured in lids) < 2 * SECOND
    assert any(r.value is True for r in heard if r.sensor == "cart-1/motion")
    demo.stop()
    diary = Diary.opened(tmp_path, at(12), 0)
    assert (diary.epoch, diary.heard) == (at(0), at(12 - 30))

    clock[0] = listener.now = at(300)
    again = Demo(site, labels, tmp_path, endpoint, lambda: clock[0])
    again.start()
    more = again.entries(picture)
    assert again.entries(picture) == []
    again.stop()
    assert more
    assert not {_what(entry) for entry in told} & {_what(entry) for entry in more}
    assert Diary.opened(tmp_path, at(300), 0).entered == at(300)


def _what(entry: Entry) -> str:
    return entry.model_copy(update={"arrived": EPOCH}).model_dump_json()


def test_the_same_life_is_lived_again(site: Site, labels: Mapping[str, Label]) -> None:
    first = Diary(seed=7, epoch=at(0))
    lived = relived(site, labels, first, at(1000)).ward.log
    again = relived(site, labels, first.model_copy(update={"heard": at(500)}), at(2000)).ward.log
    deeds = [[done for done in log if done[1].do != "network"] for log in (lived, again)]
    assert deeds[0] == deeds[1][: len(deeds[0])]
    assert len(deeds[1]) > len(deeds[0]) > 100


def test_what_hands_did_is_done_again_in_the_life_that_is_lived_again(site: Site, labels: Mapping[str, Label]) -> None:
    diary = Diary(seed=7, epoch=at(0))
    first = relived(site, labels, diary, at(1000))
    list(first.sent(first.ward.epoch, at(1000)))
    for deed in (Drop(probe=site.probe[0].id, height_m=1), SetCelsius(basin=site.basin[0].id, celsius=12)):
        diary = diary.with_deed(first.do(deed, first.lived), deed)
    first.live(at(1300))
    again = relived(site, labels, diary, at(2000))
    # Of each start alone are the network that comes back and the words for probes that nobody watched.
    logs = [[done for done in one.ward.log if done[1].do not in ("network", "vouch-for")] for one in (first, again)]
    assert [done for done in logs[0] if done[1].do in ("drop", "set-celsius")][-2:] == [
        (one.at, one.deed) for one in diary.by_hand
    ]
    assert [done for done in logs[1] if done[0] <= at(1300)] == logs[0]


def test_after_a_time_in_which_nobody_watched_somebody_answers_for_the_probes_that_hang_ready(
    site: Site, labels: Mapping[str, Label]
) -> None:
    begun = at(2 * HOUR)
    simulation = relived(site, labels, Diary(seed=7, epoch=at(0), heard=at(500)), begun)
    simulation.live(at(2 * HOUR + 60))
    vouched = [entry for entry in simulation.entries(begun, at(2 * HOUR + 60)) if isinstance(entry, Vouch)]
    assert 5 < len(vouched) < len(site.probe)
    standings = Look.back(simulation.ward, at(2 * HOUR + 60)).standings
    for entry in vouched:
        truth = standings[entry.probe].truth(entry.happened)
        assert (truth.is_fit, truth.place) == (True, Place.HOOK)


def test_a_life_that_was_long_is_followed_by_another_that_begins_then(site: Site, labels: Mapping[str, Label]) -> None:
    old = Diary(seed=7, epoch=at(0), heard=at(100), entered=at(100))
    assert going_on(old, at(LONGEST_LIFE_SECONDS - 1)) == old
    begun = at(LONGEST_LIFE_SECONDS)
    new = going_on(old, begun)
    assert opened(new) == begun
    assert new.seed != old.seed
    # Nothing is told of before, which would contradict what the record knows of then.
    simulation = relived(site, labels, new, begun)
    assert not list(simulation.sent(Micros(begun - 1), begun))
    assert all(entry.happened >= begun for entry in simulation.entries(opened(new), begun))
