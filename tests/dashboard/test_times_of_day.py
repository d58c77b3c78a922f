"""Lists of the record asked for by times of day, over a real journal: page and file have what was so then, no more."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from urllib.parse import urlencode

import pytest
from httpx import Client

from gateway.people import Access
from tests.dashboard.conftest import LISBON
from tests.dashboard.logbooks import desk_hub, table, words, written
from tests.dashboard.serving import serve
from tests.dashboard.visitors import signed_in


@pytest.fixture(scope="module")
def engineer(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    journal = written(tmp_path_factory.mktemp("times"))
    with (
        serve(desk_hub(), LISBON, journal=journal) as served,
        signed_in(served.url, "Emil", Access.ENGINEER) as client,
    ):
        yield client


LISTS = [
    ("/logbook/soaks", "/logbook/soaks.csv", "start"),
    ("/logbook/solutions", "/logbook/solutions.csv", "poured"),
    ("/logbook/probe/curved-1", "/logbook/probe/curved-1/time-line.csv", "measured"),
    ("/logbook/alerts", "/logbook/alerts.csv", "raised"),
    ("/logbook/actions", "/logbook/actions.csv", "told"),
]


@pytest.mark.parametrize(("page", "file", "column"), LISTS)
def test_each_list_has_what_was_so_from_a_time_on_and_before_another(
    engineer: Client, page: str, file: str, column: str
) -> None:
    whole = [datetime.fromisoformat(row[column]) for row in table(engineer, file)]
    cut = sorted(whole)[len(whole) // 2]
    for asked, wanted in (
        ({"from": f"{cut:%Y-%m-%d %H:%M:%S}"}, [at for at in whole if at >= cut]),
        ({"to": f"{cut:%Y-%m-%d}", "to-time": f"{cut:%H:%M:%S}"}, [at for at in whole if at < cut]),
        ({"from": f"{cut:%Y-%m-%d %H:%M:%S}", "to": f"{cut + timedelta(seconds=1):%Y-%m-%d %H:%M:%S}"}, [cut]),
    ):
        found = [datetime.fromisoformat(row[column]) for row in table(engineer, f"{file}?{urlencode(asked)}")]
        assert set(found) == set(wanted)
        assert "Times are those of Europe/Lisbon." in words(engineer, f"{page}?{urlencode(asked)}")


@pytest.mark.parametrize("path", [*(path for page, file, _ in LISTS for path in (page, file)), "/logbook/rejected"])
def test_nonsense_is_answered_in_a_sentence_by_page_and_file(engineer: Client, path: str) -> None:
    for asked, said in (
        ({"from": "six"}, "A time is written as 2026-11-25 06:00, or as its day alone, 2026-11-25,"),
        ({"from": "2026-10-25 01:30"}, "The clocks of Europe/Lisbon showed &#39;2026-10-25 01:30&#39; twice"),
        ({"from": "2026-11-25 07:00", "to": "2026-11-25 06:00"}, "is no time; turn the two round."),
    ):
        answer = engineer.get(path, params=asked)
        assert (answer.status_code, said in answer.text) == (422, True), answer.text


def test_the_form_has_day_and_time_of_day_and_the_chip_both(engineer: Client) -> None:
    page = engineer.get("/logbook/soaks?from=2023-11-14&from-time=22:13&to=2023-11-14+23:59").text
    for field in (
        'name="from" type="date" min="2000-01-01" max="2199-12-31" value="2023-11-14"',
        'name="from-time" maxlength="14" placeholder="06:00" value="22:13"',
        'name="to-time" maxlength="14" placeholder="06:00" value="23:59"',
    ):
        assert field in page
    assert "Take off: </span>began from 14 Nov 2023 22:13</a>" in page
    assert "Take off: </span>began before 14 Nov 2023 23:59</a>" in page
    assert 'href="/logbook/soaks.csv?from=2023-11-14+22%3A13&amp;to=2023-11-14+23%3A59"' in page
