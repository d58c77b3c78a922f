"""Every row of rules/labels.csv through the engine, on both sides of its time and of its temperature.

The expected figures are those of the sources that each row names in its ``source`` column (CDC/HICPAC 2008 Table 4, FDA
510(k) summaries, Rutala & Weber 2016); the rows are read here with csv alone, not with the code under test.
"""

import csv
from io import StringIO

import pytest

from rules.exposure import Conditions
from rules.labels import read_labels
from rules.readings import micros
from rules.ruleset import RuleError
from rules.verdict import Outcome, Reason
from tests.rules.bath import pour, strip
from tests.rules.feeder import LABELS, Feeder, book_of, department, judged, soak

ROWS = list(csv.DictReader(StringIO(LABELS)))
BASIN = [row for row in ROWS if row["mode"] != "automated"]
AUTOMATED = [row["id"] for row in ROWS if row["mode"] == "automated"]


def outcome(label: str, minutes: float, celsius: float) -> Outcome:
    """The verdict on one soak in an open basin, with no guard band."""
    return judged(soak(minutes * 60, celsius), department(label, guard=0)).outcome


# ---- facts.md 1-3: CDC/HICPAC 2008, Table 4 and recommendations ------------------------------------------------------


@pytest.mark.parametrize(
    ("label", "minutes", "celsius", "expected"),
    [
        # ortho-phthalaldehyde 0.55 %: 12 min at 20 Cel by hand; 5 min at 25 Cel in an automated processor only.
        ("opa-0.55-manual", 12, 20.0, Outcome.MET),
        ("opa-0.55-manual", 11 + 59 / 60, 20.0, Outcome.TOO_SHORT),
        ("opa-0.55-manual", 12, 19.9, Outcome.TOO_COLD),
        ("opa-0.55-manual", 5, 25.0, Outcome.TOO_SHORT),
        # glutaraldehyde 2.4 %: the label's 45 min at 25 Cel; 20 min at 20 Cel only under the opted-in guideline.
        ("glutaraldehyde-2.4-label", 20, 20.0, Outcome.TOO_SHORT),
        ("glutaraldehyde-2-guideline", 20, 20.0, Outcome.MET),
        ("glutaraldehyde-2.4-label", 45, 25.0, Outcome.MET),
        ("glutaraldehyde-2.4-label", 45, 22.0, Outcome.TOO_COLD),
        # hydrogen peroxide 7.5 %: 30 min at 20 Cel.
        ("hydrogen-peroxide-7.5", 30, 20.0, Outcome.MET),
    ],
)
def test_the_published_conditions(label: str, minutes: float, celsius: float, expected: Outcome) -> None:
    assert outcome(label, minutes, celsius) is expected


def test_twenty_minutes_of_glutaraldehyde_are_enough_only_where_the_site_opts_in_to_the_guideline() -> None:
    # CDC/HICPAC 2008 recommendations: 20 min at 20 Cel, shorter than most labels.
    twenty = soak(20 * 60, 20.0)
    refused = {row["id"] for row in BASIN if row["chemistry"].startswith("glutaraldehyde 2")}
    assert refused == {"glutaraldehyde-2.4-label", "glutaraldehyde-2.5-long-life"}
    assert all(judged(twenty, department(label)).outcome is Outcome.TOO_SHORT for label in refused)
    assert judged(twenty, department("glutaraldehyde-2-guideline")).outcome is Outcome.MET


def test_a_basin_under_the_guideline_does_not_take_what_was_poured_by_its_label() -> None:
    site = department("glutaraldehyde-2-guideline", solution={"recorded": True})
    for poured, expected in (
        ("glutaraldehyde-2.4-label", Outcome.OTHER_SOLUTION),
        ("glutaraldehyde-2-guideline", Outcome.EXPOSURE_MET),
    ):
        feeder = Feeder(site).feed([pour(0, label=poured), strip(10), *soak(20 * 60, 20.0)]).until(2000)
        assert feeder.verdicts[-1].outcome is expected


def test_a_short_soak_that_was_cold_too_lists_both() -> None:
    verdict = judged(soak(20 * 60, 20.0), department("glutaraldehyde-2.4-label"))
    assert verdict.reasons == (Reason.TOO_SHORT, Reason.TOO_COLD)


# ---- every row -------------------------------------------------------------------------------------------------------


def test_the_table_has_rows_of_both_sorts() -> None:
    assert len(BASIN) == 13
    assert AUTOMATED == ["opa-0.55-automated", "glutaraldehyde-2.5-heated", "peracetic-acid-0.2"]


@pytest.mark.parametrize("row", BASIN, ids=lambda row: row["id"])
@pytest.mark.parametrize(
    ("further_seconds", "further_celsius", "expected"),
    [
        (0, 0.0, Outcome.MET),
        (-1, 0.0, Outcome.TOO_SHORT),
        (0, -0.1, Outcome.TOO_COLD),
        (600, -0.1, Outcome.TOO_COLD),
        (-1, 5.0, Outcome.TOO_SHORT),
    ],
    ids=["at the limits", "a second early", "a tenth too cold", "long does not make up for cold", "nor warm for short"],
)
def test_both_sides_of_time_and_temperature(
    row: dict[str, str], further_seconds: float, further_celsius: float, expected: Outcome
) -> None:
    minutes = float(row["min_minutes"]) + further_seconds / 60
    assert outcome(row["id"], minutes, float(row["min_celsius"]) + further_celsius) is expected


@pytest.mark.parametrize("row", BASIN, ids=lambda row: row["id"])
def test_a_sensors_uncertainty_is_a_guard_band(row: dict[str, str]) -> None:
    # JCGM 106:2012 (from memory): measured - expanded uncertainty >= limit.
    site, limit, length = department(row["id"], guard=0.5), float(row["min_celsius"]), float(row["min_minutes"]) * 60
    assert judged(soak(length, limit + 0.499999), site).outcome is Outcome.TOO_COLD
    assert judged(soak(length, limit + 0.5), site).outcome is Outcome.MET


@pytest.mark.parametrize("row", BASIN, ids=lambda row: row["id"])
def test_a_reading_at_the_limit_and_guard_band_is_accepted_in_whatever_tenths_they_are_written(
    row: dict[str, str],
) -> None:
    # JCGM 106:2012 (from memory): equal is accepted, so the sum of two decimals must not miss the third by a bit.
    limit = float(row["min_celsius"])
    for tenths in range(51):
        conditions = Conditions(micros(60), limit, tenths / 10, max_gap=micros(60))
        assert conditions.floor_celsius == float(f"{limit + tenths / 10:.1f}")


@pytest.mark.parametrize("label", AUTOMATED)
def test_an_automated_processors_conditions_are_refused_for_a_basin(label: str) -> None:
    with pytest.raises(RuleError) as refused:
        book_of(department(label))
    assert str(refused.value) == (
        f"basin 'basin-1', key 'label': '{label}' states conditions of an automated processor, which never apply to an "
        "open basin; expected a label with mode 'manual'"
    )


def test_a_thermometer_that_the_site_says_nothing_of_has_the_guard_band_of_its_class() -> None:
    # +-0.5 Cel from -10 to 85 Cel: data sheet of the common 1-Wire thermometer class (secondary).
    site = department().model_copy(update={"sensor": ()})
    assert judged(soak(720, 20.4), site).outcome is Outcome.TOO_COLD
    assert judged(soak(720, 20.5), site).outcome is Outcome.MET


def test_the_table_is_read_as_it_is_written() -> None:
    labels = read_labels(LABELS)
    assert list(labels) == [row["id"] for row in ROWS]
    for row in ROWS:
        label = labels[row["id"]]
        written = (row["chemistry"], row["mode"], float(row["min_minutes"]), float(row["min_celsius"]), row["source"])
        assert (label.chemistry, label.mode, label.min_minutes, label.min_celsius, label.source) == written
        assert label.reuse_days == (int(row["reuse_days"]) if row["reuse_days"] else None)
        assert label.rinses == (int(row["rinses"]) if row["rinses"] else None)
        assert label.mec_percent == (float(row["mec_percent"]) if row["mec_percent"] else None)


def test_after_ortho_phthalaldehyde_come_three_rinses_and_of_others_the_table_says_nothing() -> None:
    # Three separate rinses of fresh water, at least one minute each: from memory.
    told = {row["id"]: row["rinses"] for row in ROWS if row["rinses"]}
    assert told == {"opa-0.55-manual": "3", "opa-0.55-automated": "3"}


def test_a_label_of_the_site_stands_in_for_a_shipped_one_of_the_same_id() -> None:
    own = {"id": "opa-0.55-manual", "chemistry": "ortho-phthalaldehyde 0.55 %", "min_minutes": 10, "min_celsius": 22}
    site = department(label="opa-0.55-manual", guard=0)
    again = site.model_validate({**site.model_dump(), "label": [{**own, "source": "label on the bottle"}]})
    assert judged(soak(600, 22.0), again).outcome is Outcome.MET
    assert judged(soak(599, 22.0), again).outcome is Outcome.TOO_SHORT
