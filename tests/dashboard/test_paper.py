"""The printed record, read back: complete, numbered, in all letters, and the same bytes each time."""

import re
import subprocess
import sys
from zoneinfo import ZoneInfo

import pypdfium2 as pdfium
import pytest

from dashboard.happening import Telling
from dashboard.paper import NOT_DRAWN, printed
from dashboard.sheet import CAUTION, Footing
from dashboard.soak_sheet import SoakSheet, soak_sheet
from gateway.told import BasinPlace
from rules.exposure import Span
from tests.dashboard.soaks import HEAD, after, entry, exposure, logged

LISBON = ZoneInfo("Europe/Lisbon")
TELLING = Telling(LISBON, {})


def sheet(**changes: object) -> SoakSheet:
    return soak_sheet(logged(**changes), TELLING)


def pdf(shown: SoakSheet, site: str = "North Hall") -> bytes:
    return printed(shown, site, LISBON, Footing(HEAD, after(3000)))


def pages(data: bytes) -> list[str]:
    """The text of each page, spaces and line ends as one space."""
    document = pdfium.PdfDocument(data)
    return [" ".join(page.get_textpage().get_text_bounded().split()) for page in document]


def test_everything_that_stands_on_the_sheet_is_printed() -> None:
    shown, text = sheet(), " ".join(pages(pdf(sheet())))
    lines = [shown.title, shown.outcome, shown.says, CAUTION]
    lines += [line for section in shown.sections for line in (section.title, *section.sentences)]
    lines += [words for section in shown.sections for fact in section.facts for words in (fact.name, *fact.lines)]
    lines += [cell for section in shown.sections if section.table for row in section.table.rows for cell in row]
    assert [line for line in lines if " ".join(line.split()) not in text] == []


def test_each_page_tells_its_number_when_it_was_printed_and_the_head_of_the_record() -> None:
    told = pages(pdf(sheet()))
    for number, text in enumerate(told, 1):
        assert f"page {number} of {len(told)}" in text
        assert "Made 25 Nov 2025 14:53:20, times in Europe/Lisbon." in text
        assert "Head of the record at 25 Nov 2025 14:23:20: 12345:0001-0203-0405-0607" in text
        assert "not proof of disinfection" in text


def test_names_of_other_alphabets_are_printed_in_their_letters() -> None:
    # Polish, Turkish, Vietnamese, Greek and Ukrainian letters; the face is embedded, so that every reader has them.
    name = "Łukasz Şahin Nguyễn Ελένη Йосипенко"
    data = pdf(sheet(place=BasinPlace("basin-1", name, "room", "Room")), site=name)
    assert all(name in text for text in pages(data))
    assert data.count(b"/FontFile2") == 2


def test_what_cannot_be_drawn_stands_as_its_number_and_that_is_said() -> None:
    text = " ".join(pages(pdf(sheet(place=BasinPlace("basin-1", "山", "room", "سلام")))))
    assert "Soak in [U+5C71], 25 Nov 2025" in text
    assert "[U+0633][U+0644][U+0627][U+0645]" in text
    assert NOT_DRAWN in text
    assert NOT_DRAWN not in " ".join(pages(pdf(sheet())))


def test_markup_in_what_people_entered_is_printed_as_text() -> None:
    hostile = "<b>Basin</b> <img src='x'/> & <para>"
    text = " ".join(pages(pdf(sheet(place=BasinPlace("basin-1", hostile, "room", "Room")))))
    assert f"Soak in {hostile}, 25 Nov" in text


def test_long_lists_run_over_the_pages() -> None:
    lid = tuple(Span(after(at * 60), after(at * 60 + 30)) for at in range(150))
    told = exposure()
    many = type(told)(**{name: getattr(told, name) for name in told.__slots__} | {"lid": lid})
    entries = tuple(entry(number) for number in range(300))
    text = " ".join(pages(pdf(sheet(exposure=many, entries=entries))))
    assert text.count("closed 25 Nov 2025") == len(lid)
    assert len(re.findall(r"\b\d+ 25 Nov 2025 13:59:50", text)) == len(entries)


@pytest.mark.parametrize("length", [80, 200])
def test_a_word_without_a_space_stays_on_the_page(length: int) -> None:
    data = pdf(sheet(place=BasinPlace("basin-1", "W" * length, "room", "Room")))
    document = pdfium.PdfDocument(data)
    for page in document:
        wide = page.get_width()
        text = page.get_textpage()
        assert all(text.get_rect(n)[2] <= wide for n in range(text.count_rects()))


_ANEW = """
import sys
from tests.dashboard.test_paper import pdf, sheet
sys.stdout.buffer.write(pdf(sheet()))
"""


def test_the_same_record_printed_at_the_same_time_gives_the_same_bytes() -> None:
    other = subprocess.run([sys.executable, "-c", _ANEW], capture_output=True, check=True)  # noqa: S603 - ourselves
    assert pdf(sheet()) == pdf(sheet()) == other.stdout
    later = printed(sheet(), "North Hall", LISBON, Footing(HEAD, after(3001)))
    assert later != other.stdout
