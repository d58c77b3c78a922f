"""How often simulated people do what: counted in the list of deeds, against the shares that their habits name.

A count of independent choices is binomial, one of bumps Poisson; each check fails for a sound simulator once in a
million seeds, and the seed is fixed.
"""

from collections import Counter
from collections.abc import Mapping
from datetime import datetime, timedelta
from itertools import pairwise
from typing import NamedTuple

import pytest
from scipy import stats

from rules.probe_words import Place, Step, Surface
from rules.readings import DAY, SECOND, Micros
from rules.site import Label, Site
from sim_devices.chance import Chance
from sim_devices.staff.arrival_habits import ArrivalHabits
from sim_devices.staff.cart_care import CartCare
from sim_devices.staff.exam_habits import AFTER, BEFORE, ExamHabits
from sim_devices.staff.habits import Department, Habits
from sim_devices.staff.hands import Hands
from sim_devices.staff.life import Life
from sim_devices.staff.soak_habits import SinkHabits, SoakHabits
from sim_devices.staff.upkeep_habits import CartHabits, SolutionHabits
from sim_devices.ward import deeds
from sim_devices.ward.deeds import Deed
from sim_devices.ward.ward import Ward
from tests.sim_devices.small_ward import site_of

ONE_IN_A_MILLION = 1e-6
DAYS = 4
SHARES = {Surface.SKIN: 0.845, Surface.MUCOSA: 0.04, Surface.BLOOD: 0.1, Surface.STERILE: 0.015}


class Lived(NamedTuple):
    """A ward that was lived in for four days. thorough: the share of cleaning that is done."""

    thorough: float
    habits: Habits
    ward: Ward
    life: Life

    @property
    def department(self) -> Department:
        return self.habits.departments[0]


@pytest.fixture(scope="module", params=[AFTER, BEFORE], ids=["after", "before an improvement programme"])
def lived(request: pytest.FixtureRequest, site: Site, labels: Mapping[str, Label], epoch: Micros) -> Lived:
    """Few patients at a time, so that each finds a probe: otherwise some contacts would be missing."""
    thorough: float = request.param
    exams = ExamHabits(
        exam_minutes=3,
        second_probe_share=0,
        cleaned_share=thorough,
        mucosa_share=SHARES[Surface.MUCOSA],
        blood_share=SHARES[Surface.BLOOD],
        sterile_share=SHARES[Surface.STERILE],
    )
    arrivals = ArrivalHabits(exams_per_cart_day=35, night_share=1, peak_rise=0, weekend_share=1)
    carts = tuple(cart.id for cart in site.cart)
    habits = Habits(
        departments=(Department(id="all", carts=carts, arrivals=arrivals, exams=exams),),
        sinks=SinkHabits(thorough_share=thorough, cabinet_share=0, technicians=6),
        soaks=SoakHabits(pair_share=0, lift_share=0),
        solutions=SolutionHabits(poured_part=0.05, overdue_share=0),
    )
    ward = Ward(site, labels, epoch, Chance(1))
    life = Life(ward, habits, Chance(21))
    life.live(Micros(epoch + DAYS * 86_400 * SECOND))
    return Lived(thorough, habits, ward, life)


def is_plausible(found: int, of: int, share: float) -> bool:
    """Whether so many of so many may come of independent choices with this share (exact, both sides)."""
    return bool(stats.binomtest(found, of, share).pvalue > ONE_IN_A_MILLION)


def of_probes(ward: Ward) -> dict[str, list[tuple[Micros, Deed]]]:
    """The deeds with each probe, in order."""
    found: dict[str, list[tuple[Micros, Deed]]] = {probe: [] for probe in ward.probes}
    for at, deed in ward.log:
        if isinstance(deed, deeds.Touch | deeds.Treat | deeds.Bring | deeds.LayDown):
            found[deed.probe].append((at, deed))
        elif isinstance(deed, deeds.HangUp):
            found[ward.on_cord[deed.cart, deed.cord]].append((at, deed))
    return found


def test_every_patient_is_touched_with_one_probe(lived: Lived) -> None:
    touches = sum(isinstance(deed, deeds.Touch) for _, deed in lived.ward.log)
    # At the end some are still being examined, one at each cart at most.
    assert 0 <= touches - len(lived.life.visits()) <= len(lived.ward.carts)
    assert touches > 1000


def test_contacts_are_of_each_class_as_often_as_the_habits_say(lived: Lived) -> None:
    found = Counter(deed.surface for _, deed in lived.ward.log if isinstance(deed, deeds.Touch))
    for surface, share in SHARES.items():
        assert is_plausible(found[surface], found.total(), share), surface


def test_probes_are_cleaned_after_skin_as_often_as_the_programme_says(lived: Lived) -> None:
    cleaned = uncleaned = 0
    for story in of_probes(lived.ward).values():
        for (_, deed), *after in zip(story, story[1:], story[2:], strict=False):
            if isinstance(deed, deeds.Touch) and deed.surface is Surface.SKIN:
                follows = after[1][1]
                cleaned += isinstance(follows, deeds.Treat)
                uncleaned += isinstance(follows, deeds.HangUp)
    assert cleaned + uncleaned > 800
    assert is_plausible(cleaned, cleaned + uncleaned, lived.thorough)


def test_probes_are_washed_before_a_soak_as_often_as_the_programme_says(lived: Lived) -> None:
    washed = unwashed = 0
    for story in of_probes(lived.ward).values():
        for (_, deed), (_, follows) in pairwise(story):
            if isinstance(deed, deeds.Bring) and deed.place is Place.SINK and isinstance(follows, deeds.Treat):
                washed += Step.WASHED in follows.steps
                unwashed += Step.WASHED not in follows.steps
    assert washed + unwashed > 120
    assert is_plausible(washed, washed + unwashed, lived.thorough)
    other = BEFORE if lived.thorough == AFTER else AFTER
    assert not is_plausible(washed, washed + unwashed, other)


def test_soaks_are_cut_short_or_forgotten_as_often_as_the_habits_say(lived: Lived) -> None:
    soaks = lived.habits.soaks
    short = forgotten = whole = 0
    for story in of_probes(lived.ward).values():
        for (put_in, deed), (taken_out, _) in pairwise(story):
            if isinstance(deed, deeds.Bring) and deed.place is Place.BASIN:
                asked = lived.ward.labels[deed.thing].min_minutes * 60
                beyond = (taken_out - put_in) / SECOND - asked
                # A soak that is forgotten lasts longer by its least than any other with the way to the basin.
                is_forgotten = beyond > soaks.least_forgotten_minutes * 60
                short, forgotten = short + (beyond < 0), forgotten + is_forgotten
                whole += not (beyond < 0 or is_forgotten)
    of = short + forgotten + whole
    assert of > 120
    # Cutting a soak by less than the two handlings hides it: at 97 % of 8 min it is 14 s shorter, they take 12 s.
    assert is_plausible(short, of, soaks.cut_short_share)
    assert is_plausible(forgotten, of, (1 - soaks.cut_short_share) * soaks.forgotten_share)


def test_contacts_with_skin_are_left_unmarked_as_often_as_the_habits_say(lived: Lived) -> None:
    exams = lived.department.examines
    marks = Counter(
        deed.marked for _, deed in lived.ward.log if isinstance(deed, deeds.Touch) and deed.surface is Surface.SKIN
    )
    assert is_plausible(marks["not"], marks.total(), exams.unmarked_share * (1 - exams.late_share))


def test_carts_roll_plugged_in_as_often_as_the_habits_say(lived: Lived) -> None:
    plugged: dict[str, bool] = dict.fromkeys(lived.ward.carts, True)
    pulled = forgotten = 0
    for _, deed in lived.ward.log:
        if isinstance(deed, deeds.Mains):
            pulled += plugged[deed.cart] and not deed.plugged_in
            plugged[deed.cart] = deed.plugged_in
        elif isinstance(deed, deeds.Roll):
            forgotten += plugged[deed.cart]
    assert pulled > 500
    assert is_plausible(forgotten, pulled, lived.habits.ways.plugged_in_share)


def test_parked_carts_are_bumped_as_often_as_a_poisson_process_of_the_rate_says(lived: Lived) -> None:
    ward = lived.ward
    end = Micros(ward.epoch + DAYS * 86_400 * SECOND)
    parked = sum(
        stretch.end - stretch.start
        for cart in ward.carts.values()
        for stretch in cart.rolling.stretches(ward.epoch, end)
        if not stretch.value
    )
    expected = lived.habits.carts.bumps_per_day * parked / (86_400 * SECOND)
    bumps = sum(len(cart.jolts) for cart in ward.carts.values())
    low, high = stats.poisson.ppf([ONE_IN_A_MILLION / 2, 1 - ONE_IN_A_MILLION / 2], expected)
    assert low <= bumps <= high
    assert low > expected / 2
    assert high < expected * 2


def test_carts_are_wiped_down_before_a_shift_as_often_as_the_programme_says(lived: Lived) -> None:
    ward, habits = lived.ward, lived.habits.carts
    zone, first = ward.site.site.zone, datetime.fromtimestamp(ward.epoch / SECOND, ward.site.site.zone).date()
    days = [first + timedelta(days=n) for n in range(1, DAYS)]
    starts = [datetime.combine(day, shift.start, zone).timestamp() for day in days for shift in ward.site.shift]
    wiped = sum(
        any(
            habits.least_before_minutes <= (start - at / SECOND) / 60 <= habits.most_before_minutes for at in cart.wiped
        )
        for cart in ward.carts.values()
        for start in starts
    )
    assert is_plausible(wiped, len(ward.carts) * len(starts), AFTER)
    assert not is_plausible(wiped, len(ward.carts) * len(starts), BEFORE)


def test_no_soak_begins_in_a_solution_for_which_it_is_time_and_none_is_poured_onto_a_probe(lived: Lived) -> None:
    # What is due is poured before the soak: what is older by more than the way to the basin was overlooked.
    ward, part = lived.ward, lived.habits.solutions.poured_part
    soaks = pours = 0
    for at, deed in ward.log:
        if isinstance(deed, deeds.Pour):
            pours += 1
            assert ward.basins[deed.basin].inside.at(at) == ()
        elif isinstance(deed, deeds.Bring) and deed.place is Place.BASIN:
            soaks += 1
            liquid, days = ward.basins[deed.thing].liquid.at(at), ward.labels[deed.thing].reuse_days
            assert liquid is not None
            assert days is not None
            assert at - liquid.poured <= (part * days * 86_400 + 600) * SECOND
    assert soaks > 120
    assert pours > 2 * len(ward.basins)


def test_a_gel_bottle_is_changed_before_it_is_out_of_date(labels: Mapping[str, Label], epoch: Micros) -> None:
    ward = Ward(site_of(), labels, epoch, Chance(1))
    hands = Hands(ward, Chance(5))
    CartCare(hands, CartHabits(bumps_per_day=0, gel_forgotten_share=0))
    hands.env.run(until=100 * DAY)
    for cart in ward.carts.values():
        changes = cart.gel_opened.changes(Micros(epoch - 1), Micros(epoch + 100 * DAY))
        opened = [at for at in map(cart.gel_opened.at, changes) if at is not None]
        assert len(opened) > 3
        # 28 d: CPSBC 2018.
        assert all(later - earlier < 28 * DAY for earlier, later in pairwise(opened))


def test_probes_in_basins_are_their_rate_times_their_time_there(lived: Lived) -> None:
    # Little's law without chance: the time integral of the number in a basin, from its track, is the sum of the times
    # that probes spent in it, from the list of deeds.
    ward = lived.ward
    end = Micros(ward.epoch + DAYS * 86_400 * SECOND)
    spent: Counter[str] = Counter()
    for story in of_probes(ward).values():
        moves = [(at, deed) for at, deed in story if isinstance(deed, deeds.Bring | deeds.HangUp)]
        for (at, deed), (left, _) in zip(moves, [*moves[1:], (end, None)], strict=True):
            if isinstance(deed, deeds.Bring) and deed.place is Place.BASIN:
                spent[deed.thing] += left - at
    for name, basin in ward.basins.items():
        stretches = basin.inside.stretches(ward.epoch, end)
        assert sum((s.end - s.start) * len(s.value) for s in stretches) == spent[name] > 0
