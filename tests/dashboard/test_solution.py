"""What the wall says of the solution in a basin."""

from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from dashboard.basins import BasinView, Tone, basin_view
from dashboard.measure import BOLD
from dashboard.quiet import quiet
from dashboard.shelf import least_px, shelf
from dashboard.solution import Standing, large
from dashboard.words import until
from rules.picture import BasinPicture, EndedSoak, SoakPicture
from rules.readings import SECOND, Micros
from rules.solution import Clocks
from rules.verdict import Outcome, Reason
from tests.dashboard.pictures import NOON, basin, ended, later, picture, soak, solution, weighed, well_sensors

LISBON = ZoneInfo("Europe/Lisbon")
NARROWEST_PX, KEY_PX = 370, 59.2
"""A cell of four in a row, and the letters of large words: dashboard/shelf.py, wall.css."""


def seen(shown: BasinPicture) -> BasinView:
    return basin_view(shown, True, NOON, LISBON)  # noqa: FBT003 - one fact


def holding(*lacking: Reason, **changes: object) -> BasinPicture:
    return replace(basin(solution=solution(*lacking)), **changes)


@pytest.mark.parametrize(
    ("lacking", "standing", "said"),
    [
        (
            (),
            Standing.GOOD,
            "solution good until 9 Dec 10:00",
        ),  # poured 14 d before, by the label of facts.md, opa-0.55-manual
        ((Reason.STRIP_MISSING,), Standing.DUE, "test strip due"),
        ((Reason.STRIP_INVALID,), Standing.DUE, "test strip due: strip invalid"),
        ((Reason.STRIP_FAILED,), Standing.BAD, "test strip failed: do not use"),
        ((Reason.SOLUTION_OUT_OF_DATE, Reason.STRIP_MISSING), Standing.BAD, "solution expired"),
        ((Reason.SOLUTION_DATE_MISSING,), Standing.BAD, "no solution date"),
        ((Reason.SOLUTION_NOT_RECORDED, Reason.STRIP_MISSING), Standing.BAD, "no solution noted"),
        ((Reason.OTHER_SOLUTION,), Standing.BAD, "other solution: do not use"),
    ],
)
def test_every_standing_has_its_words(lacking: tuple[Reason, ...], standing: Standing, said: str) -> None:
    view = seen(holding(*lacking)).solution
    assert (view.standing, view.rows(1000, 2)) == (standing, (said,))


def entered_at(soaked: EndedSoak, at: Micros) -> EndedSoak:
    assert soaked.solution is not None
    return replace(soaked, solution=soaked.solution.model_copy(update={"check_entered": at}))


def test_a_strip_that_was_entered_after_the_lid_closed_is_said_so_of_the_soak_that_runs_and_of_the_last() -> None:
    runs = holding(soak=replace(soak(300), strip_entered=later(-60)))
    assert seen(runs).solution.rows(1000, 2) == ("test strip entry late, after the lid closed",)
    assert seen(runs).solution.rows(NARROWEST_PX, 1) == ("test strip entry late",)
    over = entered_at(weighed(ended(Outcome.EXPOSURE_MET)), later(-3500))
    assert seen(holding(ended=(over,))).say.rows == ("test strip entry late",)
    lacks = replace(soak(300), strip_entered=later(-60), lacking=(Reason.SOLUTION_OUT_OF_DATE,))
    assert seen(holding(soak=lacks)).solution.words == "solution expired"


def test_without_a_record_nothing_is_said_of_the_solution() -> None:
    view = seen(basin()).solution
    assert (view.standing, view.rows(1000, 2)) == (Standing.NOT_RECORDED, ())


@pytest.mark.parametrize(
    ("width", "said"),
    [(560, "solution until 9 Dec 10:00"), (460, "solution until 9 Dec"), (NARROWEST_PX, "solution to 9 Dec")],
)
def test_how_long_a_solution_is_good_is_said_as_exactly_as_its_row_allows(width: float, said: str) -> None:
    assert seen(holding()).solution.rows(width, 2) == (said,)


def test_on_its_last_day_the_hour_is_told_in_every_row() -> None:
    today = replace(solution(), clocks=Clocks(later(86_400), later(86_400), later(9000)))
    assert seen(basin(solution=today)).solution.rows(NARROWEST_PX, 2) == ("solution until 14:30",)


def test_a_soak_under_way_is_told_what_it_lacks_though_the_next_would_lack_nothing() -> None:
    view = seen(holding(soak=replace(soak(), lacking=(Reason.STRIP_MISSING,)))).solution
    assert (view.standing, view.first) == (Standing.BAD, "no strip before it")
    neither = seen(holding(Reason.STRIP_MISSING, soak=replace(soak(), lacking=(Reason.STRIP_MISSING,)))).solution
    assert (neither.standing, neither.first) == (Standing.BAD, "enter test strip")


def test_a_strip_that_the_next_soak_needs_is_not_asked_of_the_one_under_way() -> None:
    assert seen(holding(Reason.STRIP_MISSING, soak=soak())).solution.standing is Standing.GOOD


def test_time_and_temperature_met_is_not_said_where_the_solution_falls_short() -> None:
    under_way = soak(None, credited=720)
    met = seen(holding(soak=under_way))
    assert (met.say.big, met.note) == (("Time and", "temperature met"), "says nothing of cleaning")
    lacking = seen(holding(soak=replace(under_way, lacking=(Reason.SOLUTION_OUT_OF_DATE,))))
    assert (lacking.say.tone, lacking.say.big) == (Tone.FELL_SHORT, ("Solution", "out of date"))
    assert lacking.say.rows == ("do not use probe", "time and temp. met")


@pytest.mark.parametrize(
    ("reason", "big"),
    [(Reason.STRIP_FAILED, ("Test strip", "failed")), (Reason.SOLUTION_OUT_OF_DATE, ("Solution", "out of date"))],
)
@pytest.mark.parametrize("under_way", [soak(credited=200), soak(None, credited=200, lid_open=True)])
def test_a_soak_that_fails_however_long_it_lasts_has_no_countdown(
    under_way: SoakPicture, reason: Reason, big: tuple[str, ...]
) -> None:
    view = seen(holding(reason, soak=replace(under_way, lacking=(reason,))))
    assert (view.say.tone, view.say.big, view.countdown) == (Tone.FELL_SHORT, big, None)
    assert (view.say.rows, view.credit) == (("will not count", "do not use probe"), "03:20 of 12:00 elapsed")
    (cell,) = shelf([view] * 8, least_px([view] * 8)).cells[:1]
    assert (cell.big, cell.rows[0]) == (big, "will not count")


def test_that_it_will_not_count_is_certain_though_nothing_is_heard() -> None:
    failed = replace(soak(), lacking=(Reason.STRIP_FAILED,))
    view = basin_view(holding(Reason.STRIP_FAILED, soak=failed), False, NOON, LISBON)  # noqa: FBT003 - one fact
    assert (view.say.big, view.say.rows[0]) == (("Test strip", "failed"), "will not count")


def test_do_not_use_comes_before_what_became_of_an_earlier_soak() -> None:
    bad = holding(Reason.STRIP_FAILED, soak=soak(None, never="cold"), ended=(ended(Outcome.TOO_SHORT),))
    views = [seen(bad)]
    least, roomy = shelf(views, least_px(views)).cells[0], shelf(views, 900).cells[0]
    assert (least.solution, least.held) == (("test strip failed: do not use",), ())
    assert (roomy.solution, roomy.held) == (
        ("test strip failed: do not use",),
        ("last soak too short: do not use probe",),
    )


def test_what_the_record_tells_is_not_said_to_be_unchecked() -> None:
    view = seen(holding(ended=(weighed(ended(Outcome.EXPOSURE_MET)),)))
    assert (view.say.big, view.note) == (("Soak", "complete"), "says nothing of cleaning")
    before = seen(holding(ended=(ended(),)))  # judged before the site kept a record
    assert before.note == "says nothing of solution, strip, cleaning"


def test_a_strip_that_failed_later_leaves_the_soak_in_doubt() -> None:
    doubted = weighed(ended(Outcome.EXPOSURE_MET), doubted=True)
    view = seen(holding(Reason.STRIP_FAILED, ended=(doubted,)))
    assert (view.say.tone, view.say.big, view.say.rows[:2]) == (
        Tone.FELL_SHORT, ("Soak", "in doubt"), ("do not use probe", "strip failed later")
    )  # fmt: skip
    assert seen(holding(Reason.STRIP_FAILED, soak=soak(), ended=(doubted,))).held == "in doubt"


@pytest.mark.parametrize("outcome", [o for o in Outcome if not o.is_met])
def test_every_outcome_fits_the_narrowest_cell(outcome: Outcome) -> None:
    assert max(BOLD.ems(words) for words in large(outcome)) * KEY_PX <= NARROWEST_PX


@pytest.mark.parametrize("count", range(1, 9))
def test_a_solution_not_to_be_used_has_a_place_in_the_least_cell(count: int) -> None:
    views = [seen(holding(Reason.STRIP_FAILED, soak=soak()))] * count
    assert all("strip failed" in cell.solution[0] for cell in shelf(views, least_px(views)).cells)


def test_it_is_not_calm_where_a_solution_must_not_be_used() -> None:
    def said(*lacking: Reason) -> str:
        held = holding(*lacking)
        return quiet(picture(held, sensors=well_sensors()), [seen(held)], [], troubled=False).first

    assert said() == said(Reason.STRIP_MISSING) == "Nothing to do now"
    assert said(Reason.SOLUTION_NOT_RECORDED) == "Do not soak in Basin 1: no solution noted"


@pytest.mark.parametrize(
    ("end", "said"),
    [
        (datetime(2025, 11, 25, 18, 30, tzinfo=UTC), "18:30"),
        (datetime(2025, 11, 26, 0, 0, tzinfo=UTC), "midnight"),
        (datetime(2025, 12, 10, 0, 0, tzinfo=UTC), "9 Dec"),
        (datetime(2025, 12, 9, 14, 3, tzinfo=UTC), "9 Dec 14:03"),
        (datetime(2026, 3, 1, 0, 0, tzinfo=UTC), "28 Feb 2026"),
    ],
)
def test_an_end_to_come_is_told_by_its_last_moment(end: datetime, said: str) -> None:
    # Lisbon is at UTC in winter (IANA).
    assert until(Micros(round(end.timestamp()) * SECOND), NOON, LISBON) == said
