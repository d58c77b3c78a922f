"""Everything that the people of a simulated department enter."""

from rules.commands import Entry
from rules.picture import Picture
from rules.readings import SECOND, Micros
from rules.site import Site
from sim_devices.crew import ENGINEER, PHYSICIAN, TECH
from sim_devices.fleet import TAKEN_INTO_SERVICE_SECONDS
from sim_devices.probe_deeds import Crew, ProbeDeeds
from sim_devices.spans import later
from sim_devices.upkeep import LOOK_BACK_SECONDS
from sim_devices.world import World

UNWATCHED_SECONDS = 300
"""After so long without devices and gateway people do not rely on what the wall said before (ours)."""


class Entries:
    """What is entered when.

    begun: when the devices of this start began to speak. What was told with a button before is entered instead.
    """

    def __init__(self, site: Site, world: World, begun: Micros) -> None:
        self._world = world
        self._begun = begun
        self._wipes = site.care.wipes
        self._service = later(world.epoch, -TAKEN_INTO_SERVICE_SECONDS - 1)
        self._probes = (
            ProbeDeeds(
                world.whereabouts,
                world.truth,
                world.knocks,
                site.reprocessing,
                Crew(PHYSICIAN, TECH, ENGINEER),
                later(world.epoch, -TAKEN_INTO_SERVICE_SECONDS),
            )
            if site.reprocessing.tracked
            else None
        )

    def lacking(self, picture: Picture, now: Micros) -> list[Entry]:
        """What the picture shows that nobody has entered yet: at the basins, and of soaks that nobody claimed."""
        found: list[Entry] = [
            entry for basin in picture.basins for entry in self._world.upkeep[basin.id].due(basin.solution, now)
        ]
        if self._probes is not None:
            found += self._probes.claims(picture.unclaimed, now)
        return found

    def told(self, after: Micros, until: Micros) -> list[Entry]:
        """What is entered of probes and carts in (after, until], each at its time, the oldest first."""
        entries: list[Entry] = []
        if self._probes is not None:
            entries += self._probes.within(after, until, self._begun)
        if self._wipes:
            for care in self._world.care.values():
                entries += care.entered(PHYSICIAN, after, until, self._begun)
        return sorted(entries, key=lambda entry: entry.arrived)

    def within(self, after: Micros | None, now: Micros) -> list[Entry]:
        """The same, but all of it entered now; since the beginning where ``after`` is None, of a day at most.

        Where that is long, somebody answers anew for the probes that nobody watched.
        """
        begins = Micros(max(self._service, now - LOOK_BACK_SECONDS * SECOND))
        told = self.told(begins if after is None else Micros(max(after, begins)), now)
        if self._probes is not None and (after is None or now - after > UNWATCHED_SECONDS * SECOND):
            told += self._probes.vouched_anew(now)
        return [entry.model_copy(update={"arrived": now}) for entry in told]
