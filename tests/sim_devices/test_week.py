"""A simulated week against the ground truth: what is said of a probe is true, or it is said that nobody can tell."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from random import Random
from typing import get_args

import pytest

from rules.alert_events import AlertRaised
from rules.events import SoakAmended, SoakEnded, StripTaken
from rules.evidence import evidence_of
from rules.picture import Picture
from rules.probe_build import probe_terms
from rules.probe_events import ProbeEvent, ProbeSoaked
from rules.probe_words import Fitness, Place
from rules.readings import SECOND, Micros, StripResult
from rules.site import Label
from rules.standing import Standing, standing
from rules.verdict import Outcome
from sim_devices.carts import CartHabits
from sim_devices.department import department
from sim_devices.habits import Habits
from sim_devices.spans import Span
from tests.rules.feeder import book_of
from tests.sim_devices.followed import EPOCH, small_site
from tests.sim_devices.judged import Judge, Says
from tests.sim_devices.week import LOOK, Gap, Week

pytestmark = [pytest.mark.slow, pytest.mark.timeout(900)]

DAYS = 7
SINCE, UNTIL = Micros(EPOCH - 1800 * SECOND), Micros(EPOCH + DAYS * 86_400 * SECOND)
MINUTES_OF_EACH = 40
LOOKS_BETWEEN = 6

HABITS = Habits(carts=CartHabits(tour_seconds=1200))
"""A patient every twenty minutes; the demo's five minutes give an onlooker more to see."""


def gap(thing: str | None, hours: float, minutes: float) -> Gap:
    start = Micros(EPOCH + round(hours * 3600) * SECOND)
    return Gap(thing, Span(start, Micros(start + round(minutes * 60 + 7) * SECOND)))


GAPS = (
    *(gap("basin-1", 5 + 24 * day, 25) for day in range(DAYS)),
    *(gap("basin-2", 11 + 26 * day, 40) for day in range(DAYS - 1)),
    *(gap("cart-1", 15 + 24 * day, 20) for day in range(DAYS)),
    *(gap("station-1", 20.5 + 48 * day, 30) for day in range(3)),
    *(gap(None, 30 + 40 * day, 12) for day in range(4)),
)
"""Devices that send their buffer later, a cart that does not, and a broker that is down."""

REMEMBER = frozenset({"basin-1", "basin-2", "station-1", "cabinet-1"})


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
    """The week, and what the wall said beside the truth while it went on."""

    week: Week
    wall: list[Minute]


@pytest.fixture(scope="module")
def lived(labels: Mapping[str, Label]) -> Lived:
    """Two carts, two basins, six probes; sensors report every two minutes, thermometers every 20 s, lids every 60 s."""
    site = small_site(report_seconds=120)
    week = Week(site, department(site, labels, EPOCH, 7, habits=HABITS), GAPS, REMEMBER)
    told, judge = Lived(week, []), Judge(week, in_hindsight=False)
    for number, picture in enumerate(week.run(SINCE, UNTIL)):
        if number % LOOKS_BETWEEN == 0 and picture.hearing:
            told.wall += _seen_on(picture, judge)
        if number == DAYS * 86_400 * SECOND // LOOK // 2:
            week.restart()
    return told


def _seen_on(picture: Picture, judge: Judge) -> list[Minute]:
    return [_judged(judge, probe.id, probe.standing, picture.at) for probe in picture.probes]


def _judged(judge: Judge, probe: str, found: Standing, at: Micros) -> Minute:
    truth = judge.week.living.world.truth.truth(probe, at)
    says, place = judge.says(probe, found, truth, at), judge.place(found, truth)
    return Minute(probe, at, says, place, found.fitness, found.why)


@pytest.fixture(scope="module")
def minutes(lived: Lived) -> list[Minute]:
    """Random minutes of the past, as the whole record tells of them now."""
    week, chance = lived.week, Random(1)  # noqa: S311 - a sample, no secret
    book, judge = book_of(week.site), Judge(week, in_hindsight=True)
    found = []
    for probe in week.site.probe:
        events = [e for e in week.events if isinstance(e, get_args(ProbeEvent)) and e.probe == probe.id]
        evidence, terms = evidence_of(events), probe_terms(week.site, probe, book.labels, book.thresholds)
        for _ in range(MINUTES_OF_EACH):
            at = Micros(EPOCH + chance.randrange(DAYS * 1440) * 60 * SECOND)
            found.append(_judged(judge, probe.id, standing(evidence, terms, at), at))
    return found


# ---- what the record tells of the past ----------------------------------------------------------------------------


def test_no_probe_is_said_to_owe_less_than_it_does(minutes: list[Minute]) -> None:
    wrong = [minute for minute in minutes if minute.says is Says.WRONG]
    assert not wrong, "; ".join(map(str, wrong))


def test_what_no_sensor_told_is_rare(minutes: list[Minute]) -> None:
    # An exam's first 15 s, one that began and ended while its hook was not heard, and that one whose contact was never
    # marked was on sterile tissue: nobody could know of these.
    assert sum(minute.says is Says.UNMEASURED for minute in minutes) < 0.03 * len(minutes)


def test_most_of_what_is_said_is_just_so(minutes: list[Minute]) -> None:
    # People forget, strips fail, devices fall silent: then more is asked for than is owed. Shares are ours.
    counts = Counter(minute.says for minute in minutes)
    assert counts[Says.AGREES] > 0.75 * len(minutes)
    assert counts[Says.NOT_PROVEN] < 0.15 * len(minutes)
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


def test_the_wall_never_said_that_less_is_owed_than_is(lived: Lived) -> None:
    assert len(lived.wall) > 1000
    wrong = [minute for minute in lived.wall if minute.says is Says.WRONG]
    assert not wrong, "; ".join(map(str, wrong))
    assert sum(minute.says is Says.UNMEASURED for minute in lived.wall) < 0.03 * len(lived.wall)


# ---- what the week had in it --------------------------------------------------------------------------------------


def test_the_week_had_soaks_of_every_kind(lived: Lived) -> None:
    outcomes = Counter(event.verdict.outcome for event in lived.week.events if isinstance(event, SoakEnded))
    assert outcomes[Outcome.EXPOSURE_MET] > 300
    failed = (Outcome.TOO_SHORT, Outcome.TOO_COLD, Outcome.INTERRUPTED, Outcome.STRIP_MISSING, Outcome.STRIP_FAILED)
    assert all(outcomes[outcome] > 2 for outcome in failed)
    assert any(isinstance(event, SoakAmended) for event in lived.week.events)


def test_the_week_had_claimed_and_unclaimed_soaks_and_failed_strips(lived: Lived) -> None:
    events = lived.week.events
    assert any(isinstance(event, ProbeSoaked) and event.role is not None for event in events)
    assert any(isinstance(event, StripTaken) and event.result is StripResult.FAIL for event in events)
    raised = Counter(event.rule for event in events if isinstance(event, AlertRaised))
    expected = {"soak-unclaimed", "probe-used-again", "probe-rolls-away", "gateway-cut-off", "device-offline"}
    assert expected <= set(raised)


def test_the_week_took_every_probe_everywhere(lived: Lived) -> None:
    where = lived.week.living.world.whereabouts
    for probe in where.homes:
        stays = {stay.place for journey in where.journeys(probe, SINCE, UNTIL) for stay in journey.stays}
        assert stays == {Place.HOOK, Place.IN_HANDS, Place.SINK, Place.BASIN, Place.CABINET}
