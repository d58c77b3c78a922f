"""Whole answers against brute force: a full replay with each setting, counted by definition."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import chain, product
from math import ceil, inf
from pathlib import Path
from random import Random
from typing import NamedTuple

import numpy as np
import pytest
from distributed import Client
from scipy.stats import chi2, quantile_test
from statsmodels.stats.proportion import proportion_confint

from gateway.recording import Recording, law_of
from gateway.tuned import Answer, Asked, Delay, Judged, Proportion, Rate, Vary
from rules.agenda import NEVER
from rules.figures import judged_by
from rules.readings import DAY, SECOND, Micros
from sim_devices.troubles.table import TRUTH_FILE, read_truth
from sim_devices.tuning.evaluate import Occurrence
from sim_devices.tuning.parts import Unit, held_out
from sim_devices.tuning.replaying import replayed
from sim_devices.tuning.tune import Plan, tune
from tests.sim_devices.tuning.recorded import BEGIN, ON_DELAY, RULE, SITE, Roll, record

pytestmark = pytest.mark.slow

DAYS, CARTS, SEED = 4, 2, 7
GRACE, LEAST = 60, 3
OFF_DELAY, ROLLING = f"rule.{RULE}.off_delay_seconds", "threshold.rolling_after_seconds"
TRIED = {ON_DELAY: (0, 3, 8), OFF_DELAY: (0, 45), ROLLING: (1, 4)}
PRESENT = {ON_DELAY: 0.0, OFF_DELAY: 3.0, ROLLING: 1.0}


@pytest.fixture(scope="module")
def client() -> Iterator[Client]:
    with Client(processes=False, n_workers=1, threads_per_worker=1, dashboard_address="127.0.0.1:0") as found:  # type: ignore[no-untyped-call]
        yield found


def drawn(seed: int) -> list[Roll]:
    """Rolls of both carts, real and false, near to each other, over midnights, and one that nobody ends in time."""
    chance, rolls = Random(seed), []  # noqa: S311 - a sample, no secret
    for cart in ("cart-1", "cart-2"):
        at = chance.uniform(0, 200)
        while at < DAYS * 86_400 - 400:
            seconds = chance.choice([1.5, 2, 3, 5, 9, 30, 120])
            rolls.append(Roll(round(at, 1), seconds, chance.random() < 0.6, cart))
            gap = chance.choice([2.5, 20, 50, 70, 900, 12_000, 30_000])
            midnight = 86_400 * ceil(at / 86_400 + 1e-9)
            at = midnight - 4 if chance.random() < 0.2 and midnight - 4 > at + seconds + 1 else at + seconds + gap
    return [roll for roll in rolls if roll.at + roll.seconds < DAYS * 86_400 - 1]


class Happened(NamedTuple):
    """What went wrong, in seconds from the start."""

    cart: str
    start: float
    end: float


def day_of(second: float) -> int:
    return int(second // 86_400)


def judged_by_definition(alerts: Sequence[Occurrence], real: Sequence[Happened], days: frozenset[int]) -> Judged:
    late: dict[Happened, float] = {}
    raised_count = false = 0
    for one in alerts:
        raised = (one.raised - BEGIN) / SECOND
        over = inf if one.over is None else (one.over - BEGIN) / SECOND
        mine = [each for each in real if each.cart == one.subject.id]
        now = [each for each in mine if each.start <= raised < each.end]
        if not now:
            ended = [each for each in mine if each.end <= raised <= each.end + GRACE]
            now = sorted(ended, key=lambda each: each.end)[-1:]
        later = [each for each in mine if raised < each.start < over]
        for each in now:
            late[each] = min(late.get(each, inf), raised - each.start)
        for each in later:
            late[each] = 0
        soon = [each for each in later if each.start - raised <= GRACE]
        if day_of(raised) in days:
            raised_count += 1
            false += not now and not soon
    counted = [each for each in real if each.end - each.start >= LEAST and day_of(each.start) in days]
    delays = sorted(late[each] for each in counted if each in late)
    low, high = proportion_confint(len(delays), len(counted), method="wilson")
    exposure = float(CARTS * len(days))
    return Judged(
        alerts=rate(raised_count, exposure),
        detected=Proportion(hits=len(delays), of=len(counted), low=low, high=high),
        false_alerts=rate(false, exposure),
        delay=delay(delays) if delays else None,
    )


def rate(count: int, days: float) -> Rate:
    """After Garwood (1936), by scipy's chi-square."""
    low = float(chi2.ppf(0.025, 2 * count)) / 2 if count else 0.0
    high = float(chi2.ppf(0.975, 2 * count + 2)) / 2
    return Rate(count=count, cart_days=days, low=low / days, high=high / days)


def delay(seconds: list[float]) -> Delay:
    """Quantiles by numpy, their intervals by scipy's quantile_test."""
    found: list[float | None] = []
    for share in (0.5, 0.95):
        interval = quantile_test(seconds, p=share).confidence_interval(0.95)
        ends = [None if np.isnan(end) else float(end) for end in (interval.low, interval.high)]
        found += [float(np.quantile(seconds, share, method="inverted_cdf")), *ends]
    names = ("median", "median_low", "median_high", "p95", "p95_low", "p95_high")
    return Delay(count=len(seconds), **dict(zip(names, found, strict=True)))  # type: ignore[arg-type]


def merit(judged: Judged) -> tuple[int, int, float]:
    assert judged.detected is not None
    assert judged.false_alerts is not None
    late = inf if judged.delay is None else judged.delay.median
    return judged.detected.of - judged.detected.hits, judged.false_alerts.count, late


def is_best(one: Judged, every: Sequence[Judged]) -> bool:
    mine = merit(one)
    return not any(
        merit(other) != mine and all(a <= b for a, b in zip(merit(other), mine, strict=True)) for other in every
    )


def suggested(every: Sequence[Judged], most_a_week: float, distances: Sequence[float]) -> int | None:
    weeks = 7.0
    keeping = [
        n
        for n, one in enumerate(every)
        if one.false_alerts is not None and one.false_alerts.count * weeks / one.false_alerts.cart_days <= most_a_week
    ]
    order = {n: (merit(every[n])[0], merit(every[n])[2], merit(every[n])[1], distances[n], n) for n in keeping}
    return min(keeping, key=order.__getitem__, default=None)


def changed(
    present: Sequence[Occurrence], other: Sequence[Occurrence]
) -> tuple[list[tuple[str, Micros | None, Micros | None]], int]:
    """What vanishes, appears and moves, and how many stay: each alert moves to the first that fits it."""
    found: list[tuple[str, Micros | None, Micros | None]] = []
    unchanged = 0
    for cart in ("cart-1", "cart-2"):
        was = [one for one in present if one.subject.id == cart]
        would = [one for one in other if one.subject.id == cart]
        same = {one.raised for one in was} & {one.raised for one in would}
        unchanged += len(same)
        free = [one for one in would if one.raised not in same]
        for one in was:
            if one.raised in same:
                continue
            fits = [two for two in free if two.raised < (one.over or NEVER) and (two.over or NEVER) > one.raised]
            if fits:
                free.remove(fits[0])
                found.append(("moves", one.raised, fits[0].raised))
            else:
                found.append(("vanishes", one.raised, None))
        found += [("appears", None, one.raised) for one in free]
    return sorted(found, key=lambda each: (min(at for at in each[1:] if at is not None), each)), unchanged


def alike(found: Judged | None, expected: Judged | None) -> None:
    """The same counts, and the same ends of the intervals."""
    assert (found is None) is (expected is None)
    if found is None or expected is None:
        return
    for name in ("alerts", "detected", "false_alerts", "delay"):
        one, other = getattr(found, name), getattr(expected, name)
        assert (one is None) is (other is None), name
        if one is not None:
            told, meant = one.model_dump(), other.model_dump()
            assert [key for key in told if told[key] is None] == [key for key in meant if meant[key] is None], name
            there = {key: value for key, value in meant.items() if value is not None}
            assert {key: told[key] for key in there} == pytest.approx(there, rel=1e-9, abs=1e-12), name


@pytest.mark.parametrize("seed", range(3))
def test_the_whole_answer_is_what_full_replays_and_the_definitions_give(
    client: Client, tmp_path: Path, seed: int
) -> None:
    folder = record(tmp_path / "data", drawn(seed), DAYS)
    vary = tuple(Vary(figure=name, values=values) for name, values in TRIED.items())
    question = Asked.model_validate(
        {"rules": (RULE,), "vary": vary, "on": (str(folder),), "seed": SEED, "goal": {"most_false_per_cart_week": 20}}
    )
    answer = tune(Plan.of(question), client, lambda _: None, lambda: 0.0)
    aside = frozenset(unit.day for unit in held_out((Unit("", 0, day) for day in range(DAYS)), 0.5, SEED))
    chosen_by = frozenset(range(DAYS)) - aside
    real = [
        Happened(one.subject.id, (one.start - BEGIN) / SECOND, (one.end - BEGIN) / SECOND)
        for one in read_truth(folder / TRUTH_FILE).episodes
        if one.end is not None
    ]
    settings = [dict(zip(TRIED, map(float, values), strict=True)) for values in product(*TRIED.values())]
    raised = {str(values): replay(folder, values) for values in [*settings, PRESENT]}
    every = [judged_by_definition(raised[str(values)], real, chosen_by) for values in settings]
    assert [point.values for point in answer.points] == settings
    for point, expected in zip(answer.points, every, strict=True):
        alike(point.judged, expected)
    assert [point.best for point in answer.points] == [is_best(one, every) for one in every]
    assert answer.present.values == PRESENT
    alike(answer.present.judged, judged_by_definition(raised[str(PRESENT)], real, chosen_by))
    alike(answer.present_held_out, judged_by_definition(raised[str(PRESENT)], real, aside))
    spans = {name: max(values) - min(values) for name, values in TRIED.items()}
    far = [sum(abs(values[name] - PRESENT[name]) / spans[name] for name in TRIED) for values in settings]
    choice = suggested(every, 20, far)
    assert answer.suggested == choice
    if choice is None:
        assert answer.changes == ()
        return
    _check_suggested(answer, settings[choice], raised, real, aside)


def _check_suggested(
    answer: Answer,
    values: Mapping[str, float],
    raised: Mapping[str, list[Occurrence]],
    real: Sequence[Happened],
    aside: frozenset[int],
) -> None:
    other = raised[str(values)]
    alike(answer.suggested_held_out, judged_by_definition(other, real, aside))
    changes, unchanged = changed(raised[str(PRESENT)], other)
    assert answer.unchanged == unchanged
    assert [(one.kind, one.was, one.would_be) for one in answer.changes] == changes
    assert sum(one.count for one in answer.change_counts) == len(changes) > 0


def replay(folder: Path, values: Mapping[str, float]) -> list[Occurrence]:
    law = law_of(SITE)
    with Recording.open(folder) as days:
        inputs = chain.from_iterable(days.inputs())
        return replayed(law.site, judged_by(law.site, law.book, values), {RULE}, inputs, Micros(BEGIN + DAYS * DAY))
