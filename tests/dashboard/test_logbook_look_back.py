"""The logbook's page of a look-back over a real journal, its files, and the questions that it refuses."""

import re
from collections.abc import Iterator
from html import unescape

import pytest
from httpx import Client

from tests.dashboard.conftest import LISBON
from tests.dashboard.logbooks import desk_hub, failed_strip, plain, table, words
from tests.dashboard.serving import serve
from tests.dashboard.visitors import signed_in


@pytest.fixture(scope="module")
def failed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    """A journal in which a strip failed after a sound soak, whose probe has been used since."""
    path = failed_strip(tmp_path_factory.mktemp("failed"))
    with serve(desk_hub(), LISBON, journal=path) as served, signed_in(served.url) as client:
        yield client


def test_a_failed_strip_is_offered_and_leads_to_what_it_touches(failed: Client) -> None:
    offered = failed.get("/logbook/look-back").text
    (link,) = re.findall(r'href="(/logbook/look-back\?what=strip[^"]+)"', offered)
    said = words(failed, unescape(link))
    assert "1 soak, 1 probe and 1 use since." in said
    assert "The last good check before was at 14 Nov 2023 22:13:22." in said
    assert "Curved 1, serial SN-1001 , taken out 14 Nov 2023 22:27:00" in said
    assert "used 14 Nov 2023 22:38:20: skin, exam EX-9, marked by R. Nurse" in said
    assert "What to do: do not use it before it is cleaned and soaked soundly" in said
    assert "nobody was notified" in said


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("what=record", "a strip failed after it"),
        ("what=lot&lot=L1", "Lot L1 of solution or strips proved to be bad."),
        ("what=soak&soak=basin-1.1", "Soak basin-1.1 proved not to be sound."),
        ("what=strip&basin=basin-1&at=", "A strip failed at Basin 1."),
        (
            "what=sensor&sensor=basin-1/temperature&error=1.5&since=2023-11-14T22:00",
            "basin-1/temperature read 1.5 °C more than was true from 14 Nov 2023 22:00:00 on.",
        ),
    ],
)
def test_each_question_has_an_answer_on_the_page_and_as_a_file(failed: Client, asked: str, said: str) -> None:
    shown = words(failed, f"/logbook/look-back?{asked}")
    assert said in shown
    assert "1 soak, 1 probe and 1 use since." in shown
    (row,) = table(failed, f"/logbook/look-back.csv?{asked}")
    assert (row["soak"], row["probe"], row["exam"]) == ("basin-1.1", "curved-1", "EX-9")


@pytest.mark.parametrize(
    ("asked", "status", "said"),
    [
        ("what=strip", 422, "Choose the basin whose strip failed."),
        ("what=strip&basin=basin-9", 404, "No strip that failed is recorded at basin 'basin-9'"),
        ("what=soak", 422, "Name the soak, such as basin-1.12."),
        ("what=soak&soak=basin-9.1", 404, "No soak 'basin-9.1' that has ended is recorded"),
        ("what=lot&lot=", 422, "Write the lot of the solution or of the strips."),
        ("what=sensor&sensor=basin-1/temperature", 422, "Give the thermometer, by how many °C"),
        ("what=sensor&sensor=basin-1/temperature&error=1&since=then", 422, "'then' is no time"),
        ("what=sensor&sensor=basin-1/temperature&error=nan&since=2023-11-14T22:00", 422, "'error' is not understood."),
        ("what=everything", 422, "'what' is not understood."),
    ],
)
def test_a_question_that_cannot_be_answered_is_told_why(failed: Client, asked: str, status: int, said: str) -> None:
    for path in ("/logbook/look-back", "/logbook/look-back.csv"):
        answer = failed.get(f"{path}?{asked}")
        assert (answer.status_code, said in plain(answer.text)) == (status, True)
