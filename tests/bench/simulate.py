"""What simulating costs: python -m tests.bench.simulate [DEVICES] [SECONDS].

Simulated days a second of a hospital of 60 carts and 8 basins: people only, with all that is sent, and into a journal;
then how many devices one process holds in real time at the embedded broker, how many messages a second that is, and how
late they are sent. Each has its floor, taken in the same run.
"""

import gc
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from gateway.broker import EmbeddedBroker
from gateway.clock import Clock
from gateway.endpoint import Endpoint
from gateway.recording import Law, Recording, Writer, law_of
from rules.readings import DAY, SECOND, Micros, Reading, SensorId
from sim_devices.chance import Chance
from sim_devices.running.at_broker import AtBroker
from sim_devices.running.days import write_days
from sim_devices.running.figures import FIGURES
from sim_devices.running.fleet import Fleet, Utterance
from sim_devices.running.hospital import hospital_text
from sim_devices.running.simulation import Simulation
from sim_devices.sensing.sample import Sample
from sim_devices.speech import Voice
from sim_devices.troubles.table import Run
from tests.bench.traffic import Publisher, say

CARTS, BASINS, SEED = 60, 8, 7
LIFE_DAYS = 7
SINCE = Micros(1_790_035_200 * SECOND)
"""A Tuesday, in 2026."""

DEVICES, SECONDS = 2_000, 60
FLOOD = 4_000
PATIENCE_SECONDS, SETTLING_SECONDS = 120.0, 10.0


def main() -> None:
    """Simulate days, then hold devices."""
    given = [int(word) for word in sys.argv[1:3]]
    devices, seconds = (*given, *(DEVICES, SECONDS)[len(given) :])
    gc.freeze()  # as the command line does
    law = law_of(hospital_text(CARTS, BASINS))
    say(f"hospital  {CARTS} carts, {BASINS} basins, {len(law.site.sensors())} sensors")
    _life(law)
    _sent(law)
    _journal(law)
    _held(devices, seconds)


def _simulation(law: Law, since: Micros = SINCE) -> Simulation:
    return Simulation(law.site, law.book.labels, since, SEED, FIGURES, figures=FIGURES)


def _took(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def _life(law: Law) -> None:
    simulation = _simulation(law)
    took = _took(lambda: simulation.live(Micros(SINCE + LIFE_DAYS * DAY)))
    say(f"life      people and what befalls them, {LIFE_DAYS} days      {LIFE_DAYS / took:8.2f} days/s")


def _sent(law: Law) -> None:
    simulation, until = _simulation(law), Micros(SINCE + DAY)
    simulation.live(until)
    count = 0

    def listen() -> None:
        nonlocal count
        for after in range(SINCE, until, 3600 * SECOND):
            count += sum(1 for _ in simulation.sent(Micros(after), Micros(after + 3600 * SECOND)))

    took = _took(listen)
    say(f"samples   all that reaches a broker, 1 day         {1 / took:8.2f} days/s, {count / took:,.0f} messages/s")


def _journal(law: Law) -> None:
    """A day into a journal, beside the same inputs from memory, judged and written by nobody else."""
    with tempfile.TemporaryDirectory() as name:
        folder, run = Path(name) / "data", Run(site="generated", seed=SEED, since=SINCE, until=Micros(SINCE + DAY))
        took = _took(lambda: write_days(folder, law, _simulation(law), run, lambda _: None))
        with Recording.open(folder) as recorded:
            inputs = [item for chunk in recorded.inputs() for item in chunk]
        floor = _took(lambda: _write(Path(name) / "floor", law, inputs))
    month = f"{30 * took / 60:.1f} min for 30 days"
    say(f"journal   1 day, {len(inputs):,} inputs, with truth        {1 / took:8.3f} days/s: {month}")
    say(f"floor     the same inputs, judged and written      {1 / floor:8.3f} days/s")
    say(f"ratio     {floor / took:.2f}")


def _write(folder: Path, law: Law, inputs: Sequence[Reading | object]) -> None:
    with Writer.new(folder, law) as writer:
        writer.take(inputs)  # type: ignore[arg-type]  # inputs as they were read


# ---- at a broker ----------------------------------------------------------------------------------------------------


def _held(devices: int, seconds: int) -> None:
    law = law_of(hospital_text(devices - devices // 20, devices // 20))
    with tempfile.TemporaryDirectory() as name, EmbeddedBroker(Path(name) / "broker") as broker:
        rate = _bare(law, broker, seconds)
        now = Clock().now
        simulation = _simulation(law, now())
        with AtBroker(law.site, simulation, Endpoint.of(broker.url), now, tell=say) as running:
            things = len(simulation.things)
            up = _took(lambda: _wait(lambda: running.standing().up >= 0.99 * things))
            # The first step of so large a ward is late: people come, and every device says how things are.
            _wait(lambda: running.standing().said > 0 and not running.behind_seconds)
            threading.Event().wait(SETTLING_SECONDS)
            running.fleet.latenesses.clear()
            before = running.standing().acknowledged
            threading.Event().wait(seconds)
            standing, late = running.standing(), sorted(running.fleet.latenesses)
            behind = running.behind_seconds
        heard = (standing.acknowledged - before) / seconds
        say(f"held      {standing.up:,} of {things:,} devices, connected within {up:.0f} s, held for {seconds} s")
        say(f"messages  {heard:,.1f}/s acknowledged, {standing.lost} lost, life {behind:.1f} s late")
        say(f"lateness  of sending: {_quantiles(late)}")
        say(f"ratio     to what devices without a ward could say: {heard / rate:.3f}")


def _bare(law: Law, broker: EmbeddedBroker, seconds: int) -> float:
    """The floor: the same devices say what was made before, as fast as they may; messages a second."""
    voice, clock = Voice(law.site), Clock()
    things = [cart.id for cart in law.site.cart]
    fleet = Fleet(Endpoint.of(broker.url), voice, things, clock.now, Chance(SEED), say)
    fleet.start()
    _wait(lambda: fleet.standing().up == len(things))
    now = clock.now()
    said = [voice.say(Sample(SensorId(f"{thing}/motion"), now, value=False)) for thing in things]
    before = fleet.standing().acknowledged
    many = [Utterance(now, things[n % len(things)], (said[n % len(things)],)) for n in range(FLOOD)]

    def flood_them() -> None:
        fleet.offer(many)
        _wait(lambda: fleet.standing().acknowledged - before >= FLOOD)

    took = _took(flood_them)
    fleet.latenesses.clear()
    spread = range(0, min(seconds, 10) * SECOND, 5000)
    begin = clock.now() + SECOND // 2
    fleet.offer(
        Utterance(Micros(begin + at), things[n % len(things)], (said[n % len(said)],)) for n, at in enumerate(spread)
    )
    _wait(lambda: len(fleet.latenesses) == len(spread))
    late = sorted(fleet.latenesses)
    fleet.stop()
    flood = [(said[n % len(said)].topic, said[n % len(said)].payload) for n in range(FLOOD)]
    publisher = Publisher(broker.port, flood)
    publisher.go()
    alone = _took(publisher.done)
    say(f"floor     one publisher, as fast as the broker takes it {FLOOD / alone:9,.0f} messages/s")
    say(f"floor     {len(things):,} devices, as fast as they may        {FLOOD / took:9,.0f} messages/s")
    say(f"floor     the same, 200 messages a second, lateness: {_quantiles(late)}")
    return FLOOD / took


def _quantiles(late: Sequence[int]) -> str:
    """Of lateness in microseconds."""
    if not late:
        return "nothing was said"
    half, most, worst = (late[int(share * (len(late) - 1))] / 1000 for share in (0.5, 0.99, 1))
    return f"median {half:.1f} ms, p99 {most:.1f} ms, at most {worst:.0f} ms"


def _wait(so: Callable[[], bool]) -> None:
    for _ in range(int(PATIENCE_SECONDS / 0.05)):
        if so():
            return
        threading.Event().wait(0.05)
    say("         waited in vain")


if __name__ == "__main__":
    main()
