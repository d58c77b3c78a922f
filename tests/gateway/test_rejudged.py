"""Soaks judged again with a thermometer's error taken off: against an engine that heard the true temperatures.

The engine is the project's own, but the way is another one: it knows nothing of a recorded verdict, and judges each
soak from all of the true readings. What its rules are held against from outside stands in tests/rules/test_exposure.py.
"""

from itertools import pairwise

from hypothesis import assume, event, given, settings
from hypothesis import strategies as st

from gateway.look_back import rejudged
from rules.build import basin_setup
from rules.correction import FoundOff
from rules.exposure import Span
from rules.readings import NO_TIME, Micros, Reading
from rules.site import Site
from rules.verdict import Verdict
from tests.rules.feeder import LID, TEMPERATURE, Feeder, book_of, department, seconds
from tests.rules.minutes import SPEAKS_RARELY, final, measured

RESTARTS = department("quick", **SPEAKS_RARELY)
ADDS_UP = department("quick", exposure={"interruptions_restart": False}, **SPEAKS_RARELY)
FOR_EVER = Micros(1 << 62)


def judged(site: Site, readings: list[Reading]) -> list[tuple[Micros, Micros, Verdict]]:
    return final(Feeder(site).feed(readings).until(seconds(readings[-1].arrived) + 500))


def as_they_were(readings: list[Reading], error: float) -> list[Reading]:
    return [r._replace(value=float(r.value) - error) if r.sensor == TEMPERATURE else r for r in readings]


def lid_spans(readings: list[Reading], soak: Span) -> list[Span]:
    """When the lid was closed, by its words alone: none is as short as a bounce here."""
    said = [r for r in readings if r.sensor == LID and soak.start <= r.measured <= soak.end]
    return [Span(a.measured, b.measured) for a, b in pairwise(said) if a.value and not b.value]


def again(site: Site, readings: list[Reading], soak: Span, recorded: Verdict, error: float) -> Verdict:
    conditions = basin_setup(site.basin[0], site, site.sensors(), book_of(site)).conditions
    samples = [(r.measured, float(r.value)) for r in readings if r.sensor == TEMPERATURE]
    off = [FoundOff(NO_TIME, FOR_EVER, error)]
    return rejudged(recorded, samples, lid_spans(readings, soak), conditions, off)


@settings(max_examples=300, deadline=None)
@given(measured(), st.sampled_from([0.125, 0.5, 1.0, 2.0]), st.sampled_from([RESTARTS, ADDS_UP]))
def test_a_verdict_that_stays_met_is_met_by_the_true_temperatures_too(
    readings: list[Reading], error: float, site: Site
) -> None:
    met = [(Span(start, end), v) for start, end, v in judged(site, readings) if v.outcome.is_met]
    assume(met)
    truly = {Span(start, end): v for start, end, v in judged(site, as_they_were(readings, error))}
    for soak, recorded in met:
        found = again(site, readings, soak, recorded, error)
        event(f"met before, {'met' if found.outcome.is_met else 'not met'} again")
        assert truly[soak].outcome.is_met or not found.outcome.is_met
        assert found.credited_seconds <= truly[soak].credited_seconds + 1e-6


@settings(max_examples=100, deadline=None)
@given(measured(), st.sampled_from([RESTARTS, ADDS_UP]))
def test_without_an_error_every_verdict_stays_what_it_was(readings: list[Reading], site: Site) -> None:
    for start, end, recorded in judged(site, readings):
        if recorded.outcome.is_met:
            found = again(site, readings, Span(start, end), recorded, 0.0)
            assert (found.outcome, found.credited_seconds) == (recorded.outcome, recorded.credited_seconds)
