from collections.abc import Mapping

import pytest

from rules.probe_words import Level, Place, Surface
from rules.site import Label
from sim_devices.troubles.episode import Trouble
from tests.sim_devices.small_ward import HOUR, SmallWard, site_of

Labels = Mapping[str, Label]


def probe(**further: object) -> list[dict[str, object]]:
    return [{"id": "a-1", "name": "A", "cart": "cart-1", "cord": "a", "tag": "T"} | further]


def disinfected(ward: SmallWard, start: float) -> SmallWard:
    """Washed and dried, soaked for the 12 min of its label, rinsed three times and dried; takes 1000 s."""
    ward.do(start, "bring", probe="a-1", place="sink", thing="room")
    ward.do(start + 60, "treat", probe="a-1", steps=["cover off", "washed", "dried"])
    ward.soak(start + 100, start + 820)
    return ward.do(start + 1000, "treat", probe="a-1", steps=["rinsed", "dried"], times=3)


# ---- what is owed ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("surface", "policy", "internal", "owes"),
    [
        # Spaulding's classes applied to transducers: CDC 2008; AIUM 2022.
        ("skin", {}, False, Level.CLEANING),
        ("skin", {"low_level_after_skin": True}, False, Level.LOW),
        ("mucosa", {}, False, Level.HIGH),
        ("blood", {}, False, Level.HIGH),
        ("sterile", {}, False, Level.STERILISATION),
        ("sterile", {"critical": "not used"}, False, Level.HIGH),
        # An internal probe is always at least semi-critical, whatever it was used for.
        ("skin", {}, True, Level.HIGH),
        ("sterile", {}, True, Level.STERILISATION),
    ],
)
def test_what_a_probe_owes_by_the_class_of_its_contact(
    labels: Labels, surface: str, policy: Mapping[str, object], *, internal: bool, owes: Level
) -> None:
    site = site_of(probe=probe(internal=internal), reprocessing={"tracked": True, **policy})
    truth = SmallWard(labels, site).exam(10, 60, surface).truth(100)
    assert (truth.owes, truth.touched, truth.is_fit) == (owes, Surface(surface), False)


def test_a_new_probe_owes_nothing_and_one_at_a_patient_is_not_fit(labels: Labels) -> None:
    ward = SmallWard(labels).exam(10, 60, "skin")
    assert ward.truth(5).is_fit
    assert ward.truth(30).at_patient
    assert (ward.truth(70).at_patient, ward.truth(70).place) == (False, Place.HOOK)


def test_a_probe_that_was_laid_down_is_not_at_a_patient(labels: Labels) -> None:
    ward = SmallWard(labels).do(10, "take-down", cart="cart-1", cord="a").do(10, "touch", probe="a-1", surface="skin")
    ward.do(60, "lay-down", probe="a-1")
    assert [ward.truth(at).at_patient for at in (59, 60)] == [True, False]


def test_washing_and_drying_pays_for_skin_and_for_nothing_more(labels: Labels) -> None:
    ward = SmallWard(labels).exam(10, 60, "skin").do(70, "treat", probe="a-1", steps=["washed"])
    ward.do(80, "treat", probe="a-1", steps=["dried"]).exam(200, 260, "mucosa")
    ward.do(300, "treat", probe="a-1", steps=["washed", "dried"])
    assert [ward.truth(at).owes for at in (75, 80, 400)] == [Level.CLEANING, None, Level.HIGH]


def test_a_probe_is_disinfected_once_it_was_washed_soaked_rinsed_three_times_and_dried(labels: Labels) -> None:
    ward = disinfected(SmallWard(labels).exam(10, 60, "mucosa"), 100)
    assert [ward.truth(at).owes for at in (1099, 1100)] == [Level.HIGH, None]
    assert ward.truth(1100).is_fit


def test_a_probe_that_was_not_rinsed_often_enough_is_wet_and_still_owes(labels: Labels) -> None:
    ward = SmallWard(labels).exam(10, 60, "mucosa").do(70, "treat", probe="a-1", steps=["washed", "dried"])
    ward.soak(100, 820).do(900, "treat", probe="a-1", steps=["rinsed", "dried"], times=2)
    truth = ward.truth(1000)
    assert (truth.owes, truth.is_wet, truth.begun) == (Level.HIGH, True, True)


def test_a_soak_of_an_unwashed_probe_pays_nothing(labels: Labels) -> None:
    ward = SmallWard(labels).exam(10, 60, "blood").soak(100, 820)
    ward.do(900, "treat", probe="a-1", steps=["rinsed", "dried"], times=3)
    assert ward.truth(1000).owes is Level.HIGH


@pytest.mark.parametrize(("soaked_until", "owes"), [(820, None), (819, Level.HIGH)])
def test_a_soak_one_second_short_pays_nothing(labels: Labels, soaked_until: float, owes: Level | None) -> None:
    ward = SmallWard(labels).exam(10, 60, "mucosa").do(70, "treat", probe="a-1", steps=["washed", "dried"])
    ward.soak(100, soaked_until).do(900, "treat", probe="a-1", steps=["rinsed", "dried"], times=3)
    assert ward.truth(1000).owes is owes


def test_sterile_tissue_is_paid_for_by_sterilisation_alone(labels: Labels) -> None:
    ward = disinfected(SmallWard(labels).exam(10, 60, "sterile"), 100)
    ward.do(2000, "treat", probe="a-1", steps=["sterilised"])
    assert [ward.truth(at).owes for at in (1999, 2000)] == [Level.STERILISATION, None]


def test_a_contact_while_it_is_being_reprocessed_begins_it_anew(labels: Labels) -> None:
    ward = SmallWard(labels).exam(10, 60, "mucosa").do(70, "treat", probe="a-1", steps=["washed", "dried"])
    ward.exam(75, 80, "skin").soak(100, 820).do(900, "treat", probe="a-1", steps=["rinsed", "dried"], times=3)
    assert ward.truth(1000).owes is Level.HIGH


def test_a_knocked_probe_is_not_fit_until_it_was_looked_over_and_a_touch_of_its_holder_is_no_knock(
    labels: Labels,
) -> None:
    ward = SmallWard(labels).do(10, "drop", probe="a-1", height_m=0.04).do(20, "drop", probe="a-1", height_m=0.05)
    ward.do(30, "drop", probe="a-1", height_m=1).do(300, "inspect", probe="a-1")
    assert ward.found(Trouble.KNOCKED, HOUR) == [("a-1", 20, 300)]
    assert [ward.truth(at).is_fit for at in (15, 25, 300)] == [True, False, True]


# ---- what goes wrong ------------------------------------------------------------------------------------------------


def test_a_probe_is_used_again_until_all_is_done_that_it_owes(labels: Labels) -> None:
    ward = disinfected(SmallWard(labels).exam(10, 60, "mucosa").exam(100, 160, "skin"), 200)
    assert ward.found(Trouble.USED_AGAIN, HOUR) == [("a-1", 100, 1200)]
    assert ward.found(Trouble.USED_UNCLEANED, HOUR) == []


def test_two_contacts_in_one_exam_are_one_use(labels: Labels) -> None:
    ward = SmallWard(labels).do(10, "take-down", cart="cart-1", cord="a").do(10, "touch", probe="a-1", surface="skin")
    ward.do(20, "touch", probe="a-1", surface="mucosa").do(60, "hang-up", cart="cart-1", cord="a")
    assert ward.found(Trouble.USED_AGAIN, HOUR) == []


def test_a_probe_used_on_skin_twice_is_uncleaned_and_one_on_skin_then_mucosa_is_more_than_that(labels: Labels) -> None:
    ward = SmallWard(labels).exam(10, 60, "skin").exam(100, 160, "skin").exam(200, 260, "mucosa")
    assert ward.found(Trouble.USED_UNCLEANED, HOUR) == [("a-1", 100, None)]
    assert ward.found(Trouble.USED_AGAIN, HOUR) == [("a-1", 200, None)]


def test_a_probe_that_owes_is_moved_on_its_cart_until_it_leaves_its_hook(labels: Labels) -> None:
    ward = SmallWard(labels).exam(10, 60, "mucosa").do(100, "roll", cart="cart-1").do(110, "halt", cart="cart-1")
    ward.do(200, "roll", cart="cart-1").do(210, "halt", cart="cart-1").do(300, "take-down", cart="cart-1", cord="a")
    assert ward.found(Trouble.ROLLS_AWAY, HOUR) == [("a-1", 100, 300)]


def test_a_probe_that_was_used_on_skin_may_be_moved(labels: Labels) -> None:
    ward = SmallWard(labels).exam(10, 60, "skin").do(100, "roll", cart="cart-1")
    assert ward.found(Trouble.ROLLS_AWAY, HOUR) == []


@pytest.mark.parametrize(("washed", "waits", "long"), [(959, 0, 0), (960, 1, 0), (3659, 1, 0), (3660, 1, 1)])
def test_a_probe_waits_from_the_end_of_its_exam_until_it_is_washed(
    labels: Labels, washed: float, waits: int, long: int
) -> None:
    # Of endoscopes 15 min and 60 min are published; for ultrasound nothing is.
    ward = SmallWard(labels).exam(10, 60, "mucosa").do(washed, "treat", probe="a-1", steps=["washed"])
    assert ward.found(Trouble.WAITS, 2 * HOUR) == [("a-1", 60, washed)] * waits
    assert ward.found(Trouble.WAITS_LONG, 2 * HOUR) == [("a-1", 60, washed)] * long


@pytest.mark.parametrize(
    "limit",
    [
        {"max_soak_minutes": 11},
        {"max_celsius": 19},
        {"chemistries": ["hydrogen peroxide 2.0 %"]},
        {"basins": ["basin-2"]},
    ],
)
def test_a_probe_is_in_a_wrong_basin_by_its_makers_word(labels: Labels, limit: Mapping[str, object]) -> None:
    ward = SmallWard(labels, site_of(probe=probe(**limit))).soak(100, 820)
    assert ward.found(Trouble.WRONG_BASIN, HOUR) == [("a-1", 100, 820)]


def test_a_probe_that_stands_its_basin_is_in_no_wrong_one(labels: Labels) -> None:
    limits = {"max_soak_minutes": 12, "max_celsius": 20, "chemistries": ["ortho-phthalaldehyde 0.55 %"]}
    ward = SmallWard(labels, site_of(probe=probe(**limits, basins=["basin-1"]))).soak(100, 820)
    assert ward.found(Trouble.WRONG_BASIN, HOUR) == []
