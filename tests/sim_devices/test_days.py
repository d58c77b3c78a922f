"""Simulated days against the ground truth: what is said of a probe is true, or it is said that nobody can tell."""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from random import Random
from typing import get_args

import pytest

from rules.alert_events import AlertRaised
from rules.events import SoakAmended, SoakEnded, StripTaken
from rules.evidence import evidence_of
from rules.exposure import Span
from rules.probe_build import probe_terms
from rules.probe_events import ProbeEvent, ProbeSoaked
from rules.probe_words import Fitness, Place
from rules.readings import SECOND, Micros, StripResult
from rules.site import Label
from rules.standing import Standing, standing
from rules.verdict import Outcome
from sim_devices.running.simulation import Simulation
from sim_devices.staff.arrival_habits import ArrivalHabits
from sim_devices.staff.exam_habits import WayHabits
from sim_devices.staff.habits import Department, Habits
from sim_devices.troubles.look import Look
from sim_devices.ward.deeds import Deed, Network
from tests.rules.feeder import START, book_of
from tests.sim_devices.hearing import LOOK, Hearing, unheard
from tests.sim_devices.judged import Judge, Says
from tests.sim_devices.two_carts import CARTS, two_carts

pytestmark = [pytest.mark.slow, pytest.mark.timeout(900)]

EPOCH = Micros(START * SECOND)
DAYS = 3
SEED = 1
"""With this one people also wash in hands, unmarked, what they used while it owed cleaning."""
UNTIL = Micros(EPOCH + DAYS * 86_400 * SECOND)
MINUTES_OF_EACH = 40
LOOKS_BETWEEN = 2

HABITS = Habits(
    departments=(
        Department(
            id="all",
            carts=CARTS,
            arrivals=ArrivalHabits(exams_per_cart_day=72, night_share=1, peak_rise=0, weekend_share=1),
        ),
    ),
    ways=WayHabits(most_roll_seconds=60),
)
"""A patient on each cart every twenty minutes, around the clock."""


def gap(hours: float, minutes: float) -> Span:
    start = Micros(EPOCH + round(hours * 3600) * SECOND)
    return Span(start, Micros(start + round(minutes * 60 + 7) * SECOND))


OUT_OF_REACH: tuple[tuple[str, Span], ...] = (
    *(("basin-1", gap(5 + 24 * day, 25)) for day in range(DAYS)),
    *(("basin-2", gap(11 + 26 * day, 40)) for day in range(DAYS - 1)),
    *(("cart-1", gap(15 + 24 * day, 20)) for day in range(DAYS)),
    *(("station-1", gap(20.5 + 48 * day, 30)) for day in range(2)),
)
CUT_OFF = tuple(gap(30 + 24 * day, 12) for day in range(2))
"""Devices that send their buffer later, a cart that does not, a gateway without a broker; besides those of chance."""


def planned() -> Iterator[tuple[Micros, Deed]]:
    for thing, span in OUT_OF_REACH:
        yield span.start, Network(thing=thing, up=False)
        yield span.end, Network(thing=thing, up=True)
    yield from unheard(CUT_OFF)


@dataclass(frozen=True)
class Minute:
    """What was said of a probe at a minute, and how that goes together with the truth."""

    probe: str
    at: Micros
    says: Says
    place: Says
    fitness: Fitness
    why: str

    def __str__(self) -> str:
        return f"{self.probe} at {(self.at - EPOCH) // SECOND} s: {self.fitness} {self.why}"


@dataclass
class Lived:
    """The days, and what the wall said while they went on."""

    days: Hearing
    look: Look
    wall: list[tuple[str, Standing, Micros]]


@pytest.fixture(scope="module")
def lived(labels: Mapping[str, Label]) -> Lived:
    """Two carts, two basins, six probes; sensors report every two minutes, thermometers every 20 s, lids every 60 s."""
    site = two_carts(report_seconds=120)
    simulation = Simulation(site, labels, EPOCH, SEED, HABITS, list(planned()))
    days, wall = Hearing(simulation, book_of(site), CUT_OFF), []
    for number, picture in enumerate(days.run(EPOCH, UNTIL)):
        if number % LOOKS_BETWEEN == 0 and picture.hearing:
            wall += [(probe.id, probe.standing, picture.at) for probe in picture.probes]
        if number == DAYS * 86_400 * SECOND // LOOK // 2:
            days.restart()
    return Lived(days, Look.back(simulation.ward, UNTIL), wall)


@pytest.fixture(scope="module")
def wall(lived: Lived) -> list[Minute]:
    """What the wall said, beside the truth."""
    judge = Judge(lived.days, lived.look, in_hindsight=False)
    return [_judged(judge, *said) for said in lived.wall]


def _judged(judge: Judge, probe: str, found: Standing, at: Micros) -> Minute:
    says, place = judge.says(probe, found, at), judge.place(probe, found, at)
    return Minute(probe, at, says, place, found.fitness, found.why)


@pytest.fixture(scope="module")
def minutes(lived: Lived) -> list[Minute]:
    """Random minutes of the past, as the whole record tells of them now."""
    days, chance = lived.days, Random(1)  # noqa: S311 - a sample, no secret
    judge = Judge(days, lived.look, in_hindsight=True)
    found = []
    for probe in days.site.probe:
        events = [e for e in days.events if isinstance(e, get_args(ProbeEvent)) and e.probe == probe.id]
        evidence, terms = evidence_of(events), probe_terms(days.site, probe, days.book.labels, days.book.thresholds)
        for _ in range(MINUTES_OF_EACH):
            at = Micros(EPOCH + chance.randrange(1, DAYS * 1440) * 60 * SECOND)
            found.append(_judged(judge, probe.id, standing(evidence, terms, at), at))
    return found


# ---- what the record tells of the past ----------------------------------------------------------------------------


def test_no_probe_is_said_to_owe_less_than_it_does(minutes: list[Minute]) -> None:
    wrong = [minute for minute in minutes if minute.says is Says.WRONG]
    assert not wrong, "; ".join(map(str, wrong))


def test_what_no_sensor_told_is_rare(minutes: list[Minute]) -> None:
    # An exam's first 15 s, one that began and ended while its hook was not heard, one of what may be on its way to a
    # sink, and that one whose contact is not marked is on sterile tissue: nobody could know of these.
    assert sum(minute.says is Says.UNMEASURED for minute in minutes) < 0.03 * len(minutes)


def test_most_of_what_is_said_is_just_so(minutes: list[Minute]) -> None:
    # People forget, strips fail, devices fall silent: then more is asked for than is owed. Shares are ours.
    counts = Counter(minute.says for minute in minutes)
    assert counts[Says.AGREES] > 0.65 * len(minutes)
    assert counts[Says.NOT_PROVEN] < 0.25 * len(minutes)
    assert sum(minute.fitness is Fitness.READY for minute in minutes) > 0.35 * len(minutes)


def test_where_it_says_not_proven_it_says_why(minutes: list[Minute]) -> None:
    unproven = [minute for minute in minutes if minute.fitness is Fitness.NOT_PROVEN]
    assert unproven
    assert all(minute.why for minute in unproven)


def test_a_probe_is_where_it_is_said_to_be_or_it_is_not_said(minutes: list[Minute]) -> None:
    places = Counter(minute.place for minute in minutes)
    assert places[Says.AGREES] > 0.85 * len(minutes)
    # A hook that falls silent is believed for a few report intervals.
    assert places[Says.WRONG] < 0.02 * len(minutes)


# ---- what the wall told at the time -------------------------------------------------------------------------------


def test_the_wall_never_said_that_less_is_owed_than_is(wall: list[Minute]) -> None:
    assert len(wall) > 1000
    wrong = [minute for minute in wall if minute.says is Says.WRONG]
    assert not wrong, "; ".join(map(str, wrong))
    assert sum(minute.says is Says.UNMEASURED for minute in wall) < 0.03 * len(wall)


# ---- what the days had in them --------------------------------------------------------------------------------------


def test_the_days_had_soaks_of_every_kind(lived: Lived) -> None:
    outcomes = Counter(event.verdict.outcome for event in lived.days.events if isinstance(event, SoakEnded))
    # What is rarer than once in three days, too cold or interrupted, tests of the rules and scenarios have.
    assert outcomes[Outcome.EXPOSURE_MET] > 50
    assert all(outcomes[outcome] > 2 for outcome in (Outcome.TOO_SHORT, Outcome.STRIP_MISSING))
    assert any(isinstance(event, SoakAmended) for event in lived.days.events)


def test_the_days_had_claimed_and_unclaimed_soaks_and_failed_strips(lived: Lived) -> None:
    events = lived.days.events
    assert any(isinstance(event, ProbeSoaked) and event.role is not None for event in events)
    assert any(isinstance(event, StripTaken) and event.result is StripResult.FAIL for event in events)
    raised = Counter(event.rule for event in events if isinstance(event, AlertRaised))
    expected = {"soak-unclaimed", "probe-used-again", "probe-rolls-away", "gateway-cut-off", "device-offline"}
    assert expected <= set(raised)


def test_the_days_took_every_probe_everywhere(lived: Lived) -> None:
    for life in lived.look.ward.probes.values():
        stays = {life.stay.at(at).place for at in life.stay.changes(EPOCH, UNTIL)}
        assert stays == {Place.HOOK, Place.IN_HANDS, Place.SINK, Place.BASIN, Place.CABINET}
