"""A simulated ward at a real broker, from the command line too."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from gateway.cli import main
from gateway.clock import Clock
from gateway.endpoint import Endpoint
from gateway.hands import HandsError
from gateway.inbox import Delivery
from gateway.recording import Law, law_of
from gateway.wire import Wire
from rules.readings import Reading, SensorId
from sim_devices.running.at_broker import AtBroker
from sim_devices.running.figures import FIGURES, Figures, groups
from sim_devices.running.hand_topics import DistantHands
from sim_devices.running.hospital import hospital_text
from sim_devices.running.simulation import Simulation
from sim_devices.sensing.radio_figures import RADIO, RadioFigures
from tests.gateway.conftest import PATIENCE_SECONDS, free_port

if TYPE_CHECKING:
    from collections.abc import Callable

    from gateway.broker import EmbeddedBroker
    from tests.gateway.conftest import Device, Ear, Listen, Mosquitto

pytestmark = pytest.mark.slow

SEED = 3
EVERYTHING = "sinkside/generated/+/+"
SHORT = {"carts": 2, "basins": 1}


@pytest.fixture(scope="module")
def law() -> Law:
    return law_of(hospital_text(**SHORT))


class Heard:
    """What a gateway would make of what comes, each message acknowledged."""

    def __init__(self, law: Law, ear: "Ear") -> None:
        self._wire, self._ear = Wire(law.site), ear

    def next(self) -> tuple[Delivery, tuple[Reading, ...]]:
        (delivery,) = self._ear.hear(1)
        self._ear.acknowledge(delivery)
        readings, rejected = self._wire.decode(delivery.topic, delivery.payload, delivery.arrived)
        assert rejected == ()
        return delivery, readings

    def await_reading(self, sensor: str, value: object) -> Reading:
        """The next that the sensor says so."""
        for _ in range(5000):
            for reading in self.next()[1]:
                if (reading.sensor, reading.value) == (SensorId(sensor), value):
                    return reading
        pytest.fail(f"{sensor} never said {value}")

    def await_links(self, things: set[str]) -> None:
        """Until all of them have said that they are online, in any order."""
        missing = {SensorId(f"{thing}/link") for thing in things}
        while missing:
            missing -= {reading.sensor for reading in self.next()[1] if reading.value is True}


@pytest.fixture
def running(law: Law, mosquitto: "Mosquitto") -> Iterator[AtBroker]:
    """A ward in real time in which nobody acts but hands, and no message is lost."""
    now = Clock().now
    figures = Figures(radio=RadioFigures(lost_share=0, late_share=0, dropout_every_hours=0))
    simulation = Simulation(law.site, law.book.labels, now(), SEED, None, figures=figures)
    with AtBroker(law.site, simulation, Endpoint.of(mosquitto.url), now) as ward:
        yield ward


def test_a_ward_lives_beside_the_clock_and_hands_act_in_it(
    law: Law, mosquitto: "Mosquitto", listen: "Listen", running: AtBroker
) -> None:
    ear = listen(mosquitto.url, EVERYTHING)
    heard = Heard(law, ear)
    ear.await_link("up")
    heard.await_links({"basin-1", "cart-1", "cart-2"})
    running.hands.do({"do": "network", "thing": "", "up": "yes"})
    distant = DistantHands(Endpoint.of(mosquitto.url), law.site)
    assert distant.do({"do": "mains", "cart": "cart-2", "plugged_in": "no"}).endswith(
        ": Plug a cart in or out - Cart 2, plugged in: no."
    )
    pulled = heard.await_reading("cart-2/mains", False)  # noqa: FBT003 - a reading's value
    ahead = RADIO.clock_ppm * RADIO.sync_hours * 3600  # microseconds by which a cart's clock may be
    assert -ahead <= pulled.arrived - pulled.measured <= PATIENCE_SECONDS * 1e6
    with pytest.raises(HandsError, match="cart-9"):
        distant.do({"do": "roll", "cart": "cart-9"})
    assert running.failure is None


def test_at_speed_a_gateway_still_takes_every_time(law: Law, mosquitto: "Mosquitto", listen: "Listen") -> None:
    ear, now = listen(mosquitto.url, EVERYTHING), Clock().now
    ear.await_link("up")
    simulation = Simulation(law.site, law.book.labels, now(), SEED, FIGURES, figures=FIGURES)
    with AtBroker(law.site, simulation, Endpoint.of(mosquitto.url), now, speed=120):
        heard = Heard(law, ear)
        timed = [reading for _ in range(150) for reading in heard.next()[1] if reading.timed]
    assert len(timed) > 100
    assert all(reading.measured <= reading.arrived for reading in timed if not reading.sensor.startswith("cart"))


# ---- the command line -----------------------------------------------------------------------------------------------


def _said(*words: str, code: int = 0) -> str:
    done = CliRunner().invoke(main, words)
    assert done.exit_code == code, done.output
    return done.output


@pytest.fixture(scope="module")
def site_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("site") / "generated.toml"
    path.write_text(hospital_text(**SHORT), encoding="utf-8")
    return path


def test_every_figure_is_told_with_unit_range_and_source() -> None:
    said = _said("simulate", "--figures")
    known = [figure for group in groups() for figure in group.figures]
    assert len(known) > 100
    for figure in known:
        assert f"  {figure.name} = " in said
        assert f"{figure.text}; {figure.source}" in said


def test_simulating_at_a_broker_ends_by_itself_when_asked_to(site_file: Path, mosquitto: "Mosquitto") -> None:
    said = _said("simulate", str(site_file), "--mqtt", mosquitto.url, "--speed", "60", "--minutes", "0.02")
    assert f"Simulates Generated hospital at {mosquitto.url}: 5 devices. Ctrl-C ends it." in said
    assert "At speed 60 all lasts 60 times as short" in said


def test_no_simulated_device_speaks_for_one_that_is_online(
    site_file: Path, any_broker: "EmbeddedBroker | Mosquitto", device: "Callable[[int], Device]"
) -> None:
    real = device(any_broker.port)
    real.say("sinkside/generated/cart-1/link", "offline", retain=True)
    real.say("sinkside/generated/cart-2/link", "online", retain=True)
    real.say("sinkside/generated/stranger/link", "online", retain=True)
    words = ("simulate", str(site_file), "--mqtt", any_broker.url, "--minutes", "0.01")
    said = _said(*words, code=1)
    assert f"1 devices of the site 'generated' are online at {any_broker.url} (cart-2), and a gateway" in said
    assert "Simulates Generated hospital" in _said(*words, "--beside")
    assert "Simulates Generated hospital" in _said(*words)  # whoever leaves says so


def test_simulating_where_no_broker_is_tells_so(site_file: Path) -> None:
    url = f"mqtt://127.0.0.1:{free_port()}"
    said = _said("simulate", str(site_file), "--mqtt", url, "--minutes", "0.01")
    assert f"Warning: No broker answers at {url}: connection refused." in said


def test_days_are_written_from_the_command_line(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    words = (
        "simulate",
        "--carts",
        "1",
        "--basins",
        "1",
        "--into",
        str(folder),
        "--days",
        "1",
        "--start",
        "2026-03-02 00:00",
    )
    said = _said(*words)
    assert "day 1 of 1 is written" in said
    assert "1 days from 2026-03-02 00:00" in said
    assert "Every event comes out as it was recorded." in _said("verify", str(folder))
    assert "is not empty" in _said(*words, code=1)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("simulate", "Say where it goes: --mqtt URL for a broker, or --into DIR for a journal."),
        ("simulate --into x --mqtt mqtt://y", "Say where it goes"),
        ("simulate --into x --carts 3", "Name a site file, or a hospital to be generated with --carts and --basins."),
        ("simulate SITE --mqtt http://y", "broker address 'http://y' cannot be used; expected mqtt://host:port"),
        ("simulate SITE --into x --habits HABITS", "habits.toml, line 2: [soaks], key 'cut_short': "),
        ("simulate SITE --into x --start yesterday", "'yesterday'"),
        ("hand SITE", "Name a deed, such as open-lid basin=basin-1; --list tells all of them."),
        ("hand SITE opn-lid", "there is no deed 'opn-lid'; perhaps 'open-lid' is meant"),
        ("hand SITE --mqtt mqtt://127.0.0.1:1 roll cart=cart-1", "no broker answers at mqtt://127.0.0.1:1"),
    ],
)
def test_mistakes_are_told_in_a_sentence(
    words: str, told: str, site_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "habits.toml").write_text("[soaks]\ncut_short = 1\n", encoding="utf-8")
    given = words.replace("SITE", str(site_file)).replace("HABITS", "habits.toml").split()
    done = CliRunner().invoke(main, given)
    assert done.exit_code in (1, 2)
    assert told in done.output
    assert "Traceback" not in done.output


def test_hand_lists_deeds_with_their_keys(site_file: Path) -> None:
    said = _said("hand", str(site_file), "--list")
    assert "open-lid basin=...\n    The lid is lifted.\n    basin: basin-1\n" in said
