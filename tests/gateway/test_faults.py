"""What a gateway in a process of its own survives, with a real broker and a real disk."""

import json
import os
import random
import resource
import signal
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Protocol

import pytest
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]  # re-exported, which its types do not say

from gateway.broker import EmbeddedBroker
from gateway.record_check import check_record
from gateway.replay import verify
from gateway.schema import DATABASE
from rules.alert_events import AlertOver, AlertRaised
from rules.readings import SECOND
from tests.gateway.process import Gateway
from tests.gateway.sites import site_text

MORE = """
[broker]
url = "mqtt://127.0.0.1:{port}"
[rules.gateway-cut-off]
on_delay_seconds = 0
"""


class Speaker(Protocol):
    """The device of conftest.py, as far as it is used here."""

    def say_soon(self, topic: str, payload: str) -> int:
        """Publish without waiting."""

    def await_acknowledged(self, many: int) -> None:
        """Wait until the broker has acknowledged so many messages."""


MakeDevice = Callable[[int], Speaker]


@pytest.fixture
def gateway(tmp_path: Path, embedded: EmbeddedBroker) -> Iterator[Gateway]:
    """A gateway that is running, on a broker that outlives it."""
    site = tmp_path / "site.toml"
    site.write_text(site_text("testing", minutes=0.1, more=MORE.format(port=embedded.port)))
    made = Gateway(site, tmp_path / "data")
    made.start()
    yield made
    made.end(0)
    assert verify(made.folder / DATABASE).differences == ()
    assert check_record(made.folder / DATABASE).misfits == ()


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
def test_killed_under_load_a_message_without_a_time_is_in_the_journal_once_or_among_the_rejected(
    gateway: Gateway, embedded: EmbeddedBroker, device: MakeDevice
) -> None:
    speaker = device(embedded.port)
    said = [20.0 + n / 1000 for n in range(1500)]
    deaths = sorted(chance_of(4).sample(range(200, len(said) - 200), 3))
    for number, value in enumerate(said):
        speaker.say_soon("sinkside/testing/basin-1/temperature", f'[{{"n":"t","u":"Cel","v":{value}}}]')
        if number in deaths:
            gateway.end(signal.SIGKILL)
            gateway.start()
    speaker.await_acknowledged(len(said))

    def accounted() -> int:
        return len(gateway.readings()) + sum(gateway.rejected().values())

    gateway.until(lambda: accounted() >= len(said), "every message in the journal or among the rejected")
    taken = Counter(reading.value for reading in gateway.readings())
    assert max(taken.values()) == 1
    assert taken.keys() <= set(said)
    assert all(reason.startswith("delivered again") for reason in gateway.rejected())


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
    assert check_record(disturbed.folder / DATABASE).is_sound
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
    reasons = gateway.rejected()
    assert sorted(reasons.values()) == [1, 1]
    assert all("clock" in reason for reason in reasons)


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
