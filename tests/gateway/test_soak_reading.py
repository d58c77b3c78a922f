"""One soak from the journal: every field that a record of a cycle has (ANSI/AAMI ST58 per-cycle list, secondary)."""

from pathlib import Path

import pytest

from gateway.logbook import Logbook
from gateway.soak_log import LoggedSoak, SoakStage
from rules.commands import StripRead
from rules.events import EntryStruck, SensorWasOff, StripTaken
from rules.exposure import Span
from rules.readings import SensorId, StripResult
from rules.verdict import Outcome, Reason
from tests.gateway.books import Book, merged, site_text
from tests.gateway.records import alter
from tests.rules.bath import FAR, TODAY, discard, pour, strike, strip, top_up
from tests.rules.feeder import TEMPERATURE, closed, in_order, instant, late, read, soak, warm, without

GOOD = [pour(0), strip(10, dipped=2)]
SOAK = soak(720, 21)
"""From 100 to 820 s at 21 Cel, the label asks for 720 s at 20 Cel (CDC/HICPAC 2008, Table 4)."""


def read_back(book: Book, name: str = "basin-1.1") -> LoggedSoak:
    found = book.closed().soak(name)
    assert found is not None
    return found


@pytest.fixture
def sound(tmp_path: Path) -> LoggedSoak:
    """A soak that met all that is asked of it."""
    return read_back(Book(tmp_path).feed(merged(GOOD, [top_up(50)], SOAK)).until(1000))


def test_it_tells_when_and_where_it_was(sound: LoggedSoak) -> None:
    assert (sound.start, sound.end) == (instant(100), instant(820))
    place = sound.place
    assert (place.basin, place.basin_name, place.station, place.station_name) == (
        "basin-1",
        "Basin 1",
        "room",
        "Room, left",
    )
    assert sound.stage is SoakStage.ENDED


def test_it_tells_what_was_in_the_basin_and_its_three_clocks(sound: LoggedSoak) -> None:
    solution = sound.solution
    assert solution is not None
    lot = solution.lot
    assert (lot.lot, lot.printed_expiry, lot.opened, lot.at, lot.who) == ("L1", FAR, TODAY, instant(0), "R. Tech")
    assert solution.chemistry == "ortho-phthalaldehyde 0.55 %"
    # Reuse life 14 d: CDC/HICPAC 2008, Table 4.
    assert solution.clocks.until == instant(14 * 86_400)
    assert [t.at for t in solution.topped_up] == [instant(50)]
    assert (solution.end, solution.soaks) == (None, ("basin-1.1",))


def test_it_tells_which_strip_counts(sound: LoggedSoak) -> None:
    assert sound.strip is not None
    said = sound.strip.strip
    assert (said.lot, said.expiry, said.result, said.who) == ("S1", FAR, StripResult.PASS, "R. Tech")
    assert (said.dipped, said.read) == (instant(2), instant(10))


def test_it_tells_time_and_temperature(sound: LoggedSoak) -> None:
    found = sound.exposure
    assert (found.lowest_celsius, found.highest_celsius) == (21, 21)
    assert found.credited == Span(instant(100), instant(820))
    assert (found.credited_seconds, found.needed_seconds, found.min_celsius, found.guard_celsius) == (720, 720, 20, 0)
    assert found.lid == (Span(instant(100), instant(820)),)
    assert found.gaps == ()
    # One sample each 10 s during the soak, and the one before and the one after it.
    assert [s.at for s in found.samples] == [instant(at) for at in range(90, 840, 10)]


def test_it_names_its_judge_and_the_input_that_it_was_judged_after(tmp_path: Path) -> None:
    book = Book(tmp_path).feed(merged(GOOD, SOAK)).until(1000)
    sha256 = book.law.sha256
    (judgement,) = read_back(book).judgements
    assert judgement.by.sha256 == sha256
    assert judgement.by.program
    # Pour, strip, link and all readings up to the lifting at 820 s.
    before = [item for item in SOAK if item.measured <= instant(820)]
    assert judgement.after_input == 1 + len(GOOD) + len(before)
    assert judgement.verdict is not None
    assert judgement.verdict.outcome is Outcome.EXPOSURE_MET


def test_it_says_plainly_what_was_not_measured(sound: LoggedSoak) -> None:
    assert [sentence.partition(" ")[0] for sentence in sound.unmeasured] == ["Cleaning", "Concentration", "Sterility"]


def test_a_gap_in_the_temperature_is_told_with_its_time(tmp_path: Path) -> None:
    heard, _ = without(SOAK, 300, 375)
    found = read_back(Book(tmp_path, site_text("Asia/Kolkata")).feed(merged(GOOD, heard)).until(1000))
    assert found.exposure.gaps == (Span(instant(290), instant(380)),)
    # 22:13:20 UTC and 290 s is 03:48:10 in India, which is at +05:30.
    assert "No temperature is known for 90 s from 03:48:10." in found.unmeasured
    assert found.verdict is not None
    assert Reason.NO_DATA in found.verdict.reasons


def test_two_temperatures_as_far_apart_as_is_allowed_leave_no_gap(tmp_path: Path) -> None:
    # 60 s between two of them still earn credit, more do not (threshold max_gap_seconds, ours).
    heard, _ = without(SOAK, 301, 359)
    found = read_back(Book(tmp_path).feed(merged(GOOD, heard)).until(1000))
    assert found.exposure.gaps == ()
    assert found.exposure.credited_seconds == 720


def test_what_a_thermometer_says_at_power_up_is_no_temperature(tmp_path: Path) -> None:
    # 85.0 Cel before the first conversion (data sheet of the 1-Wire class).
    said = merged(GOOD, SOAK, [read(TEMPERATURE, 85.0, 405)])
    found = read_back(Book(tmp_path).feed(said).until(1000))
    assert (found.exposure.lowest_celsius, found.exposure.highest_celsius) == (21, 21)
    assert instant(405) in [sample.at for sample in found.exposure.samples]


def test_a_soak_judged_after_another_site_file_took_over_names_that_one(tmp_path: Path) -> None:
    lifted = [item for item in SOAK if item.measured <= instant(820)]
    book = Book(tmp_path).feed(merged(GOOD, lifted))
    book.under(site_text().replace('name = "Here"', 'name = "Here, anew"'))
    anew = book.law.sha256
    # It is judged by a timer, before any input that came under the new one.
    (judgement,) = read_back(book.until(1000)).judgements
    assert judgement.by.sha256 == anew


def test_a_lid_lifted_in_between_shows(tmp_path: Path) -> None:
    lifted = in_order(warm(21, 80, 880), closed(100, 400), closed(420, 860))
    found = read_back(Book(tmp_path).feed(merged(GOOD, lifted)).until(1000))
    assert found.exposure.lid == (Span(instant(100), instant(400)), Span(instant(420), instant(860)))
    assert found.verdict is not None
    assert found.verdict.outcome is Outcome.INTERRUPTED


def test_all_that_fell_short_is_told(tmp_path: Path) -> None:
    found = read_back(Book(tmp_path).feed(merged([pour(0, printed_expiry=None)], soak(600, 19.5))).until(1000))
    assert found.verdict is not None
    assert found.verdict.reasons == (
        Reason.TOO_SHORT,
        Reason.TOO_COLD,
        Reason.SOLUTION_DATE_MISSING,
        Reason.STRIP_MISSING,
    )
    assert found.not_entered == (
        "printed expiry of the solution",
        "a strip before the soak",
        "which probe was in it",
    )


def test_a_soak_of_which_nothing_was_entered_says_so(tmp_path: Path) -> None:
    found = read_back(Book(tmp_path).feed(SOAK).until(1000))
    assert (found.solution, found.strip, found.probes) == (None, None, ())
    assert found.not_entered == ("the pour of the solution", "a strip before the soak", "which probe was in it")


def test_late_readings_leave_the_first_verdict_beside_the_amended_one(tmp_path: Path) -> None:
    heard, lost = without(SOAK, 300, 500)
    said = merged(GOOD, heard, late(lost, 1000))
    found = read_back(Book(tmp_path).feed(said).until(1100))
    told = [judgement.verdict.outcome for judgement in found.judgements if judgement.verdict]
    assert told == [Outcome.NOT_PROVEN, Outcome.EXPOSURE_MET]
    assert [judgement.at for judgement in found.judgements] == [instant(820.5), instant(1001)]
    assert found.verdict is not None
    assert found.verdict.outcome is Outcome.EXPOSURE_MET


@pytest.mark.parametrize(
    ("strips", "counts"),
    [
        ([strip(10, arrived=200), strip(20)], 20),  # in time, and newer
        ([strip(10), strip(20, arrived=200)], 10),  # nobody had to take a person's later word for it
        ([strip(10, arrived=200), strip(20, arrived=150)], 20),
        ([strip(10, arrived=150), strip(20, arrived=200)], 10),  # by it the soak was covered first
    ],
)
def test_strips_entered_only_after_it_began_are_listed_and_which_one_counts_is_told(
    tmp_path: Path, strips: list[StripRead], counts: float
) -> None:
    found = read_back(Book(tmp_path).feed(merged([pour(0)], SOAK, strips, [strip(1100)])).until(1300))
    assert found.strip is not None
    assert found.strip.strip.read == instant(counts)
    listed = [entry.measured for entry in found.entries if isinstance(entry.event, StripTaken)]
    late = {strip.measured for strip in strips if strip.arrived > instant(100)}
    assert set(listed) == {*late, instant(counts), instant(1100)} | ({instant(20)} if counts == 10 else set())
    assert (found.strip_entered_late is None) == (found.strip.strip.known <= found.start)


def test_a_strip_that_failed_later_and_its_strike_are_both_there(tmp_path: Path) -> None:
    wrong = strip(1100, StripResult.FAIL)
    said = merged(GOOD, SOAK, [wrong, strike(wrong, 1200, "read the wrong strip")])
    found = read_back(Book(tmp_path).feed(said).until(1300))
    (correction,) = found.corrections
    assert isinstance(correction.event, EntryStruck)
    assert correction.event.why == "read the wrong strip"
    struck = [entry for entry in found.entries if entry.struck]
    assert [entry.measured for entry in struck] == [instant(1100)]
    assert isinstance(struck[0].event, StripTaken)
    assert struck[0].struck is not None
    assert struck[0].struck.who == "S. Lead"
    assert found.verdict is not None
    assert found.verdict.solution is not None
    assert found.verdict.solution.doubted_by is None


def test_a_strip_that_failed_before_the_one_that_counts_and_its_strike_are_both_there(tmp_path: Path) -> None:
    wrong = strip(5, StripResult.FAIL)  # while it stood, no later strip could have made the solution good again
    found = read_back(Book(tmp_path).feed(merged(GOOD, SOAK, [wrong, strike(wrong, 1200, "wrong strip")])).until(1300))
    assert [correction.event.kind for correction in found.corrections] == ["entry struck"]
    assert [entry.measured for entry in found.entries if entry.struck] == [instant(5)]


def test_a_strip_that_failed_later_leaves_the_soak_in_doubt(tmp_path: Path) -> None:
    said = merged(GOOD, SOAK, [strip(1100, StripResult.FAIL), strip(1150)])
    found = read_back(Book(tmp_path).feed(said).until(1300))
    assert found.verdict is not None
    assert found.verdict.solution is not None
    assert found.verdict.solution.doubted_by == instant(1100)
    # The pour, the strip before and the first after; of the one after that the soak does not depend.
    assert [entry.measured for entry in found.entries] == [instant(0), instant(10), instant(1100)]


def test_a_thermometer_found_off_bears_on_what_it_judged(tmp_path: Path) -> None:
    book = Book(tmp_path).feed(merged(GOOD, SOAK)).until(1000)
    for sensor, since in (("basin-1/temperature", 500), ("basin-1/temperature", 900), ("basin-2/temperature", 0)):
        off = SensorWasOff(
            at=instant(1000), sensor=SensorId(sensor), since=instant(since), error_celsius=1.5, who="E. Eng", why="ice"
        )
        book.note(off)
    (correction,) = read_back(book).corrections
    assert isinstance(correction.event, SensorWasOff)
    assert correction.event.since == instant(500)
    assert correction.who == "E. Eng"


def test_a_soak_under_way_has_no_verdict_yet(tmp_path: Path) -> None:
    begun = [item for item in SOAK if item.measured <= instant(300)]
    found = read_back(Book(tmp_path).feed(merged(GOOD, begun)))
    assert (found.stage, found.end, found.verdict, found.judgements) == (SoakStage.RUNNING, None, None, ())
    assert found.exposure.lid == (Span(instant(100), instant(300)),)


def test_there_is_no_soak_of_another_name(tmp_path: Path) -> None:
    assert Book(tmp_path).feed(SOAK).until(1000).closed().soak("basin-1.2") is None


def test_the_basin_keeps_the_name_that_it_had_then(tmp_path: Path) -> None:
    book = Book(tmp_path).feed(merged(GOOD, SOAK)).until(1000)
    book.under(site_text().replace('name = "Basin 1"', 'name = "Basin, moved"'))
    assert read_back(book).place.basin_name == "Basin 1"


def test_where_the_rules_of_then_cannot_be_read_any_more_that_is_said(tmp_path: Path) -> None:
    book = Book(tmp_path).feed(merged(GOOD, SOAK)).until(1000)
    path = book.path
    book.closed()
    # As after an upgrade to a version that refuses what the site file then said.
    alter(path, "UPDATE epoch SET site = replace(site, 'recorded = true', 'recorded = 7')")
    found = Logbook(path).soak("basin-1.1")
    assert found is not None
    assert (found.place.basin_name, found.chemistry) == ("basin-1", "")
    assert found.verdict is not None
    assert found.verdict.outcome is Outcome.EXPOSURE_MET
    assert any(sentence.startswith("What was asked of the basin cannot be read") for sentence in found.unmeasured)


def test_a_solution_that_was_discarded_is_not_in_the_basin(tmp_path: Path) -> None:
    found = read_back(Book(tmp_path).feed(merged(GOOD, [discard(60)], SOAK)).until(1000))
    assert found.solution is None
    assert "the pour of the solution" in found.not_entered


def test_of_a_lid_closed_for_days_the_bounds_are_of_all_temperatures(tmp_path: Path) -> None:
    cold = instant(61_234)
    long = soak(70_000, lambda at: 20.5 if at == 61_240 else 22)
    found = read_back(Book(tmp_path).feed(merged(GOOD, long)).until(70_300))
    assert found.exposure.lowest_celsius == 20.5
    assert len(found.exposure.samples) <= 5_001
    assert found.exposure.gaps == ()
    assert found.end is not None
    assert found.start < cold < found.end
