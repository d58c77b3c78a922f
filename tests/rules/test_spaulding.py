"""What a contact demands, against what the guidelines say of each class.

CDC 2008: guideline for disinfection and sterilization in healthcare facilities (secondary). AIUM 2022: guidelines for
cleaning and preparing ultrasound transducers. Intersocietal 2021: J Ultrasound Med 40:895-897. ESR 2017: Insights
Imaging 8:523-535. ACEP 2018: transducer cleaning statement.
"""

from itertools import product
from typing import Any

import pytest

from rules.policy import ReprocessingPolicy
from rules.probe_words import Level, Surface
from rules.spaulding import level_owed, stricter

SKIN, MUCOSA, BLOOD, STERILE = Surface.SKIN, Surface.MUCOSA, Surface.BLOOD, Surface.STERILE
AIUM: dict[str, Any] = {"covered_percutaneous": "low-level disinfection"}
ESR: dict[str, Any] = {"covered_percutaneous": "high-level disinfection"}


def owed(
    surface: Surface, *, covered: bool | None = None, needle: bool = False, internal: bool = False, **policy: Any
) -> Level:
    return level_owed(
        surface, covered=covered, percutaneous=needle, internal=internal, policy=ReprocessingPolicy(**policy)
    )


@pytest.mark.parametrize(
    ("surface", "policy", "level"),
    [
        (SKIN, {}, Level.CLEANING),  # non-critical: cleaning (CDC 2008; AIUM 2022)
        (SKIN, {"low_level_after_skin": True}, Level.LOW),  # low-level disinfection where policy asks (CDC 2008)
        (MUCOSA, {}, Level.HIGH),  # semi-critical (CDC 2008; AIUM 2022)
        (BLOOD, {}, Level.HIGH),  # blood or body fluid: semi-critical (CDC 2008; AIUM 2022)
        (STERILE, {}, Level.STERILISATION),  # critical (CDC 2008)
        (STERILE, {"critical": "high-level disinfection and a sterile cover"}, Level.HIGH),  # "else" of CDC 2008
        (STERILE, {"critical": "not used"}, Level.HIGH),  # the class is not used in ultrasound (ACEP 2018)
    ],
)
def test_each_surface_demands_the_level_of_its_class(surface: Surface, policy: dict[str, Any], level: Level) -> None:
    assert owed(surface, **policy) is level


@pytest.mark.parametrize("surface", [MUCOSA, BLOOD])
def test_a_cover_spares_no_high_level_disinfection(surface: Surface) -> None:
    # Semi-critical also when a cover was used (CDC 2008; AIUM 2022)
    assert owed(surface, covered=True, **AIUM) is Level.HIGH


@pytest.mark.parametrize(
    ("covered", "policy", "level"),
    [
        (True, AIUM, Level.LOW),  # AIUM 2022, Intersocietal 2021
        (True, ESR, Level.HIGH),  # ESR 2017
        (True, {}, Level.HIGH),  # the stricter of the two is the default (ours)
        (False, AIUM, Level.HIGH),  # the leave is for covered probes only (AIUM 2022)
        (None, AIUM, Level.HIGH),  # what was not told is not claimed (ours)
    ],
)
def test_beside_a_needle_the_cover_and_the_guideline_decide(
    covered: bool | None,  # noqa: FBT001  # a column of the table
    policy: dict[str, Any],
    level: Level,
) -> None:
    assert owed(SKIN, covered=covered, needle=True, **policy) is level


@pytest.mark.parametrize(("surface", "level"), [(MUCOSA, Level.HIGH), (STERILE, Level.STERILISATION)])
def test_a_needle_lowers_nothing(surface: Surface, level: Level) -> None:
    assert owed(surface, covered=True, needle=True, **AIUM) is level


@pytest.mark.parametrize(("surface", "level"), [(SKIN, Level.HIGH), (STERILE, Level.STERILISATION)])
def test_an_internal_probe_is_at_least_semi_critical_whatever_it_was_used_for(surface: Surface, level: Level) -> None:
    # CDC 2008; AIUM 2022
    assert owed(surface, internal=True) is level


STRICTER = [
    ({}, {"low_level_after_skin": True}),
    (AIUM, ESR),
    ({"critical": "not used"}, {"critical": "sterilisation"}),
    ({"critical": "high-level disinfection and a sterile cover"}, {"critical": "sterilisation"}),
]


@pytest.mark.parametrize(("lax", "strict"), STRICTER)
def test_a_stricter_switch_demands_less_of_no_contact(lax: dict[str, Any], strict: dict[str, Any]) -> None:
    for surface, covered, needle, internal in product(Surface, (True, False, None), (True, False), (True, False)):
        by_lax = owed(surface, covered=covered, needle=needle, internal=internal, **lax)
        by_strict = owed(surface, covered=covered, needle=needle, internal=internal, **strict)
        assert stricter(by_lax, by_strict) is by_strict


def test_the_levels_rise_from_cleaning_to_sterilisation() -> None:
    # The order of Spaulding's classes (CDC 2008)
    rising = [Level.CLEANING, Level.LOW, Level.HIGH, Level.STERILISATION]
    assert sorted(Level, key=lambda level: level.rank) == rising
    assert stricter(Level.HIGH, Level.LOW) is stricter(Level.LOW, Level.HIGH) is Level.HIGH
