"""A basin remembers what can still matter, and no more."""

from collections.abc import Iterator
from itertools import pairwise
from math import sin

from hypothesis import example, given
from hypothesis import strategies as st

from rules.exposure import Conditions, Doubt, Trace, measured_spans, warm_spans
from rules.lid import LidHistory
from rules.memory import thin_lid, thin_temperatures
from rules.readings import Micros, Reading, micros
from rules.verdict import Outcome, Verdict
from tests.rules.feeder import CLOSED, LID, LIFTED, TEMPERATURE, Feeder, department, instant, read

HOUR = 3600
SHORT_MEMORY = {"limits": {"max_behind_seconds": 60}}
"""Late readings reach back a minute; an hour more is remembered (rules/build.py)."""

LABEL = Conditions(micros(720), min_celsius=20, guard_celsius=0, max_gap=micros(60))
DOUBT = Doubt(celsius=3, celsius_per_second=0.5, holds=micros(300))


def days(hours: float, celsius: float = 21, every: float = 10) -> Iterator[Reading]:
    """A basin whose lid stays closed for so many hours, its solution a little warmer and colder in turns."""
    for at in range(0, int(hours * HOUR), int(every)):
        yield read(TEMPERATURE, celsius + sin(at / 500) / 2, at)
        if at % 30 == 0:
            yield read(LID, CLOSED, at)


def test_what_is_remembered_of_a_lid_closed_for_days_hardly_grows() -> None:
    feeder = Feeder(department(**SHORT_MEMORY)).feed(days(36))
    state = feeder.engine._parts.basins["basin-1"].state
    assert state.soaks[0].start == instant(0)
    # One temperature a minute and a word of the lid every 90 s, but for the last hour and what is not looked at yet.
    assert len(state.trace.at) < 36 * 60 + 2 * 360 + 4096
    assert len(state.lid.at) < 36 * 40 + 2 * 120 + 4096 / 3


def test_a_soak_of_which_much_was_forgotten_is_judged_as_if_nothing_had_been() -> None:
    def verdict(site_limits: dict[str, dict[str, float]]) -> Verdict:
        at = 30 * HOUR
        feeder = Feeder(department(**site_limits)).feed(days(30))
        # A late word of the lid makes the basin look at all that it knows, and forget what it may.
        feeder.say(LID, CLOSED, at=at, measured=at - 45).until(at + 4)
        feeder.say(TEMPERATURE, 19.9, at=at + 5, measured=at - 35).say(LID, LIFTED, at + 6)
        return feeder.say(TEMPERATURE, 21, at + 7).until(at + 100).verdicts[-1]

    assert verdict(SHORT_MEMORY) == verdict({"limits": {"max_behind_seconds": 7 * 86_400}})


def test_under_another_law_a_soak_of_which_something_was_forgotten_is_not_proven() -> None:
    feeder = Feeder(department(**SHORT_MEMORY)).feed(days(14))
    assert feeder.engine._parts.basins["basin-1"].state.thinned_before > instant(0)
    stricter = department(guard=0.3, **SHORT_MEMORY)
    at = 14 * HOUR
    feeder.restart(stricter).say(LID, LIFTED, at).say(TEMPERATURE, 21, at + 1).until(at + 100)
    assert [verdict.outcome for verdict in feeder.verdicts] == [Outcome.NOT_PROVEN]


# ---- laws ------------------------------------------------------------------------------------------------------------

SAMPLES = st.lists(
    st.tuples(st.sampled_from([1, 1, 5, 10, 30, 59, 60, 61]), st.sampled_from([17.0, 19.9, 20.0, 20.1, 22.6, 25.2])),
    max_size=60,
)


@given(samples=SAMPLES, cut=st.integers(0, 1500))
@example(samples=[(1, 25.2), (1, 22.6), (1, 20.0), (1, 22.6)], cut=4)  # thinned once more the second time
@example(samples=[(1, 20.0), (1, 22.6), (1, 25.2), (1, 25.2)], cut=1500)  # no jump, but for the one in between
@example(samples=[(1, 20.0), (1, 25.2), (1, 20.1), (1, 20.1)], cut=1500)  # two jumps, there and back
def test_thinned_temperatures_tell_the_same_to_the_microsecond(samples: list[tuple[int, float]], cut: int) -> None:
    trace, at = Trace(), 0
    for gap, celsius in samples:
        at += gap
        trace.add(instant(at), celsius)
    whole = told_by(trace)
    thin_temperatures(trace, instant(cut), LABEL, DOUBT)
    assert told_by(trace) == whole
    thin_temperatures(trace, instant(2 * cut), LABEL, DOUBT)
    assert told_by(trace) == whole


def told_by(trace: Trace) -> tuple[object, ...]:
    samples = list(zip(trace.at, trace.celsius, strict=True))
    jumps = [(a, b) for a, b in pairwise(samples) if DOUBT.is_jump(a, b)]
    return warm_spans(samples, LABEL.floor_celsius, LABEL.max_gap), measured_spans(trace.at, LABEL.max_gap), jumps


@given(st.lists(st.tuples(st.sampled_from([1, 30, 45, 60, 90, 91]), st.booleans()), max_size=60), st.integers(0, 1500))
def test_a_thinned_lid_tells_the_same(words: list[tuple[int, bool]], cut: int) -> None:
    gap, bounce = micros(90), Micros(0)
    history, at = LidHistory(), 0
    for wait, closed in words:
        at += wait
        history.add(instant(at), closed)
    whole = history.closures(bounce), measured_spans(history.at, gap)
    thin_lid(history, instant(cut), gap)
    assert (history.closures(bounce), measured_spans(history.at, gap)) == whole
