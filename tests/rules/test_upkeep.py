"""Pours, strips and the like through the engine: verdicts, amendments, alerts, restarts.

Reuse days of every row are those of the sources that each row of rules/labels.csv names; read here with csv alone.
"""

import csv
from collections.abc import Iterable, Sequence
from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.commands import Command, Entry, Input
from rules.events import SoakAmended, SolutionDiscarded, SolutionPoured, SolutionToppedUp, StripTaken
from rules.readings import Reading, SensorId, StripResult
from rules.ruleset import RuleError
from rules.site import Site
from rules.verdict import Outcome, Reason, Verdict
from tests.rules.bath import TODAY, discard, pour, strip, top_up
from tests.rules.feeder import LABELS, Feeder, book_of, closed, department, instant, read, retold, seconds, soak, warm
from tests.rules.scenarios import PROBE

DAY = 86_400
ROWS = [row for row in csv.DictReader(StringIO(LABELS)) if row["mode"] != "automated"]
STRIP = {"thing": "basin-1", "name": "strip", "kind": "strip"}
FAIL = StripResult.FAIL


def recorded(label: str = "opa-0.55-manual", **further: Any) -> Site:
    """A site that keeps the record of its solutions."""
    return department(label, **{"solution": {"recorded": True}, **further})


def merged(*groups: Iterable[Input]) -> list[Input]:
    return sorted((item for group in groups for item in group), key=lambda item: item.arrived)


def verdict(items: Sequence[Input], site: Site | None = None) -> Verdict:
    """The last verdict after all that arrived and a quiet while."""
    feeder = Feeder(site or recorded()).feed(items)
    return feeder.until(seconds(items[-1].arrived) + 200).verdicts[-1]


def with_label(site: Site, **changes: object) -> Site:
    """The site with a label of its own on its basin."""
    label = {"id": "x", "chemistry": "x", "min_minutes": 5, "min_celsius": 20, "source": "ours, for tests", **changes}
    (basin,) = site.basin
    return Site.model_validate({**site.model_dump(), "label": [label], "basin": [{**basin.model_dump(), "label": "x"}]})


def good(start: float = 0) -> list[Entry]:
    return [pour(start), strip(start + 10)]


# ---- whether a record is kept ----------------------------------------------------------------------------------------


def test_where_no_record_is_kept_the_verdict_tells_of_time_and_temperature_only() -> None:
    judged = verdict(merged([strip(10, FAIL)], soak(720, 21)), department())
    assert (judged.outcome, judged.reasons, judged.solution) == (Outcome.MET, (), None)
    assert judged.outcome == "time and temperature met"


def test_with_a_good_solution_and_strip_the_exposure_is_met() -> None:
    judged = verdict(merged(good(), soak(720, 21)))
    assert (judged.outcome, judged.reasons) == (Outcome.EXPOSURE_MET, ())
    assert judged.solution is not None
    assert (judged.solution.lot, judged.solution.good_until) == ("L1", instant(14 * DAY))
    assert judged.solution.last_good_check == instant(10)


@pytest.mark.parametrize(("arrived", "said"), [(None, None), (101, 101), (2000, 2000)])
def test_a_strip_that_is_entered_after_the_lid_closed_counts_and_the_verdict_says_when(
    arrived: float | None, said: float | None
) -> None:
    judged = verdict(merged([pour(0), strip(10, arrived=arrived)], soak(720, 21)))
    assert judged.outcome is Outcome.EXPOSURE_MET
    assert judged.solution is not None
    assert judged.solution.check_entered == (None if said is None else instant(said))


def test_without_a_word_of_solution_and_strip_nothing_is_met() -> None:
    judged = verdict(soak(720, 21))
    assert judged.reasons == (Reason.SOLUTION_NOT_RECORDED, Reason.STRIP_MISSING)
    assert judged.outcome is Outcome.SOLUTION_NOT_RECORDED


def test_a_good_solution_does_not_make_up_for_time_or_temperature() -> None:
    assert verdict(merged(good(), soak(719, 21))).reasons == (Reason.TOO_SHORT,)
    assert verdict(merged([pour(0)], soak(720, 19))).reasons == (Reason.TOO_COLD, Reason.STRIP_MISSING)


def test_the_soak_that_fell_short_by_its_strip_alone_is_told_to_be_held() -> None:
    feeder = Feeder(recorded()).feed(merged([pour(0), strip(10, FAIL)], soak(720, 21))).until(1100)
    assert {"strip-failed", "soak-not-met"} <= set(feeder.standing())
    assert "Basin 1: soak does not count: strip failed" in [alert.text for alert in feeder.engine.picture().alerts]


# ---- every row of the table ------------------------------------------------------------------------------------------


def reused(row: dict[str, str], end: float) -> Outcome:
    """A soak of the label's time and temperature that ends so long after the pour, its strip a minute before it."""
    length = float(row["min_minutes"]) * 60
    start = end - length
    entries: list[Entry] = [pour(0, label=row["id"]), strip(start - 60)]
    return verdict(merged(entries, soak(length, float(row["min_celsius"]), start=start)), recorded(row["id"])).outcome


@pytest.mark.parametrize("row", [r for r in ROWS if int(r["reuse_days"]) > 0], ids=lambda r: r["id"])
def test_a_solution_is_good_for_the_reuse_days_of_its_source_and_no_second_longer(row: dict[str, str]) -> None:
    over = int(row["reuse_days"]) * DAY
    assert reused(row, over) is Outcome.EXPOSURE_MET
    assert reused(row, over + 1) is Outcome.SOLUTION_OUT_OF_DATE


@pytest.mark.parametrize("row", [r for r in ROWS if int(r["reuse_days"]) == 0], ids=lambda r: r["id"])
def test_a_single_use_solution_serves_one_soak(row: dict[str, str]) -> None:
    length, warmth = float(row["min_minutes"]) * 60, float(row["min_celsius"])
    second = 200 + length
    entries: list[Entry] = [pour(0, label=row["id"]), strip(10), strip(second - 50)]
    readings = [*soak(length, warmth), *soak(length, warmth, start=second)]
    feeder = Feeder(recorded(row["id"])).feed(merged(entries, readings)).until(second + length + 200)
    assert [v.outcome for v in feeder.verdicts] == [Outcome.EXPOSURE_MET, Outcome.SOLUTION_OUT_OF_DATE]


@pytest.mark.parametrize(("day", "met"), [(1, True), (21, True), (22, False)])
def test_hydrogen_peroxide_passes_for_21_days_and_fails_on_day_22(day: int, met: bool) -> None:  # noqa: FBT001 - the figure expected
    # CDC/HICPAC 2008, Table 4: 30 min at 20 Cel, 21 days.
    row = next(r for r in ROWS if r["id"] == "hydrogen-peroxide-7.5")
    assert reused(row, (day - 0.5) * DAY) is (Outcome.EXPOSURE_MET if met else Outcome.SOLUTION_OUT_OF_DATE)


# ---- who tells -------------------------------------------------------------------------------------------------------


def test_every_entry_is_told_once_however_often_it_comes() -> None:
    entries: list[Entry] = [pour(0), strip(10), top_up(20), discard(30)]
    feeder = Feeder(recorded()).feed([item for item in entries for _ in range(3)])
    assert [type(event) for event in feeder.events] == [
        SolutionPoured,
        StripTaken,
        SolutionToppedUp,
        SolutionDiscarded,
    ]


def test_an_entry_for_a_basin_that_is_not_there_changes_nothing() -> None:
    assert Feeder(recorded()).feed([pour(0).model_copy(update={"basin": "basin-9"})]).events == []


def test_what_is_entered_for_later_counts_from_its_entry() -> None:
    feeder = Feeder(recorded()).feed([pour(1000, arrived=5)])
    assert [e.measured for e in feeder.events if isinstance(e, SolutionPoured)] == [instant(5)]


@pytest.mark.parametrize(
    ("policy", "outcome"),
    [({}, Outcome.STRIP_DATE_MISSING), ({"strip_expiry_required": False}, Outcome.EXPOSURE_MET)],
)
def test_a_strip_reader_tells_of_no_bottle(policy: dict[str, bool], outcome: Outcome) -> None:
    site = recorded(solution={"recorded": True, **policy}, sensor=[STRIP])
    told = [read(SensorId("basin-1/strip"), "pass", 10)]
    assert verdict(merged([pour(0)], told, soak(720, 21)), site).outcome is outcome


def test_a_strip_reader_ends_a_solution_as_a_person_does() -> None:
    told = [read(SensorId("basin-1/strip"), "fail", 20)]
    judged = verdict(merged(good(), told, soak(720, 21)), recorded(sensor=[STRIP]))
    assert judged.reasons == (Reason.STRIP_FAILED,)


# ---- what comes late -------------------------------------------------------------------------------------------------


def test_a_pour_and_a_strip_that_are_entered_late_amend_the_verdict() -> None:
    feeder = Feeder(recorded()).feed(soak(720, 21)).until(1000)
    feeder.feed([pour(0, arrived=1100), strip(10, arrived=1160)]).until(1300)
    assert [v.outcome for v in feeder.verdicts] == [
        Outcome.SOLUTION_NOT_RECORDED,
        Outcome.STRIP_MISSING,
        Outcome.EXPOSURE_MET,
    ]
    assert feeder.engine.picture().basins[0].ended[0].amended


def test_a_strip_that_failed_before_the_soak_and_is_entered_late_amends_the_verdict() -> None:
    items = merged(good(), soak(720, 21), [strip(50, FAIL, arrived=1000)])
    assert verdict(items).outcome is Outcome.STRIP_FAILED


def test_a_strip_that_fails_after_the_soak_is_told_of_it_without_a_change_of_outcome() -> None:
    feeder = Feeder(recorded()).feed(merged(good(), soak(720, 21), [strip(1000, FAIL)])).until(1100)
    (amended,) = [event for event in feeder.events if isinstance(event, SoakAmended)]
    assert amended.verdict.outcome is Outcome.EXPOSURE_MET
    assert amended.verdict.solution is not None
    assert amended.verdict.solution.doubted_by == instant(1000)


def test_a_soak_that_is_heard_of_late_uses_up_the_strip_of_the_next_one() -> None:
    late = [retold(item, seconds(item.measured), 4000) for item in closed(100, 820)]
    feeder = Feeder(recorded()).feed(merged(good(), warm(21, 80, 2740), closed(2000, 2720))).until(3900)
    assert [v.outcome for v in feeder.verdicts] == [Outcome.EXPOSURE_MET]
    feeder.feed(late).until(4200)
    newest_first = feeder.engine.picture().basins[0].ended
    assert [ended.outcome for ended in newest_first] == [Outcome.STRIP_MISSING, Outcome.EXPOSURE_MET]


def test_soaks_that_are_long_forgotten_are_counted_since_the_strip() -> None:
    policy = {"recorded": True, "strips": "every few soaks", "strip_every_soaks": 2}
    site = recorded(solution=policy, limits={"max_behind_seconds": 60})
    soaks = [soak(720, 21, start=start) for start in (100, 6000, 12000)]
    feeder = Feeder(site).feed(merged(good(), *soaks)).until(13000)
    assert [v.outcome for v in feeder.verdicts] == [Outcome.EXPOSURE_MET, Outcome.EXPOSURE_MET, Outcome.STRIP_MISSING]
    assert len(feeder.engine.picture().basins[0].ended) < len(soaks)


def test_a_soak_that_is_lifted_early_uses_no_strip_up() -> None:
    tried = soak(100, 21, start=30)
    feeder = Feeder(recorded()).feed(merged([pour(0), strip(10)], tried, soak(720, 21, start=300))).until(1300)
    assert [v.outcome for v in feeder.verdicts] == [Outcome.TOO_SHORT, Outcome.EXPOSURE_MET]


# ---- alerts ----------------------------------------------------------------------------------------------------------


def test_a_solution_ends_soon_and_then_is_out_of_date_by_time_alone() -> None:
    # Second 0 is 22:13:20 on 14 November: the day after tomorrow ends at second 6400 + 2 days.
    feeder = Feeder().feed([pour(0, printed_expiry=TODAY + timedelta(days=2))]).until(3 * DAY)
    assert feeder.raised("solution-ends-soon") == [6400 + DAY]
    assert feeder.over("solution-ends-soon") == [(6400 + 2 * DAY, "cleared")]
    assert feeder.raised("solution-out-of-date") == [6400 + 2 * DAY]


def test_topping_up_does_not_end_that_a_solution_is_out_of_date() -> None:
    feeder = Feeder().feed([pour(0, printed_expiry=TODAY), top_up(7000)]).until(7100)
    assert feeder.standing() == ["solution-out-of-date"]
    assert feeder.feed([discard(7200), pour(7300)]).standing() == []


@pytest.mark.parametrize("later", [StripResult.PASS, StripResult.INVALID])
def test_a_strip_that_passes_later_does_not_end_that_one_failed(later: StripResult) -> None:
    feeder = Feeder().feed([pour(0), strip(10, FAIL), strip(20, later)])
    assert feeder.standing() == ["strip-failed"]


def test_where_no_pour_is_recorded_the_newest_strip_tells() -> None:
    feeder = Feeder().feed([strip(10, FAIL)])
    assert feeder.holding() == ["strip-failed"]
    assert feeder.feed([strip(20)]).holding() == []


@pytest.mark.parametrize(
    ("limits", "raised"),
    [
        ({"max_soak_minutes": 15}, [1000]),
        ({"max_soak_minutes": 15, "basins": []}, []),
        ({}, []),
    ],
)
def test_a_soak_longer_than_a_probe_of_the_basin_stands_is_told(limits: dict[str, object], raised: list[float]) -> None:
    site = department(probe=[{**PROBE, "basins": ["basin-1"], **limits}])
    assert Feeder(site).feed(soak(1300, 21)).raised("over-soak") == raised


def test_a_soak_longer_than_the_label_allows_is_told() -> None:
    assert Feeder(with_label(department(), max_minutes=10)).feed(soak(1300, 21)).raised("over-soak") == [700]


def test_a_site_file_that_newly_limits_the_soak_that_runs_is_told_in_time() -> None:
    readings = soak(1300, 21)
    feeder = Feeder().feed([r for r in readings if seconds(r.arrived) < 500])
    feeder.restart(department(probe=[{**PROBE, "basins": ["basin-1"], "max_soak_minutes": 15}]))
    assert feeder.feed([r for r in readings if seconds(r.arrived) >= 500]).raised("over-soak") == [1000]


# ---- what screens see ------------------------------------------------------------------------------------------------


def test_the_picture_tells_what_a_soak_that_began_now_would_lack() -> None:
    feeder = Feeder(recorded()).feed([pour(0), top_up(5)])
    seen = feeder.engine.picture().basins[0].solution
    assert seen.lot is not None
    assert (seen.recorded, seen.lot.lot, seen.lot.at, seen.topped_up) == (True, "L1", instant(0), instant(5))
    assert (seen.strip, seen.clocks.until, seen.lacking) == (None, instant(14 * DAY), (Reason.STRIP_MISSING,))
    seen = feeder.feed([strip(10)]).engine.picture().basins[0].solution
    assert seen.strip is not None
    assert (seen.strip.result, seen.strip.read, seen.lacking) == (StripResult.PASS, instant(10), ())
    seen = feeder.feed([strip(20, FAIL)]).engine.picture().basins[0].solution
    assert seen.lacking == (Reason.STRIP_FAILED,)
    assert feeder.feed([discard(30)]).engine.picture().basins[0].solution.lot is None


def test_the_picture_tells_what_the_soak_that_runs_lacks_so_far() -> None:
    feeder = Feeder(recorded()).feed(merged([pour(0)], [r for r in soak(720, 21) if seconds(r.arrived) < 400]))
    assert lacked(feeder) == (Reason.STRIP_MISSING,)
    assert lacked(feeder.feed([strip(450)])) == (Reason.STRIP_MISSING,)  # taken too late for this soak
    assert feeder.engine.picture().basins[0].solution.lacking == ()
    assert lacked(feeder.feed([strip(50, arrived=451)])) == ()
    running = feeder.engine.picture().basins[0].soak
    assert running is not None
    assert running.strip_entered == instant(451)
    assert lacked(Feeder().feed([r for r in soak(720, 21) if seconds(r.arrived) < 400])) == ()


def lacked(feeder: Feeder) -> tuple[Reason, ...]:
    running = feeder.engine.picture().basins[0].soak
    assert running is not None
    return running.lacking


def test_a_label_without_reuse_days_is_refused_where_a_record_is_kept() -> None:
    assert book_of(with_label(department()))
    assert book_of(with_label(recorded(), reuse_days=0))
    with pytest.raises(RuleError, match="'x' gives no reuse_days"):
        book_of(with_label(recorded()))


# ---- laws ------------------------------------------------------------------------------------------------------------

SITE = recorded("quick")


@st.composite
def courses(draw: st.DrawFn) -> list[Input]:
    """An hour in which soaks of a minute, pours, strips and the like come in their order, some entries late."""
    readings = [r for n in range(draw(st.integers(1, 3))) for r in soak(70, 21, start=200 + 600 * n)]
    at = st.integers(0, 360).map(lambda n: n * 5.0)
    late = st.sampled_from([0.0, 0.0, 300.0])
    made: list[st.SearchStrategy[Input]] = [
        st.builds(lambda a, b, lot: pour(a, a + b, label="quick", lot=lot), at, late, st.sampled_from(["L1", "L2"])),
        st.builds(lambda a, b, r: strip(a, r, a + b), at, late, st.sampled_from(StripResult)),
        st.builds(lambda a, b: discard(a, a + b), at, late),
        st.builds(lambda a, b: top_up(a, a + b), at, late),
    ]
    entries = draw(st.lists(st.one_of(*made, made[1]), min_size=1, max_size=6))
    first: list[Input] = [pour(0, label="quick"), strip(draw(st.sampled_from([5.0, 100.0, 195.0])))]
    return merged(first, entries, readings)


def outcomes(items: Sequence[Input]) -> list[tuple[int, Outcome, tuple[Reason, ...]]]:
    """The verdict on every soak once all is known."""
    feeder = Feeder(SITE).feed(items).until(4000)
    return [(s.start, s.outcome, s.reasons) for s in feeder.engine.picture().basins[0].ended]


@given(items=courses(), cut=st.integers(0, 100))
def test_a_restart_at_any_point_changes_nothing(items: list[Input], cut: int) -> None:
    undisturbed = Feeder(SITE).feed(items).until(4000)
    place = cut * len(items) // 100
    restarted = Feeder(SITE).feed(items[:place]).restart().feed(items[place:]).restart().until(4000)
    assert restarted.lines == undisturbed.lines
    assert restarted.engine.snapshot() == undisturbed.engine.snapshot()


def arriving_later(entry: Command, delay: float) -> Command:
    return entry.model_copy(update={"arrived": instant(seconds(entry.arrived) + delay)})


@given(items=courses(), delay=st.integers(0, 1500))
def test_when_entries_arrive_changes_no_verdict_in_the_end(items: list[Input], delay: int) -> None:
    later = [i if isinstance(i, Reading) else arriving_later(i, delay) for i in items]
    assert outcomes(merged(later)) == outcomes(items)


@given(items=courses(), at=st.integers(0, 360))
def test_a_strip_that_failed_makes_no_outcome_of_the_engine_better(items: list[Input], at: int) -> None:
    before, after = outcomes(items), outcomes(merged(items, [strip(at * 5, FAIL)]))
    assert [start for start, _, _ in before] == [start for start, _, _ in after]
    for (_, was, _), (_, is_now, _) in zip(before, after, strict=True):
        assert is_now.is_met <= was.is_met


def test_these_courses_reach_the_outcomes_that_they_are_about() -> None:
    reached: set[Outcome] = set()

    @settings(max_examples=200, derandomize=True)
    @given(items=courses())
    def count(items: list[Input]) -> None:
        reached.update(outcome for _, outcome, _ in outcomes(items))

    count()
    assert reached >= {Outcome.EXPOSURE_MET, Outcome.STRIP_FAILED, Outcome.STRIP_MISSING, Outcome.SOLUTION_NOT_RECORDED}


def test_a_strip_that_failed_counts_for_what_is_in_the_basin_when_it_is_read() -> None:
    # Dipped just before the pour, as it was entered: a pour may be entered a little late.
    failed = strip(130, FAIL).model_copy(update={"dipped": instant(95)})
    feeder = Feeder(recorded()).feed([pour(100), failed])
    assert feeder.raised("strip-failed") == [130]
