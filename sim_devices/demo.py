"""The simulated department behind the demo: devices that go on where they stopped."""

from collections.abc import Callable, Mapping
from pathlib import Path

from rules.commands import Entry
from rules.picture import Picture
from rules.readings import Micros
from rules.site import Label, Site
from sim_devices.chance import Chance
from sim_devices.department import department
from sim_devices.devices import Devices
from sim_devices.diary import Diary
from sim_devices.entries import Entries
from sim_devices.pagers import Pagers
from sim_devices.script import FIRST_MINUTES
from sim_devices.spans import later

SITE_FILE = Path(__file__).with_name("demo.toml")
"""The demo's site file."""

SEED = 7


class Demo:
    """A department whose epoch is kept in a data folder: ``Demo(site, labels, folder, clock.now).start(host, port)``.

    labels: by id; the site's own come before them.
    now: the present; the same clock as the gateway's.

    Raises:
        sim_devices.diary.DiaryError: the folder's diary cannot be read.
        sim_devices.world.NoSuchLabelError: a basin names a label that is not there.
    """

    def __init__(
        self, site: Site, labels: Mapping[str, Label], folder: Path, now: Callable[[], Micros], seed: int = SEED
    ) -> None:
        self._folder = folder
        self._now = now
        begun = now()
        self._diary = diary = Diary.opened(folder, begun, seed)
        living = department(site, labels, diary.epoch, diary.seed)
        self._entries = Entries(site, living.world, begun)
        self._devices = Devices(site, living, now, diary.heard, _cbor_devices(site))
        self._mislaid = numbers_of(site, FIRST_MINUTES.mislaid_role)

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
        by_time = self._entries.within(self._diary.entered, now)
        entered = self._diary.model_copy(update={"entered": now})
        if by_time:
            entered.keep(self._folder)
        self._diary = entered
        return [*self._entries.lacking(picture, now), *by_time]

    def carry(self, pagers: Pagers) -> None:
        """Let those who carry pagers read and answer by now; in the first minutes some of them lie in a locker."""
        found = self._now() >= later(self._diary.epoch, FIRST_MINUTES.mislaid_seconds)
        pagers.look(Chance(self.seed), () if found else self._mislaid)

    def start(self, host: str, port: int) -> None:
        """Connect to the broker, in the background, and begin to speak."""
        self._devices.start(host, port)

    def stop(self) -> None:
        """Leave ``offline`` behind, hang up, and remember until when everything was heard and entered."""
        heard = self._devices.stop()
        if heard is not None:
            self._diary = self._diary.model_copy(update={"heard": heard})
        self._diary.keep(self._folder)


def numbers_of(site: Site, role: str) -> frozenset[str]:
    """Of the pagers of all who are on duty in a role at any time."""
    carried = {contact for duty in site.duty if duty.role == role for contact in duty.contacts}
    return frozenset(way.address for contact in site.contact if contact.id in carried for way in contact.ways)


def _cbor_devices(site: Site) -> frozenset[str]:
    basins = [basin.id for basin in site.basin]
    return frozenset(basins[FIRST_MINUTES.cbor_basin : FIRST_MINUTES.cbor_basin + 1])
