from collections.abc import Mapping

import pytest
from scipy.integrate import solve_ivp

from rules.site import Label
from sim_devices.physics.heat import HEAT
from sim_devices.troubles.episode import Trouble
from tests.sim_devices.small_ward import HOUR, SmallWard, instant, site_of

Labels = Mapping[str, Label]

DAY = 24 * HOUR


def is_sound(labels: Labels, label: str, minutes: float, celsius: float, day: float = 1) -> bool:
    """Whether a soak on that day after the pour disinfects."""
    start = (day - 1) * DAY + HOUR
    ward = SmallWard(labels, site_of(label), celsius).soak(start, start + minutes * 60)
    (bath,) = ward.standing(start + 10 * HOUR).baths
    return bath.is_sound


@pytest.mark.parametrize(
    ("label", "minutes", "celsius", "day", "sound"),
    [
        # Minimum time and temperature of each label with its source: rules/labels.csv; compare with >=.
        ("opa-0.55-manual", 12, 20.0, 1, True),
        ("opa-0.55-manual", 12 - 1 / 60, 20.0, 1, False),
        ("opa-0.55-manual", 12, 19.9, 1, False),
        ("opa-0.55-manual", 5, 25.0, 1, False),
        ("glutaraldehyde-2.4-label", 20, 20.0, 1, False),
        ("glutaraldehyde-2-guideline", 20, 20.0, 1, True),
        ("glutaraldehyde-2.4-label", 45, 25.0, 1, True),
        ("glutaraldehyde-2.4-label", 45, 22.0, 1, False),
        ("hydrogen-peroxide-7.5", 30, 20.0, 1, True),
        ("hydrogen-peroxide-7.5", 30, 20.0, 21, True),
        ("hydrogen-peroxide-7.5", 30, 20.0, 22.01, False),
    ],
)
def test_a_soak_is_sound_by_time_temperature_and_days_of_its_label(
    labels: Labels, label: str, minutes: float, celsius: float, day: float, *, sound: bool
) -> None:
    assert is_sound(labels, label, minutes, celsius, day) is sound


def test_a_single_use_solution_disinfects_once(labels: Labels) -> None:
    ward = SmallWard(labels, site_of("hypochlorous-650ppm"), 25).soak(60, 660).soak(1000, 1600)
    first, second = ward.standing(HOUR).baths
    assert (first.is_sound, second.is_sound) == (True, False)
    assert ward.found(Trouble.SOLUTION_OUT_OF_DATE, HOUR) == [("basin-1", 660, None)]


def test_a_lifted_lid_begins_the_time_anew(labels: Labels) -> None:
    ward = (
        SmallWard(labels).do(0, "open-lid", basin="basin-1").do(0, "bring", probe="a-1", place="basin", thing="basin-1")
    )
    ward.do(0, "close-lid", basin="basin-1").do(600, "open-lid", basin="basin-1").do(605, "close-lid", basin="basin-1")
    ward.do(1325 - 0.001, "open-lid", basin="basin-1").do(1330, "bring", probe="a-1", place="in hands")
    (bath,) = ward.standing(HOUR).baths
    assert bath.longest == 719_999_000
    assert not bath.is_sound
    assert ward.found(Trouble.LID_OPEN_EARLY, HOUR) == [("basin-1", 600, 605), ("basin-1", 1324.999, 1330)]
    assert ward.found(Trouble.SOAK_TOO_SHORT, HOUR) == [("basin-1", 1324.999, None)]


def test_a_soak_is_too_short_until_the_probe_is_put_in_again(labels: Labels) -> None:
    ward = SmallWard(labels).exam(0, 60, "mucosa").soak(100, 819).soak(900, 1620)
    assert ward.found(Trouble.SOAK_TOO_SHORT, HOUR) == [("basin-1", 819, 900)]
    assert ward.found(Trouble.SOAK_NOT_MET, HOUR) == []


def test_a_cold_soak_of_full_length_is_not_met(labels: Labels) -> None:
    ward = SmallWard(labels, celsius=19.9).soak(100, 820)
    assert ward.found(Trouble.SOAK_NOT_MET, HOUR) == [("basin-1", 820, None)]
    assert ward.found(Trouble.SOAK_COLD, HOUR) == [("basin-1", 100, 820)]
    assert ward.found(Trouble.SOAK_NEVER_DONE, HOUR) == [("basin-1", 100, 820)]


def test_a_closed_lid_over_an_empty_basin_is_no_soak(labels: Labels) -> None:
    ward = SmallWard(labels, celsius=19).do(100, "open-lid", basin="basin-1").do(110, "close-lid", basin="basin-1")
    assert ward.do(400, "open-lid", basin="basin-1").all(500) == []


def test_a_probe_that_is_taken_out_again_at_once_was_not_soaked(labels: Labels) -> None:
    ward = (
        SmallWard(labels).do(0, "open-lid", basin="basin-1").do(0, "bring", probe="a-1", place="basin", thing="basin-1")
    )
    assert ward.do(29, "bring", probe="a-1", place="in hands").found(Trouble.SOAK_TOO_SHORT, HOUR) == []


def test_a_solution_that_cools_through_the_least_temperature_is_too_cold_from_there_on(labels: Labels) -> None:
    ward = SmallWard(labels, site_of("glutaraldehyde-2.5-long-life"), celsius=20)  # 90 min at 25 Cel
    ward.do(0, "open-lid", basin="basin-1").do(0, "set-celsius", basin="basin-1", celsius=26)
    ward.do(0, "bring", probe="a-1", place="basin", thing="basin-1").do(0, "close-lid", basin="basin-1")
    ((_, start, end),) = ward.found(Trouble.SOAK_COLD, 2 * HOUR)
    # Solution, basin and probe begin at 26, 20 and 20 Cel; the heat balance of two bodies by scipy.
    capacity = HEAT.solution_kg * HEAT.solution_joules_per_kg_kelvin
    other = HEAT.basin_joules_per_kelvin + HEAT.probe_joules_per_kelvin
    exchange = HEAT.basin_watts_per_kelvin + HEAT.probe_watts_per_kelvin

    def slope(_: float, celsius: list[float]) -> list[float]:
        solution, body = celsius
        flow = exchange * (solution - body)
        return [
            (HEAT.lid_watts_per_kelvin * (20 - solution) - flow) / capacity,
            (HEAT.wall_watts_per_kelvin * (20 - body) + flow) / other,
        ]

    def crossing(_: float, celsius: list[float]) -> float:
        return celsius[0] - 25

    found = solve_ivp(slope, (0, 2 * HOUR), [26, 20], events=crossing, rtol=1e-10, atol=1e-10)
    assert start == pytest.approx(found.t_events[0][0], abs=0.01)
    assert 0 < start < 90 * 60
    assert end is None
    # It falls from the beginning on and never rises again: as things go, the soak is never done.
    assert ward.found(Trouble.SOAK_NEVER_DONE, 2 * HOUR) == [("basin-1", 0, None)]


def test_a_soak_that_is_warmed_in_time_is_not_doomed_any_more(labels: Labels) -> None:
    ward = SmallWard(labels, celsius=19).do(0, "open-lid", basin="basin-1")
    ward.do(0, "bring", probe="a-1", place="basin", thing="basin-1").do(0, "close-lid", basin="basin-1")
    ward.do(600, "heater", basin="basin-1", works=True)
    ((_, start, end),) = ward.found(Trouble.SOAK_NEVER_DONE, 3 * HOUR)
    assert (start, end) == (0, 600)
    ((_, _, warm),) = ward.found(Trouble.SOAK_COLD, 3 * HOUR)
    # 100 W into some 9.1 kJ/K, less what is lost: 1 K takes 91 s and a little more.
    assert 600 + 85 < warm < 600 + 100


def test_a_probe_lies_too_long_by_its_label_or_by_its_maker(labels: Labels) -> None:
    probe = {"id": "a-1", "name": "A", "cart": "cart-1", "cord": "a", "max_soak_minutes": 20}
    ward = SmallWard(labels, site_of(probe=[probe])).soak(10, 1310)
    assert ward.found(Trouble.OVER_SOAK, HOUR) == [("basin-1", 1210, 1310)]


def test_two_probes_in_one_basin_are_judged_each_by_its_own_time(labels: Labels) -> None:
    ward = (
        SmallWard(labels).do(0, "open-lid", basin="basin-1").do(0, "bring", probe="a-1", place="basin", thing="basin-1")
    )
    ward.do(0, "close-lid", basin="basin-1").do(300, "open-lid", basin="basin-1")
    ward.do(300, "bring", probe="b-1", place="basin", thing="basin-1").do(300, "close-lid", basin="basin-1")
    ward.do(1020, "open-lid", basin="basin-1")
    for probe in ("a-1", "b-1"):
        ward.do(1020, "bring", probe=probe, place="in hands")
    assert [ward.standing(HOUR, probe).baths[0].is_sound for probe in ("a-1", "b-1")] == [True, True]
    assert ward.found(Trouble.LID_OPEN_EARLY, HOUR) == []


@pytest.mark.parametrize(
    ("bring", "claimed_at"),
    [({"read": False}, None), ({"read": False, "claimed_after_seconds": 1200}, 2020), ({}, "by its tag")],
)
def test_a_soak_is_unclaimed_until_somebody_tells_whose_it_is(
    labels: Labels, bring: Mapping[str, object], claimed_at: object
) -> None:
    ward = SmallWard(labels).soak(100, 820, **bring)
    expected = [] if claimed_at == "by its tag" else [("basin-1", 820, claimed_at)]
    assert ward.found(Trouble.SOAK_UNCLAIMED, HOUR) == expected


def test_a_claim_within_ten_minutes_is_no_trouble(labels: Labels) -> None:
    ward = SmallWard(labels).soak(100, 820, read=False, claimed_after_seconds=599)
    assert ward.found(Trouble.SOAK_UNCLAIMED, HOUR) == []


def test_a_reader_that_sees_nothing_tells_nothing(labels: Labels) -> None:
    ward = SmallWard(labels).do(0, "defect", sensor="basin-1/tag", how="loses", by=1).soak(100, 820)
    assert ward.found(Trouble.SOAK_UNCLAIMED, HOUR) == [("basin-1", 820, None)]


# ---- solutions ------------------------------------------------------------------------------------------------------


def test_a_solution_ends_by_its_reuse_life_and_is_in_its_last_day_before(labels: Labels) -> None:
    ward = SmallWard(labels)  # OPA: 14 d (CDC/HICPAC 2008, Table 4)
    assert ward.found(Trouble.SOLUTION_ENDS_SOON, 15 * DAY, 15 * DAY - 1) == []
    assert ward.found(Trouble.SOLUTION_ENDS_SOON, 15 * DAY)[0] == ("basin-1", 13 * DAY, 14 * DAY)
    assert ward.found(Trouble.SOLUTION_OUT_OF_DATE, 15 * DAY)[0] == ("basin-1", 14 * DAY, None)


def test_a_solution_that_was_out_of_date_when_it_was_poured_is_so_from_then_on(labels: Labels) -> None:
    ward = SmallWard(labels).do(50, "open-lid", basin="basin-1").do(60, "pour", basin="basin-1", expired_days=3)
    assert ward.do(900, "pour", basin="basin-1").found(Trouble.SOLUTION_OUT_OF_DATE, HOUR) == [("basin-1", 60, 900)]


def test_a_spent_solution_disinfects_nothing_until_fresh_one_is_poured(labels: Labels) -> None:
    ward = SmallWard(labels).do(50, "spend", basin="basin-1").soak(100, 820)
    assert ward.found(Trouble.SOAK_NOT_MET, HOUR) == [("basin-1", 820, None)]
    ward.do(1000, "pour", basin="basin-1")
    assert ward.found(Trouble.SOLUTION_SPENT, HOUR) == [("basin-1", 50, 1000)]


def test_what_still_goes_on_has_no_end_and_what_was_over_before_is_not_told(labels: Labels) -> None:
    ward = SmallWard(labels).do(50, "spend", basin="basin-1").do(60, "open-lid", basin="basin-1")
    ward.do(100, "pour", basin="basin-1").do(200, "spend", basin="basin-1")
    assert ward.found(Trouble.SOLUTION_SPENT, 300) == [("basin-1", 50, 100), ("basin-1", 200, None)]
    assert ward.found(Trouble.SOLUTION_SPENT, 300, after=150) == [("basin-1", 200, None)]
    assert ward.found(Trouble.SOLUTION_SPENT, 150, after=99) == [("basin-1", 50, 100)]
    assert instant(0) == ward.ward.epoch
