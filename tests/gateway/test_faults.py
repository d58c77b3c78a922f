"""What a gateway in a process of its own survives, with a real broker and a real disk."""

import json
import os
import random
import resource
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Protocol

import pytest
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]  # re-exported, which its types do not say

from gateway.broker import EmbeddedBroker
from gateway.journal import JournalView
from gateway.replay import verify
from gateway.schema import DATABASE
from rules.events import EVENT, AlertOver, AlertRaised, Event, SoakAmended, SoakEnded, SoakWithdrawn, Verdict
from rules.readings import SECOND, Reading

PATIENCE_SECONDS = 40.0

SITE = """
[site]
id = "testing"
name = "Testing"
[broker]
url = "mqtt://127.0.0.1:{port}"
[[station]]
id = "room"
name = "Room"
[[basin]]
id = "basin-1"
name = "Basin"
station = "room"
label = "very-short"
[[cart]]
id = "cart-1"
name = "Cart"
cords = ["linear"]
[[label]]
id = "very-short"
chemistry = "test"
min_minutes = 0.1
min_celsius = 20
source = "made up, so that a soak is short"
[rules.gateway-cut-off]
on_delay_seconds = 0
"""

GATEWAY = """
import json, sys, threading
from pathlib import Path
from gateway.service import Service
from gateway.sitefile import load

with Service(load(Path(sys.argv[1])), Path(sys.argv[2])) as service:
    def tell():
        feed, told = service.hub.latest, None
        while feed is not None:
            now = [feed.picture.hearing, feed.store_trouble]
            if now != told:
                print(json.dumps(now), flush=True)
                told = now
            feed = service.hub.wait_newer(feed.version, 3600)
    threading.Thread(target=tell, daemon=True).start()
    sys.stdin.read()
"""


class Speaker(Protocol):
    """The device of conftest.py, as far as it is used here."""

    def say_soon(self, topic: str, payload: str) -> int:
        """Publish without waiting."""

    def await_acknowledged(self, many: int) -> None:
        """Wait until the broker has acknowledged so many messages."""


MakeDevice = Callable[[int], Speaker]


@dataclass
class Gateway:
    """A gateway as a child process on a folder; it tells of itself (hears the broker, trouble with its disk)."""

    site: Path
    folder: Path
    process: subprocess.Popen[str] | None = None
    told: SimpleQueue[tuple[bool, str | None]] = field(default_factory=SimpleQueue)

    @property
    def pid(self) -> int:
        assert self.process is not None
        return self.process.pid

    def start(self) -> None:
        """Start it and wait until it hears the broker."""
        self.told = SimpleQueue()
        arguments = [sys.executable, "-c", GATEWAY, str(self.site), str(self.folder)]
        pipe = subprocess.PIPE
        self.process = subprocess.Popen(arguments, stdin=pipe, stdout=pipe, text=True)  # noqa: S603 - our own text
        threading.Thread(target=self._listen, args=(self.process, self.told), daemon=True).start()
        self.await_told(lambda hearing, _trouble: hearing)

    def await_told(self, wanted: Callable[[bool, str | None], bool]) -> None:
        """Wait until it tells something of this kind."""
        while True:
            try:
                said = self.told.get(timeout=PATIENCE_SECONDS)
            except Empty:
                pytest.fail("the gateway did not tell in time what was waited for")
            if wanted(*said):
                return

    def end(self, number: int) -> None:
        """End it by a signal, or in peace with 0."""
        process = self.process
        if process is None:
            return
        self.process = None
        if number:
            process.send_signal(number)
        assert process.stdin is not None
        process.stdin.close()
        process.wait(PATIENCE_SECONDS)

    @staticmethod
    def _listen(process: subprocess.Popen[str], told: SimpleQueue[tuple[bool, str | None]]) -> None:
        assert process.stdout is not None
        with process.stdout as lines:
            for line in lines:
                hearing, trouble = json.loads(line)
                told.put((hearing, trouble))

    # ---- what it wrote --------------------------------------------------------------------------------------------

    def readings(self) -> list[Reading]:
        """What devices said, as far as it is on disk."""
        view = JournalView.open(self.folder / DATABASE)
        found = [item for chunk in view.inputs(0, view.extent().last_input) for item in chunk]
        view.close()
        return [item for item in found if isinstance(item, Reading) and not item.sensor.startswith("gateway/")]

    def events(self) -> list[Event]:
        view = JournalView.open(self.folder / DATABASE)
        found = [EVENT.validate_json(event.body) for event in view.events(0, view.extent().last_event)]
        view.close()
        return found

    def verdicts(self) -> list[Verdict]:
        """The verdicts on all soaks as they stand now, oldest first."""
        stand: dict[str, Verdict] = {}
        for event in self.events():
            if isinstance(event, SoakEnded | SoakAmended):
                stand[event.soak] = event.verdict
            elif isinstance(event, SoakWithdrawn):
                stand.pop(event.soak, None)
        return [stand[soak] for soak in sorted(stand)]

    def until(self, holds: Callable[[], bool], what: str) -> None:
        """Look at what is on disk again and again until it holds: another process's commit is no event for us."""
        pause = threading.Event()
        for _ in range(int(PATIENCE_SECONDS / 0.05)):
            if holds():
                return
            pause.wait(0.05)
        pytest.fail(f"not within {PATIENCE_SECONDS} s: {what}")


@pytest.fixture
def gateway(tmp_path: Path, embedded: EmbeddedBroker) -> Iterator[Gateway]:
    """A gateway that is running, on a broker that outlives it."""
    site = tmp_path / "site.toml"
    site.write_text(SITE.format(port=embedded.port))
    made = Gateway(site, tmp_path / "data")
    made.start()
    yield made
    made.end(0)
    assert verify(made.folder / DATABASE).differences == ()


Said = tuple[str, float, float | bool]
"""Sensor, device's time, value."""


def chance_of(seed: int) -> random.Random:
    return random.Random(seed)  # noqa: S311 - it has to come out the same again, not to be a secret


def payload(said: Said) -> str:
    sensor, at, value = said
    record: dict[str, object] = {"n": sensor.rpartition("/")[2], "t": at}
    return json.dumps([record | ({"vb": value} if isinstance(value, bool) else {"u": "Cel", "v": value})])


def tell(device: Speaker, said: Said) -> None:
    device.say_soon(f"sinkside/testing/{said[0]}", payload(said))


def chatter(many: int) -> list[Said]:
    """Temperatures and hooks, each with a time of its own."""
    now = round(time.time_ns() / 1e9) - 60
    warmth: list[Said] = [("basin-1/temperature", now + n / 50, 22 + n / 1000) for n in range(many // 2)]
    hooks: list[Said] = [("cart-1/hook-linear", now + n / 50, n % 2 == 0) for n in range(many // 2)]
    return [one for pair in zip(warmth, hooks, strict=True) for one in pair]


def soak() -> list[Said]:
    """A soak of 9 s some seconds ago, cooling through the limit in its course, seen ten times a second."""
    begin = round(time.time_ns() / 1e9) - 20
    said: list[Said] = []
    for n in range(110):
        at = begin + n / 10
        said += [("basin-1/temperature", at, round(21.5 - n / 100, 3)), ("basin-1/lid", at, 10 <= n < 100)]
    return said


def as_written(said: Sequence[Said]) -> Counter[tuple[str, int, float | bool]]:
    return Counter((sensor, round(at * SECOND), value) for sensor, at, value in said)


def on_disk(gateway: Gateway) -> Counter[tuple[str, int, float | bool]]:
    return Counter(
        (r.sensor, int(r.measured), r.value) for r in gateway.readings() if isinstance(r.value, float | bool)
    )


# ---- the gateway is killed ----------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_killed_at_random_instants_under_load_every_acknowledged_message_is_in_the_journal_once(
    gateway: Gateway, embedded: EmbeddedBroker, device: MakeDevice, seed: int
) -> None:
    chance = chance_of(seed)
    speaker = device(embedded.port)
    said = chatter(3000)
    deaths = sorted(chance.sample(range(200, len(said) - 200), 3))
    for number, one in enumerate(said):
        tell(speaker, one)
        if number in deaths:
            threading.Event().wait(chance.uniform(0, 0.05))  # somewhere in the middle of a batch
            gateway.end(signal.SIGKILL)
            gateway.start()
    speaker.await_acknowledged(len(said))
    gateway.until(lambda: len(gateway.readings()) >= len(said), "every message in the journal")
    assert on_disk(gateway) == as_written(said)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2])
def test_killed_during_a_soak_the_verdict_is_that_of_an_undisturbed_run(
    tmp_path: Path, embedded: EmbeddedBroker, gateway: Gateway, device: MakeDevice, seed: int
) -> None:
    said = soak()
    speaker = device(embedded.port)
    for one in said:
        tell(speaker, one)
    gateway.until(lambda: len(gateway.verdicts()) == 1, "a verdict")
    undisturbed = gateway.verdicts()
    gateway.end(0)
    disturbed = Gateway(gateway.site, tmp_path / "disturbed")
    disturbed.start()
    deaths = chance_of(seed).sample(range(20, 200), 3)
    for number, one in enumerate(said):
        tell(speaker, one)
        if number in deaths:
            disturbed.end(signal.SIGKILL)
            disturbed.start()
    disturbed.until(lambda: disturbed.verdicts() == undisturbed, f"the verdict {undisturbed}")
    disturbed.end(0)
    assert verify(disturbed.folder / DATABASE).is_sound
    assert undisturbed[0].outcome == "time and temperature met"


# ---- messages out of order, doubled, with a wrong clock -----------------------------------------------------------


@pytest.mark.slow
def test_out_of_order_and_doubled_messages_end_in_the_same_verdict(
    tmp_path: Path, embedded: EmbeddedBroker, gateway: Gateway, device: MakeDevice
) -> None:
    said = soak()
    speaker = device(embedded.port)
    for one in said:
        tell(speaker, one)
    gateway.until(lambda: len(gateway.verdicts()) == 1, "a verdict")
    in_order = gateway.verdicts()
    gateway.end(0)
    shuffled = [*said, *said[::3]]
    chance_of(7).shuffle(shuffled)
    other = Gateway(gateway.site, tmp_path / "other")
    other.start()
    for one in shuffled:
        tell(speaker, one)
    other.until(lambda: other.verdicts() == in_order, f"the verdict {in_order}")
    other.until(lambda: len(other.readings()) >= len(said), "every message in the journal")
    other.end(0)
    assert on_disk(other) == as_written(said)
    assert verify(other.folder / DATABASE).is_sound


def test_a_device_clock_a_day_wrong_goes_to_the_rejected(
    embedded: EmbeddedBroker, gateway: Gateway, device: MakeDevice
) -> None:
    now = time.time_ns() / 1e9
    speaker = device(embedded.port)
    wrong: list[Said] = [("basin-1/lid", now + 86_400, True), ("basin-1/lid", now - 86_460, True)]
    for one in (*wrong, ("basin-1/lid", now, False)):
        tell(speaker, one)
    gateway.until(lambda: len(gateway.readings()) == 1, "the one reading with a right clock")
    view = JournalView.open(gateway.folder / DATABASE)
    rejected = view.rejected()
    view.close()
    assert [(row.topic, row.count) for row in rejected] == [("sinkside/testing/basin-1/lid", 2)]
    assert "clock" in rejected[0].reason


# ---- the broker is killed -----------------------------------------------------------------------------------------


@pytest.mark.slow
def test_broker_killed_and_restarted_nothing_is_lost_and_one_alert_is_raised_and_over(
    embedded: EmbeddedBroker, gateway: Gateway, device: MakeDevice
) -> None:
    said = chatter(600)
    speaker = device(embedded.port)
    for one in said[:300]:
        tell(speaker, one)
    assert embedded.pid is not None
    os.kill(embedded.pid, signal.SIGKILL)
    gateway.await_told(lambda hearing, _trouble: not hearing)
    gateway.await_told(lambda hearing, _trouble: hearing)
    for one in said[300:]:
        tell(speaker, one)
    gateway.until(lambda: len(gateway.readings()) >= len(said), "every message in the journal")
    assert on_disk(gateway) == as_written(said)
    raised = [e for e in gateway.events() if isinstance(e, AlertRaised) and e.rule == "gateway-cut-off"]
    # The first was raised and over when the gateway was started.
    assert len(raised) == 2
    assert {e.alert for e in gateway.events() if isinstance(e, AlertOver)} >= {event.alert for event in raised}


# ---- the disk -----------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_with_the_database_locked_nothing_is_acknowledged_so_that_a_kill_then_loses_nothing(
    embedded: EmbeddedBroker, gateway: Gateway, device: MakeDevice
) -> None:
    said = chatter(50)
    holder = sqlite3.connect(str(gateway.folder / DATABASE), isolation_level=None)
    holder.execute("BEGIN EXCLUSIVE")
    speaker = device(embedded.port)
    for one in said:
        tell(speaker, one)
    gateway.await_told(lambda _hearing, trouble: trouble is not None and "locked" in trouble)
    gateway.end(signal.SIGKILL)
    holder.rollback()
    holder.close()
    assert gateway.readings() == []
    gateway.start()
    gateway.until(lambda: len(gateway.readings()) >= len(said), "every message in the journal")
    assert on_disk(gateway) == as_written(said)


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(resource, "prlimit"), reason="only Linux changes the limits of another process")
def test_with_the_disk_full_the_screens_say_so_and_it_recovers_by_itself(
    embedded: EmbeddedBroker, gateway: Gateway, device: MakeDevice
) -> None:
    said = chatter(1500)
    log = gateway.folder / f"{DATABASE}-wal"
    resource.prlimit(gateway.pid, resource.RLIMIT_FSIZE, (log.stat().st_size + 20_000, resource.RLIM_INFINITY))
    speaker = device(embedded.port)
    for one in said:
        tell(speaker, one)
    gateway.await_told(lambda _hearing, trouble: trouble is not None)
    assert len(gateway.readings()) < len(said)
    resource.prlimit(gateway.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    gateway.await_told(lambda _hearing, trouble: trouble is None)
    gateway.until(lambda: len(gateway.readings()) >= len(said), "every message in the journal")
    assert on_disk(gateway) == as_written(said)
    (raised,) = (e for e in gateway.events() if isinstance(e, AlertRaised) and e.rule == "gateway-cannot-store")
    assert raised.alert in {e.alert for e in gateway.events() if isinstance(e, AlertOver)}
