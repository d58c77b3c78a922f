"""Settings evaluated on what was seen in one replay give the alerts of a replay with each of them."""

import pickle
from collections import Counter
from collections.abc import Mapping
from random import Random

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from gateway.sitefile import load
from rules.agenda import NEVER
from rules.alert_commands import Acknowledge, PageTold, PauseSound, TakeOut, TryPages
from rules.board import Subject, SubjectKind
from rules.commands import Input
from rules.engine import Engine
from rules.exposure import Span
from rules.figure_commands import SetFigures
from rules.readings import GATEWAY_LINK, SECOND, Micros, Reading, micros
from rules.ruleset import RuleBook
from rules.site import Label
from sim_devices.demo import SEED, SITE_FILE, first_minutes
from sim_devices.running.simulation import Simulation
from sim_devices.staff.habits import demo_pace
from sim_devices.tuning.evaluate import Occurrence, evaluate
from sim_devices.tuning.figures import OWN_FIGURES, FigureError, RuleFigures, changed
from sim_devices.tuning.watching import BACK, GONE, HELD, OUT, Watcher, is_fast, watch, without_answers
from tests.rules.feeder import HOOK_A, MOTION, OFF_HOOK, ROLLS, STANDS, TEMPERATURE, book_of, instant, read
from tests.sim_devices.conftest import EPOCH
from tests.sim_devices.hearing import Hearing, unheard
from tests.sim_devices.tuned_worlds import HISTORY, OWN, SETTING, SITE, both_ways, end_of

RULES = [str(rule["id"]) for rule in OWN]


@settings(deadline=None, max_examples=30)
@given(history=HISTORY, tried=st.lists(SETTING, min_size=2, max_size=3))
def test_alert_by_alert_as_in_a_replay(history: list[Input], tried: list[dict[str, float]]) -> None:
    found = both_ways(SITE, book_of(SITE), RULES, tried, history, end_of(history))
    assert found.fast == found.slow


def test_the_worlds_meet_what_the_agreement_is_about() -> None:
    # Counted once: alerts that end, and every mark among the looks.
    met: Counter[str] = Counter()

    @settings(deadline=None, max_examples=40, derandomize=True, database=None, phases=[Phase.generate])
    @given(history=HISTORY)
    def count(history: list[Input]) -> None:
        for sight in watch(SITE, book_of(SITE), RULES, history, end_of(history)):
            found = evaluate(sight, [RuleFigures.of(sight.rule)])
            met[f"{sight.rule.id} raised"] += len(found.raised)
            met[f"{sight.rule.id} over"] += int((found.over < NEVER).sum())
            for mark in (HELD, GONE, OUT, BACK):
                met[f"mark {mark}"] += sum(int((trace.what == mark).sum()) for trace in sight.traces.values())

    count()
    settled = {"was-warm", "soaked-badly"}
    expected = {f"{rule} raised" for rule in RULES} | {f"{rule} over" for rule in set(RULES) - settled}
    assert {what for what, times in met.items() if times} == expected | {f"mark {n}" for n in (-1, -2, -3, -4)}


@settings(deadline=None, max_examples=10)
@given(history=HISTORY)
def test_whoever_looks_on_changes_nothing(history: list[Input]) -> None:
    book = book_of(SITE)
    watcher = Watcher(SITE, [compiled for rule, compiled in book.rules.items() if rule in RULES])
    alone, watched = Engine(SITE, book), Engine(SITE, book, onlooker=watcher)
    for item in history:
        assert alone.apply(item) == watched.apply(item)
    assert alone.advance(end_of(history)) == watched.advance(end_of(history))
    assert alone.snapshot() == watched.snapshot()


def test_a_threshold_of_the_trackers_takes_a_replay_of_its_own() -> None:
    # Silent after 3 or 6 reports of 10 s (standard.toml): the facts are other ones.
    said = [read(GATEWAY_LINK, value=True, measured=0), read(TEMPERATURE, 20.0, 1)]
    for reports, silent_at in ((3, 31), (6, 61)):
        book = changed(book_of(SITE), {"threshold.silent_reports": reports, "rule.mute.on_delay_seconds": 0})
        found = both_ways(SITE, book, ["mute"], [{}, {"rule.mute.on_delay_seconds": 5}], said, instant(100))
        assert found.fast == found.slow
        thermometer = Subject(SubjectKind.SENSOR, TEMPERATURE)
        told = [o.raised for n in (0, 1) for o in found.fast["mute", n] if o.subject == thermometer]
        assert told == [instant(silent_at), instant(silent_at + 5)]


def test_a_rule_that_watches_the_gateway_is_refused_as_its_facts_hang_on_alerts() -> None:
    assert not is_fast(book_of(SITE).rules["gateway-cut-off"].rule)
    with pytest.raises(FigureError, match="rule 'gateway-cut-off' watches the gateway"):
        watch(SITE, book_of(SITE), ["gateway-cut-off"], [], instant(0))


def test_a_rule_that_is_not_known_is_refused() -> None:
    with pytest.raises(FigureError, match="rule 'warmer' is not known; expected one of "):
        watch(SITE, book_of(SITE), ["warm", "warmer"], [], instant(0))


def test_what_people_said_of_alerts_and_figures_is_left_out_and_what_maintenance_did_is_not() -> None:
    who = {"arrived": instant(1), "who": "R. Tech"}
    out = TakeOut(**who, thing="cart-1", role="engineer", why="new wheels")
    told = PageTold(**who, page="page-1", outcome="delivered")
    other = SetFigures(**who, role="engineer", values={"rule.warm.deadband": 2.0}, why="too many")
    said = [Acknowledge(**who, alert="alert-1"), told, TryPages(**who), PauseSound(**who, minutes=5), other, out]
    assert list(without_answers(said)) == [out]


# ---- the simulated department ----------------------------------------------------------------------------------------

MINUTES = 40
LINK_LOST = Span(Micros(EPOCH + 1500 * SECOND), Micros(EPOCH + 1800 * SECOND))


def drawn(book: RuleBook, seed: int) -> dict[str, float]:
    """Delays and deadbands of all rules, each within its range; short ones, as the stretch is short."""
    chance, figures = Random(seed), {}  # noqa: S311 - a sample, no secret
    for rule_id, each in book.rules.items():
        for key in OWN_FIGURES:
            figure = getattr(each.rule, key)
            high = min(figure.high, max(figure.value * 3, 60))
            figures[f"rule.{rule_id}.{key}"] = chance.choice([figure.low, chance.uniform(figure.low, high), high])
    return figures


def test_an_hour_of_the_demos_department_with_its_standard_rules(labels: Mapping[str, Label]) -> None:
    setup = load(SITE_FILE)
    plan = [*first_minutes(EPOCH), *unheard([LINK_LOST])]
    simulation = Simulation(setup.file, labels, EPOCH, SEED, demo_pace(setup.file), plan)
    week = Hearing(simulation, setup.book, [LINK_LOST])
    until = Micros(EPOCH + MINUTES * 60 * SECOND)
    said = [Reading(GATEWAY_LINK, EPOCH, EPOCH, value=True, timed=False), *week.inputs(EPOCH, until)]
    rules = [rule_id for rule_id, each in setup.book.rules.items() if is_fast(each.rule)]
    found = both_ways(setup.file, setup.book, rules, [{}, drawn(setup.book, 1)], said, until)
    assert found.fast == found.slow
    told = {rule for (rule, _), occurrences in found.slow.items() if occurrences}
    assert {"soak-cold", "cord-down-rolling", "lid-open-over-soak", "soak-too-short", "sensor-silent"} <= told


def test_what_was_seen_can_be_sent_to_another_process() -> None:
    said = [read(GATEWAY_LINK, value=True, measured=0), read(TEMPERATURE, 22.0, 1), read(TEMPERATURE, 19.0, 100)]
    [sight] = watch(SITE, book_of(SITE), ["warm"], said, instant(200))
    tried = [RuleFigures.of(sight.rule), RuleFigures.of(sight.rule)._replace(on_delay=micros(50))]
    there = evaluate(pickle.loads(pickle.dumps(sight)), tried)  # noqa: S301 - our own bytes
    assert [list(there.of(number)) for number in (0, 1)] == [list(evaluate(sight, tried).of(n)) for n in (0, 1)]
    assert [o.raised for o in there.of(0)] == [instant(6)]


def test_a_delay_that_ends_as_a_timer_of_a_tracker_fires_ends_first() -> None:
    # The cart rolls once its sensor has said so for 1 s (standard.toml), which suppresses the rule: at the 15th second.
    said = [read(MOTION, STANDS, 0), read(HOOK_A, OFF_HOOK, 10), read(MOTION, ROLLS, 14)]
    setting = {"rule.down-unheard.on_delay_seconds": 5.0, "rule.down-unheard.deadband": 0.0}
    found = both_ways(SITE, book_of(SITE), ["down-unheard"], [setting], said, instant(60))
    cart = Subject(SubjectKind.CART, "cart-1")
    once = [Occurrence("down-unheard", cart, instant(15), instant(15))]
    assert found.fast == found.slow == {("down-unheard", 0): once}
