"""A whole simulated ward, lived through and written into a journal."""

import gc
import os
import sqlite3
import subprocess
import sys
from contextlib import closing, suppress
from hashlib import sha256
from itertools import chain, pairwise
from pathlib import Path
from typing import NamedTuple

import pytest

from gateway.record_check import check_record
from gateway.recording import JournalError, Law, Recording, law_of
from gateway.replay import verify
from gateway.schema import DATABASE
from gateway.wire import Wire
from rules.readings import DAY, GATEWAY_LINK, GATEWAY_STORE, SECOND, Micros, Reading, SensorId, SensorKind
from sim_devices.running.days import write_days
from sim_devices.running.figures import FIGURES, Figures
from sim_devices.running.heard import Heard
from sim_devices.running.hospital import hospital_text
from sim_devices.running.simulation import Simulation
from sim_devices.sensing.radio_figures import RadioFigures
from sim_devices.speech import Voice
from sim_devices.troubles.episode import Trouble
from sim_devices.troubles.table import TRUTH_FILE, Run, read_truth
from sim_devices.ward.deeds import Deed, Defect, Drop, Heater, Network, OpenLid, Pour, Power, Roll, SetClock, WipeDown
from sim_devices.ward.refusal import DeedError

pytestmark = pytest.mark.slow

SINCE = Micros(1_790_035_200 * SECOND)
HOUR = 3600 * SECOND
LINKS = {"basin-1/link", "cart-1/link", "cart-2/link"}
SEED = 5
FOREIGN = """
[[sensor]]
thing = "basin-2"
name = "temperature"
kind = "temperature"
topic = "maker/basin-2"
value = "/t"
unit = "degF"
time = "/at"
time_form = "ms"
report_seconds = 10
"""


@pytest.fixture(scope="module")
def law() -> Law:
    """A small hospital with one thermometer of another maker, and a sink without a reader: there people enter."""
    reader = '[[sensor]]\nthing = "room-1"\nname = "tag"\nkind = "tag"\nreport_seconds = 120\n'
    ours = '[[sensor]]\nthing = "basin-2"\nname = "temperature"\nkind = "temperature"\nreport_seconds = 10\n'
    text = hospital_text(3, 2)
    assert ours in text
    assert reader in text
    return law_of(text.replace(ours, FOREIGN).replace(reader, ""))


def simulated(law: Law, seed: int = SEED) -> Simulation:
    """A ward in which sensors and devices of all sorts go wrong, too."""
    at = [Micros(SINCE + minutes * 60 * SECOND) for minutes in range(20, 200, 20)]
    plan: list[tuple[Micros, Deed]] = [
        (at[0], Defect(sensor=SensorId("basin-1/vapour"), how="spoilt", by=0.7)),
        (at[1], Network(thing="basin-1", up=False)),
        (at[2], Network(thing="basin-1", up=True)),
        (at[3], SetClock(thing="cart-1", ahead_seconds=3600)),
        (at[4], Power(thing="cart-2", on=False)),
        (at[5], Power(thing="cart-2", on=True)),
        (at[6], SetClock(thing="cart-1", ahead_seconds=0)),
        (at[7], Heater(basin="basin-1", works=False)),
    ]
    return Simulation(law.site, law.book.labels, SINCE, seed, FIGURES, plan, FIGURES)


class Written(NamedTuple):
    folder: Path
    run: Run
    told: list[int]


def written(folder: Path, law: Law, seed: int = SEED, hours: int = 12) -> Written:
    run = Run(site=law.site.site.id, seed=seed, since=SINCE, until=Micros(SINCE + hours * HOUR))
    told: list[int] = []
    write_days(folder, law, simulated(law, seed), run, told.append)
    return Written(folder, run, told)


@pytest.fixture(scope="module")
def days(law: Law, tmp_path_factory: pytest.TempPathFactory) -> Written:
    return written(tmp_path_factory.mktemp("simulated") / "data", law, hours=25)


# ---- what is sent ---------------------------------------------------------------------------------------------------


def test_what_is_done_at_the_very_instant_up_to_which_all_was_heard_is_heard_next(law: Law) -> None:
    simulation, until = Simulation(law.site, law.book.labels, SINCE, SEED, None), Micros(SINCE + HOUR)
    simulation.live(until)
    list(simulation.sent(SINCE, until))
    simulation.do(WipeDown(cart="cart-1"), simulation.lived)
    simulation.live(Micros(until + 600 * SECOND))
    samples = [s for sent in simulation.sent(until, Micros(until + 600 * SECOND)) for s in sent.samples]
    assert True in [s.value for s in samples if s.sensor == SensorId("cart-1/wiped")]


def test_what_a_file_of_habits_says_of_heat_vapour_and_falls_holds_in_the_ward(law: Law) -> None:
    physics = {"heat": {"heater_watts": 0}, "vapour": {"lid_ppm_per_hour": 5}, "fall": {"impact_seconds": 0.04}}
    ours = Figures.model_validate({"physics": physics, "ward": {"room_celsius": 15, "air_changes_per_hour": 10}})
    simulation = Simulation(law.site, law.book.labels, SINCE, SEED, None, figures=ours)
    for deed in (OpenLid(basin="basin-1"), Pour(basin="basin-1", celsius=30), Drop(probe=law.site.probe[0].id)):
        simulation.do(deed, SINCE)
    ward, until = simulation.ward, Micros(SINCE + DAY)
    assert ward.basins["basin-1"].heat.celsius(until) == pytest.approx(15, abs=0.01)
    # Steady state of a well-mixed room: emission by air changes.
    assert ward.rooms["room-1"].vapour.ppm(until) == pytest.approx(0.5)
    assert ward.physics.fall.impact_seconds == 0.04


def test_what_is_heard_directly_is_what_is_encoded_and_decoded_for_all_kinds_on_a_day(law: Law) -> None:
    simulation, heard, until = simulated(law), Heard(law.site), Micros(SINCE + DAY)
    simulation.live(until)
    sent = list(simulation.sent(SINCE, until))
    voice, wire = Voice(law.site), Wire(law.site)
    kinds: set[SensorKind] = set()
    sensors = law.site.sensors()
    for each in sent:
        said = voice.recall(each.samples) if each.buffered else (voice.say(s, each.spoilt) for s in each.samples)
        decoded = [reading for m in said for reading in wire.decode(m.topic, m.payload, each.at).readings]
        assert list(heard.readings(each)) == decoded
        kinds |= {sensors[reading.sensor].kind for reading in decoded}
    assert any(each.buffered for each in sent)
    assert any(each.spoilt for each in sent)
    told = {sensor.kind for sensor in sensors.values() if sensor.thing != "gateway"}
    assert told - kinds <= {SensorKind.SHOCK}, "every kind that the site has spoke, but for knocks, which are rare"


# ---- a journal of days ----------------------------------------------------------------------------------------------


def test_a_journal_of_simulated_days_is_sound_and_comes_out_again(days: Written) -> None:
    assert days.told == [1]
    assert check_record(days.folder / DATABASE).is_sound
    assert verify(days.folder / DATABASE).is_sound


def test_it_begins_and_goes_on_as_that_of_a_gateway(days: Written) -> None:
    with Recording.open(days.folder) as recorded:
        inputs = list(chain.from_iterable(recorded.inputs()))
        assert recorded.stretch.until == days.run.until
    said = [(item.sensor, item.value) for item in inputs[:3] if isinstance(item, Reading)]
    assert said == [(GATEWAY_LINK, False), (GATEWAY_STORE, True), (GATEWAY_LINK, True)]
    assert all(one.arrived <= other.arrived for one, other in pairwise(inputs))
    timed = [(item.sensor, item.measured, item.value) for item in inputs if isinstance(item, Reading) and item.timed]
    assert len(timed) == len(set(timed)), "what came twice is written once"
    assert {item.kind for item in inputs if not isinstance(item, Reading)} >= {
        "contact",
        "placed",
        "strip read",
        "steps done",
    }


def test_the_truth_beside_it_is_what_went_wrong_in_the_ward(days: Written, law: Law) -> None:
    again = simulated(law)
    again.live(days.run.until)
    found = read_truth(days.folder / TRUTH_FILE)
    assert found.run == days.run
    assert list(found.episodes) == again.episodes(days.run.since, days.run.until)
    assert found.episodes


def fingerprint(folder: Path, seed: int) -> str:
    """Of the record and of the truth of a simulated hour."""
    written(folder, law_of(hospital_text(2, 1)), seed, hours=1)
    truth = sha256((folder / TRUTH_FILE).read_bytes()).hexdigest()
    with closing(sqlite3.connect(folder / DATABASE)) as record:
        rows = [record.execute(f"SELECT * FROM {name} ORDER BY 1").fetchall() for name in ("sensor", "input", "event")]  # noqa: S608 - ours
    return f"{check_record(folder / DATABASE).tree.root.hex()} {truth} {sha256(repr(rows).encode()).hexdigest()}"


def test_the_same_seed_gives_the_same_record_and_the_same_truth_in_every_process(tmp_path: Path) -> None:
    code = "from tests.sim_devices.running.test_simulation import *; print(fingerprint(Path(sys.argv[1]), 3))"
    surroundings = os.environ | {"PYTHONHASHSEED": "2", "PYTHONPATH": os.pathsep.join(sys.path)}
    command = [sys.executable, "-c", code, str(tmp_path / "one")]
    elsewhere = subprocess.run(command, capture_output=True, text=True, check=True, env=surroundings)  # noqa: S603 - ours
    assert fingerprint(tmp_path / "two", 3) == elsewhere.stdout.strip()
    assert fingerprint(tmp_path / "three", 4).split()[0] != elsewhere.stdout.split()[0]


def test_a_folder_that_holds_something_is_left_as_it_is(tmp_path: Path, law: Law) -> None:
    (tmp_path / "letter").write_text("dear", encoding="utf-8")
    with pytest.raises(JournalError, match="is not empty"):
        written(tmp_path, law)
    assert gc.isenabled()  # as before, though it is not while days are written


# ---- deeds from outside ---------------------------------------------------------------------------------------------


def test_people_go_on_around_what_hands_do(law: Law) -> None:
    simulation = simulated(law)
    for minute in range(1, 300):
        at = Micros(SINCE + minute * 60 * SECOND)
        with suppress(DeedError):
            simulation.do(OpenLid(basin="basin-1"), at)
        simulation.do(Roll(cart="cart-1"), at)
    simulation.live(Micros(SINCE + 6 * HOUR))
    assert simulation.lived == SINCE + 6 * HOUR


def test_nothing_is_done_in_the_past(law: Law) -> None:
    simulation = Simulation(law.site, law.book.labels, SINCE, SEED, None)
    simulation.do(Roll(cart="cart-1"), Micros(SINCE + 60 * SECOND))
    with pytest.raises(DeedError, match="before what was done last"):
        simulation.do(Roll(cart="cart-2"), Micros(SINCE + 59 * SECOND))


def test_without_habits_nobody_does_anything_but_what_is_planned(law: Law) -> None:
    plan: list[tuple[Micros, Deed]] = [(Micros(SINCE + 60 * SECOND), Roll(cart="cart-1"))]
    simulation = Simulation(law.site, law.book.labels, SINCE, SEED, None, plan)
    simulation.live(Micros(SINCE + DAY))
    assert simulation.ward.log == plan


def test_a_device_that_is_out_of_reach_by_bad_luck_really_was(law: Law) -> None:
    radio = RadioFigures(dropout_every_hours=1, most_dropout_seconds=400)
    simulation = Simulation(law.site, law.book.labels, SINCE, SEED, None, (), Figures(radio=radio))
    until = Micros(SINCE + 4 * HOUR)
    simulation.live(until)
    sent = simulation.sent(SINCE, until)
    given_up = {(s.sensor, s.measured) for each in sent for s in each.samples if s.sensor in LINKS and not s.value}
    found = simulation.episodes(SINCE, until)
    away = [e for e in found if e.trouble is Trouble.DEVICE_OFFLINE and e.subject.id in LINKS and e.end is not None]
    # The broker gives a device up 1.5 times its keepalive after it was last heard (MQTT 3.1.1, 3.1.2.10).
    patience = round(1.5 * radio.keepalive_seconds * SECOND)
    assert len(away) > 3
    assert {(e.subject.id, e.start + patience) for e in away} <= given_up
    assert all(60 * SECOND <= e.end - e.start <= 400 * SECOND for e in away if e.end is not None)
