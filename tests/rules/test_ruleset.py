"""Rules as data: what is accepted, and what is refused in one sentence that names rule, key and range."""

import tomllib
from typing import Any

import pytest

from rules.alert_words import Priority
from rules.board import FACTS, SubjectKind
from rules.ruleset import RuleBook, RuleError, load_book
from rules.thresholds import Thresholds
from tests.rules.feeder import LABELS, STANDARD, book_of, department

TABLE = tomllib.loads(STANDARD)
COLD: dict[str, Any] = {
    "id": "own-cold",
    "watches": "basin",
    "condition": "solution_celsius < 15.0",
    "priority": "low",
    "text": "{name} is cold",
    "source": "ours",
}


def book(**sections: Any) -> RuleBook:
    return load_book(department(**sections), STANDARD, LABELS)


def refusal(**sections: Any) -> str:
    """The one sentence with which a site file is refused."""
    with pytest.raises(RuleError) as refused:
        book(**sections)
    return str(refused.value)


def own(**changes: object) -> list[dict[str, object]]:
    return [{**COLD, **changes}]


# ---- the shipped set -------------------------------------------------------------------------------------------------


def test_every_standard_rule_of_the_issue_is_there() -> None:
    assert list(book().rules) == [
        "cord-down-rolling",
        "moved-plugged-in",
        "cord-left-off",
        "wipe-down-due",
        "gel-out-of-date",
        "soak-too-short",
        "soak-not-met",
        "soak-cold",
        "soak-never-done",
        "lid-open-over-soak",
        "over-soak",
        "solution-out-of-date",
        "strip-failed",
        "solution-ends-soon",
        "probe-used-again",
        "probe-used-uncleaned",
        "probe-rolls-away",
        "probe-waits",
        "probe-waits-too-long",
        "probe-held",
        "probe-not-allowed",
        "probe-to-inspect",
        "soak-unclaimed",
        "vapour-rising",
        "sensor-silent",
        "device-offline",
        "sensor-implausible",
        "clock-behind",
        "gateway-cut-off",
        "gateway-unsteady",
        "gateway-cannot-store",
        "page-not-confirmed",
        "channel-not-confirmed",
        "no-channel-works",
        "nobody-on-duty",
        "test-page-not-confirmed",
    ]


@pytest.mark.parametrize("name", list(TABLE["threshold"]))
def test_every_threshold_has_a_unit_a_range_and_a_source(name: str) -> None:
    figure = book().figures[name]
    assert figure.low <= figure.value <= figure.high
    assert figure.low < figure.high
    assert figure.unit
    assert figure.text
    assert figure.source


def test_thresholds_reach_the_trackers_as_they_are_written() -> None:
    thresholds = book_of(department().model_copy(update={"thresholds": {}})).thresholds
    assert {name: getattr(thresholds, name) for name in TABLE["threshold"]} == {
        name: figure["value"] for name, figure in TABLE["threshold"].items()
    }


@pytest.mark.parametrize("rule", list(book_of(department()).rules))
def test_every_standard_rule_has_a_source_and_an_advice_and_reads_facts_that_exist(rule: str) -> None:
    compiled = book().rules[rule]
    assert compiled.rule.source
    assert compiled.rule.advice
    assert compiled.reads <= set(FACTS[compiled.rule.watches])
    assert compiled.reads


# ---- what a site may change ------------------------------------------------------------------------------------------


def test_a_site_changes_a_threshold_within_its_range() -> None:
    assert book(thresholds={"reclose_seconds": 600}).thresholds.reclose_seconds == 600


@pytest.mark.parametrize("name", list(TABLE["threshold"]))
def test_a_threshold_just_out_of_range_is_refused_with_its_range(name: str) -> None:
    figure = TABLE["threshold"][name]
    for value in (figure["low"] * 0.99 - 0.01, figure["high"] * 1.01, float("nan")):
        assert refusal(thresholds={name: value}) == (
            f"threshold '{name}' is {value:g} {figure['unit']}; "
            f"expected {figure['low']:g} to {figure['high']:g} {figure['unit']}"
        )


def test_a_threshold_at_either_end_of_its_range_is_accepted() -> None:
    assert book(thresholds={"lid_bounce_seconds": 0.02}).thresholds.lid_bounce_seconds == 0.02
    assert book(thresholds={"lid_bounce_seconds": 2}).thresholds.lid_bounce_seconds == 2


def test_an_unknown_threshold_is_refused_with_the_known_ones() -> None:
    assert refusal(thresholds={"speed": 30}).startswith("[thresholds] 'speed' is not known; expected one of carry_")
    assert refusal(thresholds={"reclose": 30}).endswith("; perhaps 'reclose_seconds' is meant")
    assert refusal(thresholds={"reclose_secs": 30}).endswith("; perhaps 'reclose_seconds' is meant")


def test_a_site_changes_delays_deadband_and_priority_of_a_rule() -> None:
    change = {"on_delay_seconds": 60, "off_delay_seconds": 5, "deadband": 0.5, "priority": "high"}
    rule = book(rules={"soak-cold": change}).rules["soak-cold"].rule
    figures = (rule.on_delay_seconds.value, rule.off_delay_seconds.value, rule.deadband.value, rule.priority)
    assert figures == (60, 5, 0.5, Priority.HIGH)


def test_what_a_site_does_not_change_of_a_rule_stays() -> None:
    before, after = book().rules["soak-cold"].rule, book(rules={"soak-cold": {"deadband": 0.5}}).rules["soak-cold"].rule
    assert after.model_copy(update={"deadband": before.deadband}) == before


@pytest.mark.parametrize(
    ("key", "value", "expected"),
    [
        ("on_delay_seconds", 601, "is 601 s; expected 0 to 600 s"),
        ("off_delay_seconds", -1, "is -1 s; expected 0 to 600 s"),
        ("deadband", 2.5, "is 2.5 Cel; expected 0 to 2 Cel"),
    ],
)
def test_a_figure_of_a_rule_out_of_range_is_refused(key: str, value: float, expected: str) -> None:
    assert refusal(rules={"soak-cold": {key: value}}) == f"rule 'soak-cold', key '{key}', {expected}"


def test_a_rule_without_a_deadband_can_be_given_none() -> None:
    assert refusal(rules={"sensor-silent": {"deadband": 1}}) == (
        "rule 'sensor-silent', key 'deadband', is 1; expected 0 to 0"
    )


def test_an_unknown_rule_is_refused_with_the_known_ones() -> None:
    said = refusal(rules={"soak-warm": {}})
    assert said.startswith("[rules] 'soak-warm' is not known; expected one of channel-not-confirmed, clock-behind, ")


def test_a_limit_that_the_rule_does_not_have_is_refused() -> None:
    assert refusal(rules={"soak-cold": {"limits": {"celsius": 3}}}).startswith(
        "[rules.soak-cold.limits] 'celsius' is not known"
    )


def test_a_rule_can_be_switched_off() -> None:
    assert "soak-cold" not in book(rules={"soak-cold": {"enabled": False}}).rules


# ---- rules of the site's own -----------------------------------------------------------------------------------------


def test_a_rule_of_the_sites_own_stands_beside_the_standard_ones() -> None:
    rules = book(rule=own()).rules
    assert len(rules) == len(book().rules) + 1
    assert rules["own-cold"].reads == {"solution_celsius"}


def test_a_rule_of_the_sites_own_may_have_limits() -> None:
    limit = {"value": 15, "unit": "Cel", "low": 5, "high": 20, "source": "ours"}
    compiled = book(rule=own(condition="solution_celsius < coldest", limits={"coldest": limit})).rules["own-cold"]
    assert compiled.reads == {"solution_celsius"}


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        (
            {"on_delay_seconds": {"value": 50, "low": 0, "high": 30, "source": "ours"}},
            "rule 'own-cold', key 'on_delay_seconds', is 50 s; expected 0 to 30 s",
        ),
        (
            {"deadband": {"value": 3, "unit": "Cel", "low": 0, "high": 2, "source": "ours"}},
            "rule 'own-cold', key 'deadband', is 3 Cel; expected 0 to 2 Cel",
        ),
        (
            {"limits": {"a": {"value": 3, "unit": "Cel", "low": 0, "high": 2, "source": "ours"}}},
            "rule 'own-cold', key 'limits.a', is 3 Cel; expected 0 to 2 Cel",
        ),
        (
            {"condition": "solution_celsius <"},
            "rule 'own-cold', key 'condition': not a CEL expression at character 19: mismatched input the end; ",
        ),
        ({"condition": "cords = 1"}, "rule 'own-cold', key 'condition': not a CEL expression at character 7: "),
        ({"condition": "1 / 0 == 1"}, "rule 'own-cold', key 'condition': division by zero in CEL expression; "),
        ({"condition": "celsius < 15.0"}, "rule 'own-cold', key 'condition': celsius is no fact of a basin; expected "),
        ({"condition": "rolling"}, "rule 'own-cold', key 'condition': rolling is no fact of a basin; expected "),
        ({"condition": "solution_celsius + 1.0"}, "rule 'own-cold', key 'condition' gives 1.0; expected true or false"),
        ({"condition": "name < 3"}, "rule 'own-cold', key 'condition': "),
        ({"suppressed_when": "station_open ="}, "rule 'own-cold', key 'suppressed_when': not a CEL expression at "),
        ({"suppressed_when": "rolling"}, "rule 'own-cold', key 'suppressed_when': rolling is no fact of a basin; "),
        ({"suppressed_when": "1"}, "rule 'own-cold', key 'suppressed_when' gives 1; expected true or false"),
        ({"text": "{basin} is cold"}, "rule 'own-cold', key 'text': 'basin' cannot be filled in; expected names of "),
        ({"advice": "warm {it}"}, "rule 'own-cold', key 'advice': 'it' cannot be filled in; expected names of "),
        ({"text": "{0} is cold"}, "rule 'own-cold', key 'text': "),
        ({"text": "{name:.1f}"}, "rule 'own-cold', key 'text': "),
        ({"id": "soak-cold"}, "[[rule]] number 1: 'soak-cold' is a standard rule; change it under [rules.soak-cold]"),
    ],
    ids=lambda value: next(iter(value.items())) if isinstance(value, dict) else "",
)
def test_a_rule_that_cannot_be_used_is_refused(changes: dict[str, object], expected: str) -> None:
    said = refusal(rule=own(**changes))
    assert said.startswith(expected)
    assert "\n" not in said


@pytest.mark.parametrize("condition", ["soaking && name < 3", "!soaking || never_done || solution_celsius < name"])
def test_mixed_types_behind_an_and_or_an_or_show_themselves_at_load_and_not_at_night(condition: str) -> None:
    assert refusal(rule=own(condition=condition)).startswith("rule 'own-cold', key 'condition': ")


@pytest.mark.parametrize(
    ("condition", "expected"),
    [
        ("8 / cords_off > 2", "division by zero in CEL expression where cords_off = 0; let it see to that first, "),
        ("8 % (cords_off - 1) > 2", "modulo by zero in CEL expression where cords_off = 1; let it see to that first, "),
        ("[true, false][cords_off]", "index out of bounds: 2 where cords_off = 2; let it see to that first, "),
        ("rolling && 1 / (cords_off - 3) > 0", "division by zero in CEL expression where "),
    ],
)
def test_a_condition_that_fails_for_a_fact_that_may_well_be_shows_itself_at_load(condition: str, expected: str) -> None:
    cart = own(watches="cart", condition=condition, text="{name}")
    assert refusal(rule=cart).startswith(f"rule 'own-cold', key 'condition': {expected}")


@pytest.mark.parametrize("condition", ["8 / int(deadband - 1.0) > 2", "8 / int(solution_celsius - 1.0) > 2"])
def test_a_condition_that_fails_once_the_alert_stands_or_for_a_small_number_shows_itself_at_load(
    condition: str,
) -> None:
    deadband = {"value": 1, "unit": "Cel", "low": 0, "high": 2, "source": "ours"}
    said = refusal(rule=own(condition=f"soaking || {condition}", deadband=deadband))
    assert said.startswith("rule 'own-cold', key 'condition': division by zero in CEL expression where soaking = false")


def test_a_condition_that_sees_to_its_zero_is_accepted() -> None:
    assert "own-cold" in book(rule=own(watches="cart", condition="cords_off != 0 && 8 / cords_off > 2")).rules


def test_a_rule_that_compares_a_temperature_with_a_whole_number_works() -> None:
    assert "own-cold" in book(rule=own(condition="soaking && solution_celsius < 15")).rules


def test_every_mistake_is_told_at_once() -> None:
    with pytest.raises(RuleError) as refused:
        book(
            label="opa",
            every=61,
            thresholds={"reclose_seconds": 1, "reclose": 1, "reopen": 1},
            rules={"soak-cold": {"deadband": 9, "on_delay_seconds": -1}, "soak-warm": {}},
            rule=own(condition="1 +", text="{a}", advice="{b}") + own(id="soak-cold") + own(id="other", condition="x"),
        )
    beginnings = (
        "[thresholds] 'reclose' ",
        "[thresholds] 'reopen' ",
        "threshold 'reclose_seconds' ",
        "[rules] 'soak-warm' ",
        "rule 'soak-cold', key 'on_delay_seconds', ",
        "rule 'soak-cold', key 'deadband', ",
        "[[rule]] number 2: 'soak-cold' ",
        "rule 'own-cold', key 'text': 'a' ",
        "rule 'own-cold', key 'advice': 'b' ",
        "rule 'own-cold', key 'condition': not a CEL ",
        "rule 'other', key 'condition': x ",
        "basin 'basin-1', key 'label': 'opa' ",
        "sensor 'basin-1/temperature', key 'report_seconds' is 61",
    )
    for said, beginning in zip(refused.value.problems, beginnings, strict=True):
        assert said.startswith(beginning)


def test_two_rules_of_the_same_id_are_refused() -> None:
    assert refusal(rule=[COLD, COLD]) == "[[rule]] number 2: 'own-cold' is there twice; give each rule its own id"


# ---- basins, labels and thermometers ---------------------------------------------------------------------------------


def test_a_basin_whose_label_nobody_knows_is_refused_with_the_known_ones() -> None:
    said = refusal(label="phenol")
    assert said.startswith(
        "basin 'basin-1', key 'label': 'phenol' is not known, neither as a [[label]] of this file nor as one that "
        "comes with it; expected one of "
    )
    assert "opa-0.55-manual" in said
    assert refusal(label="opa").endswith("; perhaps 'opa-0.55-automated' or 'opa-0.55-manual' is meant")


def test_a_thermometer_that_reports_too_seldom_to_prove_anything_is_refused() -> None:
    assert refusal(every=61) == (
        "sensor 'basin-1/temperature', key 'report_seconds' is 61: it reports every 61 s, so that no soak could be "
        "proven; expected more than 0 s and at most 60 s (threshold 'max_gap_seconds'); let the device repeat its "
        "state that often"
    )
    assert book(every=60)


@pytest.mark.parametrize("seconds", [0, 61])
def test_a_lid_that_may_be_silent_for_as_long_as_it_likes_is_refused(seconds: float) -> None:
    said = refusal(sensor=[{"thing": "basin-1", "name": "lid", "kind": "lid", "report_seconds": seconds}])
    assert said.startswith(f"sensor 'basin-1/lid', key 'report_seconds' is {seconds}: it reports ")
    assert "let the device repeat its state" in said


@pytest.mark.parametrize("text", ["rule = [", "", STANDARD.replace("[threshold.trend_seconds]", "[threshold.trend]")])
def test_standard_rules_that_cannot_be_read_are_refused(text: str) -> None:
    with pytest.raises(RuleError, match="the standard rules"):
        load_book(department(), text, LABELS)


def test_thresholds_are_all_named_in_the_table() -> None:
    assert set(Thresholds.__dataclass_fields__) == set(TABLE["threshold"])


# ---- how long alerts stand, and what hides and gathers them ----------------------------------------------------------


def test_a_failed_soak_is_to_be_settled_and_what_is_urgent_at_least_seen() -> None:
    rules = {name: compiled.rule for name, compiled in book().rules.items()}
    assert {name for name, rule in rules.items() if rule.stands_until == "settled"} == {
        "soak-too-short",
        "soak-not-met",
    }
    # Of the gateway's own troubles nobody needs to know once they are over: what they hid is known from the verdicts.
    urgent = [rule for rule in rules.values() if rule.priority == "high" and rule.stands_until == "cleared"]
    assert {rule.watches for rule in urgent} == {SubjectKind.GATEWAY}


def test_each_standard_rule_says_what_ends_it_but_those_that_a_person_settles() -> None:
    rules = {rule["id"]: rule for rule in TABLE["rule"]}
    silent = {name for name, rule in rules.items() if not rule.get("ends")}
    assert silent == {name for name, rule in rules.items() if rule.get("stands_until") == "settled"}


def test_nothing_but_a_reminder_to_prepare_a_solution_is_suppressed_by_design() -> None:
    assert [name for name, compiled in book().rules.items() if compiled.rule.suppressed_when] == ["solution-ends-soon"]


def test_a_site_changes_how_long_an_alert_stands_and_what_hides_and_gathers_it() -> None:
    change = {"stands_until": "seen", "suppressed_when": "soaking", "gathers": "solution"}
    compiled = book(rules={"solution-ends-soon": change}).rules["solution-ends-soon"]
    rule = compiled.rule
    assert (rule.stands_until, rule.suppressed_when, rule.gathers) == ("seen", "soaking", "solution")
    assert compiled.suppression_reads == {"soaking"}
    never = book(rules={"solution-ends-soon": {"suppressed_when": ""}}).rules["solution-ends-soon"]
    assert never.suppression is None
    assert never.looked_at == {"solution_ends_soon"}


def test_a_changed_suppression_is_checked_as_one_of_the_sites_own() -> None:
    said = refusal(rules={"solution-ends-soon": {"suppressed_when": "closed"}})
    assert said.startswith("rule 'solution-ends-soon', key 'suppressed_when': closed is no fact of a basin; ")
