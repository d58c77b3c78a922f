"""The simulated department: what every sensor measures, as a pure function of time since the department's epoch."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from rules.readings import SECOND, Micros, SensorKind
from rules.site import Label, Site
from sim_devices.chance import Chance
from sim_devices.habits import DEMO, Habits
from sim_devices.sampling import Source
from sim_devices.script import FIRST_MINUTES, Script
from sim_devices.sensing.sample import Sample
from sim_devices.sensing.spoiling import Spoiling
from sim_devices.wiring import momentary_of, since_of, sources_of
from sim_devices.world import World, world_of

_SPOILT_KINDS = (SensorKind.VAPOUR.value, SensorKind.BATTERY.value)
_LONGEST_LOOK = 4096 * SECOND


@dataclass(frozen=True)
class Department:
    """A department at work.

    things: the sensors of each device as functions of time, thermometers before lids.
    momentary: buttons and the like, which tell only that something happened, of each device that has some.
    since: from when on each device is in service. world: what there is to be sensed.
    """

    things: Mapping[str, tuple[Source, ...]] = field(repr=False)
    momentary: Mapping[str, tuple[Source, ...]] = field(repr=False)
    since: Mapping[str, Micros] = field(repr=False)
    world: World = field(repr=False)

    def samples(self, thing: str, after: Micros, until: Micros) -> list[Sample]:
        """What the device measured in (after, until], by time; at one instant in the order of its sensors."""
        start = Micros(max(after, self.since[thing]))
        if start >= until:
            return []
        sources = (*self.things[thing], *self.momentary.get(thing, ()))
        told = (sample for source in sources for sample in source.samples(start, until))
        return sorted(told, key=lambda sample: sample.measured)

    def newest(self, thing: str, until: Micros) -> list[Sample]:
        """The newest sample of each sensor that tells how something is, by time."""
        newest = (self._newest(source, self.since[thing], until) for source in self.things[thing])
        return sorted((s for s in newest if s is not None), key=lambda sample: sample.measured)

    def next_due(self, thing: str, after: Micros) -> Micros:
        """When the device measures next; a look again after a while where nothing comes for long."""
        until, step = after, SECOND
        while step <= _LONGEST_LOOK:
            until = Micros(after + step)
            if told := self.samples(thing, after, until):
                return told[0].measured
            step *= 4
        return until

    def spoiling(self, sample: Sample) -> Spoiling | None:
        """What is wrong with the message of a sample, None for a good one."""
        spoilable = sample.sensor.endswith(_SPOILT_KINDS)
        return self.world.faults.spoiling(sample.sensor, sample.measured) if spoilable else None

    @staticmethod
    def _newest(source: Source, since: Micros, until: Micros) -> Sample | None:
        step = 15 * SECOND
        while until - step > since:
            if told := source.samples(Micros(until - step), until):
                return told[-1]
            step *= 4
        told = source.samples(since, until)
        return told[-1] if told else None


def department(
    site: Site,
    labels: Mapping[str, Label],
    epoch: Micros,
    seed: int,
    script: Script = FIRST_MINUTES,
    habits: Habits = DEMO,
) -> Department:
    """A department with the site's basins, carts and sensors.

    labels: by id; the site's own come before them.
    epoch: when it was first started; its life is a function of the time since then, and of ``seed``.

    Raises:
        NoSuchLabelError: a basin names a label that is not there.
    """
    world = world_of(site, labels, epoch, Chance(seed), script, habits)
    things = sources_of(site, world)
    return Department(things, momentary_of(site, world), since_of(things, world), world)
