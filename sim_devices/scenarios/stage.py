"""Runs a scenario: a ward, its sensors and radios, the gateway's wire, and the rules, in simulated time."""

from collections.abc import Iterator
from typing import NamedTuple

from gateway.doubles import Doubles
from gateway.wire import Rejection, Wire
from rules.commands import Input
from rules.engine import Engine
from rules.readings import GATEWAY_LINK, SECOND, Micros, Reading, SensorId, Value, micros
from sim_devices.chance import Chance
from sim_devices.running.simulation import Simulation
from sim_devices.scenarios.kept import Alert, Kept, Soak
from sim_devices.scenarios.scenario import People, Scenario
from sim_devices.sensing.delivery import Sent
from sim_devices.speech import Message, Voice
from sim_devices.staff.arrival_habits import ArrivalHabits
from sim_devices.staff.habits import Habits
from sim_devices.troubles.episode import Episode
from sim_devices.ward.first_deeds import first_deeds
from sim_devices.ward.ward import Ward

LEAD_SECONDS = 900
"""The ward is at work for so long before the scenario begins, so that its sensors have been heard (ours)."""

LOOK_SECONDS = 30
"""So often people look at the pages on which they claim soaks (ours)."""


class Played(NamedTuple):
    """What came of a scenario: alerts by their raising, truth by start, verdicts by basin and number.

    inputs: what the engine was given, in order. rejected: messages that could not be used.
    """

    inputs: tuple[Input, ...]
    alerts: tuple[Alert, ...]
    episodes: tuple[Episode, ...]
    soaks: tuple[Soak, ...]
    rejected: tuple[Rejection, ...]


def play(scenario: Scenario) -> Played:
    """Run a scenario to its end.

    Raises:
        sim_devices.ward.refusal.DeedError: a step cannot be done.
    """
    return _Stage(scenario).play()


class _NoPast:
    """A gateway that begins has no past."""

    def newest_measured(self, _sensor: SensorId) -> Micros | None:
        return None

    def newest_untimed(self, _sensor: SensorId, _value: Value) -> Micros | None:
        return None

    def recorded(self, _sensor: SensorId, _measured: Micros, _value: Value) -> bool:
        return False


def simulation_of(
    scenario: Scenario, begins: Micros | None = None, lead_seconds: int = LEAD_SECONDS, seed: int | None = None
) -> Simulation:
    """The ward of a scenario, which is ready to be worked in when it begins to be lived through.

    begins, seed: of the scenario; None: as it says. lead_seconds: so long before, the ward is at work already.
    """
    site, about = scenario.site, scenario.about
    start = scenario.begins if begins is None else begins
    epoch = Micros(start - lead_seconds * SECOND)
    number = about.seed if seed is None else seed
    people = scenario.tables.people
    plan = [(Micros(start + micros(step.at)), step.deed) for step in scenario.steps]
    if people is None:
        empty = Ward(site, scenario.book.labels, epoch, Chance(number))
        plan = [*((epoch, deed) for deed in first_deeds(empty, about.celsius)), *plan]
    habits = None if people is None else _habits(people, scenario)
    return Simulation(site, scenario.book.labels, epoch, number, habits, plan, scenario.tables.figures)


def _habits(people: People, scenario: Scenario) -> Habits:
    """Those of the figures, in a department with so many more exams."""
    figures = scenario.tables.figures
    departments = (
        d.model_copy(update={"arrivals": _busier(d.comes, people.busyness)})
        for d in figures.departments_of(scenario.site)
    )
    return figures.model_copy(update={"departments": tuple(departments)})


def _busier(arrivals: ArrivalHabits, share: float) -> ArrivalHabits:
    return arrivals.model_copy(update={"exams_per_cart_day": arrivals.exams_per_cart_day * share})


class _Stage:
    def __init__(self, scenario: Scenario) -> None:
        site, begins = scenario.site, scenario.begins
        self._scenario = scenario
        self._simulation = simulation_of(scenario)
        self._voice, self._wire = Voice(site), Wire(site)
        self._doubles = Doubles({name: sensor.kind for name, sensor in site.sensors().items()}, _NoPast())
        self._engine = Engine(site, scenario.book)
        self._kept = Kept()
        self._taken: list[Input] = []
        self._rejected: list[Rejection] = []
        # What is entered in the ward's first instant counts, too.
        self._now = Micros(begins - LEAD_SECONDS * SECOND - 1)

    def play(self) -> Played:
        scenario = self._scenario
        self._take(Reading(GATEWAY_LINK, self._now, self._now, value=True, timed=False))
        while self._now < scenario.ends:
            self._live(Micros(min(self._now + LOOK_SECONDS * SECOND, scenario.ends)))
        episodes = self._simulation.episodes(scenario.begins, scenario.ends)
        return Played(tuple(self._taken), self._kept.alerts, tuple(episodes), self._kept.soaks, tuple(self._rejected))

    def _live(self, until: Micros) -> None:
        self._simulation.live(until)
        inputs = [*self._readings(until), *self._simulation.entries(self._now, until)]
        for item in sorted(inputs, key=lambda item: item.arrived):
            self._take(item)
        self._kept.keep(self._engine.advance(until))
        self._claim(until)
        self._now = until

    def _take(self, item: Input) -> None:
        self._taken.append(item)
        self._kept.keep(self._engine.apply(item))

    def _claim(self, now: Micros) -> None:
        """Whoever owes a claim looks at the page that lists the soaks, and enters it."""
        claims, roles = self._simulation.ward.claims, self._scenario.site.reprocessing.claim_roles
        if roles and any(claiming.due <= now for claiming in claims.waiting):
            for claim in claims.made(self._engine.picture().unclaimed, roles[0], now):
                self._take(claim)

    def _readings(self, until: Micros) -> Iterator[Reading]:
        for sent in self._simulation.sent(self._now, until):
            for message in self._messages(sent):
                decoded = self._wire.decode(message.topic, message.payload, sent.at)
                self._rejected += decoded.rejected
                yield from (reading for reading in decoded.readings if not self._doubles.seen(reading))

    def _messages(self, sent: Sent) -> Iterator[Message]:
        if sent.buffered:
            yield from self._voice.recall(sent.samples)
        else:
            yield from map(self._voice.say, sent.samples)
