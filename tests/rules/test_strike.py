"""An entry that was wrong is struck: it stays in the record, and what it bore on is judged without it."""

from datetime import date
from itertools import pairwise
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.commands import BasinEntry, Input
from rules.events import EntryStruck, SoakAmended
from rules.readings import Reading, StripResult
from rules.site import Site
from rules.verdict import Outcome, Reason, SolutionCheck, Verdict
from tests.rules.bath import discard, pour, strike, strip, top_up
from tests.rules.feeder import Feeder, closed, department, in_order, instant, soak, warm
from tests.rules.minutes import final

FAIL = StripResult.FAIL
RECORDED = department(solution={"recorded": True})
SOAK = soak(720, 21)
"""From 100 to 820 s."""


def soaked(*entries: BasinEntry, site: Site = RECORDED) -> Feeder:
    """A soak of the label's time and temperature, and what was entered before it."""
    return Feeder(site).feed([*entries, *SOAK]).until(1000)


def outcomes(feeder: Feeder) -> list[Outcome]:
    return [verdict.outcome for verdict in feeder.verdicts]


def checked(feeder: Feeder) -> SolutionCheck:
    check = feeder.verdicts[-1].solution
    assert check is not None
    return check


# ---- what was entered wrongly ----------------------------------------------------------------------------------------


def test_a_strip_entered_as_failed_by_mistake_is_struck_and_the_soak_is_met_after_all() -> None:
    feeder = soaked(pour(0), strip(10), strip(20, FAIL))
    assert {"strip-failed", "soak-not-met"} <= set(feeder.standing())
    feeder.feed([strike(strip(20, FAIL), 1100)]).until(1200)
    assert outcomes(feeder) == [Outcome.STRIP_FAILED, Outcome.EXPOSURE_MET]
    assert feeder.ended("strip-failed") == [1100]
    texts = [alert.text for alert in feeder.engine.picture().alerts]
    assert "Basin 1: soak does not count: strip failed (no longer so)" in texts


def test_a_strip_entered_as_passed_by_mistake_is_struck_and_the_probe_is_to_be_held() -> None:
    feeder = soaked(pour(0), strip(10))
    assert feeder.raised("soak-not-met") == []
    feeder.feed([strike(strip(10), 1100)]).until(1200)
    assert outcomes(feeder) == [Outcome.EXPOSURE_MET, Outcome.STRIP_MISSING]
    assert feeder.raised("soak-not-met") == [1101]


def test_a_pour_that_is_struck_leaves_no_solution_on_record() -> None:
    feeder = soaked(pour(0), strip(10)).feed([strike(pour(0), 1100)]).until(1200)
    assert feeder.verdicts[-1].reasons == (Reason.SOLUTION_NOT_RECORDED,)
    assert feeder.engine.picture().basins[0].solution.lot is None


def test_a_pour_that_is_struck_leaves_the_solution_before_it_in_the_basin() -> None:
    feeder = soaked(pour(0), pour(5, lot="L2"), strip(10)).feed([strike(pour(5, lot="L2"), 1100)]).until(1200)
    assert [verdict.solution and verdict.solution.lot for verdict in feeder.verdicts] == ["L2", "L1"]


def test_a_discard_that_is_struck_leaves_the_solution_in_the_basin() -> None:
    feeder = soaked(pour(0), strip(10), discard(20)).feed([strike(discard(20), 1100)]).until(1200)
    assert outcomes(feeder) == [Outcome.SOLUTION_NOT_RECORDED, Outcome.EXPOSURE_MET]


def test_a_topping_up_that_is_struck_is_not_shown_any_more_and_changes_no_verdict() -> None:
    feeder = soaked(pour(0), strip(10), top_up(20))
    assert feeder.engine.picture().basins[0].solution.topped_up == instant(20)
    feeder.feed([strike(top_up(20), 1100)]).until(1200)
    assert feeder.engine.picture().basins[0].solution.topped_up is None
    assert outcomes(feeder) == [Outcome.EXPOSURE_MET]


def test_a_pour_entered_with_the_wrong_label_is_struck_and_entered_again() -> None:
    # A label of its own makes it another solution, whatever the basin was for.
    wrong = pour(0, label="hydrogen-peroxide-2.0")
    feeder = soaked(wrong, strip(10)).feed([strike(wrong, 1100), pour(0, arrived=1100)]).until(1200)
    assert outcomes(feeder) == [Outcome.OTHER_SOLUTION, Outcome.EXPOSURE_MET]
    back = feeder.feed([strike(pour(0), 1300), pour(0, arrived=1310, label="hydrogen-peroxide-2.0")]).until(1400)
    assert back.verdicts[-1].reasons == (Reason.OTHER_SOLUTION,)


def test_a_pour_entered_with_the_wrong_lot_is_struck_and_entered_again() -> None:
    feeder = soaked(pour(0), strip(10)).feed([strike(pour(0), 1100), pour(0, arrived=1100, lot="L7")]).until(1200)
    assert (outcomes(feeder)[-1], checked(feeder).lot) == (Outcome.EXPOSURE_MET, "L7")


def test_a_soak_that_runs_is_told_at_once_what_it_lacks_without_the_entry() -> None:
    feeder = Feeder(RECORDED).feed([pour(0), strip(10), *SOAK[:50]])
    before = feeder.engine.picture().basins[0].soak
    after = feeder.feed([strike(strip(10), 600)]).engine.picture().basins[0].soak
    assert before is not None
    assert after is not None
    assert (before.lacking, after.lacking) == ((), (Reason.STRIP_MISSING,))


def test_a_soak_in_a_solution_of_another_label_says_so_from_its_start() -> None:
    feeder = Feeder(RECORDED).feed([pour(0, label="glutaraldehyde-3.0"), strip(10), *SOAK[:20]])
    shown = feeder.engine.picture().basins[0].soak
    assert shown is not None
    assert shown.lacking == (Reason.OTHER_SOLUTION,)
    assert soaked(pour(0, label="glutaraldehyde-3.0"), strip(10)).verdicts[-1].outcome is Outcome.OTHER_SOLUTION


# ---- what is told of it ----------------------------------------------------------------------------------------------


def test_a_strike_tells_who_and_why_before_all_that_follows_from_it() -> None:
    feeder = soaked(pour(0), strip(10))
    told = len(feeder.events)
    feeder.feed([strike(strip(10), 1100, why="read the wrong basin's strip")]).until(1200)
    struck, amended, *_ = feeder.events[told:]
    assert struck == EntryStruck(at=instant(1100), entry=strip(10), who="S. Lead", why="read the wrong basin's strip")
    assert isinstance(amended, SoakAmended)
    assert amended.before is Outcome.EXPOSURE_MET


def test_where_no_record_is_kept_a_strike_is_told_and_no_verdict_changes() -> None:
    feeder = soaked(pour(0), strip(10), site=department()).feed([strike(strip(10), 1100)]).until(1200)
    assert [type(event) for event in feeder.events if event.at >= instant(1100)] == [EntryStruck]


@pytest.mark.parametrize(
    "entry",
    [
        strip(11),
        strip(10, FAIL),
        strip(10, expiry=date(2029, 1, 1)),
        pour(0, lot="L2"),
        discard(10),
        top_up(10),
        pour(0).model_copy(update={"basin": "basin-9"}),
        pour(0).model_copy(update={"who": "Somebody else"}),
    ],
)
def test_a_strike_of_what_was_never_entered_does_nothing_and_says_nothing(entry: BasinEntry) -> None:
    feeder = soaked(pour(0), strip(10))
    before, said = feeder.until(1100).engine.snapshot(), len(feeder.events)
    feeder.feed([strike(entry, 1100)])
    assert (feeder.engine.snapshot(), len(feeder.events)) == (before, said)


def test_what_was_struck_already_cannot_be_struck_again() -> None:
    feeder = soaked(pour(0), strip(10)).feed([strike(strip(10), 1100), strike(strip(10), 1110)]).until(1200)
    assert [event.at for event in feeder.events if isinstance(event, EntryStruck)] == [instant(1100)]


def test_what_was_struck_and_is_entered_again_counts_again() -> None:
    feeder = soaked(pour(0), strip(10)).feed([strike(strip(10), 1100), strip(10, arrived=1100)]).until(1200)
    # Told once more, for it says now that the strip was entered after the soak had begun.
    assert outcomes(feeder) == [Outcome.EXPOSURE_MET, Outcome.EXPOSURE_MET]
    feeder.feed([strike(strip(10), 1300)]).until(1400)
    assert outcomes(feeder)[-1] is Outcome.STRIP_MISSING


def test_an_entry_that_came_twice_is_one_and_struck_by_either() -> None:
    feeder = soaked(pour(0), strip(10), strip(10, arrived=15)).feed([strike(strip(10, arrived=15), 1100)]).until(1200)
    assert outcomes(feeder)[-1] is Outcome.STRIP_MISSING


def test_an_entry_that_is_forgotten_cannot_be_struck() -> None:
    hours = 60 * 3600
    feeder = soaked(pour(0), strip(10)).feed([pour(hours / 3), *soak(720, 21, start=hours)]).until(hours + 2000)
    feeder.feed([strike(pour(0), hours + 3000), strike(strip(10), hours + 3000)]).until(hours + 3100)
    assert [event for event in feeder.events if isinstance(event, EntryStruck)] == []


def test_where_one_strip_that_failed_is_struck_another_one_of_long_ago_still_ends_the_solution() -> None:
    # Forty good ones since, and a soak of today.
    days = 3 * 86_400
    strips = [strip(10, FAIL), strip(20, FAIL), *(strip(100 + n) for n in range(40))]
    feeder = Feeder(RECORDED).feed([pour(0), *strips]).feed([strip(days - 50), *soak(720, 21, start=days)])
    feeder.until(days + 2000).feed([strike(strip(10, FAIL), days + 3000)]).until(days + 3100)
    assert feeder.verdicts[-1].outcome is Outcome.STRIP_FAILED
    assert "strip-failed" in feeder.standing()
    feeder.feed([strike(strip(20, FAIL), days + 4000)]).until(days + 4100)
    assert feeder.verdicts[-1].outcome is Outcome.EXPOSURE_MET


# ---- another site file -----------------------------------------------------------------------------------------------


def judged_before(*entries: BasinEntry) -> Feeder:
    """A soak that was judged by an earlier site file."""
    return soaked(*entries).restart(department("quick", solution={"recorded": True}))


def test_what_counted_as_met_by_an_earlier_site_file_is_not_proven_without_the_entry() -> None:
    feeder = judged_before(pour(0), strip(10)).feed([strike(strip(10), 1100)]).until(1200)
    assert outcomes(feeder) == [Outcome.EXPOSURE_MET, Outcome.NOT_PROVEN]
    assert feeder.raised("soak-not-met") == [1101]
    again = feeder.feed([strike(pour(0), 1300)]).until(1400)
    assert outcomes(again) == [Outcome.EXPOSURE_MET, Outcome.NOT_PROVEN]


@pytest.mark.parametrize("entry", [top_up(20), strip(900), discard(900)])
def test_what_bore_on_no_soak_of_an_earlier_site_file_is_struck_without_a_word_on_it(entry: BasinEntry) -> None:
    before = [pour(0), strip(10), *([entry] if isinstance(entry, type(top_up(0))) else [])]
    feeder = judged_before(*before).feed([entry.model_copy(update={"arrived": instant(1050)})])
    feeder.feed([strike(entry, 1100)]).until(1200)
    assert any(isinstance(event, EntryStruck) for event in feeder.events)
    assert outcomes(feeder) == [Outcome.EXPOSURE_MET]


def test_a_strip_tells_of_its_dip_also_where_it_is_struck() -> None:
    # Dipped before the soak, read after it: the soak's verdict rested on it.
    read_late = strip(900, dipped=90)
    feeder = Feeder(RECORDED).feed([pour(0), *SOAK, read_late]).until(1000)
    assert outcomes(feeder)[-1] is Outcome.EXPOSURE_MET
    feeder.restart(department("quick", solution={"recorded": True})).feed([strike(read_late, 1100)]).until(1200)
    assert outcomes(feeder)[-1] is Outcome.NOT_PROVEN


def test_a_soak_judged_with_the_record_of_solutions_is_not_proven_though_none_is_kept_any_more() -> None:
    feeder = soaked(pour(0), strip(10)).restart(department("quick")).feed([strike(strip(10), 1100)]).until(1200)
    assert outcomes(feeder) == [Outcome.EXPOSURE_MET, Outcome.NOT_PROVEN]


def test_a_soak_judged_without_the_record_of_solutions_stands_on_no_entry() -> None:
    feeder = soaked(pour(0), strip(10), site=department()).restart(department("quick", solution={"recorded": True}))
    feeder.feed([strike(strip(10), 1100)]).until(1200)
    assert outcomes(feeder) == [Outcome.MET]


def test_what_failed_by_an_earlier_site_file_stays_as_it_was_judged() -> None:
    feeder = judged_before(pour(0), strip(10, FAIL)).feed([strike(strip(10, FAIL), 1100)]).until(1200)
    assert outcomes(feeder) == [Outcome.STRIP_FAILED]


# ---- laws ------------------------------------------------------------------------------------------------------------

QUICK = department("quick", solution={"recorded": True})
TWO_SOAKS: list[Reading] = in_order(warm(21, 0, 300), [*closed(50, 115), *closed(150, 215)])
ENTRIES: list[BasinEntry] = [
    pour(0, label="quick"),
    pour(5, label="quick", lot="L2"),
    pour(6),
    pour(130, label="quick"),
    strip(10),
    strip(120),
    strip(140),
    strip(141, FAIL),
    strip(300, FAIL),
    strip(310),
    discard(4),
    discard(200),
    top_up(20),
]


class Deed(NamedTuple):
    """One of the entries is made or struck, so long after the deed before."""

    wait: float
    entry: BasinEntry
    made: bool


DEEDS = st.lists(st.builds(Deed, st.sampled_from([0, 0.5, 5]), st.sampled_from(ENTRIES), st.booleans()), max_size=14)


def done(deeds: list[Deed], start: float = 400) -> list[Input]:
    at, commands = start, list[Input]()
    for deed in deeds:
        at += deed.wait
        arrived = {"arrived": instant(at)}
        commands.append(deed.entry.model_copy(update=arrived) if deed.made else strike(deed.entry, at))
    return commands


def _whenever_entered(verdict: Verdict) -> Verdict:
    check = verdict.solution
    if check is not None:
        doubted_by = None if check.doubted_by is None else instant(0)
        check = check.model_copy(update={"check_entered": None, "doubted_by": doubted_by})
    return verdict.model_copy(update={"solution": check})


def ended(feeder: Feeder) -> tuple[object, ...]:
    """The verdicts, and what screens show of the solution."""
    shown = feeder.until(1000).engine.picture().basins[0]
    return (
        [_whenever_entered(verdict) for _, _, verdict in final(feeder)],
        shown.solution,
        set(feeder.holding()) & {"strip-failed"},
    )


@given(deeds=DEEDS, first=st.lists(st.sampled_from(ENTRIES), max_size=6, unique_by=id))
def test_what_was_struck_is_as_if_it_had_never_been_entered(deeds: list[Deed], first: list[BasinEntry]) -> None:
    entered = [*(Deed(0, entry, made=True) for entry in first), *deeds]
    left: dict[int, BasinEntry] = {}
    for deed in entered:
        if deed.made:
            left[id(deed.entry)] = deed.entry
        else:
            left.pop(id(deed.entry), None)
    struck = Feeder(QUICK).feed([*TWO_SOAKS, *done(entered)])
    never = Feeder(QUICK).feed([*TWO_SOAKS, *done([Deed(0, entry, made=True) for entry in left.values()])])
    assert ended(struck) == ended(never)


@given(deeds=DEEDS, data=st.data())
def test_restarts_between_strikes_change_nothing(deeds: list[Deed], data: st.DataObject) -> None:
    inputs = [*TWO_SOAKS, *done(deeds)]
    restarts = data.draw(st.sets(st.integers(len(TWO_SOAKS), len(inputs)), max_size=3))
    restarted = Feeder(QUICK)
    for number, item in enumerate(inputs):
        if number in restarts:
            restarted.restart()
        restarted.feed([item])
    assert restarted.until(1000).lines == Feeder(QUICK).feed(inputs).until(1000).lines


def test_strikes_change_verdicts_to_and_fro_in_these_histories() -> None:
    # Counted once, so that the laws above are known to be about something.
    changes: set[tuple[bool, bool]] = set()

    @settings(max_examples=300, derandomize=True)
    @given(deeds=DEEDS)
    def count(deeds: list[Deed]) -> None:
        met = [
            verdict.outcome.is_met for verdict in Feeder(QUICK).feed([*TWO_SOAKS, *done(deeds)]).until(1000).verdicts
        ]
        changes.update(pairwise(met))

    count()
    assert {(True, False), (False, True)} <= changes
