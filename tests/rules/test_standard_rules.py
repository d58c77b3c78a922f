"""The same properties for every standard rule."""

import tomllib

import pytest

from rules.alert_events import AlertOver, AlertRaised
from rules.board import SubjectKind
from rules.commands import Entry
from rules.readings import Reading
from tests.rules.feeder import STANDARD, Feeder, alert_ids, retold, seconds
from tests.rules.scenarios import ABOUT_PAGES, SCENARIOS, Scenario

RULES = {rule["id"]: rule for rule in tomllib.loads(STANDARD)["rule"] if rule["id"] not in ABOUT_PAGES}

HOUR = 3600

every_rule = pytest.mark.parametrize("rule", list(RULES))


def played(scenario: Scenario, feeder: Feeder | None = None) -> Feeder:
    """Trouble, then its remedy, then a person who answers for what stands, and says what was done."""
    feeder = (feeder or scenario.feeder()).feed(scenario.trouble).until(scenario.raised)
    feeder.feed(scenario.remedy)
    end = max(seconds(feeder.engine.now), scenario.over or 0)
    return answered(feeder.until(end), end)


def answered(feeder: Feeder, at: float) -> Feeder:
    for alert in feeder.engine.picture().alerts:
        feeder.acknowledge(alert.id, at).settle(alert.id, at)
    return feeder


def alerts(feeder: Feeder) -> list[str]:
    """Raised and over, as written, without the numbers of soaks and alerts."""
    return [line for line in feeder.lines if '"kind":"alert' in line]


def test_no_standard_rule_is_without_a_scenario() -> None:
    assert [*SCENARIOS, *ABOUT_PAGES] == [rule["id"] for rule in tomllib.loads(STANDARD)["rule"]]


@every_rule
def test_it_names_the_thing_first_then_what_happened_to_it(rule: str) -> None:
    if RULES[rule]["watches"] != SubjectKind.GATEWAY.value:
        thing, _, what = RULES[rule]["text"].partition(": ")
        assert thing in ("{name}", "{cart_name}", "{thing_name}")
        assert what


@every_rule
def test_it_is_raised_when_its_delay_is_over_and_not_before(rule: str) -> None:
    scenario = SCENARIOS[rule]
    delay = RULES[rule].get("on_delay_seconds", {"value": 0})["value"]
    assert scenario.raised - scenario.cause == delay
    before = [r for r in scenario.trouble if seconds(r.arrived) < scenario.raised]
    feeder = scenario.feeder().feed(before).until(scenario.raised - 1e-6)
    assert feeder.raised(rule) == []
    after = [r for r in scenario.trouble if seconds(r.arrived) >= scenario.raised]
    assert feeder.feed(after).until(scenario.raised).raised(rule) == [scenario.raised]


@every_rule
def test_it_is_over_when_it_is_mended_seen_or_settled_as_its_rule_says(rule: str) -> None:
    scenario = SCENARIOS[rule]
    feeder = played(scenario)
    end = seconds(feeder.engine.now)
    until = RULES[rule].get("stands_until", "seen")
    expected = {"cleared": (scenario.over, "cleared"), "seen": (end, "acknowledged"), "settled": (end, "settled")}
    assert feeder.over(rule) == [expected[until]]
    assert feeder.ended(rule) == ([] if until == "settled" else [scenario.over])
    assert rule not in feeder.standing()


@every_rule
def test_raised_and_over_take_turns_when_it_happens_again_and_again(rule: str) -> None:
    scenario = SCENARIOS[rule]
    feeder = scenario.feeder()
    for again in range(3):
        shift = again * 2 * HOUR
        played(moved(scenario, shift), feeder)
    ids = alert_ids(feeder, rule)
    said = [e for e in feeder.events if isinstance(e, AlertRaised | AlertOver) and e.alert in ids]
    assert len(said) >= 6
    assert [type(event) for event in said] == [AlertRaised, AlertOver] * (len(said) // 2)
    assert [event.alert for event in said[::2]] == [event.alert for event in said[1::2]]


def moved(scenario: Scenario, shift: float) -> Scenario:
    """The same, later."""
    return Scenario(
        trouble=[shifted(r, shift) for r in scenario.trouble],
        cause=scenario.cause + shift,
        raised=scenario.raised + shift,
        remedy=[shifted(r, shift) for r in scenario.remedy],
        over=None if scenario.over is None else scenario.over + shift,
        site=scenario.site,
    )


def shifted(item: Reading | Entry, shift: float) -> Reading | Entry:
    return retold(item, seconds(item.measured) + shift, seconds(item.arrived) + shift)


@every_rule
def test_a_restart_at_any_point_changes_nothing(rule: str) -> None:
    scenario = SCENARIOS[rule]
    undisturbed = played(scenario)
    restarted = scenario.feeder()
    for item in (*scenario.trouble, *scenario.remedy):
        # Restarted just before and just after the alert, and after every reading.
        if seconds(item.arrived) > scenario.raised and not restarted.raised(rule):
            restarted.until(scenario.raised - 0.001).restart().until(scenario.raised).restart()
        restarted.feed([item]).restart()
    if not restarted.raised(rule):
        restarted.until(scenario.raised - 0.001).restart().until(scenario.raised).restart()
    end = seconds(undisturbed.engine.now)
    answered(restarted.until(end), end)
    assert restarted.lines == undisturbed.lines


@every_rule
def test_readings_delivered_twice_raise_the_same_alerts(rule: str) -> None:
    scenario = SCENARIOS[rule]
    doubled = scenario.feeder()
    twice = Scenario(
        trouble=[r for r in scenario.trouble for _ in range(2)],
        cause=scenario.cause,
        raised=scenario.raised,
        remedy=[r for r in scenario.remedy for _ in range(2)],
        over=scenario.over,
    )
    assert alerts(played(twice, doubled)) == alerts(played(scenario))


@every_rule
def test_readings_of_long_ago_raise_nothing_about_now(rule: str) -> None:
    scenario = SCENARIOS[rule]
    later = seconds(scenario.trouble[-1].arrived) + HOUR
    old = [retold(r, seconds(r.measured), later) for r in scenario.trouble]
    feeder = scenario.feeder().feed(old).until(later + 150)
    if scenario.about_now:
        assert feeder.raised(rule) == []
    else:
        assert len(feeder.raised(rule)) == 1


@pytest.mark.parametrize(
    "rule", ["cord-down-rolling", "soak-cold", "soak-never-done", "sensor-implausible", "clock-behind"]
)
def test_once_raised_readings_of_long_ago_do_not_end_it(rule: str) -> None:
    scenario = SCENARIOS[rule]
    feeder = scenario.feeder().feed(scenario.trouble).until(scenario.raised)
    now = seconds(feeder.engine.now)
    feeder.feed(retold(r, seconds(r.measured) - HOUR, now) for r in scenario.remedy).until(now + 4)
    assert feeder.over(rule) == []
