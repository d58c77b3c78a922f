"""The load on people of a simulated month: python -m tests.bench.month [DAYS].

The whole department of the demo, its roles, duties and routes, with patients, devices and bad luck as ``sinkside
simulate`` has them unless told otherwise. People answer alerts and pages, but what happens does not depend on it:
nobody is sent to mend what an alert tells of, but once a day somebody answers for the probes that hang ready. So people
are more careful than they usually are, and each omission raises more alerts than where somebody acts on them. All such
figures are ours.
"""

import gc
import sys
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from gateway.event_words import EventWords
from gateway.load_log import RecordedLoad
from gateway.load_told import lines
from gateway.sitefile import Setup
from rules.alert_events import AlertEvent, PageAsked, PageEvent
from rules.commands import Input
from rules.events import Event
from rules.exposure import Span
from rules.load import load_of
from rules.reach import Route
from rules.readings import DAY, SECOND, Micros
from rules.site import Site
from rules.solution import end_of_day
from rules.stretch import Stretch
from sim_devices.chance import Chance
from sim_devices.demo import hung_and_fit
from sim_devices.running.figures import FIGURES as USUAL
from sim_devices.running.simulation import Simulation
from sim_devices.staff.habits import shared_out
from sim_devices.staff.soak_habits import SinkHabits, SoakHabits
from sim_devices.staff.upkeep_habits import CartHabits, SolutionHabits
from sim_devices.ward.deeds import VouchFor
from tests.bench.month_people import People
from tests.bench.traffic import department, say
from tests.sim_devices.hearing import LOOK, Hearing, unheard

DAYS = 30
SEED = 7
TOLD_EVERY_DAYS = 7
"""So often the figures so far are told: a month takes a while."""

FIRST_DAY = datetime(2026, 3, 2, tzinfo=ZoneInfo("Europe/Lisbon"))
"""A Monday; the clocks are set forward within the month."""

WARM_UP = DAY
"""The department runs for so long before the stretch that is looked at, so that nothing is new."""

MINUTE = 60 * SECOND
HOUR = 60 * MINUTE

CAREFUL = {
    "cleaned_share": 0.995,
    "unmarked_share": 0.01,
    "late_share": 1.0,
    "unheeded_share": 0.0,
    "rolled_away_weight": 0.01,
    "hasty_weight": 0.005,
}

FIGURES = USUAL.model_copy(
    update={
        "sinks": SinkHabits(
            once_rinsed_share=0,
            thorough_share=0.99,
            noticed_share=1,
            unread_share=0.02,
            claimed_share=1,
            unentered_share=0.02,
            late_share=1,
        ),
        "soaks": SoakHabits(lid_left_open_share=0.01, open_soak_share=0),
        "solutions": SolutionHabits(strip_unread_share=0.03, heeded_share=1, overdue_share=0, pour_untold_share=0),
        "carts": CartHabits(bumps_per_day=0.5, wiped_before_share=0.97, wiped_during_share=0.97, gel_forgotten_share=0),
    }
)

PACE = 4
"""The demo's routes go on to the next tier within a minute, for onlookers; here they wait so many times longer."""


@dataclass
class Month(Hearing):
    """People answer, and of what the engine says only alerts and pages are kept."""

    people: People = field(kw_only=True)
    told: list[AlertEvent | PageEvent] = field(default_factory=list)

    def apply(self, given: Iterable[Input]) -> None:
        """Feed the engine, with what people do in between."""
        for item in given:
            for deed in self.people.due(item.arrived):
                # What follows from a timer is known once the next input has come, which may be a moment later.
                now = max(deed.arrived, self.engine.now)
                self._hear(self.engine.apply(deed.model_copy(update={"arrived": now})))
            self._hear(self.engine.apply(item))

    def _hear(self, events: list[Event]) -> None:
        self.people.hear(events)
        self.told += [event for event in events if isinstance(event, AlertEvent | PageEvent)]

    def live(self, since: Micros, until: Micros) -> Iterator[Micros]:
        """Live through it; the time after each day."""
        for picture in self.run(since, until):
            self._hear(self.events)
            self.events = []
            if (picture.at - since) % DAY < LOOK:
                self._answer_for_probes(picture.at)
                yield picture.at

    def _answer_for_probes(self, at: Micros) -> None:
        """Once a day somebody looks over the probes that hang, and answers for those that are really ready."""
        ready = sorted(hung_and_fit(self.simulation, at))
        self.simulation.plan(
            (Micros(at + MINUTE * number), VouchFor(probe=probe)) for number, probe in enumerate(ready, 1)
        )


def main() -> None:
    """Live through the days asked for, and tell the load that they were."""
    days = int(sys.argv[1]) if len(sys.argv) > 1 else DAYS
    gc.freeze()
    setup = department()
    site = slower(setup.file)
    since = Micros(round(FIRST_DAY.timestamp()) * SECOND)
    until = Micros(since + days * DAY)
    epoch = Micros(since - WARM_UP)
    month = _month(setup, site, epoch, until)
    begun = time.process_time()
    for at in month.live(epoch, until):
        day = (at - since) // DAY
        say(f"day {day}: {_pages_since(month, Micros(at - DAY))}; {time.process_time() - begun:.0f} s")
        if day > 0 and day % TOLD_EVERY_DAYS == 0:
            _tell(month, site, since, Micros(since + day * DAY))
    _tell(month, site, since, until)


def _pages_since(month: Month, since: Micros) -> str:
    """How it goes, for whoever waits."""
    roles = Counter(event.role for event in month.told if isinstance(event, PageAsked) and event.at >= since)
    return ", ".join(f"{count} pages to {role}" for role, count in sorted(roles.items())) or "no pages"


def slower(site: Site) -> Site:
    """The same site at the pace of a real one: its routes wait longer."""
    return site.model_copy(update={"route": tuple(map(_patient, site.route))})


def _patient(route: Route) -> Route:
    tiers = tuple(tier.model_copy(update={"after_seconds": tier.after_seconds * PACE}) for tier in route.tiers)
    return route.model_copy(update={"tiers": tiers, "repeat_seconds": route.repeat_seconds * PACE})


def _month(setup: Setup, site: Site, epoch: Micros, until: Micros) -> Month:
    settled = frozenset(rule.rule.id for rule in setup.book.rules.values() if rule.rule.stands_until == "settled")
    cut_off = tuple(_cut_off(epoch, until))
    departments = tuple(
        usual.model_copy(update={"exams": usual.examines.model_copy(update=CAREFUL)}) for usual in shared_out(site)
    )
    habits = FIGURES.model_copy(update={"departments": departments})
    simulation = Simulation(site, setup.book.labels, epoch, SEED, habits, list(unheard(cut_off)))
    return Month(simulation, setup.book, cut_off, people=People(settled, Chance(SEED)))


def _cut_off(epoch: Micros, until: Micros) -> Iterator[Span]:
    """The gateway has no broker twice a month (ours)."""
    for start in range(epoch + 5 * DAY + 3 * HOUR, until, 14 * DAY):
        yield Span(Micros(start), Micros(start + 12 * 60 * SECOND))


def _tell(month: Month, site: Site, since: Micros, until: Micros) -> None:
    zone = site.site.zone
    first = FIRST_DAY.date()
    midnights = (end_of_day(first + timedelta(days=n), zone) for n in range((until - since) // DAY + 1))
    stretch = Stretch(since, until, (since, *(at for at in midnights if at < until)))
    people = {called.id: called.name for of in (site.role, site.contact) for called in of}
    names = {**EventWords.of(site).names, **people}
    load = load_of(month.told, stretch)
    for line in lines(RecordedLoad(load, zone, 0.0, names, (), ())):
        say(line)


if __name__ == "__main__":
    main()
