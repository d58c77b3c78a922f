"""A whole simulated ward, lived through and written into a journal."""

from pathlib import Path
from typing import NamedTuple

import pytest

from gateway.recording import Law, law_of
from gateway.wire import Wire
from rules.readings import DAY, SECOND, Micros, SensorId, SensorKind
from sim_devices.running.days import write_days
from sim_devices.running.figures import FIGURES
from sim_devices.running.heard import Heard
from sim_devices.running.hospital import hospital_text
from sim_devices.running.simulation import Simulation
from sim_devices.speech import Voice
from sim_devices.troubles.table import Run
from sim_devices.ward.deeds import Defect, Heater, Network, Power, SetClock, WipeDown

SINCE = Micros(1_790_035_200 * SECOND)
HOUR = 3600 * SECOND
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
    """A small hospital with one thermometer of another maker."""
    ours = '[[sensor]]\nthing = "basin-2"\nname = "temperature"\nkind = "temperature"\nreport_seconds = 10\n'
    text = hospital_text(3, 2)
    assert ours in text
    return law_of(text.replace(ours, FOREIGN))


def simulated(law: Law, seed: int = SEED) -> Simulation:
    """A ward in which sensors and devices of all sorts go wrong, too."""
    at = [Micros(SINCE + minutes * 60 * SECOND) for minutes in range(20, 200, 20)]
    plan = [
        (at[0], Defect(sensor="basin-1/vapour", how="spoilt", by=0.7)),
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
