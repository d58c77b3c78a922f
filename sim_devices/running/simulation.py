"""A whole simulated ward: its people, what befalls it, its sensors, and how what they say reaches a broker."""

import logging
from collections.abc import Iterable, Iterator, Mapping, Sequence
from heapq import merge
from operator import attrgetter, itemgetter

from rules.commands import Entry
from rules.readings import DAY, Micros
from rules.site import Label, Site
from sim_devices.chance import Chance
from sim_devices.running.figures import FIGURES, Figures
from sim_devices.sensing.delivery import Sent
from sim_devices.sensing.radio import Radio
from sim_devices.sensing.senses import Senses
from sim_devices.staff.habits import Habits
from sim_devices.staff.life import Life
from sim_devices.troubles.episode import Episode
from sim_devices.troubles.found import episodes
from sim_devices.ward.deeds import Deed
from sim_devices.ward.refusal import DeedError
from sim_devices.ward.ward import Ward

log = logging.getLogger(__name__)

KEPT_DAYS = 7
"""So much of its past a ward that runs beside the clock remembers (ours)."""

_at = attrgetter("at")


class Simulation:
    """A ward that is lived through from its epoch on: first ``live``, then ask what was sent, entered, and went wrong.

    habits: how people behave; None: nobody does anything but what ``plan`` and hands do.
    plan: deeds of a scenario, by time. seed: the same one gives the same life, byte for byte.
    begins: when people come to work; left out, at the epoch.
    lived: up to when it was lived through.
    """

    def __init__(
        self,
        site: Site,
        labels: Mapping[str, Label],
        epoch: Micros,
        seed: int,
        habits: Habits | None,
        plan: Sequence[tuple[Micros, Deed]] = (),
        figures: Figures = FIGURES,
        begins: Micros | None = None,
    ) -> None:
        self.seed = seed
        chance = Chance(seed)
        self.ward = Ward(site, labels, epoch, chance, figures.ward, figures.physics)
        self._life = None if habits is None else Life(self.ward, habits, chance, begins)
        self._senses = Senses(self.ward, chance, figures.sensors)
        self._radio = Radio(self.ward, self._senses, chance, figures.radio)
        self._plan: list[tuple[Micros, Deed]] = []
        self.plan(plan)
        self.lived = self._heard = epoch

    @property
    def things(self) -> tuple[str, ...]:
        """The devices."""
        return self._senses.things

    def plan(self, planned: Iterable[tuple[Micros, Deed]]) -> None:
        """Deeds that will be done, each at its time, besides those planned before."""
        self._plan = sorted([*self._plan, *planned], key=itemgetter(0))

    def live(self, until: Micros) -> None:
        """Everything happens that does up to ``until``, and at that very instant."""
        while self._plan and self._plan[0][0] <= until:
            at, deed = self._plan.pop(0)
            self._do_planned(deed, max(at, self.lived))
        self._live(until)

    def do(self, deed: Deed, at: Micros) -> Micros:
        """Somebody from outside does something; ``at``: not before what was lived through. Gives when it was done.

        What was sent up to an instant is settled: what is done at it comes a microsecond later.

        Raises:
            sim_devices.ward.refusal.DeedError: it cannot be; nothing of it was done.
        """
        begins = max(at, Micros(self._heard + 1))
        self._live(begins)
        self.ward.do(begins, deed)
        return begins

    def _do_planned(self, deed: Deed, at: Micros) -> None:
        """Where people live too, they may have changed the ward so that it cannot be done any more."""
        try:
            self.do(deed, at)
        except DeedError as error:
            if self._life is None:
                raise
            log.info("not done, as people have changed the ward: %s", error)

    def _live(self, until: Micros) -> None:
        if self._life is not None:
            self._life.live(Micros(until + 1))
        self.lived = max(self.lived, until)

    def sent(self, after: Micros, until: Micros) -> Iterator[Sent]:
        """What reached the broker in (after, until], by time; the ward was lived through up to then."""
        self._heard = max(self._heard, until)
        return merge(*(self._radio.sent(thing, after, until) for thing in self.things), key=_at)

    def entries(self, after: Micros, until: Micros) -> list[Entry]:
        """What people entered in (after, until], by time; after the epoch, also what they entered at the epoch."""
        return self.ward.told_between(Micros(after - 1) if after == self.ward.epoch else after, until)

    def episodes(self, after: Micros, until: Micros) -> list[Episode]:
        """What really went wrong at any time in [after, until), by start."""
        return episodes(self.ward, after, until, self._radio.outages)

    def forget(self) -> None:
        """Let go of what was long ago: then nobody knows what went wrong, nor what a probe owes from then."""
        self.ward.forget(Micros(self.lived - max(KEPT_DAYS * DAY, self._radio.memory)))
