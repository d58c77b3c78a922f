"""The logbook's lists: the newest first, page by page, let through by what is asked for."""

from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from gateway import part, soak_list
from gateway.days import of_days
from gateway.logbook import Logbook
from gateway.part import Part
from gateway.schema import JournalError
from gateway.soak_log import SoakFilter, SoakLine, SoakOrder, SoakStage
from gateway.solution_log import SolutionFilter
from rules.commands import Input
from rules.readings import StripResult
from rules.verdict import Outcome
from tests.gateway.books import TRACKED, Book, merged, site_text, worked
from tests.rules.bath import discard, pour, strike, strip
from tests.rules.feeder import CLOSED, LID, START, closed, in_order, instant, read, soak, warm
from tests.rules.followed import claim

HOUR = 3_600
DAY = 24 * HOUR


def soaks(*starts: float, length: float = 720) -> list[Input]:
    """A soak at each of these times, with a good strip before it."""
    return merged(*([strip(start - 20), *soak(length, 21, start=start)] for start in starts))


def written(folder: Path, *said: Sequence[Input], zone: str = "UTC", until: float = 100_000) -> Logbook:
    return Book(folder, site_text(zone)).feed(merged([pour(0)], *said)).until(until).closed()


def ids(page: Part[SoakLine, SoakOrder]) -> list[str]:
    return [line.id for line in page.lines]


# ---- soaks -----------------------------------------------------------------------------------------------------------


def test_the_newest_soak_comes_first_and_pages_follow_each_other_without_a_gap(tmp_path: Path) -> None:
    book = written(tmp_path, soaks(*range(100, 100 + 5 * HOUR, HOUR)))
    first = book.soaks(most=2)
    assert ids(first) == ["basin-1.5", "basin-1.4"]
    second = book.soaks(turn=first.next, most=2)
    assert ids(second) == ["basin-1.3", "basin-1.2"]
    third = book.soaks(turn=second.next, most=2)
    assert (ids(third), third.next) == (["basin-1.1"], None)


def test_a_line_tells_what_is_known_today_beside_the_first_verdict(tmp_path: Path) -> None:
    book = written(tmp_path, soaks(100), [strip(30, StripResult.FAIL, 2000)])
    (line,) = book.soaks().lines
    assert (line.outcome, line.first) == (Outcome.STRIP_FAILED, Outcome.EXPOSURE_MET)
    assert (line.lot, line.needed_seconds, line.credited_seconds) == ("L1", 720, 720)
    assert (line.start, line.end, line.place.basin_name) == (instant(100), instant(820), "Basin 1")


def test_a_line_names_who_poured_and_who_read_the_strip_and_is_found_by_them(tmp_path: Path) -> None:
    filled = pour(0).model_copy(update={"who": "P. Our"})
    read_by = strip(80, dipped=75).model_copy(update={"who": "S. Reader"})
    other = strip(900).model_copy(update={"who": "N. Ext"})
    book = Book(tmp_path, site_text()).feed(merged([filled, read_by, other], soak(720, 21, start=100))).until(2000)
    read_back = book.closed()
    (line,) = read_back.soaks().lines
    assert line.people == ("P. Our", "S. Reader")
    assert ids(read_back.soaks(SoakFilter(text="s. reader"))) == ["basin-1.1"]


def test_a_soak_that_was_enough_for_the_basin_and_not_for_a_probe_is_listed_so(tmp_path: Path) -> None:
    book = Book(tmp_path, site_text(more=TRACKED))
    said = merged([pour(-500), strip(80)], soak(800, 21, start=100), [claim(1000, "basin-1.1", since=400)])
    logbook = book.feed(said).until(2000).closed()
    (line,) = logbook.soaks().lines
    assert (line.outcome.is_met, [one.outcome for one in line.probes]) == (True, [Outcome.TOO_SHORT])
    assert not line.is_met
    for outcome, found in ((line.outcome, []), (Outcome.TOO_SHORT, ["basin-1.1"])):
        assert ids(logbook.soaks(SoakFilter(probe="curved-1", outcome=outcome))) == found
    assert ids(logbook.soaks(SoakFilter(outcome=line.outcome))) == ["basin-1.1"]


def test_pages_of_a_probe_go_on_where_its_part_in_a_soak_was_taken_back_meanwhile(tmp_path: Path) -> None:
    book = Book(tmp_path, site_text(more=TRACKED))
    rounds = [worked(n * 5000, soak_name=f"basin-1.{n + 1}") for n in range(3)]
    book.feed(merged([pour(-500)], *rounds)).until(14_000)
    logbook, which = Logbook(book.path), SoakFilter(probe="curved-1")
    first = logbook.soaks(which, most=2)
    book.feed([strike(claim(6000, "basin-1.2", since=5200), 14_100)])
    assert ids(first) == ["basin-1.3", "basin-1.2"]
    assert ids(logbook.soaks(which, turn=first.next, most=2)) == ["basin-1.1"]
    book.closed()


def test_a_withdrawn_soak_stays_in_the_list_as_withdrawn(tmp_path: Path) -> None:
    # A late word tells that the lid was closed again after 30 s: what was told as two soaks is one.
    told = in_order(warm(21, 80, 920), closed(100, 400), closed(480, 900))
    book = written(tmp_path, told, [read(LID, CLOSED, 430, 3000)])
    assert [(line.id, line.stage) for line in book.soaks().lines] == [
        ("basin-1.2", SoakStage.WITHDRAWN),
        ("basin-1.1", SoakStage.ENDED),
    ]
    assert ids(book.soaks(SoakFilter(outcome=Outcome.TOO_SHORT))) == []
    withdrawn = book.soak("basin-1.2")
    assert withdrawn is not None
    assert (withdrawn.verdict, [judgement.verdict is None for judgement in withdrawn.judgements]) == (
        None,
        [False, True],
    )


def test_a_day_is_a_day_of_the_sites_calendar(tmp_path: Path) -> None:
    # Second 0 is 22:13:20 UTC on 14 November 2023: 03:43:20 on the 15th in India, which is at +05:30.
    book = written(tmp_path, soaks(100, 20.5 * HOUR), zone="Asia/Kolkata")
    zone = ZoneInfo("Asia/Kolkata")
    assert ids(book.soaks(SoakFilter(during=of_days(date(2023, 11, 14), date(2023, 11, 14), zone)))) == []
    assert ids(book.soaks(SoakFilter(during=of_days(date(2023, 11, 15), date(2023, 11, 15), zone)))) == ["basin-1.1"]
    assert ids(book.soaks(SoakFilter(during=of_days(date(2023, 11, 16), date(2023, 11, 16), zone)))) == ["basin-1.2"]


def test_soaks_are_found_by_outcome_basin_and_words(tmp_path: Path) -> None:
    book = written(tmp_path, soaks(100), soaks(2 * HOUR, length=300))
    assert ids(book.soaks(SoakFilter(outcome=Outcome.TOO_SHORT))) == ["basin-1.2"]
    assert ids(book.soaks(SoakFilter(basin="basin-1"))) == ["basin-1.2", "basin-1.1"]
    assert ids(book.soaks(SoakFilter(basin="basin-2"))) == []
    assert ids(book.soaks(SoakFilter(text=" ROOM, left "))) == ["basin-1.2", "basin-1.1"]
    assert ids(book.soaks(SoakFilter(text="exposure MET"))) == ["basin-1.1"]
    assert ids(book.soaks(SoakFilter(text="nowhere"))) == []


def test_a_search_looks_at_so_many_soaks_and_says_how_far_back_it_looked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(soak_list, "LOOKED_AT", 4)
    monkeypatch.setattr(part, "CHUNK", 2)
    book = written(tmp_path, soaks(100, length=300), soaks(*range(2 * HOUR, 7 * HOUR, HOUR)))
    asked = SoakFilter(text="too short")
    page = book.soaks(asked)
    assert (page.lines, page.last and page.last.start) == ((), instant(3 * HOUR))
    rest = book.soaks(asked, page.next)
    assert (ids(rest), rest.next) == (["basin-1.1"], None)


def test_an_empty_journal_has_empty_lists(tmp_path: Path) -> None:
    book = Book(tmp_path).closed()
    assert book.soaks() == Part(())
    assert book.solutions().lines == ()
    assert book.probe("no-such-probe") is None


def test_without_a_journal_there_is_one_clear_sentence(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="There is no journal"):
        Logbook(tmp_path / "journal.db").soaks()


def test_no_reader_stays_so_that_the_write_ahead_log_can_shrink(tmp_path: Path) -> None:
    writing = Book(tmp_path).feed(merged([pour(0)], soaks(100))).until(1000)
    book = Logbook(writing.path)
    assert ids(book.soaks()) == ["basin-1.1"]
    assert book.soak("basin-1.1") is not None
    writing.journal.truncate_wal()
    # `PRAGMA wal_checkpoint(TRUNCATE)` leaves a log of no bytes where no reader is in the way (sqlite.org, pragma).
    assert writing.path.with_name("journal.db-wal").stat().st_size == 0
    writing.journal.close()


# ---- solutions -------------------------------------------------------------------------------------------------------


def test_a_solution_runs_from_its_pour_to_its_discard_with_strips_and_soaks(tmp_path: Path) -> None:
    emptied = [discard(2000), pour(3000, lot="L2"), strip(3010)]
    book = written(tmp_path, soaks(100), emptied, soaks(2 * HOUR))
    newest, oldest = book.solutions().lines
    assert (newest.lot.lot, newest.end, newest.soaks) == ("L2", None, ("basin-1.2",))
    assert (oldest.lot.lot, oldest.end, oldest.soaks) == ("L1", instant(2000), ("basin-1.1",))
    assert oldest.discarded is not None
    assert oldest.discarded.who == "R. Tech"
    assert [s.strip.at for s in oldest.strips] == [instant(80)]
    assert book.solution(oldest.number) == oldest


def test_a_basin_emptied_and_filled_at_one_instant_is_filled(tmp_path: Path) -> None:
    book = written(tmp_path, [strip(60), discard(50), pour(50, lot="L2")], soak(720, 21))
    found = book.soak("basin-1.1")
    assert found is not None
    assert found.solution is not None
    assert found.solution.lot.lot == "L2"


def test_the_first_entry_under_another_site_file_has_the_names_of_that_one(tmp_path: Path) -> None:
    writing = Book(tmp_path).feed([pour(0)])
    book = writing.under(site_text().replace('"Basin 1"', '"Basin, moved"')).feed([pour(500, lot="L2")]).closed()
    assert [s.place.basin_name for s in book.solutions().lines] == ["Basin, moved", "Basin 1"]


def test_another_pour_ends_a_solution_that_nobody_discarded(tmp_path: Path) -> None:
    _, oldest = written(tmp_path, [pour(500, lot="L2")]).solutions().lines
    assert (oldest.end, oldest.discarded) == (instant(500), None)


def test_a_struck_pour_is_shown_as_struck_and_ends_nothing(tmp_path: Path) -> None:
    wrong = pour(500, lot="L2")
    newest, oldest = (
        written(tmp_path, [wrong, strike(wrong, 600, "wrong basin")]).solutions(SolutionFilter("basin-1")).lines
    )
    assert newest.struck is not None
    assert (newest.struck.who, newest.struck.why) == ("S. Lead", "wrong basin")
    assert (oldest.end, oldest.struck) == (None, None)


def test_what_was_struck_can_be_entered_anew(tmp_path: Path) -> None:
    wrong = strip(50)
    anew = strip(50, arrived=700)
    (solution,) = written(tmp_path, [wrong, strike(wrong, 600), anew]).solutions().lines
    assert [s.struck is None for s in solution.strips] == [False, True]


def test_a_strip_belongs_to_the_solution_it_was_dipped_into(tmp_path: Path) -> None:
    said = [strip(1010, dipped=990), discard(1000), pour(1000, lot="L2")]
    newest, oldest = written(tmp_path, said).solutions().lines
    assert [s.strip.at for s in oldest.strips] == [instant(990)]
    assert newest.strips == ()


def test_solutions_are_listed_page_by_page(tmp_path: Path) -> None:
    book = written(tmp_path, [pour(at, lot=f"L{at}") for at in (100, 200)])
    first = book.solutions(most=2)
    assert [s.lot.lot for s in first.lines] == ["L200", "L100"]
    assert [s.lot.lot for s in book.solutions(turn=first.next).lines] == ["L1"]


# ---- a day -----------------------------------------------------------------------------------------------------------


def test_a_days_sheet_has_the_soaks_and_entries_of_that_day_in_order(tmp_path: Path) -> None:
    # Midnight UTC after second 0 is at 6400 s: of a day's 86400 s, 22 h 13 min 20 s = 80000 s have passed.
    book = written(tmp_path, soaks(100, 6380, 8000, 2 * DAY), [strip(7000)], until=3 * DAY)
    sheet = book.day("room", date(2023, 11, 15))
    assert sheet is not None
    assert (sheet.station_name, [line.start for line in sheet.soaks]) == ("Room, left", [instant(8000)])
    assert [entry.measured for entry in sheet.entries] == [instant(7000), instant(7980)]


def test_another_station_has_no_sheet(tmp_path: Path) -> None:
    assert written(tmp_path, soaks(100)).day("no-such-room", date(2023, 11, 15)) is None


def test_a_day_with_a_change_of_the_clock_is_an_hour_longer(tmp_path: Path) -> None:
    # On 29 October 2023 clocks in the European Union went from 3:00 back to 2:00 (directive 2000/84/EC: 01:00 UTC).
    midnight = int(datetime(2023, 10, 29, tzinfo=ZoneInfo("Europe/Lisbon")).timestamp()) - START
    shown = [strip(midnight + seconds, arrived=0) for seconds in (-1, 0, 25 * HOUR - 1, 25 * HOUR)]
    sheet = written(tmp_path, shown, zone="Europe/Lisbon").day("room", date(2023, 10, 29))
    assert sheet is not None
    assert [entry.measured for entry in sheet.entries] == [instant(midnight), instant(midnight + 25 * HOUR - 1)]
