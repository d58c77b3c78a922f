"""The load on people of a simulated month: python -m tests.bench.month [DAYS].

The whole department of the demo, its roles, duties and routes, at the pace of a real one: an exam on each cart every
half hour around the clock, soaks that mostly succeed, devices that fail now and then. All such figures are ours.
People answer, but what happens does not depend on it: an omission is not mended before the probe's next soak. So fewer
are made than in the demo, and each raises more alerts than where people act on them.
"""

import gc
import sys
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from types import MappingProxyType
from zoneinfo import ZoneInfo

from gateway.event_words import EventWords
from gateway.load_log import RecordedLoad
from gateway.load_told import lines
from gateway.sitefile import Setup
from rules.alert_events import AlertEvent, PageAsked, PageEvent
from rules.commands import Input
from rules.events import Event
from rules.load import load_of
from rules.reach import Route
from rules.readings import DAY, SECOND, Micros, SensorKind
from rules.site import Sensor, Site
from rules.solution import end_of_day
from rules.stretch import Stretch
from sim_devices.basins import BasinHabits
from sim_devices.carts import CartHabits
from sim_devices.chance import Chance
from sim_devices.department import department as living_department
from sim_devices.faults import Mishaps
from sim_devices.habits import Habits
from sim_devices.probe_habits import HABITS as PROBE_HABITS
from sim_devices.probe_habits import Path
from sim_devices.script import FIRST_MINUTES, FirstRoll, FirstSoak, Script, Story
from sim_devices.spans import Span
from sim_devices.upkeep import UpkeepHabits
from tests.bench.month_people import People
from tests.bench.traffic import department, say
from tests.sim_devices.week import LOOK, Gap, Week

DAYS = 30
SEED = 7
TOLD_EVERY_DAYS = 7
"""So often the figures so far are told: a month takes a while."""

FIRST_DAY = datetime(2026, 3, 2, tzinfo=ZoneInfo("Europe/Lisbon"))
"""A Monday; the clocks are set forward within the month."""

WARM_UP = DAY
"""The department runs for so long before the stretch that is looked at, so that nothing is new."""

BEFORE = Micros(1800 * SECOND)
"""Before the department's epoch people pour the first solutions, and enter them."""

HOUR = 3600 * SECOND

HABITS = Habits(
    carts=CartHabits(tour_seconds=1800, exam_seconds=(240, 700), roll_start_seconds=1000, careless_share=0.01),
    basins=BasinHabits(
        turnaround_seconds=2400,
        weights=MappingProxyType(
            {Story.GOOD: 0.95, Story.EARLY: 0.015, Story.COLD: 0.01, Story.COOLING: 0.01, Story.REOPENED: 0.015}
        ),
    ),
    upkeep=UpkeepHabits(forgotten=0.03, spent=0.01),
    probes=replace(
        PROBE_HABITS,
        paths=MappingProxyType({Path.CARRIED: 0.6, Path.HUNG_BACK: 0.385, Path.ROLLED_AWAY: 0.01, Path.HASTY: 0.005}),
        washed_share=0.99,
        untagged_share=0.02,
        unread_share=0.02,
        unmarked_share=0.02,
        unentered_share=0.01,
        once_rinsed_share=0.01,
        unnoticed_share=0.05,
        uncleaned_share=0.005,
    ),
    mishaps=Mishaps(silence_every_seconds=2 * 86_400, restart_every_seconds=5 * 86_400),
)

PACE = 4
"""The demo's routes go on to the next tier within a minute, for onlookers; here they wait so many times longer."""

SCRIPT = Script(
    soaks=(FirstSoak(Story.GOOD, closed_seconds=-20),),
    rolls=tuple(FirstRoll(roll.start_seconds) for roll in FIRST_MINUTES.rolls),
    journeys=(),
)
"""Nothing is certain to go wrong in the first minutes."""


@dataclass
class Month(Week):
    """A week that lasts longer: people answer, and of what the engine says only alerts and pages are kept."""

    people: People = field(kw_only=True)
    told: list[AlertEvent | PageEvent] = field(default_factory=list)

    def apply(self, inputs: Iterable[Input]) -> None:
        """Feed the engine, with what people do in between."""
        for item in inputs:
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
                yield picture.at


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
    for at in month.live(Micros(epoch - BEFORE), until):
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
    """The same site at its own pace: routes wait longer, and switches, which tell of changes anyway, repeat less."""
    sensors, routes = tuple(map(_slower, site.sensor)), tuple(map(_patient, site.route))
    return site.model_copy(update={"sensor": sensors, "route": routes})


def _patient(route: Route) -> Route:
    tiers = tuple(tier.model_copy(update={"after_seconds": tier.after_seconds * PACE}) for tier in route.tiers)
    return route.model_copy(update={"tiers": tiers, "repeat_seconds": route.repeat_seconds * PACE})


_REPEATED_SECONDS = {SensorKind.LID: 60.0, SensorKind.HOOK: 120.0, SensorKind.TAG: 120.0, SensorKind.MAINS: 120.0}


def _slower(sensor: Sensor) -> Sensor:
    if sensor.report_seconds is None:
        return sensor
    seconds = max(sensor.report_seconds, _REPEATED_SECONDS.get(sensor.kind, 0.0))
    return sensor.model_copy(update={"report_seconds": seconds})


def _month(setup: Setup, site: Site, epoch: Micros, until: Micros) -> Month:
    settled = frozenset(rule.rule.id for rule in setup.book.rules.values() if rule.rule.stands_until == "settled")
    living = living_department(site, setup.book.labels, epoch, SEED, SCRIPT, HABITS)
    return Month(
        site,
        living,
        tuple(_gaps(site, epoch, until)),
        frozenset(basin.id for basin in site.basin),
        setup.book,
        people=People(settled, Chance(SEED)),
    )


def _gaps(site: Site, epoch: Micros, until: Micros) -> Iterator[Gap]:
    """A device is off once in ten days, a different one each time, and the broker twice a month."""
    things = [*(basin.id for basin in site.basin), *(cart.id for cart in site.cart)]
    for n, start in enumerate(range(epoch + 31 * HOUR, until, 20 * HOUR)):
        yield Gap(things[n % len(things)], Span(Micros(start), Micros(start + 25 * 60 * SECOND + 7 * SECOND)))
    for start in range(epoch + 5 * DAY + 3 * HOUR, until, 14 * DAY):
        yield Gap(None, Span(Micros(start), Micros(start + 12 * 60 * SECOND)))


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
