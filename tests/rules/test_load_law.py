"""The figures of the load against counting every second and every pair, by numpy."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from rules.exposure import Span
from rules.load import load_of
from rules.rates import bursts, ranked, rates
from rules.readings import Micros, micros
from tests.rules.feeder import instant, seconds
from tests.rules.told_alerts import DAY_SECONDS, HOUR_SECONDS, each, over, raised, stretch

LENGTH_SECONDS = 4 * HOUR_SECONDS
CLOSE, FAR = st.integers(0, 60), st.integers(60, 1500)
Counts = NDArray[np.int64]


@st.composite
def crowds(draw: st.DrawFn) -> list[int]:
    """Whole seconds in order, in bunches with longer pauses between them, as alerts come."""
    steps = draw(st.lists(st.one_of(CLOSE, CLOSE, CLOSE, FAR), max_size=80))
    return [at for at in np.cumsum(steps).tolist() if at < LENGTH_SECONDS]


def instants(times: list[int]) -> list[Micros]:
    return [instant(at) for at in times]


def span() -> Span:
    return Span(instant(0), instant(LENGTH_SECONDS))


def in_last_ten_minutes(times: list[int]) -> Counts:
    """At each second, how many came in the ten minutes up to it."""
    each_second = np.arange(LENGTH_SECONDS + 1)
    upto, before = (np.searchsorted(times, each_second - back, side="right") for back in (0, 600))
    return np.asarray(upto - before, np.int64)


def flooded_seconds(counts: Counts) -> tuple[int, int]:
    """How many floods there are, and how long all of them, second by second."""
    floods = long = 0
    is_flooded = False
    for count in counts[:-1]:
        was_flooded, is_flooded = is_flooded, count > 10 or (is_flooded and count >= 5)
        floods += is_flooded and not was_flooded
        long += is_flooded
    return floods, long


@given(crowds())
def test_slots_windows_floods_and_averages_are_what_counting_gives(times: list[int]) -> None:
    found, counts = rates(instants(times), span()), in_last_ten_minutes(times)
    in_slots = np.histogram(times, bins=np.arange(0, LENGTH_SECONDS + 1, 600))[0]
    assert (found.slots, found.slots_above) == (len(in_slots), (in_slots > 10).sum())
    assert found.most == counts.max()
    assert np.isclose(found.per_ten_minutes, in_slots.mean())
    floods, long = flooded_seconds(counts)
    assert (len(found.floods), round(found.flood_share * LENGTH_SECONDS, 6)) == (floods, long)


@given(crowds())
def test_what_chatters_has_two_more_within_a_minute(times: list[int]) -> None:
    at = np.asarray(times)
    windows = [(at >= begin) & (at < begin + 60) for begin in times]
    of_a_burst = np.any([window for window in windows if window.sum() >= 3] or [np.zeros(len(at), bool)], axis=0)
    assert sum(len(burst) for burst in bursts(instants(times), 3, micros(60))) == of_a_burst.sum()


@given(st.lists(st.integers(0, 10**6), min_size=1), st.sampled_from([0.5, 0.9, 1.0]))
def test_nearest_rank_is_that_of_numpy(values: list[int], share: float) -> None:
    assert ranked(values, share) == np.percentile(values, share * 100, method="inverted_cdf")


@given(st.lists(st.tuples(st.integers(-60, 90), st.integers(1, 100)), max_size=12))
def test_the_stale_of_each_day_are_what_looking_every_half_hour_finds(stood: list[tuple[int, int]]) -> None:
    # Each stands from half past an hour for so many hours: looking every half hour between misses no day.
    said = [
        event
        for n, (begin, long) in enumerate(stood)
        for event in (
            raised((begin + 0.5) * HOUR_SECONDS, f"a-{n}", subject=f"cart {n}"),
            over((begin + 0.5 + long) * HOUR_SECONDS, f"a-{n}"),
        )
    ]
    days = stretch(until=4 * DAY_SECONDS)
    found = load_of(sorted(said, key=lambda event: event.at), days).alerts.stale
    hours = np.arange(0.25, 4 * 24, 0.5)
    for number, stale in enumerate(found):
        of_day = hours[(hours >= 24 * number) & (hours < 24 * (number + 1))]
        looks = [np.any((of_day > begin + 24.5) & (of_day < begin + 0.5 + long)) for begin, long in stood]
        assert stale == sum(looks)


@given(crowds())
def test_one_more_that_stands_takes_nothing_from_the_others(times: list[int]) -> None:
    few, more = (load_of(each([float(at) for at in said]), stretch()) for said in (times[:-1], times))
    assert few.alerts.rates.most <= more.alerts.rates.most
    assert few.alerts.answers.waiting + bool(times) == more.alerts.answers.waiting
    assert [seconds(flood.start) for flood in few.alerts.rates.floods] == [
        seconds(flood.start) for flood in more.alerts.rates.floods
    ][: len(few.alerts.rates.floods)]
