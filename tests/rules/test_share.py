"""A probe's share of a soak: what its presence in the basin earned."""

from collections.abc import Iterable
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.commands import BasinEntry, Input
from rules.exposure import Span
from rules.readings import Micros, Reading, StripResult
from rules.site import Site
from rules.soaks import ended
from rules.verdict import Outcome, Reason, Verdict
from tests.rules.bath import pour, strip
from tests.rules.feeder import (
    Feeder,
    closed,
    department,
    in_order,
    instant,
    seconds,
    soak,
    temperatures,
    warm,
    without,
)
from tests.rules.minutes import QUICK, SPEAKS_RARELY, measured

LENIENT = department("quick", exposure={"interruptions_restart": False}, **SPEAKS_RARELY)
RECORDED = department(solution={"recorded": True})


def soaked(readings: list[Reading], site: Site | None = None) -> Feeder:
    return Feeder(site).feed(readings).until(seconds(readings[-1].arrived) + 500)


def merged(*groups: Iterable[Input]) -> list[Input]:
    return sorted((item for group in groups for item in group), key=lambda item: item.arrived)


def shares(feeder: Feeder, start: float, end: float) -> list[Verdict]:
    """The share of each ended soak, newest first, that a probe has which was there from start to end, in seconds."""
    basin = feeder.engine._parts.basins["basin-1"]
    found = [basin.share(record.id, Span(instant(start), instant(end))) for record in ended(basin.state)]
    return [verdict for verdict in found if verdict is not None]


def share(feeder: Feeder, start: float, end: float) -> Verdict:
    [verdict] = shares(feeder, start, end)
    return verdict


# ---- time ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("start", "end"), [(100, 820), (0, 5000), (99.999999, 820.000001)])
def test_a_presence_that_covers_the_soak_has_the_soaks_own_verdict(start: float, end: float) -> None:
    feeder = soaked(soak(720, 21))
    assert share(feeder, start, end) == feeder.verdicts[-1]
    assert feeder.verdicts[-1].outcome is Outcome.MET


@pytest.mark.parametrize(
    ("start", "end", "outcome", "credited"),
    [
        (180, 900, Outcome.MET, 720),  # exactly the label's 12 min (CDC/HICPAC 2008, Table 4)
        (180.000001, 900, Outcome.TOO_SHORT, 719.999999),
        (100, 819.999999, Outcome.TOO_SHORT, 719.999999),
        (0, 820, Outcome.MET, 720),
        (400, 500, Outcome.TOO_SHORT, 100),
        (0, 100, Outcome.TOO_SHORT, 0),
        (0, 50, Outcome.TOO_SHORT, 0),
        (900, 1000, Outcome.TOO_SHORT, 0),
        (2000, 3000, Outcome.TOO_SHORT, 0),
    ],
)
def test_a_probe_has_earned_what_it_was_in_the_basin_for(
    start: float, end: float, outcome: Outcome, credited: float
) -> None:
    verdict = share(soaked(soak(800, 21)), start, end)
    assert (verdict.outcome, verdict.credited_seconds) == (outcome, credited)


def test_a_share_says_which_stretch_counted_and_what_it_was_judged_against() -> None:
    verdict = share(soaked(soak(800, 21)), 150, 880)
    assert (verdict.credited_start, verdict.credited_end) == (instant(150), instant(880))
    assert (verdict.needed_seconds, verdict.min_celsius, verdict.guard_celsius) == (720, 20, 0)


def test_between_two_words_of_the_lid_a_presence_begins_under_a_lid_known_to_be_closed() -> None:
    # The lid spoke at 160 and 190 s.
    assert share(soaked(soak(800, 21)), 175, 880).credited_seconds == 705


def test_a_probe_that_was_added_with_the_lid_open_restarts_the_time_of_the_one_that_was_there() -> None:
    feeder = soaked(in_order(warm(21, 80, 1200), [*closed(100, 600), *closed(620, 1100)]))
    assert share(feeder, 90, 1110).outcome is Outcome.INTERRUPTED
    assert share(feeder, 610, 1110).reasons == (Reason.TOO_SHORT,)
    longer = soaked(in_order(warm(21, 80, 1400), [*closed(100, 600), *closed(620, 1340)]))
    assert [share(longer, 90, 1350).credited_start, share(longer, 610, 1350).credited_start] == [instant(620)] * 2
    assert [share(longer, at, 1350).outcome for at in (90, 610)] == [Outcome.MET] * 2


def test_where_policy_lets_credit_add_up_a_probe_has_the_sum_of_its_own_stretches() -> None:
    site = department(exposure={"interruptions_restart": False})
    feeder = soaked(in_order(warm(21, 80, 1200), [*closed(100, 600), *closed(620, 1100)]), site)
    assert share(feeder, 90, 1110).credited_seconds == 500 + 480
    assert share(feeder, 400, 1000).credited_seconds == 200 + 380


# ---- temperature -----------------------------------------------------------------------------------------------------


def test_the_cold_before_a_probe_was_put_in_does_not_count_against_it_and_that_after_does() -> None:
    warms_up = soaked(soak(1000, lambda t: 19.0 if t < 300 else 21.0))
    assert share(warms_up, 300, 1100).outcome is Outcome.MET
    # At 295 s it was 20 Cel, halfway between the samples at 290 and 300 s.
    assert share(warms_up, 290, 1010) == share(warms_up, 290, 1010).model_copy(
        update={"outcome": Outcome.TOO_COLD, "reasons": (Reason.TOO_COLD,), "credited_start": instant(295)}
    )


def test_a_gap_in_the_temperatures_proves_nothing_for_a_probe_that_was_there_and_nothing_against_a_later_one() -> None:
    here, _ = without(soak(1000, 21), 200, 300)
    assert share(soaked(here), 250, 1020).reasons == (Reason.NO_DATA,)
    assert share(soaked(here), 310, 1050).outcome is Outcome.MET


def test_a_jump_is_doubted_for_five_minutes_after_it_by_a_probe_that_is_put_in_later() -> None:
    # It jumps at 150 s and back at 160 s: not believed until 460 s.
    feeder = soaked(soak(1500, lambda t: 27.0 if t == 150 else 21.0))
    assert feeder.verdicts[-1].outcome is Outcome.NOT_PROVEN
    assert share(feeder, 460, 1600).outcome is Outcome.NOT_PROVEN
    assert share(feeder, 460.1, 1600).outcome is Outcome.MET


def test_a_jump_after_a_probe_was_taken_out_does_not_spoil_its_share() -> None:
    feeder = soaked(soak(1500, lambda t: 27.0 if t == 1200 else 21.0))
    assert share(feeder, 100, 1100).outcome is Outcome.MET
    assert share(feeder, 100, 1195).outcome is Outcome.NOT_PROVEN


# ---- solution --------------------------------------------------------------------------------------------------------


def test_a_share_tells_of_its_solution_as_the_soak_does() -> None:
    feeder = Feeder(RECORDED).feed([pour(0), strip(10), *soak(1000, 21)]).until(1600)
    verdict = share(feeder, 150, 1050)
    assert (verdict.outcome, verdict.solution) == (Outcome.EXPOSURE_MET, feeder.verdicts[-1].solution)
    without_strip = Feeder(RECORDED).feed([pour(0), *soak(1000, 21)]).until(1600)
    assert share(without_strip, 150, 1050).reasons == (Reason.STRIP_MISSING,)


def test_nothing_comes_into_a_basin_under_a_closed_lid_so_a_strip_read_then_is_none_before_the_probe() -> None:
    feeder = Feeder(RECORDED).feed(merged([pour(0), strip(200)], soak(1000, 21))).until(1600)
    assert share(feeder, 250, 1050).reasons == (Reason.STRIP_MISSING,)


def opened_and_closed(*entries: BasinEntry) -> Feeder:
    """A lid closed from 100 to 400 s and from 430 to 1200 s, one soak."""
    readings = in_order(warm(21, 80, 1300), [*closed(100, 400), *closed(430, 1200)])
    return Feeder(RECORDED).feed(merged(entries, readings)).until(1700)


@pytest.mark.parametrize("start", [401, 415, 430, 450])
def test_a_strip_read_while_the_lid_was_open_is_good_for_the_probe_that_was_put_in_then(start: float) -> None:
    feeder = opened_and_closed(pour(0), strip(420))
    assert feeder.verdicts[-1].reasons == (Reason.STRIP_MISSING,)
    assert share(feeder, start, 1190).outcome is Outcome.EXPOSURE_MET
    assert share(feeder, 399, 1190).reasons == (Reason.STRIP_MISSING,)


def test_a_solution_poured_while_the_lid_was_open_is_that_of_the_probe_that_was_put_in_then() -> None:
    feeder = opened_and_closed(pour(0), strip(10), pour(410, lot="L2"), strip(420))
    assert feeder.verdicts[-1].reasons == (Reason.SOLUTION_NOT_RECORDED,)
    late = share(feeder, 425, 1190)
    assert (late.outcome, late.solution and late.solution.lot) == (Outcome.EXPOSURE_MET, "L2")
    early = share(feeder, 90, 402)
    assert (early.reasons, early.solution and early.solution.lot) == ((Reason.TOO_SHORT,), "L1")


def test_a_strip_that_failed_after_a_probe_was_taken_out_leaves_its_share_in_doubt_only() -> None:
    failed = strip(410, StripResult.FAIL)
    feeder = opened_and_closed(pour(0), strip(10), failed)
    assert share(feeder, 90, 402).reasons == (Reason.TOO_SHORT,)
    check = share(feeder, 90, 402).solution
    assert check is not None
    assert check.doubted_by == instant(410)
    assert share(feeder, 90, 1190).reasons == (Reason.STRIP_FAILED,)


# ---- what there is no share of ---------------------------------------------------------------------------------------


def test_there_is_no_share_of_a_soak_that_runs_or_that_nobody_remembers() -> None:
    basin = Feeder().feed(soak(720, 21)[:-20]).engine._parts.basins["basin-1"]
    assert [record.id for record in basin.state.soaks] == ["basin-1.1"]
    assert basin.share("basin-1.1", Span(instant(0), instant(5000))) is None
    assert basin.share("basin-1.2", Span(instant(0), instant(5000))) is None


def test_a_share_is_asked_without_a_trace() -> None:
    feeder = soaked(soak(800, 21))
    before = feeder.engine.snapshot()
    share(feeder, 150, 400)
    assert feeder.engine.snapshot() == before


# ---- another site file -----------------------------------------------------------------------------------------------


def under_another_law(celsius: float = 21, **law: object) -> Feeder:
    """A soak of 1000 s that was judged by the label of 12 min; another site file is in force since."""
    readings = soak(1000, lambda t: celsius if t > 200 else 19.0)
    return soaked(readings, department(**law)).restart(department("glutaraldehyde-2.4-label"))  # type: ignore[arg-type]


def test_a_soak_judged_by_an_earlier_site_file_gives_its_credit_to_who_was_there_for_all_of_it() -> None:
    feeder = under_another_law()
    verdict = feeder.verdicts[-1]
    assert (verdict.outcome, verdict.credited_start) == (Outcome.MET, instant(205))
    assert share(feeder, 0, 2000) == share(feeder, 204, 1101) == share(feeder, 205, 1100) == verdict


def test_to_who_was_there_for_a_part_of_its_credit_it_proves_nothing() -> None:
    verdict = share(under_another_law(), 300, 2000)
    assert (verdict.outcome, verdict.reasons) == (Outcome.NOT_PROVEN, (Reason.NO_DATA,))
    assert (verdict.credited_seconds, verdict.credited_start, verdict.credited_end) == (
        800,
        instant(300),
        instant(1100),
    )
    short = share(under_another_law(), 300, 1019.999999)
    assert short.reasons == (Reason.TOO_SHORT, Reason.NO_DATA)
    assert share(under_another_law(), 300, 1020).reasons == (Reason.NO_DATA,)
    absent = share(under_another_law(), 2000, 3000)
    assert (absent.credited_seconds, absent.credited_start) == (0, None)
    assert absent.reasons == (Reason.TOO_SHORT, Reason.NO_DATA)


def test_where_its_credit_added_up_only_the_whole_soak_is_proven() -> None:
    readings = soak(1000, lambda t: 19.0 if t == 300 else 21.0)
    lenient = soaked(readings, department(exposure={"interruptions_restart": False}))
    assert lenient.verdicts[-1].credited_seconds == 990
    feeder = lenient.restart(department("glutaraldehyde-2.4-label"))
    assert share(feeder, 100, 1100).outcome is Outcome.MET
    assert share(feeder, 101, 1100).reasons == share(feeder, 100, 1099).reasons == (Reason.NO_DATA,)
    assert share(feeder, 101, 2000).reasons == (Reason.NO_DATA,)


# ---- laws ------------------------------------------------------------------------------------------------------------

SECONDS = st.integers(0, 2400).map(lambda quarters: quarters / 4)
PRESENCE = st.tuples(SECONDS, SECONDS).map(sorted).map(tuple)
SITE = st.sampled_from([QUICK, LENIENT])


@given(readings=measured(), presence=PRESENCE, site=SITE)
def test_a_share_never_earns_more_than_the_soak_and_lies_within_the_presence(
    readings: list[Reading], presence: tuple[float, float], site: Site
) -> None:
    feeder = soaked(readings, site)
    for part, whole in zip(shares(feeder, *presence), shares(feeder, 0, 5000), strict=True):
        assert part.credited_seconds <= min(whole.credited_seconds, presence[1] - presence[0])
        assert (part.outcome is Outcome.MET) == (not part.reasons)
        assert part.reasons or part.credited_seconds >= 60
        if part.credited_start is not None and part.credited_end is not None:
            start, end = (seconds(at) for at in (part.credited_start, part.credited_end))
            assert presence[0] <= start < end <= presence[1]


@given(readings=measured(), presence=PRESENCE, before=SECONDS, after=SECONDS, site=SITE)
def test_a_longer_presence_never_earns_less(
    readings: list[Reading], presence: tuple[float, float], before: float, after: float, site: Site
) -> None:
    feeder, (start, end) = soaked(readings, site), presence
    for less, more in zip(shares(feeder, start, end), shares(feeder, max(start - before, 0), end + after), strict=True):
        assert less.credited_seconds <= more.credited_seconds


@given(readings=measured(), cuts=st.lists(SECONDS, min_size=1, max_size=4).map(sorted))
def test_the_parts_of_a_soak_have_no_more_than_the_whole(readings: list[Reading], cuts: list[float]) -> None:
    edges = [0, *cuts, 5000]
    adds_up, restarts = soaked(readings, LENIENT), soaked(readings, QUICK)
    for feeder, together in ((adds_up, sum), (restarts, max)):
        parts = [shares(feeder, start, end) for start, end in pairwise(edges)]
        for whole, *pieces in zip(shares(feeder, 0, 5000), *parts, strict=True):
            assert together(micros_of(piece) for piece in pieces) <= micros_of(whole)


def micros_of(verdict: Verdict) -> Micros:
    return Micros(round(verdict.credited_seconds * 1_000_000))


@given(readings=measured(), presence=PRESENCE, which=st.integers(0, 17), warmer=st.sampled_from([0.1, 1.0, 5.0]))
def test_a_warmer_temperature_never_lessens_a_share(
    readings: list[Reading], presence: tuple[float, float], which: int, warmer: float
) -> None:
    told = temperatures(readings)
    raised = told[which % len(told)]
    warmed = [r._replace(value=float(r.value) + warmer) if r is raised else r for r in readings]
    pairs = zip(shares(soaked(readings, QUICK), *presence), shares(soaked(warmed, QUICK), *presence), strict=True)
    assert all(less.credited_seconds <= more.credited_seconds for less, more in pairs)


@given(readings=measured(), presence=PRESENCE, start=st.integers(0, 300), length=st.integers(61, 200))
def test_temperatures_that_are_missing_for_more_than_the_gap_never_add_to_a_share(
    readings: list[Reading], presence: tuple[float, float], start: int, length: int
) -> None:
    here, _ = without(readings, start, start + length)
    pairs = zip(shares(soaked(here, QUICK), *presence), shares(soaked(readings, QUICK), *presence), strict=True)
    assert all(less.credited_seconds <= more.credited_seconds for less, more in pairs)


@given(readings=measured(), presence=PRESENCE)
def test_a_restart_changes_no_share(readings: list[Reading], presence: tuple[float, float]) -> None:
    feeder = soaked(readings, QUICK)
    before = shares(feeder, *presence)
    assert shares(feeder.restart(), *presence) == before
