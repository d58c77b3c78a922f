"""Which messages of a device are spoilt on their way."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rules.readings import Micros, SensorId
from sim_devices.chance import Chance
from sim_devices.sensing.sample import Sample
from sim_devices.sensing.spoiling import Spoiling
from sim_devices.ward.state import Ailment
from sim_devices.ward.tracks import Track

_KINDS = tuple(Spoiling)


@dataclass(frozen=True, slots=True)
class Spoils:
    """A sensor's ailment may be that its messages are spoilt; else so is the share of all that ``share`` says."""

    ailments: Mapping[SensorId, Track[Ailment | None]]
    chance: Chance
    share: float

    def of(self, samples: Sequence[Sample]) -> dict[int, Spoiling]:
        """What is wrong with each of the samples, by its place; of most nothing is. Samples in the order of time."""
        if not samples:
            return {}
        start, end = samples[0].measured, samples[-1].measured
        ailing = {name for name in {s.sensor for s in samples} if self._may_ail(name, start, end)}
        if not (ailing or self.share):
            return {}
        told = ((n, self._spoiling(s)) for n, s in enumerate(samples) if self.share or s.sensor in ailing)
        return {n: spoiling for n, spoiling in told if spoiling is not None}

    def _may_ail(self, sensor: SensorId, start: Micros, end: Micros) -> bool:
        ailments = self.ailments[sensor]
        return ailments.at(start) is not None or bool(ailments.changes(start, end))

    def _spoiling(self, sample: Sample) -> Spoiling | None:
        sensor, at = sample.sensor, sample.measured
        ailment = self.ailments[sensor].at(at)
        share = ailment.by if ailment is not None and ailment.how == "spoilt" else self.share
        if self.chance.share(sensor, "spoilt", at) >= share:
            return None
        return _KINDS[self.chance.below(len(_KINDS), sensor, "spoiling", at)]
