"""The devices of a site at a real broker: thousands of connections, each of its own, driven by one thread."""

import contextlib
import logging
import selectors
import socket
import threading
from collections import deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from typing import NamedTuple

from gateway.endpoint import Endpoint
from rules.readings import SECOND, Micros, micros
from sim_devices.chance import Chance
from sim_devices.running.dialling import Dialled, Dialling
from sim_devices.running.line import KEEPALIVE_SECONDS, Line, Login
from sim_devices.running.open_files import allow
from sim_devices.speech import Message, Voice

log = logging.getLogger(__name__)

DIALS_PER_SECOND = 200
"""How fast devices connect, after a broker's return as at the start (ours): a storm of them would stall it."""

FIRST_RETRY_SECONDS, SLOWEST_RETRY_SECONDS = 1.0, 20.0
"""The wait doubles with each failure; each device stretches or shortens it by up to a half, at its own pace (ours)."""

MOST_WAITING = 20_000
"""Utterances that may wait for their time; whoever has more of them waits with it (ours)."""

MINDED = micros(KEEPALIVE_SECONDS / 4)
GOODBYE_SECONDS = 5.0
LATENESSES_KEPT = 200_000
MOST_SLEEP = Micros(SECOND // 2)
LEAVING_SLEEP = Micros(SECOND // 20)


class Utterance(NamedTuple):
    """What a device says, at a time of the wall clock. online: it comes into reach, or is gone; None: as before."""

    at: Micros
    thing: str
    messages: tuple[Message, ...] = ()
    online: bool | None = None


class Standing(NamedTuple):
    """How a fleet is doing. up: devices connected, of ``devices`` that mean to be.

    said, acknowledged: messages since the start; waiting: not yet acknowledged; lost: given up by their devices.
    latest_seconds: by how much the latest utterance since the last look came late.
    """

    devices: int
    up: int
    said: int
    acknowledged: int
    waiting: int
    lost: int
    latest_seconds: float


@dataclass
class _Pace:
    """One dial after the other, ``DIALS_PER_SECOND``."""

    free: Micros

    def slot(self, earliest: Micros) -> Micros:
        """When the next one may begin."""
        self.free = Micros(max(self.free, earliest) + SECOND // DIALS_PER_SECOND)
        return self.free


class Fleet:
    """Holds the connections of a site's devices and says for them what they are given to say.

    now: the present, by which utterances are timed. tell: is given, on the fleet's thread, a sentence when something
    is wrong with the broker that was not before.
    latenesses: by how much the newest utterances came late, in microseconds.

    Raises:
        gateway.endpoint.EndpointError: password or authorities cannot be read.
        sim_devices.running.open_files.OpenFilesError: the system does not allow so many connections.
    """

    def __init__(
        self,
        endpoint: Endpoint,
        voice: Voice,
        things: Sequence[str],
        now: Callable[[], Micros],
        chance: Chance,
        tell: Callable[[str], None] = log.warning,
    ) -> None:
        allow(len(things))
        self._endpoint, self._now, self._chance, self._tell = endpoint, now, chance, tell
        self._dialling = Dialling(endpoint)
        login = Login(endpoint.username, endpoint.password())
        self._lines: Mapping[str, Line] = {
            thing: Line(
                f"{voice.site.site.id}-{thing}",
                voice.link(thing, online=True),
                voice.link(thing, online=False),
                login,
                self._closing,
            )
            for thing in things
        }
        self._pace = _Pace(now())
        self.latenesses: deque[int] = deque(maxlen=LATENESSES_KEPT)
        self._latest = self._said = 0
        self._told = ""
        self._utterances: deque[Utterance] = deque()
        self._room = threading.Condition()
        self._dialled: deque[tuple[Line, Dialled]] = deque()
        self._chores: list[tuple[Micros, int, Callable[[Line], None], Line]] = []
        self._chore_count = 0
        self._selector = selectors.DefaultSelector()
        self._ear, self._mouth = socket.socketpair()
        for end in (self._ear, self._mouth):
            end.settimeout(0)
        self._selector.register(self._ear, selectors.EVENT_READ)
        self._writers: set[Line] = set()
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._live, name="fleet", daemon=True)

    # ---- any thread -----------------------------------------------------------------------------------------------

    def start(self) -> None:
        """Begin to connect; returns at once."""
        self._thread.start()

    def offer(self, utterances: Iterable[Utterance]) -> None:
        """Give what is to be said, in the order of its time, after all that was given before; waits for room."""
        with self._room:
            for utterance in utterances:
                while len(self._utterances) >= MOST_WAITING and not self._stopping.is_set():
                    self._room.wait(0.1)
                self._utterances.append(utterance)
        self._wake()

    def stop(self) -> None:
        """Leave ``offline`` behind for every device and hang up; waits for that a few seconds at most."""
        self._stopping.set()
        self._wake()
        if self._thread.is_alive():
            self._thread.join()
        self._dialling.stop()
        for end in (self._ear, self._mouth):
            end.close()

    def standing(self) -> Standing:
        """How it does now."""
        lines = self._lines.values()
        latest, self._latest = self._latest, 0
        return Standing(
            devices=sum(line.wanted for line in lines),
            up=sum(line.up for line in lines),
            said=self._said,
            acknowledged=sum(line.acknowledged for line in lines),
            waiting=sum(line.waiting for line in lines),
            lost=sum(line.lost for line in lines),
            latest_seconds=latest / SECOND,
        )

    def _wake(self) -> None:
        with contextlib.suppress(BlockingIOError, OSError):
            self._mouth.send(b"\0")

    # ---- the fleet's thread ---------------------------------------------------------------------------------------

    def _live(self) -> None:
        begun = self._now()
        for number, line in enumerate(self._lines.values()):
            self._dial_later(line, begun)
            self._later(Micros(begun + MINDED * number // len(self._lines)), self._mind, line)
        while not self._stopping.is_set():
            self._turn(MOST_SLEEP)
        self._leave()

    def _turn(self, most: Micros) -> None:
        now = self._now()
        self._take_dialled()
        self._say_due(now)
        self._do_chores(now)
        for key, mask in self._selector.select(self._sleep(most) / SECOND):
            if key.fileobj is self._ear:
                with contextlib.suppress(BlockingIOError):
                    self._ear.recv(4096)
            else:
                self._serve(key.data, mask)

    def _sleep(self, most: Micros) -> int:
        dues = [self._utterances[0].at] if self._utterances else []
        dues += [self._chores[0][0]] if self._chores else []
        return max(0, min(most, min(dues, default=Micros(1 << 62)) - self._now()))

    def _say_due(self, now: Micros) -> None:
        utterances = self._utterances
        while utterances and utterances[0].at <= now:
            at, thing, messages, online = utterances.popleft()
            line = self._lines[thing]
            if online is not None:
                self._reach(line, online=online)
            if messages:
                self._guarded(line, lambda line=line, messages=messages: line.say(messages))  # type: ignore[misc]
                self._said += len(messages)
                late = self._now() - at
                self.latenesses.append(late)
                self._latest = max(self._latest, late)
        if len(utterances) < MOST_WAITING:
            with self._room:
                self._room.notify_all()

    def _reach(self, line: Line, *, online: bool) -> None:
        if line.wanted is online:
            return
        line.wanted = online
        if online:
            self._dial_later(line, self._now())
        else:
            self._guarded(line, line.cut)

    def _guarded(self, line: Line, action: Callable[[], None]) -> None:
        """What a line does; a fault in it must not silence the others."""
        try:
            action()
        except Exception:
            log.exception("the line of '%s' fails and is cut", line.name)
            line.cut()
        self._heed(line)

    def _serve(self, line: Line, mask: int) -> None:
        if mask & selectors.EVENT_READ:
            self._guarded(line, line.read)
        elif mask:
            self._guarded(line, line.write)

    def _heed(self, line: Line) -> None:
        """Wait for room in its socket only while it has something to send."""
        sock = line.sock
        if sock is None or (line in self._writers) is line.wants_write:
            return
        if line.wants_write:
            self._writers.add(line)
            self._selector.modify(sock, selectors.EVENT_READ | selectors.EVENT_WRITE, line)
        else:
            self._writers.discard(line)
            self._selector.modify(sock, selectors.EVENT_READ, line)

    # ---- chores, each at its time ---------------------------------------------------------------------------------

    def _later(self, at: Micros, chore: Callable[[Line], None], line: Line) -> None:
        self._chore_count += 1
        heappush(self._chores, (at, self._chore_count, chore, line))

    def _do_chores(self, now: Micros) -> None:
        while self._chores and self._chores[0][0] <= now:
            _, _, chore, line = heappop(self._chores)
            chore(line)

    def _mind(self, line: Line) -> None:
        if line.sock is not None:
            self._guarded(line, line.mind)
        self._later(Micros(self._now() + MINDED), self._mind, line)

    # ---- connecting -----------------------------------------------------------------------------------------------

    def _dial_later(self, line: Line, earliest: Micros) -> None:
        self._later(self._pace.slot(earliest), self._dial, line)

    def _dial(self, line: Line) -> None:
        if line.wanted and line.sock is None:
            self._dialling.dial(lambda dialled: self._hear_of_dial(line, dialled))

    def _hear_of_dial(self, line: Line, dialled: Dialled) -> None:
        """Called by a thread that dials."""
        self._dialled.append((line, dialled))
        self._wake()

    def _take_dialled(self) -> None:
        while self._dialled:
            line, dialled = self._dialled.popleft()
            if isinstance(dialled, str):
                self._complain(
                    f"No broker answers at {self._endpoint}: {dialled}. It is tried again until one does; check the"
                    " address, and whether a broker runs there."
                )
                self._retry(line)
            elif line.wanted and line.sock is None:
                self._selector.register(dialled, selectors.EVENT_READ, line)
                self._guarded(line, lambda line=line, dialled=dialled: line.attach(dialled))  # type: ignore[misc]
            else:
                dialled.close()

    def _closing(self, line: Line, sock: socket.socket) -> None:
        """Called by a line as it ends."""
        self._selector.unregister(sock)
        self._writers.discard(line)
        if line.refused:
            self._complain(
                f"The broker at {self._endpoint} refuses the device '{line.name}': {line.refused}. Give it the user and"
                " the password that the broker knows it by; it is tried again."
            )
        elif line.up and line.wanted and not self._stopping.is_set():
            self._complain(f"The broker at {self._endpoint} has ended a connection; devices come back by themselves.")
        self._retry(line)

    def _retry(self, line: Line) -> None:
        if not line.wanted:
            return
        wait_seconds = min(SLOWEST_RETRY_SECONDS, FIRST_RETRY_SECONDS * 2.0 ** min(line.failures, 10))
        line.failures += 1
        jitter = self._chance.between(0.5, 1.5, line.name, "retry", line.failures)
        self._dial_later(line, Micros(self._now() + micros(wait_seconds * jitter)))

    def _complain(self, sentence: str) -> None:
        """Tell it once, until something else is wrong."""
        if sentence != self._told:
            self._told = sentence
            self._tell(sentence)

    # ---- leaving --------------------------------------------------------------------------------------------------

    def _leave(self) -> None:
        """Say goodbye on all lines, wait until the broker has heard it, and hang up."""
        lines = self._lines.values()
        for line in lines:
            self._guarded(line, line.say_goodbye)
        deadline = self._now() + micros(GOODBYE_SECONDS)
        while any(line.up and line.waiting for line in lines) and self._now() < deadline:
            self._turn(LEAVING_SLEEP)
        for line in lines:
            if line.sock is not None:
                self._guarded(line, line.hang_up)
        self._selector.close()
