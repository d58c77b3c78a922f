"""What the wall says of a basin."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from dashboard.basins import BasinView, Past, Tone, basin_view, held_rows, summary
from dashboard.rest import Count
from rules.picture import BasinPicture, SoakPicture
from rules.verdict import Outcome
from tests.dashboard.pictures import basin, ended, later, soak

UTC = ZoneInfo("UTC")


def seen(shown: BasinPicture, *, hearing: bool = True, at: float = 0) -> BasinView:
    return basin_view(shown, hearing, later(at), UTC)


def words(view: BasinView) -> str:
    return " ".join(filter(None, [*view.say.leads[:1], *view.say.big, *view.say.rows]))


def test_a_soak_that_counts_shows_what_is_left_and_when_it_is_done() -> None:
    view = seen(basin(soaking=soak(done_in=431)))
    assert (view.countdown and view.countdown.text, words(view)) == ("07:11", "done about 12:07")


def test_the_glass_is_as_full_as_the_credit() -> None:
    assert seen(basin(soaking=soak(done_in=180))).glass.per_cent == 75
    assert seen(basin(soaking=soak(None, credited=180, never="cold"))).glass.per_cent == 25


def test_a_graduation_for_each_minute_of_the_label() -> None:
    assert len(seen(basin()).glass.ticks) == 12
    assert len(seen(basin(chemistry="glutaraldehyde 2.4 %")).glass.ticks) == 9


@pytest.mark.parametrize(
    ("shown", "tone", "said"),
    [
        (basin(soaking=soak(None, lid_open=True)), Tone.LIFTED, "Lid lifted too early close it, or it fails"),
        (basin(soaking=soak(None, never="cold")), Tone.NEVER, "Too cold: not counting time stands still"),
        (basin(soaking=soak(None, never="cooling")), Tone.NEVER, "Cooling: will fall short if it goes on so"),
        (basin(soaking=soak(None), celsius=19.9), Tone.COLD, "Too cold: not counting time stands still"),
        (basin(soaking=soak(None), celsius=None), Tone.UNKNOWN, "Temperature not known not counting"),
        (basin(soaking=soak(None), lid_closed=None), Tone.UNKNOWN, "Lid not known not counting"),
        (basin(soaking=soak(None)), Tone.UNKNOWN, "Not counting waits for readings"),
        (basin(soaking=soak(None, credited=720)), Tone.MET, "Time and temperature met still in the basin"),
        (basin("Basin 1", None, ended()), Tone.ENDED_MET, "last soak, 11:10: Time and temperature met"),
        (basin(lid_closed=False), Tone.IDLE, "Free lid open"),
        (basin(), Tone.IDLE, "No soak yet lid closed"),
        (basin(lid_closed=False, celsius=18.9), Tone.IDLE, "No soak yet lid open"),
        (basin(lid_closed=None), Tone.UNKNOWN, "Lid not known waits for a sensor"),
        (basin(celsius=None), Tone.UNKNOWN, "Temperature not known lid closed waits for a sensor"),
        (basin(celsius=None, lid_closed=None), Tone.UNKNOWN, "Lid and temp not known no sensor heard"),
    ],
)
def test_every_state_has_its_words(shown: BasinPicture, tone: Tone, said: str) -> None:
    view = seen(shown)
    assert (view.say.tone, words(view)) == (tone, said)


def test_a_verdict_that_fell_short_says_by_how_much() -> None:
    view = seen(basin("Basin 1", None, ended(Outcome.TOO_SHORT, credited=550)))
    assert words(view) == "last soak, 11:10: Too short do not use probe 09:10 of 12:00"


def test_an_amended_verdict_says_so() -> None:
    view = seen(basin("Basin 1", None, replace(ended(Outcome.TOO_COLD, credited=0), amended=True)))
    assert (view.say.leads[0], view.say.rows[-1]) == ("last soak, 11:10:", "amended later")


@pytest.mark.parametrize("shown", [basin("Basin 1", None, ended()), basin(soaking=soak(None, credited=720))])
def test_met_is_never_said_without_what_was_not_checked(shown: BasinPicture) -> None:
    view = seen(shown)
    assert view.note == "says nothing of solution, strip, cleaning"
    assert "disinfect" not in f"{words(view)} {view.note}".lower()


def test_the_temperature_is_compared_with_the_guard_included() -> None:
    # JCGM 106:2012, guarded acceptance: 20.4 - 0.5 is not at least 20 (the label of facts.md, opa-0.55-manual).
    assert [(v.warm, v.threshold, v.why) for v in (seen(basin(celsius=c)) for c in (20.4, 20.5))] == [
        ("no", "20.5", "label 20 °C, sensor 0.5"),
        ("yes", "20.5", "label 20 °C, sensor 0.5"),
    ]


def test_an_unknown_temperature_is_compared_with_nothing() -> None:
    view = seen(basin(celsius=None))
    assert (view.celsius, view.warm) == ("not known", "not-known")


def test_while_no_sensor_is_heard_nothing_of_the_present_is_claimed() -> None:
    view = seen(basin(soaking=soak(431)), hearing=False)
    assert (view.say.tone, view.say.rows, view.celsius, view.glass.lid) == (
        Tone.UNKNOWN, ("would end 12:07",), "not known", "not-known"
    )  # fmt: skip
    assert (view.countdown, view.glass.until_ms) == (None, 0)


def test_of_an_end_that_has_passed_unheard_it_is_said_that_it_was_to_come() -> None:
    assert seen(basin(soaking=soak(-60)), hearing=False).say.rows == ("was to end 11:59",)


@pytest.mark.parametrize(
    ("width", "said"),
    [
        (20, "last soak 11:10: time and temp. met"),
        (14.9, "last 11:10: time and temp. met"),
        (13.2, "last soak: time and temp. met"),
    ],
)
def test_a_verdict_under_a_soak_that_runs_is_told_as_that_of_the_last_one(width: float, said: str) -> None:
    last, before = seen(basin("Basin 1", soak(), ended(), ended(Outcome.TOO_SHORT))).earlier
    assert (last.words(width), before.words(width)) == (
        said,
        "soak before, 11:10: too short" if width > 13 else "before, 11:10: too short",
    )


def test_a_glass_is_drawn_of_a_soak_under_way_only() -> None:
    assert seen(basin(soaking=soak())).glass.measures
    assert not any(seen(shown).glass.measures for shown in (basin(), basin("Basin 1", None, ended())))


def test_the_passing_of_time_alone_makes_no_new_view() -> None:
    shown = basin(soaking=soak(431))
    assert seen(shown) == seen(shown, at=5)
    assert seen(shown) != seen(basin(soaking=soak(430)))


def test_earlier_verdicts_leave_out_the_one_in_large_type() -> None:
    past = (ended(Outcome.INTERRUPTED), ended())
    assert seen(basin("Basin 1", None, *past)).earlier == (Past("11:10", "time and temp. met", is_last=False),)
    assert len(seen(basin("Basin 1", soak(), *past)).earlier) == 2


def test_an_earlier_soak_that_was_all_it_had_to_be_is_said_to_count() -> None:
    shown = seen(basin("Basin 1", soak(), ended(Outcome.EXPOSURE_MET)))
    assert shown.earlier[0].words(99) == "last soak 11:10: soak complete"


def test_basins_without_a_cell_are_counted_most_urgent_first() -> None:
    shown = [basin(), basin(soaking=soak()), basin(soaking=soak(None, lid_open=True)), basin()]
    assert summary([seen(b) for b in shown]) == [
        Count(1, "lid lifted early"),
        Count(1, "counting (first done Basin 1 about 12:07)"),
        Count(2, "without a soak yet"),
    ]  # fmt: skip


def test_a_countdown_that_has_run_out_is_unconfirmed_until_a_reading_comes() -> None:
    view = seen(basin(soaking=soak(0, credited=718)))
    assert (view.say.tone, words(view), view.countdown) == (Tone.UNCONFIRMED, "Unconfirmed waits for a reading", None)
    assert (view.glass.per_cent, view.credit) == (99.7, "11:58 of 12:00 counted")


@pytest.mark.parametrize("outcome", [o for o in Outcome if not o.is_met])
@pytest.mark.parametrize(
    "soaking",
    [soak(), soak(None, lid_open=True), soak(None, never="cold"), soak(None)],
    ids=lambda s: str(s.never_because),
)
def test_a_soak_that_fell_short_is_held_against_its_basin_while_the_next_one_runs(
    outcome: Outcome, soaking: SoakPicture
) -> None:
    assert seen(basin("Basin 1", soaking, ended(outcome))).held == outcome.value


@pytest.mark.parametrize(
    "shown",
    [
        basin("Basin 1", soak(), ended(), ended(Outcome.TOO_SHORT)),
        basin("Basin 1", None, ended(), ended(Outcome.TOO_SHORT)),
        basin("Basin 1", soak(None, credited=720), ended(Outcome.TOO_SHORT)),
        basin("Basin 1", soak()),
    ],
)
def test_a_later_soak_of_the_basin_that_met_clears_it(shown: BasinPicture) -> None:
    assert seen(shown).held == ""


def test_a_met_soak_before_the_one_that_fell_short_clears_nothing() -> None:
    assert seen(basin("Basin 1", soak(), ended(Outcome.TOO_SHORT), ended())).held == "too short"


@pytest.mark.parametrize(
    ("width", "rows"),
    [
        (830, ("last soak interrupted: do not use probe",)),
        (430, ("last soak interrupted:", "do not use probe")),
        (370, ("last: interrupted:", "do not use probe")),
    ],
)
def test_what_is_held_is_said_in_whole_words_of_every_width(width: float, rows: tuple[str, ...]) -> None:
    held = seen(basin("Basin 1", None, ended(Outcome.INTERRUPTED), ended()))
    assert held_rows(replace(held, held="interrupted"), width) == rows
    soaks = seen(basin("Basin 1", soak(), ended(Outcome.INTERRUPTED)))
    assert held_rows(soaks, 430) == ("last soak interrupted:", "leave probe in")


def test_a_soak_that_fell_short_counts_among_those_without_a_cell() -> None:
    held = basin("Basin 1", soak(), ended(Outcome.TOO_SHORT))
    assert summary([seen(held), seen(basin(soaking=soak()))]) == [
        Count(1, "with a soak that fell short"), Count(1, "counting (first done Basin 1 about 12:07)")
    ]  # fmt: skip


def test_a_soak_that_ends_after_midnight_is_told_by_the_hour() -> None:
    assert seen(basin(soaking=soak(done_in=13 * 3600))).say.rows == ("done about 01:00",)


@pytest.mark.parametrize(
    ("shown", "rows"),
    [
        (basin("Basin 1", None, ended()), ("was met 11:10",)),
        (basin("Basin 1", None, ended(Outcome.EXPOSURE_MET)), ("was done 11:10",)),
        (basin(soaking=soak(None, credited=720)), ("was: label met",)),
        (basin(soaking=soak(None, never="cold")), ("was: too cold",)),
        (basin(soaking=soak(None, lid_open=True)), ("was: lid lifted",)),
    ],
)
def test_while_nothing_is_heard_no_result_looks_like_now(shown: BasinPicture, rows: tuple[str, ...]) -> None:
    say = seen(shown, hearing=False).say
    assert (say.tone, say.big, say.rows) == (Tone.UNKNOWN, ("Not", "confirmed"), rows)


def test_that_a_soak_fell_short_stays_said_whatever_is_heard() -> None:
    say = seen(basin("Basin 1", None, ended(Outcome.TOO_SHORT)), hearing=False).say
    assert (say.tone, say.rows[0]) == (Tone.FELL_SHORT, "do not use probe")
