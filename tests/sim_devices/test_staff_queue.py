"""Arrivals and queues of simulated patients against textbook formulas.

Erlang C, Little's law: Kleinrock, Queueing Systems, vol. 1 (1975), chapters 2 and 3; from memory. Statistical bounds
are such that a sound simulator passes all but once in a million seeds; the seeds are fixed.
"""

from collections import Counter
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from math import factorial, sqrt
from statistics import fmean, stdev
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from scipy import stats

from rules.readings import SECOND, Micros
from rules.site import Label, Site
from sim_devices.chance import Chance
from sim_devices.staff.arrival_habits import ARRIVALS, ArrivalHabits
from sim_devices.staff.habits import Department
from sim_devices.staff.hands import Hands, Process
from sim_devices.staff.luck import Luck
from sim_devices.staff.patients import Patients, Visit
from sim_devices.ward.ward import Ward

ONE_IN_A_MILLION = 1e-6
DAY = 86_400 * SECOND
EVEN = {"night_share": 1, "peak_rise": 0, "weekend_share": 1}


class Sites:
    """Wards in which patients come and are examined for a given time, and nothing else happens."""

    def __init__(self, site: Site, labels: Mapping[str, Label], epoch: Micros) -> None:
        self._site, self._labels, self.epoch = site, labels, epoch

    def visits(self, department: Department, seed: int, days: float, exam_seconds: float = 0) -> list[Visit]:
        """Those that are over after so many days. exam_seconds: mean of an exponential time with the cart."""
        hands = Hands(Ward(self._site, self._labels, self.epoch, Chance(1)), Chance(seed))

        def examine(_: Department, __: str, luck: Luck) -> Process:
            yield hands.wait(luck.wait(exam_seconds, "exam"))

        patients = Patients(hands, department, examine)
        hands.env.run(until=round(days * DAY))
        return list(patients.visits)


@pytest.fixture(scope="module")
def sites(site: Site, labels: Mapping[str, Label], epoch: Micros) -> Sites:
    return Sites(site, labels, epoch)


# ---- arrivals -------------------------------------------------------------------------------------------------------


def test_patients_come_by_the_hour_as_the_profile_says(sites: Sites, site: Site) -> None:
    habits = ARRIVALS["emergency"].model_copy(update={"exams_per_cart_day": 80.0, "weekend_share": 0.5})
    days = 14
    department = Department(id="all", carts=("cart-1", "cart-2"), arrivals=habits)
    visits = sites.visits(department, 11, days)
    zone = ZoneInfo(site.site.timezone)
    start = datetime.fromtimestamp(sites.epoch / SECOND, zone)
    expected: Counter[tuple[bool, int]] = Counter()
    for minute in range(days * 1440):
        local = (start.astimezone(UTC) + timedelta(minutes=minute)).astimezone(zone)
        share = habits.weekend_share if local.weekday() >= 5 else 1
        expected[local.weekday() >= 5, local.hour] += 2 * habits.hourly()[local.hour] * share / 60  # type: ignore[assignment]
    came = [datetime.fromtimestamp(visit.came / SECOND, zone) for visit in visits]
    counted = Counter((local.weekday() >= 5, local.hour) for local in came)
    chi_square = sum((counted[cell] - mean) ** 2 / mean for cell, mean in expected.items())
    assert min(expected.values()) >= 4  # enough for the approximation by chi-square
    assert sum(expected.values()) == pytest.approx(2 * 80 * (10 + 4 * habits.weekend_share), rel=0.01)
    assert chi_square < stats.chi2.isf(ONE_IN_A_MILLION, len(expected))


def test_counts_of_patients_are_spread_as_poisson_says(sites: Sites) -> None:
    # With means that are known the index of dispersion sum (n - m)^2 / m is chi-square of as many degrees; too even
    # is as wrong as too uneven.
    habits = ArrivalHabits(exams_per_cart_day=240, **EVEN)
    visits = sites.visits(Department(id="all", carts=("cart-1",), arrivals=habits), 12, 40)
    hours = 40 * 24
    counts = np.bincount([(visit.came - sites.epoch) // (3600 * SECOND) for visit in visits], minlength=hours)
    dispersion = float(((counts - 10) ** 2 / 10).sum())
    low, high = stats.chi2.ppf([ONE_IN_A_MILLION / 2, 1 - ONE_IN_A_MILLION / 2], hours)
    assert low < dispersion < high
    # And the whole distribution of an hour's count: cells 0-4, 5, ..., 16 or more.
    edges = np.arange(4, 17)
    cells = np.diff(stats.poisson.cdf(edges, 10), prepend=0, append=1)
    found = np.bincount(np.clip(counts, 4, 17) - 4, minlength=len(cells))
    assert stats.chisquare(found, cells * hours).pvalue > ONE_IN_A_MILLION


def test_gaps_between_patients_are_exponential(sites: Sites) -> None:
    habits = ArrivalHabits(exams_per_cart_day=240, **EVEN)
    visits = sites.visits(Department(id="all", carts=("cart-1",), arrivals=habits), 13, 10)
    gaps = np.diff([visit.came for visit in visits]) / SECOND
    assert stats.kstest(gaps, "expon", args=(0, 360)).pvalue > ONE_IN_A_MILLION


@pytest.mark.parametrize("stages", [1, 4])
def test_exam_times_are_spread_as_erlang_says(stages: int) -> None:
    luck = [Luck(Chance(3), "exam", number) for number in range(2000)]
    seconds = [one.wait(540, "lasts", stages) / SECOND for one in luck]
    assert stats.kstest(seconds, "erlang", args=(stages, 0, 540 / stages)).pvalue > ONE_IN_A_MILLION


def test_a_day_of_the_profile_has_the_exams_it_names() -> None:
    for habits in ARRIVALS.values():
        assert sum(habits.hourly()) == pytest.approx(habits.exams_per_cart_day)


# ---- waiting --------------------------------------------------------------------------------------------------------

CARTS = 3
PER_HOUR = 15.0
EXAM_SECONDS = 540.0
"""Offered load 15/h x 540 s = 2.25 of 3 carts: each is busy for three quarters of the time."""
REPLICATIONS, DAYS, WARM_UP = 30, 4, 0.5


def erlang_c_wait_seconds(per_second: float, mean_seconds: float, servers: int) -> float:
    """Mean wait of M/M/c: C(c, a) / (c mu - lambda)."""
    load = per_second * mean_seconds
    full = load**servers / factorial(servers) * servers / (servers - load)
    waits = full / (sum(load**k / factorial(k) for k in range(servers)) + full)
    return waits / (servers / mean_seconds - per_second)


def by_erlang_b(load: float, servers: int) -> float:
    """The share of those who wait, by the recursion of Erlang B: another way to the same formula."""
    blocked = 1.0
    for server in range(1, servers + 1):
        blocked = load * blocked / (server + load * blocked)
    return servers * blocked / (servers - load * (1 - blocked))


@pytest.fixture(scope="module")
def replications(sites: Sites) -> list[list[Visit]]:
    """Independent stretches of four days, each from an empty morning on."""
    habits = ArrivalHabits(exams_per_cart_day=24 * PER_HOUR / CARTS, **EVEN)
    department = Department(id="all", carts=("cart-1", "cart-2", "cart-3"), arrivals=habits)
    return [sites.visits(department, 100 + number, DAYS, EXAM_SECONDS) for number in range(REPLICATIONS)]


def margin(values: list[float]) -> float:
    """Half the width of the interval that misses the true mean once in a million (Student's t)."""
    return float(stats.t.isf(ONE_IN_A_MILLION / 2, len(values) - 1)) * stdev(values) / sqrt(len(values))


def test_the_mean_wait_for_a_cart_is_that_of_erlang_c(sites: Sites, replications: list[list[Visit]]) -> None:
    warm, end = sites.epoch + WARM_UP * DAY, sites.epoch + (DAYS - WARM_UP) * DAY
    waits = [fmean((v.began - v.came) / SECOND for v in visits if warm < v.came < end) for visits in replications]
    expected = erlang_c_wait_seconds(PER_HOUR / 3600, EXAM_SECONDS, CARTS)
    assert expected == pytest.approx(by_erlang_b(2.25, 3) * EXAM_SECONDS / (3 - 2.25))
    assert abs(fmean(waits) - expected) < margin(waits)
    # The bound is narrow enough to tell a department with one cart more or fewer exams apart.
    assert abs(fmean(waits) - erlang_c_wait_seconds(PER_HOUR / 3600, EXAM_SECONDS, CARTS + 1)) > margin(waits)
    assert abs(fmean(waits) - erlang_c_wait_seconds(0.8 * PER_HOUR / 3600, EXAM_SECONDS, CARTS)) > margin(waits)


def test_patients_in_the_department_are_their_rate_times_their_time_there(
    sites: Sites, replications: list[list[Visit]]
) -> None:
    # Little's law L = lambda W: L counted at instants that are evenly spread, W by patient, lambda as it was asked for.
    warm = round(sites.epoch + WARM_UP * DAY)
    looks = np.arange(warm, sites.epoch + (DAYS - WARM_UP) * DAY, 120 * SECOND)
    differences = []
    for visits in replications:
        came, left = np.sort([v.came for v in visits]), np.sort([v.left for v in visits])
        present = np.searchsorted(came, looks, "right") - np.searchsorted(left, looks, "right")
        stays = [(v.left - v.came) / SECOND for v in visits if looks[0] <= v.came <= looks[-1]]
        differences.append(float(present.mean()) - PER_HOUR / 3600 * fmean(stays))
    assert abs(fmean(differences)) < margin(differences)
    assert margin(differences) < 0.6  # of 3.95 on average


def test_patients_are_served_in_the_order_in_which_they_come(replications: list[list[Visit]]) -> None:
    for visits in replications[:5]:
        by_arrival = sorted(visits, key=lambda visit: visit.came)
        assert [v.began for v in by_arrival] == sorted(v.began for v in by_arrival)
