"""CSV files of the record: they come back as they were written, and the head beside them fits the record."""

import csv
from hashlib import sha256
from pathlib import Path

import pytest

from gateway import export as exporting
from gateway.export import Exported, ExportError, What, export
from gateway.logbook import Logbook
from gateway.look_back import FailedStrip, UnsoundSoak
from gateway.look_back_reading import NothingFoundError
from gateway.record_check import NotedHead, check_record
from gateway.schema import DATABASE
from rules.readings import StripResult
from tests.gateway.books import TRACKED, Book, merged, site_text, worked
from tests.gateway.records import alter
from tests.gateway.told_alerts import told_alerts
from tests.rules.bath import pour, strike, strip
from tests.rules.feeder import soak
from tests.rules.followed import contact, hung


@pytest.fixture
def book(tmp_path: Path) -> Logbook:
    """One round of a probe, a soak of nobody's, a contact entered wrongly and struck, and a strip that failed."""
    wrong = contact(2000, exam="=WRONG()")
    said = merged(
        [pour(-500)],
        hung(-1000, -100),
        worked(0),
        [wrong, strike(wrong, 2100), strip(6000, StripResult.FAIL)],
        soak(300, 19.5, start=4000),
    )
    return Book(tmp_path, site_text("Asia/Kolkata", TRACKED)).feed(said).until(9000).closed()


def read_back(done: Exported) -> list[dict[str, str]]:
    with done.file.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file, strict=True))
    assert len(rows) == done.rows
    assert all(None not in row and None not in row.values() for row in rows)  # as many cells as names, everywhere
    return rows


def test_a_soaks_row_has_every_field_of_a_cycle(book: Logbook, tmp_path: Path) -> None:
    """The list of ANSI/AAMI ST58 (secondary), in its order; times in the zone of the site, at +05:30."""
    short, sound = read_back(export(book, What.SOAKS, tmp_path / "soaks.csv"))
    expected = {
        "probe": "curved-1",
        "serial": "SN-1001",
        "start": "2023-11-15T03:46:40+05:30",
        "exam": "A-17",
        "cleaned_by": "R. Tech",
        "claimed_by": "R. Tech",
        "chemistry": "ortho-phthalaldehyde 0.55 %",
        "lot": "L1",
        "printed_expiry": "2030-01-01",
        "opened": "2023-11-14",
        "poured": "2023-11-15T03:35:00+05:30",
        "good_until": "2023-11-29T03:35:00+05:30",
        "strip_lot": "S1",
        "strip_expiry": "2030-01-01",
        "strip_result": "pass",
        "strip_read_by": "R. Tech",
        "strip_entered_after_start": "no",
        "credited_s": "720",
        "needed_s": "720",
        "lowest_celsius": "21",
        "highest_celsius": "21",
        "no_damage_found": "yes",
        "basin_name": "Basin 1",
        "station": "Room, left",
        "cleaning_delay_s": "100",
        "verdict": "exposure met",
        "afterwards_place": "hook; cart-1",
    }
    assert {name: sound[name] for name in expected} == expected
    assert sound["not_measured"].startswith("Cleaning was not measured")
    assert sound["not_entered"] == "dip of the strip"
    assert (short["verdict"], short["probe"]) == ("too short", "")
    assert short["all_reasons"].startswith("too short; too cold")


def test_a_probes_rows_show_what_was_struck(book: Logbook, tmp_path: Path) -> None:
    rows = read_back(export(book, What.PROBES, tmp_path / "probes.csv"))
    touched = {
        row["words"].partition("exam ")[2]: row
        for row in rows
        if row["kind"] == "probe touched" and row["counts"] == "yes"
    }
    assert list(touched) == ["A-17 by R. Nurse"]
    struck = next(row for row in rows if row["struck_by"])
    assert (struck["counts"], struck["struck_by"], struck["struck_because"]) == ("no", "S. Lead", "wrong basin")


def test_a_solutions_row_has_its_clocks_and_strips(book: Logbook, tmp_path: Path) -> None:
    (row,) = read_back(export(book, What.SOLUTIONS, tmp_path / "solutions.csv"))
    assert (row["lot"], row["strips_passed"], row["strips_failed"], row["soaks"]) == (
        "L1",
        "1",
        "1",
        "basin-1.1; basin-1.2",
    )
    # Reuse life 14 d: CDC/HICPAC 2008, Table 4.
    assert row["reuse_until"] == "2023-11-29T03:35:00+05:30"


def test_an_alerts_row_says_who_was_told_when_by_what_and_what_came_of_it(tmp_path: Path) -> None:
    told = Logbook(told_alerts(tmp_path))
    second, first = read_back(export(told, What.ALERTS, tmp_path / "alerts.csv"))
    assert (first["alert"], first["rule"], first["subject"], first["subject_name"], first["priority"]) == (
        "alert-1",
        "soak-cold",
        "basin basin-1",
        "Basin 1",
        "high",
    )
    assert first["told"] == (
        "2023-11-14T22:13:30+00:00 pager-1 as tech by pager: delivered (880);"
        " 2023-11-14T22:13:40+00:00 nobody on duty as engineer"
    )
    assert second["told"] == "2023-11-14T22:14:20+00:00 pager-1 as tech by pager: not confirmed"
    assert (first["answered_by"], first["why"], first["by"], first["remark"]) == (
        "Ana",
        "settled",
        "Ana",
        "reprocessed anew",
    )
    assert (second["alert"], second["answered"], second["over"]) == ("alert-2", "", "")


def test_a_look_back_has_a_row_for_each_use(book: Logbook, tmp_path: Path) -> None:
    rows = read_back(export(book, What.LOOK_BACK, tmp_path / "l.csv", FailedStrip("basin-1")))
    assert {row["soak"] for row in rows} == {"basin-1.1", "basin-1.2"}
    nobody = next(row for row in rows if row["soak"] == "basin-1.2")
    assert (nobody["probe"], nobody["used"]) == ("", "")
    assert nobody["needs"].startswith("find out which probes were in it")


def test_the_head_beside_it_fits_the_record_and_shows_a_record_that_was_cut_off(book: Logbook, tmp_path: Path) -> None:
    done = export(book, What.SOAKS, tmp_path / "soaks.csv")
    noted = dict(line.split(" ", 1) for line in done.head_file.read_text(encoding="utf-8").splitlines()[::-1])
    assert noted["sha256"] == sha256(done.file.read_bytes()).hexdigest()
    assert noted["rows"] == "2"
    head = NotedHead.parse(done.head)
    path = tmp_path / DATABASE
    assert check_record(path, [head]).is_sound
    alter(path, "DELETE FROM event WHERE seq = (SELECT max(seq) FROM event)")
    assert f"The head {head} was noted of more rows than there are" in check_record(path, [head]).misfits[-1]


def test_a_file_that_is_there_is_not_overwritten(book: Logbook, tmp_path: Path) -> None:
    out = tmp_path / "soaks.csv"
    out.write_text("mine", encoding="utf-8")
    with pytest.raises(ExportError, match="is there already; name another file"):
        export(book, What.SOAKS, out)
    assert out.read_text(encoding="utf-8") == "mine"


def test_a_file_that_somebody_else_makes_at_that_moment_stays(
    book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out, head = tmp_path / "soaks.csv", tmp_path / "soaks.csv.head"
    noted = book.head

    def meanwhile() -> object:
        head.write_text("theirs", encoding="utf-8")
        return noted()

    monkeypatch.setattr(book, "head", meanwhile)
    with pytest.raises(FileExistsError):
        export(book, What.SOAKS, out)
    assert head.read_text(encoding="utf-8") == "theirs"
    assert not out.exists()


def test_what_fails_on_the_way_leaves_no_half_of_a_file(
    book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(NothingFoundError):
        export(book, What.LOOK_BACK, tmp_path / "l.csv", UnsoundSoak("no-such-soak"))

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(exporting, "program_version", refuse)
    with pytest.raises(OSError, match="No space left"):
        export(book, What.SOAKS, tmp_path / "soaks.csv")
    assert list(tmp_path.glob("*.csv*")) == []


def test_more_soaks_than_a_page_has_all_come_each_once(tmp_path: Path) -> None:
    said = merged([pour(-500)], *(soak(60, 21, every=30, start=at) for at in range(100, 100 + 110 * 300, 300)))
    book = Book(tmp_path).feed(said).until(60_000).closed()
    rows = read_back(export(book, What.SOAKS, tmp_path / "soaks.csv"))
    assert [row["soak"] for row in rows] == [f"basin-1.{n}" for n in range(110, 0, -1)]
