"""Many devices at real brokers, each on a connection of its own."""

import resource
import socket
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from queue import Queue
from typing import TYPE_CHECKING

import pytest

from gateway.broker import EmbeddedBroker
from gateway.broker_options import BrokerOptions
from gateway.clock import Clock
from gateway.endpoint import Endpoint
from rules.readings import SECOND, Micros, SensorId
from rules.site import Site
from sim_devices.chance import Chance
from sim_devices.running.fleet import DIALS_PER_SECOND, MOST_WAITING, Fleet, Utterance
from sim_devices.running.line import MOST_IN_FLIGHT, MOST_KEPT, Line, Login
from sim_devices.sensing.sample import Sample
from sim_devices.speech import Voice
from tests.gateway.conftest import PATIENCE_SECONDS, free_port

if TYPE_CHECKING:
    from tests.gateway.conftest import Ear, Listen, Mosquitto

MANY = 200


def _site(carts: int) -> Site:
    named = [{"id": f"cart-{n}", "name": f"Cart {n}"} for n in range(carts)]
    return Site.model_validate({"site": {"id": "testing", "name": "Testing"}, "cart": named})


@dataclass
class Crowd:
    """A fleet of carts and what it complained of."""

    site: Site
    endpoint: Endpoint
    clock: Clock = field(default_factory=Clock)
    complaints: Queue[str] = field(default_factory=Queue)
    fleet: Fleet = field(init=False)

    def __post_init__(self) -> None:
        things = [cart.id for cart in self.site.cart]
        self.voice = Voice(self.site)
        self.fleet = Fleet(self.endpoint, self.voice, things, self.clock.now, Chance(1), self.complaints.put)
        self.fleet.start()

    def says(self, thing: str, at: Micros, *, rolls: bool = True) -> Utterance:
        return Utterance(at, thing, (self.voice.say(Sample(SensorId(f"{thing}/motion"), at, rolls)),))

    def all_say(self, times: int = 1) -> None:
        """Every device says something, ``times`` times."""
        now = self.clock.now()
        self.fleet.offer(self.says(cart.id, Micros(now + n)) for n in range(times) for cart in self.site.cart)

    def wait_until(self, so: Callable[[], bool]) -> None:
        """Waits for what is no event."""
        for _ in range(int(PATIENCE_SECONDS / 0.02)):
            if so():
                return
            threading.Event().wait(0.02)
        pytest.fail(f"waited in vain: {self.fleet.standing()}")


def _heard(ear: "Ear", many: int) -> set[tuple[str, bytes]]:
    """So many different messages, each acknowledged at once: a broker has only so many on the way.

    At QoS 1 one may come twice, as where the broker waited too long for its acknowledgement.
    """
    heard: set[tuple[str, bytes]] = set()
    while len(heard) < many:
        (delivery,) = ear.hear(1)
        ear.acknowledge(delivery)
        heard.add((delivery.topic, delivery.payload))
    return heard


Gather = Callable[..., Crowd]


@pytest.fixture
def gather() -> Iterator[Gather]:
    """Makes a crowd of so many carts at an address, and stops it after the test."""
    crowds: list[Crowd] = []

    def make(where: str | Endpoint, carts: int = 3) -> Crowd:
        crowds.append(Crowd(_site(carts), Endpoint.of(where) if isinstance(where, str) else where))
        return crowds[-1]

    yield make
    for crowd in crowds:
        crowd.fleet.stop()


def test_two_hundred_devices_each_speak_on_a_connection_of_their_own(
    any_broker: "EmbeddedBroker | Mosquitto", listen: "Listen", gather: Gather
) -> None:
    ear = listen(any_broker.url)
    ear.await_link("up")
    threads = threading.active_count()
    crowd = gather(any_broker.url, MANY)
    crowd.wait_until(lambda: crowd.fleet.standing().up == MANY)
    assert threading.active_count() - threads <= 10
    crowd.all_say()
    heard = _heard(ear, 2 * MANY)
    assert Counter(topic.split("/")[-1] for topic, _ in heard) == {"link": MANY, "motion": MANY}
    assert len({topic for topic, _ in heard}) == 2 * MANY
    crowd.wait_until(lambda: crowd.fleet.standing().acknowledged == 2 * MANY)
    assert crowd.fleet.standing()[3:6] == (2 * MANY, 0, 0)
    assert crowd.complaints.empty()


def test_a_storm_of_connections_is_paced(mosquitto: "Mosquitto", gather: Gather) -> None:
    begun = Clock().now()
    crowd = gather(mosquitto.url, MANY)
    crowd.wait_until(lambda: crowd.fleet.standing().up == MANY)
    assert crowd.clock.now() - begun >= MANY * SECOND // DIALS_PER_SECOND


def test_nothing_is_said_before_its_time(mosquitto: "Mosquitto", listen: "Listen", gather: Gather) -> None:
    ear = listen(mosquitto.url, "sinkside/testing/+/motion")
    ear.await_link("up")
    crowd = gather(mosquitto.url)
    due = Micros(crowd.clock.now() + SECOND)
    crowd.fleet.offer([crowd.says("cart-1", due)])
    (heard,) = ear.hear(1)
    assert heard.arrived >= due


def test_the_last_will_tells_of_a_device_that_is_out_of_reach_and_its_word_that_it_is_back(
    any_broker: "EmbeddedBroker | Mosquitto", listen: "Listen", gather: Gather
) -> None:
    ear = listen(any_broker.url, "sinkside/testing/cart-1/link")
    ear.await_link("up")
    crowd = gather(any_broker.url)
    said = []
    for online in (False, True):
        said += [delivery.payload for delivery in ear.hear(1)]
        crowd.fleet.offer([Utterance(crowd.clock.now(), "cart-1", online=online)])
    said += [delivery.payload for delivery in ear.hear(1)]
    assert said == [b"online", b"offline", b"online"]


def test_devices_come_back_after_the_broker_was_away_and_say_what_they_kept(
    mosquitto: "Mosquitto", listen: "Listen", gather: Gather
) -> None:
    crowd = gather(mosquitto.url)
    crowd.wait_until(lambda: crowd.fleet.standing().up == 3)
    mosquitto.stop()
    crowd.wait_until(lambda: crowd.fleet.standing().up == 0)
    crowd.all_say(times=5)
    crowd.wait_until(lambda: crowd.fleet.standing().waiting >= 15)
    assert "has ended a connection" in crowd.complaints.get(timeout=PATIENCE_SECONDS)
    assert "No broker answers" in crowd.complaints.get(timeout=PATIENCE_SECONDS)
    mosquitto.start()
    ear = listen(mosquitto.url, "sinkside/testing/+/motion")
    ear.await_link("up")
    assert len(_heard(ear, 15)) == 15


def test_whoever_stops_leaves_every_device_offline(mosquitto: "Mosquitto", listen: "Listen", gather: Gather) -> None:
    crowd = gather(mosquitto.url)
    crowd.all_say()
    crowd.wait_until(lambda: crowd.fleet.standing().up == 3)
    crowd.fleet.stop()
    ear = listen(mosquitto.url)
    assert {(each.topic.split("/")[2], each.payload, each.retained) for each in ear.hear(3)} == {
        (f"cart-{n}", b"offline", True) for n in range(3)
    }


def test_a_wrong_address_is_told_in_a_sentence_and_tried_again(gather: Gather) -> None:
    port = free_port()
    crowd = gather(f"mqtt://127.0.0.1:{port}")
    said = crowd.complaints.get(timeout=PATIENCE_SECONDS)
    assert said == (
        f"No broker answers at mqtt://127.0.0.1:{port}: connection refused. It is tried again until one does; check"
        " the address, and whether a broker runs there."
    )
    with socket.create_server(("127.0.0.1", port)) as door:
        door.settimeout(PATIENCE_SECONDS)
        caller, _ = door.accept()
        with caller:
            assert caller.recv(1) == b"\x10"  # CONNECT, MQTT 3.1.1, section 3.1


def test_a_name_that_no_host_has_is_told_in_a_sentence(gather: Gather) -> None:
    crowd = gather("mqtt://nobody.invalid")  # RFC 2606: never a host
    assert "No broker answers at mqtt://nobody.invalid:1883: " in crowd.complaints.get(timeout=PATIENCE_SECONDS)


def test_a_wrong_password_is_told_in_a_sentence(
    tmp_path: Path, gather: Gather, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DEVICE_PASSWORD", "tulip-9-wrong")
    options = BrokerOptions(sync_interval="1s", users={"devices": "rosebud-7"})
    with EmbeddedBroker(tmp_path / "guarded", options=options) as broker:
        crowd = gather(Endpoint.of(broker.url, username="devices", password_env="DEVICE_PASSWORD"), 1)  # noqa: S106 - a name
        said = crowd.complaints.get(timeout=PATIENCE_SECONDS)
        crowd.fleet.stop()
    assert said.startswith(f"The broker at {broker.url} refuses the device 'testing-cart-0': ")
    assert "tulip" not in said


def test_devices_speak_over_an_encrypted_link(
    strict_mosquitto: "Mosquitto", certificates: Path, listen: "Listen", gather: Gather
) -> None:
    strict_mosquitto.settings = (
        f"allow_anonymous true\ncertfile {certificates / 'broker.pem'}\nkeyfile {certificates / 'broker.key'}"
    )
    strict_mosquitto.start()
    url = f"mqtts://127.0.0.1:{strict_mosquitto.port}"
    endpoint = Endpoint.of(url, ca_file=certificates / "ca.pem")
    ear = listen(endpoint, "sinkside/testing/+/motion")
    ear.await_link("up")
    crowd = gather(endpoint)
    crowd.all_say(times=30)
    _heard(ear, 90)
    crowd.wait_until(lambda: crowd.fleet.standing().waiting == 0)
    stranger = gather(Endpoint.of(url, ca_file=certificates / "stranger.pem"), 1)
    assert "its certificate cannot be trusted" in stranger.complaints.get(timeout=PATIENCE_SECONDS)


def test_a_device_that_nobody_hears_keeps_the_newest_only() -> None:
    voice = Voice(_site(1))
    link = voice.link("cart-0", online=True)
    line = Line("testing-cart-0", link, link, Login(), lambda *_: None)
    for second in range(MOST_KEPT + 50):
        line.say([voice.say(Sample(SensorId("cart-0/motion"), Micros(second * SECOND), value=True))])
    assert (line.waiting, line.lost) == (MOST_KEPT, 50)


def test_a_broker_that_acknowledges_nothing_gets_no_more_than_a_window(gather: Gather) -> None:
    with socket.create_server(("127.0.0.1", 0)) as door:
        door.settimeout(PATIENCE_SECONDS)
        crowd = gather(f"mqtt://127.0.0.1:{door.getsockname()[1]}", 1)
        mute, _ = door.accept()
        with mute:
            mute.sendall(b"\x20\x02\x00\x00")  # CONNACK, accepted: MQTT 3.1.1, section 3.2
            crowd.wait_until(lambda: crowd.fleet.standing().up == 1)
            crowd.all_say(times=2 * MOST_KEPT)
            crowd.wait_until(lambda: crowd.fleet.standing().lost > 0)
            crowd.wait_until(lambda: crowd.fleet.standing().said == 2 * MOST_KEPT)
            # ``online`` is one of the window.
            assert crowd.fleet.standing()[3:6] == (0, MOST_IN_FLIGHT + MOST_KEPT, MOST_KEPT - MOST_IN_FLIGHT + 1)
        crowd.fleet.stop()


def test_whoever_has_too_much_to_say_waits(gather: Gather) -> None:
    crowd = gather(f"mqtt://127.0.0.1:{free_port()}", 1)
    never = Micros(crowd.clock.now() + 3600 * SECOND)
    crowd.fleet.offer(crowd.says("cart-0", never) for _ in range(MOST_WAITING))
    last = threading.Thread(target=crowd.fleet.offer, args=([crowd.says("cart-0", never)],))
    last.start()
    last.join(0.1)
    assert last.is_alive()
    crowd.fleet.stop()
    last.join(PATIENCE_SECONDS)
    assert not last.is_alive()


def test_more_devices_than_the_system_allows_is_told_in_a_sentence() -> None:
    code = (
        "import resource; resource.setrlimit(resource.RLIMIT_NOFILE, (100, 150))\n"
        "from sim_devices.running.open_files import allow\n"
        "allow(80); print(resource.getrlimit(resource.RLIMIT_NOFILE)[0])\n"
        "try: allow(2000)\n"
        "except RuntimeError as error: print(error)\n"
    )
    assert resource.getrlimit(resource.RLIMIT_NOFILE)[0] > 150
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)  # noqa: S603 - ours
    assert done.stdout == (
        "144\n2,000 devices need 2,064 open files, and this system allows a process 150: raise that limit, or simulate"
        " a smaller site.\n"
    )
