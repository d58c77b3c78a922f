"""A ward lived through beside the clock on the wall: its devices speak at a broker, hands act in it."""

import logging
import queue
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from concurrent.futures import TimeoutError as LateError
from typing import Any, NamedTuple, TypeVar

from gateway.hands import HandsError
from rules.commands import Claim, Entry
from rules.picture import UnclaimedSoak
from rules.readings import DAY, SECOND, Micros, SensorKind, micros
from sim_devices.running.fleet import Fleet, Utterance
from sim_devices.running.hands import HAND_SECONDS
from sim_devices.running.pace import Pace
from sim_devices.running.simulation import Simulation
from sim_devices.sensing.delivery import Sent
from sim_devices.speech import Voice
from sim_devices.ward.deeds import Deed

log = logging.getLogger(__name__)

LEAST_STEP, MOST_STEP = micros(0.2), micros(60)
"""Life goes on in steps of at least so long, and at most (ours): a longer step costs hardly more than a short one."""

IDLE = 4
"""A step lasts so many times as long as it takes to live through it, which leaves time to others (ours)."""

MOST_DEEDS = 100


T = TypeVar("T")


class _Asked(NamedTuple):
    work: Callable[[], Any]
    done: Future[Any]


class LiveWard:
    """Lives through a simulation a little ahead of the clock, and gives the fleet what its devices are to say.

    ended: set when it lives no more. failure: the fault of the program that ended it, if one did.
    now: the present of the wall. On the ward's own thread, enter is given what people enter, as they come to it, and
    did what hands did, with its time in the ward's life.
    """

    def __init__(
        self,
        simulation: Simulation,
        fleet: Fleet,
        voice: Voice,
        pace: Pace,
        now: Callable[[], Micros],
        enter: Callable[[Sequence[Entry]], None] | None = None,
        did: Callable[[Micros, Deed], None] | None = None,
    ) -> None:
        self._simulation, self._fleet, self._voice, self._pace = simulation, fleet, voice, pace
        self._now, self._enter, self._did = now, enter, did
        self._links = frozenset(name for name, sensor in voice.site.sensors().items() if sensor.kind is SensorKind.LINK)
        self._step = LEAST_STEP
        self._sent = simulation.lived
        self._day = simulation.lived // DAY
        self._asked: queue.Queue[_Asked] = queue.Queue(MOST_DEEDS)
        self.ended = threading.Event()
        self.failure: Exception | None = None
        self._thread = threading.Thread(target=self._run, name="ward", daemon=True)

    # ---- any thread -----------------------------------------------------------------------------------------------

    def start(self) -> None:
        """Begin to live."""
        self._thread.start()

    def stop(self) -> None:
        """Live no more."""
        self.ended.set()
        self._thread.join()

    def act(self, deed: Deed) -> Micros:
        """Do a deed as soon as may be, and give its time.

        Raises:
            sim_devices.ward.refusal.DeedError: it cannot be.
            HandsError: the ward does not come to it.
        """
        return self._on_its_thread(lambda: self._do(deed))

    def claims(self, unclaimed: Sequence[UnclaimedSoak], role: str) -> list[Claim]:
        """What people claim by now of these soaks, in a role that entitles to it; each claim is made once.

        Raises:
            HandsError: the ward does not come to it.
        """
        claims, now = self._simulation.ward.claims, self._now()
        return self._on_its_thread(lambda: claims.made(unclaimed, role, now))

    def _on_its_thread(self, work: Callable[[], T]) -> T:
        done: Future[T] = Future()
        try:
            self._asked.put_nowait(_Asked(work, done))
            return done.result(HAND_SECONDS)
        except (queue.Full, LateError) as error:
            done.cancel()
            raise HandsError(
                "the simulator does not keep up with what it has to do; try again, or at a lower speed"
            ) from error

    @property
    def behind_seconds(self) -> float:
        """By how much life is later than the clock."""
        return max(0.0, (self._now() - self._pace.wall(self._sent)) / SECOND)

    # ---- the ward's thread ----------------------------------------------------------------------------------------

    def _run(self) -> None:
        try:
            while not self.ended.is_set():
                self._live_on()
        except Exception as error:
            log.exception("the simulated ward ends because of a fault of its own")
            self.failure = error
            self.ended.set()

    def _live_on(self) -> None:
        """One step, as soon as no more than a step is lived ahead; hands act in between."""
        ahead = self._pace.wall(self._sent) - self._now()
        self._do_asked(max(0, ahead - self._step) / SECOND)
        if ahead <= self._step:
            self._take_step()

    def _take_step(self) -> None:
        """Live through a step, after what is late."""
        begun = self._now()
        begins = max(self._pace.wall(self._sent), begun)
        until = max(self._sent, self._pace.ward(Micros(begins + self._step)))
        self._simulation.live(until)
        self._fleet.offer([self._utterance(sent) for sent in self._simulation.sent(self._sent, until)])
        if self._enter is not None and (entries := self._simulation.entries(self._sent, until)):
            self._enter(entries)
        self._sent = until
        self._step = Micros(min(MOST_STEP, max(LEAST_STEP, IDLE * (self._now() - begun))))
        if until // DAY != self._day:
            self._day = until // DAY
            self._simulation.forget()

    def _do_asked(self, most_seconds: float) -> None:
        """Do what hands ask for; waits so long for it at most."""
        try:
            asked = self._asked.get(timeout=most_seconds) if most_seconds else self._asked.get_nowait()
        except queue.Empty:
            return
        if not asked.done.set_running_or_notify_cancel():
            return
        try:
            asked.done.set_result(asked.work())
        except Exception as error:  # noqa: BLE001 - whoever asked is told, and the ward lives on
            asked.done.set_exception(error)

    def _do(self, deed: Deed) -> Micros:
        at = self._simulation.do(deed, self._simulation.lived)
        if self._did is not None:
            self._did(at, deed)
        return self._pace.wall(at)

    def _utterance(self, sent: Sent) -> Utterance:
        """What a device says, with its stamps on the wall's clock; a word on its link moves the connection itself."""
        at, first = self._pace.wall(sent.at), sent.samples[0]
        thing = first.sensor.partition("/")[0]
        if first.sensor in self._links:
            return Utterance(at, thing, online=bool(first.value))
        samples = [sample._replace(measured=self._pace.wall(sample.measured)) for sample in sent.samples]
        if sent.buffered:
            return Utterance(at, thing, tuple(self._voice.recall(samples)))
        return Utterance(at, thing, tuple(self._voice.say(sample, sent.spoilt) for sample in samples))
