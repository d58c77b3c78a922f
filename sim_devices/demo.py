"""The simulated department behind the demo: it lives from its first start on, whether or not anybody looks."""

import logging
import threading
import tomllib
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from importlib.resources import files
from pathlib import Path

from gateway.endpoint import Endpoint
from gateway.hands import HandsError
from rules.commands import Claim, Entry
from rules.picture import Picture
from rules.probe_words import Place
from rules.readings import SECOND, Micros, micros
from rules.site import Label, Site
from sim_devices.answering.pagers import Pagers
from sim_devices.chance import Chance
from sim_devices.diary import Diary
from sim_devices.running.at_broker import AtBroker
from sim_devices.running.simulation import Simulation
from sim_devices.scenarios.clock import seconds_of
from sim_devices.staff.habits import demo_pace
from sim_devices.troubles.look import Look
from sim_devices.ward.deeds import DEED, Deed, Network, VouchFor

log = logging.getLogger(__name__)

SITE_FILE = Path(__file__).with_name("demo.toml")
"""The demo's site file."""

SEED = 7

LEAD_SECONDS = 600
"""The ward opens so long before the first start, so that soaks are under way by then (ours)."""

ALONE_SECONDS = 240
"""So long after the first start people come to work; until then happens what first_minutes.toml tells (ours)."""

LONGEST_LIFE_SECONDS = 10 * 3600
"""A department that is older when it is started again begins anew, for its whole life is lived again at each start,
which takes a third of a second an hour (ours)."""

HEARD_BEFORE_SECONDS = 30
"""What was said so shortly before the end may not have been heard; it is said again, and counts once (ours)."""

VOUCHED_SECONDS = 8
"""So long after each start somebody answers for the probes that hang ready, as nobody watched them before. By then none
of them is at a patient yet (ours)."""

MISLAID_ROLE, MISLAID_SECONDS = "tech", 170
"""Pagers of this role lie in a locker until then, so that one sees an alert go on to the next in turn (ours)."""

CBOR_BASIN = 2
"""Number of the basin whose device speaks CBOR."""


class Demo:
    """A department whose life is kept in a data folder.

    labels: by id; the site's own come before them. endpoint: the gateway's broker. now: the gateway's clock.
    What was done by hand is part of its life, and written into the diary.

    Raises:
        sim_devices.diary.DiaryError: the folder's diary cannot be read.
        sim_devices.ward.refusal.DeedError: the site has not what the first minutes tell of.
    """

    def __init__(
        self,
        site: Site,
        labels: Mapping[str, Label],
        folder: Path,
        endpoint: Endpoint,
        now: Callable[[], Micros],
        seed: int = SEED,
    ) -> None:
        self._site, self._folder, self._now = site, folder, now
        begun = now()
        self._diary = diary = going_on(Diary.opened(folder, begun, seed), begun)
        self._writing = threading.Lock()
        simulation = relived(site, labels, diary, begun)
        since = opened(diary) if diary.entered is None else diary.entered
        self._told = deque(simulation.entries(since, begun))
        self._broker = AtBroker(
            site, simulation, endpoint, now, enter=self._told.extend, cbor=_cbor_devices(site), did=self._did
        )
        self._mislaid = numbers_of(site, MISLAID_ROLE)
        self.hands = self._broker.hands

    @property
    def seed(self) -> int:
        """The seed of the department's life."""
        return self._diary.seed

    def entries(self, picture: Picture) -> list[Entry]:
        """What people did by now, and what is not in the record yet.

        That they are about to enter it is written down first: what is lost then is only forgotten, as people do, while
        what was entered twice might count twice.
        """
        now = self._now()
        told = list(self._come_to(now))
        if told:
            self._write(lambda diary: diary.model_copy(update={"entered": now}))
        return [*self._claims(picture), *told]

    def _claims(self, picture: Picture) -> list[Claim]:
        role = self._site.reprocessing.claim_roles[0]
        try:
            return self._broker.claims(picture.unclaimed, role)
        except HandsError as error:
            log.warning("no soak is claimed now: %s", error)
            return []

    def _come_to(self, now: Micros) -> Iterator[Entry]:
        """The ward is lived a little ahead of the clock."""
        while self._told and self._told[0].arrived <= now:
            yield self._told.popleft().model_copy(update={"arrived": now})

    def carry(self, pagers: Pagers) -> None:
        """Let those who carry pagers read and answer by now; in the first minutes some of them lie in a locker."""
        found = self._now() >= _later(self._diary.epoch, MISLAID_SECONDS)
        pagers.look(Chance(self.seed), () if found else self._mislaid)

    def start(self) -> None:
        """Connect to the broker, in the background, and begin to speak."""
        self._broker.__enter__()

    def stop(self) -> None:
        """Hang up, and remember until when everything was heard and entered."""
        self._broker.__exit__()
        heard = max(opened(self._diary), _later(self._now(), -HEARD_BEFORE_SECONDS))
        self._write(lambda diary: diary.model_copy(update={"heard": heard}))

    def _did(self, at: Micros, deed: Deed) -> None:
        self._write(lambda diary: diary.with_deed(at, deed))

    def _write(self, change: Callable[[Diary], Diary]) -> None:
        """From any thread."""
        with self._writing:
            self._diary = change(self._diary)
            self._diary.keep(self._folder)


def opened(diary: Diary) -> Micros:
    """When the ward opened."""
    return _later(diary.epoch, -LEAD_SECONDS)


def going_on(diary: Diary, begun: Micros) -> Diary:
    """The same life, or after a long one another, whose ward opens now: of before the record tells the old one."""
    if begun - diary.epoch < LONGEST_LIFE_SECONDS * SECOND:
        return diary
    return Diary(seed=diary.seed + 1, epoch=_later(begun, LEAD_SECONDS))


def relived(site: Site, labels: Mapping[str, Label], diary: Diary, begun: Micros) -> Simulation:
    """The department's life up to now. Since it was last heard no device was: each says what it remembers."""
    epoch = opened(diary)
    away = max(epoch, diary.heard or epoch)
    plan = [*first_minutes(epoch), (away, Network(thing="", up=False)), (begun, Network(thing="", up=True))]
    plan += [(one.at, one.deed) for one in diary.by_hand]
    begins = _later(diary.epoch, ALONE_SECONDS)
    simulation = Simulation(site, labels, epoch, diary.seed, demo_pace(site), plan, begins=begins)
    simulation.live(begun)
    simulation.plan(
        (_later(begun, VOUCHED_SECONDS), VouchFor(probe=probe)) for probe in hung_and_fit(simulation, begun)
    )
    return simulation


def hung_and_fit(simulation: Simulation, at: Micros) -> Iterator[str]:
    """Probes that hang on their hooks, and of which really nothing is owed."""
    for name, standing in Look.back(simulation.ward, Micros(at + 1)).standings.items():
        truth = standing.truth(at)
        if truth.place is Place.HOOK and truth.is_fit:
            yield name


def first_minutes(epoch: Micros) -> Sequence[tuple[Micros, Deed]]:
    """What is certain to be seen, whatever chance says; by time."""
    steps = tomllib.loads(files("sim_devices").joinpath("first_minutes.toml").read_text("utf-8"))["step"]
    return [(_instant(epoch, step.pop("at")), DEED.validate_python(step)) for step in steps]


def _later(at: Micros, seconds: float) -> Micros:
    return Micros(at + micros(seconds))


def _instant(epoch: Micros, at: str) -> Micros:
    return _later(epoch, float(str(seconds_of(at))))


def numbers_of(site: Site, role: str) -> frozenset[str]:
    """Of the pagers of all who are on duty in a role at any time."""
    carried = {contact for duty in site.duty if duty.role == role for contact in duty.contacts}
    return frozenset(way.address for contact in site.contact if contact.id in carried for way in contact.ways)


def _cbor_devices(site: Site) -> frozenset[str]:
    return frozenset(basin.id for basin in site.basin[CBOR_BASIN : CBOR_BASIN + 1])
