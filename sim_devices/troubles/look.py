"""A ward looked back at: its things, what was soaked in it, and how its probes stood."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from operator import not_

from rules.board import Subject
from rules.readings import Micros, SensorId, SensorKind
from rules.site import Probe
from sim_devices.troubles.baths import Bath, Tub, baths_of
from sim_devices.troubles.episode import Episode, Trouble
from sim_devices.troubles.standing import Demands, Standing, states
from sim_devices.troubles.stretches import Held, held, joined, without
from sim_devices.ward.deeds import Bring
from sim_devices.ward.ward import Ward


@dataclass(frozen=True)
class Look:
    """The ward up to an instant, from its beginning on or from where it remembers.

    tubs: by basin. standings: by probe. brought: by probe and instant, how it was brought to where it is then.
    """

    ward: Ward
    within: Held
    tubs: Mapping[str, Tub]
    standings: Mapping[str, Standing]
    brought: Mapping[tuple[str, Micros], Bring]

    @classmethod
    def back(cls, ward: Ward, until: Micros) -> "Look":
        """At all that was up to then."""
        within = Held(ward.epoch, until)
        tubs = {name: Tub(state, ward.labels[name]) for name, state in ward.basins.items()}
        standings = {probe.id: standing_of(ward, probe, tubs, within) for probe in ward.site.probe}
        brought = {(deed.probe, at): deed for at, deed in ward.log if isinstance(deed, Bring)}
        return cls(ward, within, tubs, standings, brought)

    def baths(self) -> Iterator[Bath]:
        """Every stay of a probe in a basin, probe by probe."""
        for standing in self.standings.values():
            yield from standing.baths

    def reads(self, bath: Bath) -> bool:
        """Whether a reader of tags at the basin tells of the probe."""
        readers = [s for s in self.ward.sensors.values() if s.thing == bath.basin and s.kind is SensorKind.TAG]
        has_tag = self.ward.homes[bath.probe].tag is not None
        return bath.read and has_tag and any(self._works(reader.id, bath) for reader in readers)

    def _works(self, reader: SensorId, bath: Bath) -> bool:
        """Whether it sees something for some of the stay; what it cannot say at once it says later."""
        device = self.ward.devices[bath.basin]
        mute = held(self.ward.ailments[reader], lambda a: a is not None and (a.how == "silent" or a.by >= 1), bath.stay)
        dead = held(device.powered, not_, bath.stay)
        return bool(without([bath.stay], joined([*mute, *dead])))

    def episodes(self, trouble: Trouble, subject: Subject, when: Iterable[Held]) -> Iterator[Episode]:
        """What lasts up to the end of the look has no end."""
        for start, end in when:
            yield Episode(trouble, subject, start, None if end >= self.within.end else end)


def standing_of(ward: Ward, probe: Probe, tubs: Mapping[str, Tub], within: Held) -> Standing:
    """A probe's whole life up to the end of the look."""
    life, policy = ward.probes[probe.id], ward.site.reprocessing
    rinses = {name: tub.label.rinses or policy.rinses for name, tub in tubs.items()}
    baths = list(baths_of(probe.id, life, tubs, within))
    return Standing(life, states(life, baths, Demands(probe.internal, policy, rinses), within.start), baths)
