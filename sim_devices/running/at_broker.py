"""A simulated ward at a real broker: people, devices, and a desk for hands."""

import threading
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from typing import Self

from gateway.endpoint import Endpoint
from rules.commands import Claim, Entry
from rules.picture import UnclaimedSoak
from rules.readings import Micros
from rules.site import Site
from sim_devices.chance import Chance
from sim_devices.running.fleet import Fleet, Standing
from sim_devices.running.hand_topics import HandDesk
from sim_devices.running.hands import WardHands
from sim_devices.running.live import LiveWard
from sim_devices.running.pace import Pace
from sim_devices.running.simulation import Simulation
from sim_devices.speech import Voice
from sim_devices.ward.deeds import Deed


@dataclass
class AtBroker:
    """``with AtBroker(site, simulation, endpoint, now): ...`` lives through a simulation beside the clock.

    now: the present. speed: how many times faster than the clock. tell: is given a sentence when something is wrong
    with the broker. enter: is given what people enter. did: what hands did, with its time in the ward's life. hands:
    for a page of this process. cbor: devices that speak CBOR.

    Raises:
        gateway.endpoint.EndpointError: password or authorities cannot be read.
        sim_devices.running.open_files.OpenFilesError: the system does not allow so many connections.
    """

    site: Site
    simulation: Simulation
    endpoint: Endpoint
    now: Callable[[], Micros]
    speed: float = 1
    tell: Callable[[str], None] = print
    enter: Callable[[Sequence[Entry]], None] | None = None
    cbor: frozenset[str] = frozenset()
    did: Callable[[Micros, Deed], None] | None = None

    def __post_init__(self) -> None:
        voice = Voice(self.site, self.cbor)
        pace = Pace(self.simulation.lived, self.now(), self.speed)
        things = self.simulation.things
        self.fleet = Fleet(self.endpoint, voice, things, self.now, Chance(self.simulation.seed), self.tell)
        self._ward = LiveWard(self.simulation, self.fleet, voice, pace, self.now, self.enter, self.did)
        self.hands = WardHands(self.site, self._ward.act)
        self._desk = HandDesk(self.endpoint, self.site, self.hands)
        self._running = ExitStack()

    def __enter__(self) -> Self:
        self.fleet.start()
        self._running.callback(self.fleet.stop)
        self._ward.start()
        self._running.callback(self._ward.stop)
        self._running.enter_context(self._desk)
        return self

    def __exit__(self, *_: object) -> None:
        self._running.close()

    @property
    def failure(self) -> Exception | None:
        """The fault of the program that ended the ward, if one did."""
        return self._ward.failure

    @property
    def ended(self) -> threading.Event:
        """Set when a fault of the program ended the ward."""
        return self._ward.ended

    @property
    def behind_seconds(self) -> float:
        """By how much life is later than it should be: the machine is too slow for the speed."""
        return self._ward.behind_seconds

    def claims(self, unclaimed: Sequence[UnclaimedSoak], role: str) -> list[Claim]:
        """What people claim by now of these soaks, in a role that entitles to it; each claim is made once.

        Raises:
            gateway.hands.HandsError: the ward does not come to it.
        """
        return self._ward.claims(unclaimed, role)

    def standing(self) -> Standing:
        """How its devices do."""
        return self.fleet.standing()
