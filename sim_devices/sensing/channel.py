"""One sensor of a device, from what it senses to what the device has of it."""

from dataclasses import dataclass
from itertools import compress

from rules.readings import Micros, SensorId
from sim_devices.sensing.ailing import Ailing
from sim_devices.sensing.beats import Beats
from sim_devices.sensing.powered import Power
from sim_devices.sensing.sample import Sample
from sim_devices.sensing.sense import Sense

_LOOK_BACK = 3


@dataclass(frozen=True, slots=True)
class SensorChannel:
    """A sensor reports at its beats, at changes, and when its device has power again."""

    sensor: SensorId
    sense: Sense
    beats: Beats
    power: Power
    ailing: Ailing

    def samples(self, after: Micros, until: Micros) -> list[Sample]:
        """What it measured in (after, until], by time."""
        samples = self._asked(after, until)
        unasked = [*self._told(after, until), *self._first(after, until)]
        if unasked:
            # An instant has one word: the one that is told because of it.
            samples = list({sample.measured: sample for sample in (*samples, *unasked)}.values())
            samples.sort(key=_measured)
        return self.ailing.suffered(samples, after, until)

    def newest(self, until: Micros) -> Sample | None:
        """What it reported last, up to ``until``; None where that is several of its intervals ago."""
        samples = self.samples(Micros(until - _LOOK_BACK * self.beats.interval), until)
        return samples[-1] if samples else None

    def _asked(self, after: Micros, until: Micros) -> list[Sample]:
        beats = self.beats.instants(after, until)
        if not beats.size:
            return []
        at = beats[self.power.lets_speak(beats)]
        sensor, values = self.sensor, self.sense.asked(at)
        return [Sample(sensor, Micros(when), value) for when, value in zip(at.tolist(), values, strict=True)]

    def _told(self, after: Micros, until: Micros) -> list[Sample]:
        told = self.sense.told(after, until)
        if not told:
            return []
        silences = self.power.silences(after, Micros(until + 1))
        heard = (not any(begin <= t.at < end for begin, end in silences) for t in told)
        return [Sample(self.sensor, t.at, t.value, change=True) for t in compress(told, heard)]

    def _first(self, after: Micros, until: Micros) -> list[Sample]:
        ups = ((at, self.sense.first(at)) for at in self.power.ups(after, until))
        return [Sample(self.sensor, at, value) for at, value in ups if value is not None]


def _measured(sample: Sample) -> Micros:
    return sample.measured
