"""The logbook's pages over a real journal: what they show, what leads where, and what they refuse."""

import csv
import json
import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from urllib.parse import urljoin

import pypdfium2 as pdfium
import pytest
from httpx import Client

from dashboard import logbook_csv
from dashboard.premises import Named, Premises
from tests.dashboard.conftest import LISBON
from tests.dashboard.logbooks import HOSTILE, TRACKED, desk_hub, plain, table, words, written
from tests.dashboard.serving import serve
from tests.dashboard.visitors import people, signed_in
from tests.gateway.books import Book, merged, site_text
from tests.rules.bath import pour, strip
from tests.rules.feeder import soak
from tests.rules.followed import claim

PREMISES = Premises(sinks=(Named("room", "Room, left"),))
NOT_A_PROOF = "An aid, not a medical device and not proof of disinfection"

# Second 0 of the record is 2023-11-14 22:13:20 UTC (`date -u -d @1700000000`, coreutils); Lisbon is on UTC then.
SOUND, SHORT = "/logbook/soak/basin-1.1", "/logbook/soak/basin-1.2"
PAGES = [
    "/logbook",
    "/logbook/soaks",
    SOUND,
    "/logbook/probes",
    "/logbook/probe/curved-1",
    "/logbook/solutions",
    "/logbook/day/room/2023-11-14",
]


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(tmp_path_factory.mktemp("book"))


@pytest.fixture(scope="module")
def book(journal: Path) -> Iterator[Client]:
    with (
        serve(desk_hub(), LISBON, premises=PREMISES, journal=journal) as served,
        signed_in(served.url) as client,
    ):
        yield client


# ---- every page ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", PAGES)
def test_each_page_says_that_it_is_no_proof_and_shows_the_head_of_the_record(book: Client, path: str) -> None:
    said = words(book, path)
    assert NOT_A_PROOF in said
    assert "Head of the record at 14 Nov 2023 23:20:00: 4711:0001-0203-0405-0607" in said


def test_whatever_a_page_leads_to_is_there(book: Client) -> None:
    seen, waiting = set[str](), ["/logbook"]
    while waiting:
        path = waiting.pop()
        answer = book.get(path, follow_redirects=True)
        assert answer.status_code == 200, path
        seen.add(path)
        if answer.headers["content-type"].startswith("text/html"):
            found = re.findall(r'(?:href|src|srcset)="([^"#]+)', answer.text)
            leads = {urljoin(path, unescape(link)) for link in found}
            # Of the same list in another order one is followed, for each leads to all the others.
            orders = {link for link in leads if "sort=" in link and "sort=-verdict" not in link}
            if path.startswith("/logbook/happened"):  # from each hour one goes on to the hours beside it, for ever
                leads = {link for link in leads if not link.startswith("/logbook/happened")}
            waiting += [
                link for link in leads - orders if link.startswith(("/logbook", "/static")) and link not in seen
            ]
    assert {*PAGES[:-1], f"{SOUND}/trace.svg", f"{SOUND}/record.pdf", SHORT, "/logbook/soaks.csv"} <= seen


def test_the_live_page_and_the_basins_lead_to_the_logbook(book: Client) -> None:
    for path in ("/live", "/basins"):
        assert 'href="/logbook"' in book.get(path).text


@pytest.mark.parametrize(
    ("path", "status", "said"),
    [
        ("/logbook/soak/basin-9.1", 404, "The record knows no soak of that number"),
        ("/logbook/soak/basin-9.1/trace.svg", 404, "The record knows no soak of that number"),
        ("/logbook/soak/basin-9.1/record.pdf", 404, "The record knows no soak of that number"),
        ("/logbook/probe/none", 404, "Neither the site file nor the record knows a probe of that name"),
        ("/logbook/probe/none/time-line.csv", 404, "Neither the site file nor the record knows a probe of that name"),
        ("/logbook/day/none/2023-11-14", 404, "This site has no such station"),
        ("/logbook/day/room/14.11.2023", 422, "A day is written as 2026-11-25, from the year 2000 to 2199."),
        ("/logbook/day/room/0001-01-01", 422, "A day is written as 2026-11-25, from the year 2000 to 2199."),
        ("/logbook/day/room/9999-12-31", 422, "A day is written as 2026-11-25, from the year 2000 to 2199."),
        ("/logbook/look-back?what=strip&basin=basin-1&at=9999-12-31", 422, "expected a time from 1971 to 2199."),
        ("/logbook/soaks?from=yesterday", 422, "or as its day alone, 2026-11-25, from the year 2000 to 2199."),
        ("/logbook/soaks?verdict=good", 422, "There is no such verdict; choose one from the list."),
        (f"/logbook/soaks?text={'x' * 121}", 422, "Search for at most 120 letters."),
        ("/logbook/soaks?before=-1", 422, "The address is wrong after 'before='; begin again at the first rows."),
        ("/logbook/soaks?after=99999", 404, "The list has no row of that number to go on from"),
        ("/logbook/soaks?verdit=too+short", 422, "This list cannot be asked for 'verdit'; it takes text, basin,"),
        ("/logbook/soaks?basin=basin-1&basin=basin-2", 422, "The address has 'basin' more than once; give it once."),
        ("/logbook/soaks?after=3&before=3", 422, "The address has both 'after' and 'before'; give one of them."),
        ("/logbook/soaks?sort=people", 422, "This list cannot be sorted so; it can by began, basin,"),
        ("/logbook/probes?page=7", 404, "This list has one page; there is no page 7."),
        ("/logbook/probes?after=7", 422, "This list cannot be asked for 'after'"),
        ("/logbook/day?day=2023-11-14", 422, "Choose a station."),
    ],
)
def test_what_is_not_there_or_not_understood_is_said_in_one_plain_sentence(
    book: Client, path: str, status: int, said: str
) -> None:
    answer = book.get(path)
    assert (answer.status_code, said in plain(answer.text), NOT_A_PROOF in answer.text) == (status, True, True)


@pytest.mark.parametrize("path", ["soaks", "soaks.csv", "alerts", "solutions", "probes", "rejected"])
@pytest.mark.parametrize("key", ["sort", "after", "before", "page", "from", "verdict", "priority", "x"])
def test_words_of_sql_in_an_address_are_refused_and_none_is_run(book: Client, path: str, key: str) -> None:
    for sql in ("1); DROP TABLE event; --", "' OR ''='", "(SELECT body FROM event)"):
        assert book.get(f"/logbook/{path}", params={key: sql}).status_code == 422
    for asked in ({"text": "' OR ''='"}, {"basin": "' OR ''='"}, {"probe": "x') OR (1=1"}):  # values, found nowhere
        found = book.get("/logbook/soaks", params=asked)
        assert (found.status_code, "No soak fits:" in found.text) == (200, True)
    assert book.get("/logbook/soaks").text.count('href="/logbook/soak/') == 2


def test_a_journal_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    with serve(desk_hub(), LISBON, journal=tmp_path / "journal.db") as served, signed_in(served.url) as client:
        answer = client.get("/logbook/soaks")
    assert (answer.status_code, "There is no journal" in answer.text) == (503, True)


def test_hostile_texts_are_shown_as_texts(tmp_path: Path) -> None:
    path = written(tmp_path, lot=HOSTILE, exam=HOSTILE)
    with serve(desk_hub(), LISBON, premises=PREMISES, journal=path) as served, signed_in(served.url) as client:
        for page in (*PAGES[1:], f"/logbook/soaks?text={HOSTILE}", f"/logbook/soak/{HOSTILE}"):
            assert "<img src=x" not in client.get(page).text
        for page in ("/logbook/soaks", SOUND, "/logbook/solutions"):
            assert HOSTILE in words(client, page)
        text = pdfium.PdfDocument(client.get(f"{SOUND}/record.pdf").content)[1].get_textpage().get_text_bounded()
        assert HOSTILE in " ".join(text.split())


# ---- soaks -----------------------------------------------------------------------------------------------------------


def test_a_soak_that_was_enough_for_the_basin_and_not_for_its_probe_has_no_tick(tmp_path: Path) -> None:
    before = merged([pour(-500), strip(80)], soak(800, 21, start=100), [claim(1000, "basin-1.1", since=400)])
    book = Book(tmp_path, site_text("Europe/Lisbon", TRACKED)).feed(before).until(2000)
    book.closed()
    with serve(desk_hub(), LISBON, journal=book.path) as served, signed_in(served.url) as client:
        html = client.get("/logbook/soaks").text
        assert "exposure met, not for each probe" in plain(html)
        assert '<a href="/logbook/probe/curved-1">Curved 1: too short</a>' in html
        (row,) = re.findall(r"<tr>.*?logbook/soak/.*?</tr>", html, re.DOTALL)
        assert ("#mark-met" in row, "#mark-short" in row) == (False, True)
        assert "1 soak ended, 0 met and 1 fell short" in plain(client.get("/logbook/day/room/2023-11-14").text)


def test_a_soak_whose_strip_was_entered_after_it_began_says_so_in_list_record_and_file(tmp_path: Path) -> None:
    before = merged([pour(-500), strip(80, arrived=160)], soak(800, 21, start=100))
    book = Book(tmp_path, site_text("Europe/Lisbon", TRACKED)).feed(before).until(2000)
    book.closed()
    with serve(desk_hub(), LISBON, journal=book.path) as served, signed_in(served.url) as client:
        assert "exposure met strip entered late" in plain(client.get("/logbook/soaks").text)
        # Second 0 is 22:13:20; the lid closed at 22:15:00.
        assert "Strip entered late: at 14 Nov 2023 22:16:00, after this soak had begun." in plain(
            client.get(SOUND).text
        )
        (row,) = csv.DictReader(client.get("/logbook/soaks.csv").text.splitlines())
        assert (row["strip_entered"], row["strip_entered_after_start"]) == ("2023-11-14T22:16:00+00:00", "yes")


def test_the_list_tells_of_each_soak_the_newest_first(book: Client) -> None:
    html = book.get("/logbook/soaks").text
    assert re.findall(r'href="(/logbook/soak/[^"]+)"', html) == [SHORT, SOUND]
    said = plain(html)
    assert "14 Nov 2023 22:15:00 Basin 1 Room, left exposure met 12:00 of 12:00" in said
    assert "Curved 1 EX-2291 lot L1" in said
    assert "14 Nov 2023 22:46:40 Basin 1 Room, left too short 05:00 of 12:00 at 20 °C not known not entered" in said
    assert "2 soaks. Sorted by began, newest first. Times are those of Europe/Lisbon." in said


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("text=ex-2291", [SOUND]),
        ("text=SN-1001", [SOUND]),
        ("text=nobody", []),
        ("verdict=too+short", [SHORT]),
        ("sort=began", [SOUND, SHORT]),
        ("sort=counted", [SHORT, SOUND]),
        ("sort=-verdict", [SHORT, SOUND]),
        ("sort=verdict&basin=basin-1", [SOUND, SHORT]),
        ("verdict=exposure+met&text=&basin=&probe=&from=&to=", [SOUND]),
        ("probe=curved-1", [SOUND]),
        ("basin=basin-2", []),
        ("from=2023-11-14&to=2023-11-14", [SHORT, SOUND]),
        ("from=2023-11-15", []),
    ],
)
def test_soaks_are_found_by_what_is_asked(book: Client, asked: str, found: list[str]) -> None:
    html = book.get(f"/logbook/soaks?{asked}").text
    assert re.findall(r'href="(/logbook/soak/[^"]+)"', html) == found
    assert ("No soak fits:" in plain(html)) is (not found)
    assert [f"/logbook/soak/{row['soak']}" for row in table(book, f"/logbook/soaks.csv?{asked}")] == found


def test_the_filter_stays_as_it_was_chosen(book: Client) -> None:
    html = book.get("/logbook/soaks?verdict=too+short&text=room&from=2023-11-14&sort=counted").text
    assert '<option value="too short" selected>too short</option>' in html
    assert 'value="room"' in html
    assert 'value="2023-11-14"' in html
    assert '<option value="counted" selected>counted, least first</option>' in html
    assert 'href="/logbook/soaks.csv?text=room&amp;verdict=too+short&amp;from=2023-11-14&amp;sort=counted"' in html


def test_pages_lead_further_back_until_all_is_seen_and_the_file_has_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    starts = range(100, 100 + 51 * 900, 900)
    said = merged([pour(0)], *([strip(at - 20), *soak(720, 21, start=at)] for at in starts))
    written_book = Book(tmp_path, site_text("Europe/Lisbon", TRACKED)).feed(said).until(60_000)
    written_book.closed()
    with serve(desk_hub(), LISBON, journal=written_book.path) as served, signed_in(served.url) as client:
        first = client.get("/logbook/soaks").text
        (older,) = re.findall(r'href="([^"]+)" rel="next"', first)
        second = client.get(unescape(older)).text
        ids = [re.findall(r'href="/logbook/soak/basin-1\.(\d+)"', html) for html in (first, second)]
        assert [int(number) for page in ids for number in page] == list(range(51, 0, -1))
        assert len(ids[0]) == 50
        assert 'rel="next"' not in second
        assert 'href="/logbook/soaks">First rows' in second
        (newer,) = re.findall(r'href="([^"]+)" rel="prev"', second)
        assert client.get(unescape(newer)).text.count("/logbook/soak/") == first.count("/logbook/soak/")
        whole = table(client, "/logbook/soaks.csv")
        assert len(whole) == 51
        monkeypatch.setattr(logbook_csv, "MOST_PARTS", 1)
        *begun, last = table(client, "/logbook/soaks.csv")
        (said, *others) = last.values()
        assert set(others) == {""}
        (after,) = re.findall(r"^Not all: the list goes on\. For the rest put (after=\d+) into the address of", said)
        assert begun + table(client, f"/logbook/soaks.csv?{after}") == whole


def test_a_file_has_the_same_figures_for_programs(book: Client) -> None:
    short, sound = table(book, "/logbook/soaks.csv")
    assert (sound["start"], sound["end"]) == ("2023-11-14T22:15:00+00:00", "2023-11-14T22:27:00+00:00")
    assert (sound["credited_s"], sound["needed_s"], sound["least_celsius"]) == ("720", "720", "20")
    assert (sound["probe"], sound["serial"]) == ("curved-1", "SN-1001")
    assert (short["verdict"], short["probe"], short["lot"]) == ("too short", "", "L1")
    # RFC 4180, 2: lines end with CRLF.
    assert book.get("/logbook/soaks.csv").text.count("\r\n") == 3


# ---- one soak --------------------------------------------------------------------------------------------------------


def test_a_soak_is_told_whole(book: Client) -> None:
    said = words(book, SOUND)
    assert "Exposure met Of time and temperature as measured" in said
    assert "Serial number SN-1001" in said
    assert "mucosa, cover not entered, owes high-level disinfection; marked by R. Nurse" in said
    assert "rinsed 3 times, by R. Tech" in said
    assert "claimed by R. Tech, technician" in said
    assert "What was not measured" in said
    assert re.search(r"struck 14 Nov 2023 23:03:20 by [^:]+: ", said)


def test_a_soak_that_fell_short_says_why_and_of_whom_nobody_knows(book: Client) -> None:
    said = words(book, SHORT)
    assert "Too short: the lid was closed for less than the label's time." in said
    assert "Nobody told which probe was in this soak, and no tag did." in said


def test_the_drawing_is_an_image_of_our_own_in_two_sizes(book: Client) -> None:
    html = book.get(SOUND).text
    for link in re.findall(r'src(?:set)?="([^"]+trace\.svg[^"]*)"', html):
        answer = book.get(link)
        assert (answer.status_code, answer.headers["content-type"]) == (200, "image/svg+xml")
        assert "counted: 22:15:00 to 22:27:00" in answer.text
    wide, narrow = (book.get(f"{SOUND}/trace.svg{end}").text for end in ("", "?phone=yes"))
    assert wide != narrow


def test_the_print_is_the_record_of_that_soak(book: Client) -> None:
    answer = book.get(f"{SOUND}/record.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.headers["content-disposition"] == "inline; filename*=UTF-8''soak%20basin-1.1.pdf"
    text = pdfium.PdfDocument(answer.content)[0].get_textpage().get_text_bounded()
    assert "Soak in Basin 1, 14 Nov 2023 22:15:00" in " ".join(text.split())


# ---- probes, solutions, days -----------------------------------------------------------------------------------------


def test_probes_are_listed_with_how_they_stood_last(book: Client) -> None:
    said = words(book, "/logbook/probes")
    assert "Curved 1 SN-1001 Cart 1 ready for use" in said
    assert "Internal 1 not entered Cart 1" in said
    rows = table(book, "/logbook/probes.csv")
    assert [(row["probe"], row["in_site_file"]) for row in rows] == [("curved-1", "yes"), ("internal-1", "yes")]


def test_a_probe_has_a_time_line_from_contact_to_disposition(book: Client) -> None:
    said = words(book, "/logbook/probe/curved-1")
    told = [
        "Touched mucosa, cover not entered: owes high-level disinfection; exam EX-2291",
        "Done: cover off, washed, dried",
        "Looked over: no damage found",
        "Soaked in Basin 1 until 14 Nov 2023 22:27:00: exposure met",
        "Done: rinsed 3 times",
    ]
    places = [said.index(words) for words in told]
    assert places == sorted(places, reverse=True)
    rows = table(book, "/logbook/probe/curved-1/time-line.csv")
    assert {row["kind"] for row in rows} >= {"probe touched", "probe stepped", "probe inspected", "probe soaked"}


def test_solutions_are_listed_with_their_strips_struck_ones_too(book: Client) -> None:
    said = words(book, "/logbook/solutions")
    assert "14 Nov 2023 22:13:20 by R. Tech" in said
    assert "lot L1" not in said
    assert "fail, strip failed, 14 Nov 2023 22:46:25 by R. Tech, struck by S. Lead: wrong basin" in said
    (row,) = table(book, "/logbook/solutions.csv")
    assert (row["lot"], row["poured"], row["opened_days"]) == ("L1", "2023-11-14T22:13:20+00:00", "365")
    assert (row["strips_passed"], row["strips_failed"], row["soaks"]) == ("2", "0", "basin-1.1; basin-1.2")


def test_a_day_has_a_sheet_that_is_found_by_station_and_day(book: Client) -> None:
    answer = book.get("/logbook/day?station=room&day=2023-11-14")
    assert (answer.status_code, answer.headers["location"]) == (303, "/logbook/day/room/2023-11-14")
    said = words(book, "/logbook/day/room/2023-11-14")
    assert "2 soaks ended, 1 met and 1 fell short. Of 1 nobody knows the probe." in said
    assert "Solution poured into Basin 1: lot L1" in said
    assert "Curved 1, serial SN-1001" in said
    assert len(table(book, "/logbook/day/room/2023-11-14/soaks.csv")) == 2
    assert {row["kind"] for row in table(book, "/logbook/day/room/2023-11-14/entries.csv")} >= {"solution poured"}


def test_the_soaks_of_a_day_are_sorted_on_the_sheet_and_in_its_file(book: Client) -> None:
    day = "/logbook/day/room/2023-11-14"
    for order, found in (("", [SOUND, SHORT]), ("?sort=counted", [SHORT, SOUND]), ("?sort=-began", [SHORT, SOUND])):
        html = book.get(f"{day}{order}").text
        assert re.findall(r'data-heading="Began"><div><p><a href="([^"]+)"', html) == found
        assert f'href="{day}/soaks.csv{order}"' in html
        assert [f"/logbook/soak/{row['soak']}" for row in table(book, f"{day}/soaks.csv{order}")] == found


# ---- around it -----------------------------------------------------------------------------------------------------


def test_without_a_journal_there_is_no_logbook() -> None:
    with serve(desk_hub(), LISBON) as served, signed_in(served.url) as client:
        assert client.get("/logbook").status_code == 404


def test_whoever_saves_a_table_is_told_to_the_record(book: Client) -> None:
    assert book.get("/logbook/soaks.csv").status_code == 200
    told = [json.loads(body) for (body,) in people()._file.rows("SELECT body FROM act ORDER BY number")]
    assert (told[-1]["who"], told[-1]["act"], told[-1]["about"]) == ("Ana", "record exported", "/logbook/soaks.csv")
