"""What becomes of a sensor's words while something is wrong with it."""

from dataclasses import dataclass, field

import numpy as np

from rules.readings import KINDS, NO_TIME, Micros, SensorId, SensorKind, Value
from sim_devices.chance import Chance
from sim_devices.sensing.sample import Sample
from sim_devices.sensing.sense import Sense
from sim_devices.ward.state import Ailment
from sim_devices.ward.tracks import Track

_DECIMALS = 9


@dataclass
class Ailing:
    """One sensor and its ailments; what is spoilt on the way is no concern of the sensor.

    A sensor that is stuck repeats what it would have said when that began; that word is kept, as a ward may forget
    when it was.
    """

    sensor: SensorId
    kind: SensorKind
    sense: Sense
    ailments: Track[Ailment | None]
    chance: Chance
    _stuck_at: dict[Micros, Value] = field(default_factory=dict)

    def suffered(self, samples: list[Sample], after: Micros, until: Micros) -> list[Sample]:
        """What is left of the samples of (after, until], in order."""
        if self.ailments.at(after) is None and not self.ailments.changes(after, until):
            return samples
        told = ((sample, self.ailments.at(sample.measured)) for sample in samples)
        suffered = (sample if ailment is None else self._suffer(sample, ailment) for sample, ailment in told)
        return [sample for sample in suffered if sample is not None]

    def _suffer(self, sample: Sample, ailment: Ailment) -> Sample | None:
        match ailment.how:
            case "silent":
                return None
            case "stuck":
                return None if sample.change else sample._replace(value=self._stuck(sample))
            case "off":
                return sample._replace(value=self._off(sample.value, ailment.by))
            case "loses":
                return self._lost(sample, ailment.by)
            case "spoilt":
                return sample

    def _stuck(self, sample: Sample) -> Value:
        since = max(self.ailments.changes(NO_TIME, sample.measured), default=None)
        if since is None:
            return next(reversed(self._stuck_at.values()), sample.value)
        if since not in self._stuck_at:
            # One value is enough for a ward that forgets, and it may be asked of two stretches in one go.
            self._stuck_at.clear()
            self._stuck_at[since] = self.sense.asked(np.array([since], dtype=np.int64))[0]
        return self._stuck_at[since]

    def _off(self, value: Value, by: float) -> Value:
        if isinstance(value, bool | str):
            return value
        spec = KINDS[self.kind]
        return round(min(spec.high, max(spec.low, value + by)), _DECIMALS)

    def _lost(self, sample: Sample, share: float) -> Sample | None:
        """A reader loses tags one by one; any other sensor whole words."""
        if self.kind is SensorKind.TAG:
            tags = str(sample.value).split()
            return sample._replace(value=" ".join(tag for tag in tags if not self._is_lost(share, tag, sample)))
        return None if self._is_lost(share, "", sample) else sample

    def _is_lost(self, share: float, tag: str, sample: Sample) -> bool:
        return self.chance.share(self.sensor, "loses", tag, sample.measured) < share
