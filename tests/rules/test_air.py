"""Published limits of vapours, and how long a room takes to clear."""

import pytest

from rules.air import CLEARED, clearance_minutes, limits_of


@pytest.mark.parametrize(("air_changes", "nearly", "quite"), [(6, 46, 69), (10, 28, 41), (12, 23, 35), (15, 18, 28)])
def test_the_minutes_are_those_of_the_published_table(air_changes: float, nearly: int, quite: int) -> None:
    # CDC 2003 environmental infection control guideline, Table B.1: 99 % and 99.9 % (secondary)
    assert [round(clearance_minutes(air_changes, share)) for share in CLEARED] == [nearly, quite]


@pytest.mark.parametrize(
    ("chemistries", "limits"),
    [
        # NIOSH REL (74 FR 47595, 2009) and ACGIH via CDC 2008, Table 4
        (["Glutaraldehyde 2.4 %"], [("glutaraldehyde", 0.2, "ceiling"), ("glutaraldehyde", 0.05, "ceiling")]),
        # OSHA via CDC 2008
        (["hydrogen peroxide 2.0 %"], [("hydrogen peroxide", 1, "time-weighted average")]),
        # ACGIH 2014
        (
            ["peracetic acid 0.08 % + hydrogen peroxide 1.0 %"],
            [("hydrogen peroxide", 1, "time-weighted average"), ("peracetic acid", 0.4, "15 min (STEL)")],
        ),
        (["ortho-phthalaldehyde 0.55 %"], []),
        (["hydrogen peroxide 2.0 %", "hydrogen peroxide 7.5 %"], [("hydrogen peroxide", 1, "time-weighted average")]),
        ([], []),
    ],
)
def test_each_chemistry_has_the_limits_of_what_it_consists_of(
    chemistries: list[str], limits: list[tuple[str, float, str]]
) -> None:
    assert [(limit.substance, limit.ppm, limit.over) for limit in limits_of(chemistries)] == limits


def test_every_limit_names_its_source() -> None:
    told = limits_of(["glutaraldehyde, hydrogen peroxide and peracetic acid"])
    assert [limit.source for limit in told] == [
        "NIOSH REL, 74 FR 47595 (2009)", "ACGIH, via CDC 2008, Table 4", "OSHA, via CDC 2008", "ACGIH 2014"
    ]  # fmt: skip
