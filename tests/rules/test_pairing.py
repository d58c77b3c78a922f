"""A probe is kept out of a solution that its maker forbids."""

from typing import Any

import pytest
from pydantic import ValidationError

from rules.pairing import unchecked_probes
from rules.ruleset import RuleError
from rules.site import Probe, Site
from tests.rules.feeder import book_of, department

PROBE = {"id": "curved-1", "name": "Curved 1", "cart": "cart-1", "cord": "a", "basins": ["basin-1"]}


def paired(label: str, **limits: Any) -> Site:
    return department(label, probe=[{**PROBE, **limits}])


@pytest.mark.parametrize(
    ("label", "limits", "told"),
    [
        # Upper bound of 90 min at 25 Cel of the CDC/HICPAC 2008 recommendations, on a probe that stands 60 min.
        (
            "glutaraldehyde-2.5-long-life",
            {"max_soak_minutes": 60},
            "key 'max_soak_minutes': 'glutaraldehyde-2.5-long-life' needs 90 min, the probe stands 60 min",
        ),
        ("glutaraldehyde-2.5-long-life", {"max_celsius": 24}, "key 'max_celsius'"),
        ("opa-0.55-manual", {"chemistries": ["hydrogen peroxide 2.0 %"]}, "key 'chemistries': 'opa-0.55-manual' is"),
        ("opa-0.55-manual", {"chemistries": ["hydrogen peroxyde 2.0 %"]}, "perhaps 'hydrogen peroxide 2.0 %' or"),
    ],
)
def test_a_pairing_beyond_what_the_probe_stands_is_refused_at_load(
    label: str, limits: dict[str, Any], told: str
) -> None:
    with pytest.raises(RuleError) as refused:
        book_of(paired(label, **limits))
    assert "probe 'curved-1'" in refused.value.problems[0]
    assert told in refused.value.problems[0]


@pytest.mark.parametrize(
    ("label", "limits"),
    [
        ("glutaraldehyde-2.5-long-life", {"max_soak_minutes": 90, "max_celsius": 25}),
        ("glutaraldehyde-2.5-long-life", {}),
        ("glutaraldehyde-2.5-long-life", {"max_soak_minutes": 60, "basins": []}),
        ("opa-0.55-manual", {"chemistries": ["hydrogen peroxide 2.0 %", "ortho-phthalaldehyde 0.55 %"]}),
    ],
)
def test_a_pairing_within_its_limits_or_without_any_is_none_to_refuse(label: str, limits: dict[str, Any]) -> None:
    assert book_of(paired(label, **limits))


def test_a_probe_of_which_nobody_says_where_it_is_soaked_is_named() -> None:
    assert unchecked_probes(paired("opa-0.55-manual", basins=[])) == ["Curved 1"]
    assert unchecked_probes(paired("opa-0.55-manual")) == []


def test_a_basin_that_is_not_there_is_told() -> None:
    with pytest.raises(ValidationError, match=r"no \[\[basin\]\] has the id 'basin-9'"):
        paired("opa-0.55-manual", basins=["basin-9"])


def test_limits_are_above_nothing() -> None:
    with pytest.raises(ValidationError):
        Probe.model_validate({**PROBE, "max_soak_minutes": 0})
