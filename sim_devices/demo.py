"""The simulated department behind the demo: devices that go on where they stopped."""

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from rules.commands import Entry
from rules.picture import BasinPicture
from rules.readings import Micros
from rules.site import Label, Site
from sim_devices.department import department
from sim_devices.devices import Devices
from sim_devices.diary import Diary
from sim_devices.people import TECH
from sim_devices.script import FIRST_MINUTES
from sim_devices.upkeep import BasinUpkeep, upkeep_of

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
        self._diary = diary = Diary.opened(folder, now(), seed)
        world = department(site, labels, diary.epoch, diary.seed)
        self._now = now
        self._upkeep: Mapping[str, BasinUpkeep] = upkeep_of(site, labels, world.basins, TECH)
        self._devices = Devices(site, world, now, diary.heard, _cbor_devices(site))

    @property
    def seed(self) -> int:
        """The seed of the department's life."""
        return self._diary.seed

    def entries(self, basins: Iterable[BasinPicture]) -> list[Entry]:
        """What people did at the basins by now, and what is not in their record yet."""
        now = self._now()
        return [entry for basin in basins for entry in self._upkeep[basin.id].due(basin.solution, now)]

    def start(self, host: str, port: int) -> None:
        """Connect to the broker, in the background, and begin to speak."""
        self._devices.start(host, port)

    def stop(self) -> None:
        """Leave ``offline`` behind, hang up, and remember until when everything was heard."""
        heard = self._devices.stop()
        if heard is not None:
            self._diary.model_copy(update={"heard": heard}).keep(self._folder)


def _cbor_devices(site: Site) -> frozenset[str]:
    basins = [basin.id for basin in site.basin]
    return frozenset(basins[FIRST_MINUTES.cbor_basin : FIRST_MINUTES.cbor_basin + 1])
