"""The page of the load on people over a real journal: figures, plots, choices, the file, and what it refuses."""

import csv
import re
from collections.abc import Iterator
from html import unescape
from io import StringIO
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from httpx import Client

from dashboard.load_view import answer_bars
from dashboard.plots import MOST_COLUMNS, SLOTS_HIGH, day_columns, slot_columns
from gateway.hub import Feed, Hub
from rules.alert_events import NobodyOnDuty
from rules.alert_load import Answers
from rules.readings import SECOND, Micros
from rules.stretch import Stretch
from tests.dashboard.conftest import LISBON
from tests.dashboard.pictures import basin, picture
from tests.dashboard.serving import Desk, serve
from tests.dashboard.visitors import signed_in
from tests.gateway.told_journal import journal_of
from tests.rules.feeder import instant
from tests.rules.told_alerts import DAY_SECONDS, acknowledged, asked, each, over, raised, reported, stretch

HOSTILE = '<img src=x onerror="alert(1)">'
"""As the name of a thing, a rule or a contact: it must be shown as what it is."""


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    folder = tmp_path_factory.mktemp("load") / "d"
    said = [
        *each([3600.0 + 40 * n for n in range(12)]),
        raised(9000, "urgent", "too-cold", f"basin {HOSTILE}"),
        asked(9000, "page-1", "urgent", contact=HOSTILE),
        reported(9001, "page-1"),
        acknowledged(9125, "urgent"),
        over(9200, "urgent"),
        asked(9300, "page-2", "alert-1", role="night-tech"),
        NobodyOnDuty(at=instant(9310), alerts=("alert-1",), route="all", tier=1, role="engineer"),
    ]
    journal_of(folder, said, zone="Europe/Lisbon")
    hub = Hub(Feed(picture(basin())), Desk().ask)
    with serve(hub, LISBON, journal=folder / "journal.db") as served, signed_in(served.url) as browser:
        yield browser


def words(client: Client, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", answer.text)).split())


def test_the_page_tells_figures_targets_and_whether_they_are_within(client: Client) -> None:
    said = words(client, "/load?back=week")
    assert "Less than 30 days of record: figures are provisional." in said
    assert "most in any 10 min 12 above, target: 10 at most" in said
    assert "time to an answer, median 2 min 05 s" in said
    assert "Targets after ISA-18.2 and EEMUA 191 (from secondary sources)" in said
    assert "conforms" not in said


def test_the_plots_say_in_words_what_they_show(client: Client) -> None:
    page = client.get("/load?back=day").text
    labels = re.findall(r'<svg class="plot[^"]*" role="img" aria-label="([^"]*)"', page)
    assert labels[0].startswith("Alerts in each 10 minutes. The most in ten minutes were ")
    assert len(labels) == 3  # over time, and for each of two roles


def test_every_drawing_is_sound_and_brings_no_style_that_the_pages_forbid(client: Client) -> None:
    page = client.get("/load?back=month").text
    drawings = re.findall(r"(?s)<svg class=\"plot.*?</svg>", page)
    assert len(drawings) > 10
    for drawing in drawings:
        for element in ET.fromstring(drawing).iter():  # noqa: S314 - our own
            assert "style" not in element.attrib


def test_what_things_and_contacts_are_called_is_shown_as_what_it_is(client: Client) -> None:
    page = client.get("/load?back=month").text
    assert HOSTILE not in page
    assert "&lt;img src=x" in page


def test_one_rule_or_one_role_can_be_looked_at(client: Client) -> None:
    assert "Only of rule 'too-cold'." in words(client, "/load?rule=too-cold")
    said = words(client, "/load?role=night-tech")
    assert "Only what night-tech was paged of." in said
    assert "1 in all; the most on one day were 1." in said


def test_the_choice_made_stays_chosen_and_goes_with_the_file(client: Client) -> None:
    page = client.get("/load?back=month&rule=too-cold").text
    assert '<option value="month" selected>30 days</option>' in page
    assert '<option value="too-cold" selected>' in page
    assert 'href="/load.csv?back=month&amp;rule=too-cold"' in page


def rules_in_order(client: Client, path: str) -> list[str]:
    said = client.get(path).text.partition("<summary>By rule</summary>")[2]
    return re.findall(r'data-heading="Rule"><div><p>([^<]*)', said)


def test_the_tables_are_sorted_by_their_headings_and_what_was_asked_stays(client: Client) -> None:
    page = client.get("/load?back=month&sort=-rule.name").text
    assert rules_in_order(client, "/load?back=month&sort=-rule.name") == sorted(
        rules_in_order(client, "/load?back=month"), reverse=True
    )
    assert 'href="/load?back=month&amp;sort=rule.name"' in page
    assert '<input type="hidden" name="sort" value="-rule.name">' in page
    assert re.search(r"<details open>\s*<summary>By rule", page)
    answer = client.get("/load?sort=rule.text")
    assert (answer.status_code, "This list cannot be sorted so" in answer.text) == (422, True)


def test_the_file_has_the_figures_of_the_page(client: Client) -> None:
    answer = client.get("/load.csv?back=month&rule=too-cold")
    assert answer.headers["content-type"] == "text/csv; charset=utf-8; header=present"
    rows = {row["figure"]: row["value"] for row in csv.DictReader(StringIO(answer.text)) if row["of"] == "all"}
    assert (rows["alerts"], rows["answer_median_seconds"], rows["pages"]) == ("1", "125", "1")


@pytest.mark.parametrize(
    ("path", "status", "said"),
    [
        ("/load?back=year", 422, "There is no such time; choose one from the list."),
        ("/load?rule=no-such", 422, "Nothing is known of a rule 'no-such'; expected one of"),
        (
            "/load?role=no-such",
            422,
            "Nothing is known of a role 'no-such'; expected one of engineer, night-tech, nurse.",
        ),
        ("/load.csv?rule=no-such", 422, "Nothing is known of a rule"),
    ],
)
def test_what_is_not_there_gets_one_plain_sentence(client: Client, path: str, status: int, said: str) -> None:
    answer = client.get(path)
    assert answer.status_code == status
    assert said in unescape(answer.text)


def test_a_record_that_has_just_begun_is_told_as_such(tmp_path: Path) -> None:
    journal_of(tmp_path / "d", [], until=-1000)
    hub = Hub(Feed(picture(basin())), Desk().ask)
    with serve(hub, LISBON, journal=tmp_path / "d" / "journal.db") as served, signed_in(served.url) as client:
        answer = client.get("/load")
    assert answer.status_code == 404
    assert "The record has no time in it yet" in answer.text


def test_a_record_of_minutes_says_how_long_it_is_and_tells_no_average(tmp_path: Path) -> None:
    journal_of(tmp_path / "d", [raised(-900, "alert-1"), raised(-890, "alert-2")], until=125 - 1000)
    hub = Hub(Feed(picture(basin())), Desk().ask)
    with serve(hub, LISBON, journal=tmp_path / "d" / "journal.db") as served, signed_in(served.url) as one:
        said = words(one, "/load")
    assert re.search(r"local to \S+: 2 min 05 s", said)
    assert "cut off from its sensors" not in said
    assert "in 10 min, on average - target: about 1, 2 at most" in said


def test_the_load_is_reached_from_the_logbook(client: Client) -> None:
    assert 'href="/load"' in client.get("/logbook").text


# ---- how it is drawn ------------------------------------------------------------------------------------------------


def days(count: int) -> Stretch:
    return stretch(until=count * DAY_SECONDS)


def test_a_column_reaches_the_limit_line_at_ten_and_passes_it_at_eleven() -> None:
    drawn = slot_columns([10, 11, 0], 7, Stretch(instant(0), instant(1800), (instant(0),)), LISBON)
    limit = next(limit.top for limit in drawn.limits if not limit.is_average)
    ten, eleven = drawn.columns
    assert (ten.top == limit, eleven.top < limit) == (True, True)
    assert (ten.said, eleven.said) == ("", "11")


def test_columns_stand_where_their_time_is() -> None:
    slots = [1, *[0] * 37, 2, 0]
    drawn = slot_columns(slots, 0.75, Stretch(instant(0), instant(40 * 600), (instant(0),)), LISBON)
    assert ([(column.x, column.wide) for column in drawn.columns], drawn.end) == ([(0, 2.5), (95, 2.5)], 100)


def test_a_record_that_has_just_begun_is_drawn_with_room_for_what_comes() -> None:
    begun = Stretch(instant(0), instant(120), (instant(0),))
    slots, day = slot_columns([3], None, begun, LISBON), day_columns([3], 3, begun, LISBON)
    assert [(c.x, c.wide) for c in (*slots.columns, *day.columns)] == [(0, slots.end), (0, day.end)]
    assert (slots.end < 1, day.end, day.columns[0].said) == (True, pytest.approx(100 / 7, abs=1e-3), "3")
    assert "too short a time for an average" in slot_columns([3], None, begun, LISBON).described


def test_a_role_that_was_never_paged_has_no_empty_plot(client: Client) -> None:
    assert "engineer None." in words(client, "/load?back=day")


def test_the_columns_of_a_month_are_bounded_and_none_of_its_peaks_is_lost() -> None:
    slots = [0] * 4320
    slots[4319], slots[1000] = 23, 17
    drawn = slot_columns(slots, 0.01, days(30), LISBON)
    assert [column.said for column in drawn.columns] == ["17", "23"]
    assert max(column.x + column.wide for column in drawn.columns) <= 100
    assert MOST_COLUMNS == -(-4320 // 24)
    assert "the worst 10 minutes of each 4 h" in drawn.described


def test_no_column_is_higher_than_the_plot() -> None:
    drawn = slot_columns([500, 1], 250, Stretch(instant(0), instant(1200), (instant(0),)), LISBON)
    assert all(0 < column.top <= SLOTS_HIGH and column.high > 0 for column in drawn.columns)


def test_days_are_as_wide_as_they_are_long_and_all_roles_have_one_scale() -> None:
    # 25 h and 23 h stand for the days on which clocks are changed.
    ends = (instant(0), instant(25 * 3600))
    drawn = day_columns([4, 2], 8, Stretch(instant(0), instant(48 * 3600), ends), LISBON)
    assert [column.wide for column in drawn.columns] == [
        pytest.approx(100 * 25 / 168, abs=1e-3),
        pytest.approx(100 * 23 / 168, abs=1e-3),
    ]
    assert drawn.columns[0].high == 2 * drawn.columns[1].high
    assert [column.said for column in drawn.columns] == ["4", "2"]


def test_midnights_are_named_and_within_a_day_the_hours() -> None:
    # Second 0 is 22:13:20 in Lisbon on 14 November 2023, on UTC then.
    midnight = Micros(instant(0) + 6400 * SECOND)
    long = Stretch(
        instant(0), instant(3 * DAY_SECONDS), (instant(0), *(Micros(midnight + n * 86_400_000_000) for n in range(3)))
    )
    assert [tick.words for tick in slot_columns([0] * 432, 0, long, LISBON).ticks] == ["15 Nov", "16 Nov", "17 Nov"]
    short = Stretch(instant(0), instant(DAY_SECONDS), (instant(0), midnight))
    hours = [tick.words for tick in slot_columns([0] * 144, 0, short, LISBON).ticks]
    assert hours == ["00:00", "04:00", "08:00", "12:00", "16:00", "20:00"]


def test_each_answer_is_drawn_in_one_step_and_whoever_never_answered_too() -> None:
    answers = Answers(60, 300, 4000, 2, 1, 3, (59, 60, 61, 300, 4000))
    drawn = answer_bars(answers)
    assert [(bar.name, bar.said) for bar in drawn if bar.said != "0"] == [
        ("within 1 min", "2"),
        ("1 to 2 min", "1"),
        ("2 to 5 min", "1"),
        ("more than 1 h", "1"),
        ("over before anybody answered", "2"),
        ("hidden before", "1"),
        ("still waiting", "3"),
    ]
    assert max(bar.wide for bar in drawn) == 100
