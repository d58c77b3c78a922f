"""A simulated ward: it changes by deeds alone, each at its time, and keeps the list of them."""

from bisect import bisect_left
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

from rules.commands import Entry
from rules.readings import Micros
from rules.site import Label, Site
from sim_devices.chance import Chance
from sim_devices.physics.figures import PHYSICS, PhysicsFigures
from sim_devices.ward import basin_deeds, cart_deeds, deeds, device_deeds, probe_deeds
from sim_devices.ward.deeds import Deed
from sim_devices.ward.figures import WARD_FIGURES, WardFigures
from sim_devices.ward.forgetting import forget
from sim_devices.ward.refusal import DeedError
from sim_devices.ward.spoken import entered
from sim_devices.ward.things import Things

_DOES: Mapping[type[Deed], Callable[[Things, Micros, Any], None]] = MappingProxyType(
    {
        deeds.OpenLid: basin_deeds.open_lid,
        deeds.CloseLid: basin_deeds.close_lid,
        deeds.Pour: basin_deeds.pour,
        deeds.Spend: basin_deeds.spend,
        deeds.ReadStrip: basin_deeds.read_strip,
        deeds.SetCelsius: basin_deeds.set_celsius,
        deeds.Heater: basin_deeds.heater,
        deeds.RoomCelsius: basin_deeds.room_celsius,
        deeds.Spill: basin_deeds.spill,
        deeds.Roll: cart_deeds.roll,
        deeds.Halt: cart_deeds.halt,
        deeds.Bump: cart_deeds.bump,
        deeds.Mains: cart_deeds.mains,
        deeds.TakeDown: cart_deeds.take_down,
        deeds.HangUp: cart_deeds.hang_up,
        deeds.WipeDown: cart_deeds.wipe_down,
        deeds.OpenGel: cart_deeds.open_gel,
        deeds.Touch: probe_deeds.touch,
        deeds.LayDown: probe_deeds.lay_down,
        deeds.Bring: probe_deeds.bring,
        deeds.Treat: probe_deeds.treat,
        deeds.Drop: probe_deeds.drop,
        deeds.Inspect: probe_deeds.inspect,
        deeds.VouchFor: probe_deeds.vouch_for,
        deeds.Power: device_deeds.power,
        deeds.Network: device_deeds.network,
        deeds.SetClock: device_deeds.set_clock,
        deeds.Charge: device_deeds.charge,
        deeds.Defect: device_deeds.defect,
    }
)


class Ward(Things):
    """What there is in a ward, and how it is changed.

    log: what was done, in order; the whole life of the ward, but for what ``forget`` let go.
    """

    def __init__(
        self,
        site: Site,
        labels: Mapping[str, Label],
        epoch: Micros,
        chance: Chance,
        figures: WardFigures = WARD_FIGURES,
        physics: PhysicsFigures = PHYSICS,
    ) -> None:
        super().__init__(site, labels, epoch, chance, figures, physics)
        self.log: list[tuple[Micros, Deed]] = []
        self._newest = epoch

    def do(self, at: Micros, deed: Deed) -> None:
        """Somebody does something, or something happens. A deed that changes nothing is allowed, and kept too.

        Raises:
            DeedError: it is before the deed done last, or cannot be; then nothing of it was done.
        """
        if at < self._newest:
            raise DeedError(
                f"'{deed.do}' comes {(self._newest - at) / 1e6:g} s before what was done last; expected: not before it"
            )
        _DOES[type(deed)](self, at, deed)
        self._newest = at
        self.log.append((at, deed))

    def told_between(self, after: Micros, until: Micros) -> list[Entry]:
        """What people enter in (after, until], the oldest first.

        Until the ward was lived up to ``until`` more may come.
        """
        return entered(self.told, after, until)

    def forget(self, before: Micros) -> None:
        """Keep of what was before only what tells how things are from then on, so that memory is bounded.

        What a probe owes follows from all that was done with it since it was last reprocessed: let ``before`` be older
        than that.
        """
        forget(self, before)
        del self.log[: bisect_left(self.log, before, key=lambda done: done[0])]
