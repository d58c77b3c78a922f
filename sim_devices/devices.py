"""The devices of the department: each measures, remembers what it could not say, and speaks over MQTT."""

import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from rules.readings import SECOND, Micros, SensorKind, micros
from rules.site import Site
from sim_devices.department import Department
from sim_devices.line import Address, Line
from sim_devices.speech import Message, Voice

MEMORY_SECONDS = 1800
"""What a basin's device, or a reader of tags, remembers while it is not heard (ours); a cart's tells how things are."""

LIVE_SECONDS = 5
"""What was measured no longer ago than this is said message by message; more is a buffer."""

RETRY_SECONDS = 1
PATIENCE_SECONDS = 2.0


def remembering_things(site: Site) -> frozenset[str]:
    """The things whose devices remember what they could not say: basins, and readers of tags."""
    readers = {sensor.thing for sensor in site.sensor if sensor.kind is SensorKind.TAG}
    return frozenset(readers | {basin.id for basin in site.basin})


@dataclass
class Device:
    """One device: what it still has to say.

    memory_seconds: how far back it remembers; 0 = only the newest of each sensor.
    told: until when all has been said.
    due: when it next has something to say.
    """

    thing: str
    department: Department
    voice: Voice
    memory_seconds: float
    told: Micros
    due: Micros

    def words(self, now: Micros) -> Iterable[Message]:
        """Everything up to now that was not said yet."""
        if now - self.told <= LIVE_SECONDS * SECOND:
            samples = self.department.samples(self.thing, self.told, now)
            return [self.voice.say(sample, self.department.spoiling(sample)) for sample in samples]
        if not self.memory_seconds:
            newest = self.department.newest(self.thing, now)
            return [self.voice.say(sample) for sample in newest if sample.measured > self.told]
        since = Micros(max(self.told, now - micros(self.memory_seconds)))
        return self.voice.recall(self.department.samples(self.thing, since, now))

    def has_told(self, now: Micros) -> None:
        """All up to now has been said."""
        self.told = now
        self.due = self.department.next_due(self.thing, now)


class Devices:
    """All devices of a department, each on a connection of its own, driven by one thread.

    now: the present; the same clock as the gateway's.
    heard: until when everything was heard on an earlier start; None where that is not known.
    cbor: devices that speak CBOR.
    """

    def __init__(
        self,
        site: Site,
        department: Department,
        now: Callable[[], Micros],
        heard: Micros | None = None,
        cbor: frozenset[str] = frozenset(),
    ) -> None:
        self._now = now
        voice = Voice(site, cbor)
        remembering = remembering_things(site)
        self._devices = [
            Device(
                thing, department, voice, MEMORY_SECONDS if thing in remembering else 0, heard or Micros(0), Micros(0)
            )
            for thing in department.things
        ]
        self._awake = threading.Event()
        self._leaving = False
        self._lines = {
            thing: Line(
                f"{site.site.id}-{thing}",
                voice.link(thing, online=True),
                voice.link(thing, online=False),
                department.world.chance,
                self._awake.set,
            )
            for thing in department.things
        }
        self._thread = threading.Thread(target=self._live, name="demo-devices", daemon=True)

    def start(self, host: str, port: int) -> None:
        """Connect to the broker, in the background, and begin to speak."""
        for line in self._lines.values():
            line.open(Address(host, port))
        self._thread.start()

    def stop(self) -> Micros | None:
        """Leave ``offline`` behind and hang up; until when everything was heard, None where that is not known."""
        self._leaving = True
        self._awake.set()
        if self._thread.is_alive():
            self._thread.join()
        heard = self._say_goodbye()
        for line in self._lines.values():
            line.hang_up()
        for line in self._lines.values():
            line.join()
        return min(device.told for device in self._devices) if heard else None

    def _say_goodbye(self) -> bool:
        """Whether everything that was said was heard."""
        for line in self._lines.values():
            line.say_goodbye()
        return all(line.was_heard(PATIENCE_SECONDS) for line in self._lines.values())

    def _live(self) -> None:
        while not self._leaving:
            self._awake.clear()
            self._awake.wait(self._speak())

    def _speak(self) -> float:
        """Let every connected device say what is due; seconds until the next has something to say."""
        now = self._now()
        up = [device for device in self._devices if self._lines[device.thing].up]
        for device in up:
            if device.due <= now:
                self._say(device, now)
        wait = min((device.due for device in up), default=now + RETRY_SECONDS * SECOND) - self._now()
        return max(0.0, wait / SECOND)

    def _say(self, device: Device, now: Micros) -> None:
        line = self._lines[device.thing]
        if all(line.send(message) for message in device.words(now)):
            device.has_told(now)
        else:
            device.due = Micros(now + RETRY_SECONDS * SECOND)
