"""What the page of a basin's solution says."""

from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from dashboard.upkeep import ClockRow, UpkeepView, form_view, upkeep_view
from rules.picture import SolutionPicture
from rules.readings import SECOND, StripResult
from rules.solution import Clocks, StripPolicy
from rules.verdict import Outcome, Reason
from tests.dashboard.pictures import NOON, TERMS, basin, ended, later, soak, solution, weighed

LISBON = ZoneInfo("Europe/Lisbon")


def seen(shown: SolutionPicture) -> UpkeepView:
    return upkeep_view(basin(solution=shown), NOON, LISBON)


def test_it_tells_what_is_in_the_basin_and_which_clock_binds() -> None:
    view = seen(solution())
    assert view.contents == ("Lot L-204, poured 10:00 by Ana.",)
    # 14 d of reuse (facts.md, opa-0.55-manual) are over before the bottle, opened today and good for 30 d.
    assert view.clocks == (
        ClockRow("Printed expiry", "until 30 Dec 2026", ""),
        ClockRow("Opened bottle", "until 25 Dec", ""),
        ClockRow("In the basin since the pour", "until 9 Dec 10:00", "the first to end: good until then"),
    )


def test_a_clock_that_is_over_and_one_that_is_missing_say_so() -> None:
    over = replace(solution(Reason.SOLUTION_DATE_MISSING), clocks=Clocks(later(-60), None, later(900)))
    assert [(clock.until, clock.binds) for clock in seen(over).clocks] == [
        ("until 11:59", "over: do not use"),
        ("date missing", "so nothing is shown to be good"),
        ("until 12:15", ""),
    ]


def test_an_empty_basin_shows_no_clocks() -> None:
    empty = replace(solution(Reason.SOLUTION_NOT_RECORDED), lot=None, clocks=Clocks(None, None, None), strip=None)
    view = seen(empty)
    assert (view.contents, view.clocks) == (("Nothing is recorded to be in this basin.",), ())
    assert view.strip == "No strip of this solution is recorded."


def test_it_says_that_the_strip_of_a_soak_was_entered_after_it_had_begun() -> None:
    said = " The strip that counts for {} soak was entered at 11:59, after it had begun."
    runs = basin(soaking=replace(soak(300), strip_entered=later(-60)), solution=solution())
    assert upkeep_view(runs, NOON, LISBON).strip.endswith(said.format("this"))
    last = weighed(ended(Outcome.EXPOSURE_MET))
    assert last.solution is not None
    late = replace(last, solution=last.solution.model_copy(update={"check_entered": later(-60)}))
    assert upkeep_view(basin("Basin 1", None, late, solution=solution()), NOON, LISBON).strip.endswith(
        said.format("the last")
    )


@pytest.mark.parametrize(
    ("lacking", "said"),
    [
        ((), "The next soak needs no further strip."),
        ((Reason.STRIP_MISSING,), "A strip that passes is needed before the next soak (strip missing)."),
        ((Reason.STRIP_FAILED,), "No strip mends this: discard the solution and pour a fresh one."),
    ],
)
def test_it_says_which_strip_is_needed(lacking: tuple[Reason, ...], said: str) -> None:
    view = seen(solution(*lacking, result=StripResult.FAIL))
    assert (view.strip, view.next_strip) == ("Last strip: fail, read 11:00 by Ana.", said)


def test_a_top_up_is_said_to_extend_nothing() -> None:
    assert seen(replace(solution(), topped_up=later(-600))).contents[1] == "Topped up 11:50, which extends nothing."


@pytest.mark.parametrize(
    ("changes", "asks"),
    [
        ({}, "A strip that passes before each soak"),
        ({"policy": StripPolicy(10)}, "A strip that passes before every 10 soaks"),
        ({"policy": StripPolicy(daily=True)}, "A strip that passes on each day, before the soak"),
        ({"reuse_days": 0}, "For one soak only"),
        ({"bottle_days": 75}, "An opened bottle is good for 75 days"),
        ({"default_bottle_days": None}, "How long an opened bottle is good is to be entered with each pour"),
        ({"strip_after": 90 * SECOND}, "A strip is read 90 s after its dip"),
        (
            {"strip_after": 90 * SECOND, "strip_within": 120 * SECOND},
            "A strip is read 90 s after its dip and no later than 120 s",
        ),
    ],
)
def test_the_policy_in_force_is_told(changes: dict[str, Any], asks: str) -> None:
    view = seen(replace(solution(), terms=replace(TERMS, **changes)))
    assert asks in [row.asks for row in view.policy]


def test_the_forms_begin_with_the_bottles_of_the_newest_entries() -> None:
    form = form_view(basin(solution=solution()))
    assert (form.lot, form.strip_lot, form.strip_expiry, form.asks_dip) == ("L-204", "S-9", "2026-02-23", False)
