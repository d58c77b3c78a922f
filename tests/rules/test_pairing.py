"""A probe is kept out of a solution that its maker forbids."""

from typing import Any

import pytest
from pydantic import ValidationError

from rules.labels import read_labels
from rules.pairing import unchecked_probes, with_pairing
from rules.ruleset import RuleError
from rules.site import Probe, Site
from rules.verdict import Outcome, Reason, Verdict
from tests.rules.feeder import LABELS, book_of, department, judged, soak

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


# ---- a soak that was made all the same -------------------------------------------------------------------------------


def shared(length: float, **limits: Any) -> Verdict:
    """The share of a probe with these limits in a soak of 12 min at 20 Cel (CDC/HICPAC 2008, Table 4), or shorter."""
    label = read_labels(LABELS)["opa-0.55-manual"]
    return with_pairing(judged(soak(length, 20)), Probe.model_validate({**PROBE, **limits}), label)


@pytest.mark.parametrize(
    "limits",
    [
        {"max_soak_minutes": 11.9},
        {"max_celsius": 19.9},
        {"chemistries": ["hydrogen peroxide 2.0 %"]},
        {"max_soak_minutes": 11.9, "max_celsius": 19.9},
    ],
)
def test_a_soak_that_the_probes_maker_does_not_allow_is_not_met_for_that_probe(limits: dict[str, Any]) -> None:
    verdict = shared(720, **limits)
    assert (verdict.outcome, verdict.reasons) == (Outcome.NOT_ALLOWED, (Reason.NOT_ALLOWED,))
    assert verdict.credited_seconds == 720


@pytest.mark.parametrize(
    "limits",
    [
        {},
        {"max_soak_minutes": 12, "max_celsius": 20},
        {"chemistries": ["ortho-phthalaldehyde 0.55 %"]},
    ],
)
def test_a_soak_within_the_probes_limits_keeps_its_verdict(limits: dict[str, Any]) -> None:
    assert shared(720, **limits) == judged(soak(720, 20))


def test_what_else_was_short_is_told_in_the_order_of_the_reasons() -> None:
    assert shared(719, max_celsius=19.9).reasons == (Reason.TOO_SHORT, Reason.NOT_ALLOWED)
    assert shared(719, max_celsius=19.9).outcome is Outcome.TOO_SHORT
    site = department(solution={"recorded": True})
    probe, label = Probe.model_validate({**PROBE, "max_celsius": 19.9}), read_labels(LABELS)["opa-0.55-manual"]
    verdict = with_pairing(judged(soak(720, 20), site), probe, label)
    assert verdict.reasons == (Reason.NOT_ALLOWED, Reason.SOLUTION_NOT_RECORDED, Reason.STRIP_MISSING)
    assert verdict.outcome is Outcome.NOT_ALLOWED
