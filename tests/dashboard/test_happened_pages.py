"""The page of everything that happened in a stretch of time, over a real journal."""

import re
from collections.abc import Iterator
from html import unescape
from urllib.parse import parse_qs, urlsplit

import pytest
from httpx import Client

from dashboard.bounds import Bound
from dashboard.happened import GROUP_WORDS, ONLY_EXAM, beside, completed, happened_listing, stretch_href
from dashboard.listing import Asked
from gateway.happened_log import GROUPS
from gateway.hub import Feed, Hub
from rules.readings import SECOND, Micros
from tests.dashboard.conftest import LISBON
from tests.dashboard.logbooks import book, plain, table
from tests.dashboard.pictures import basin, picture
from tests.dashboard.rotas import always, duties
from tests.dashboard.serving import Desk, Served, serve
from tests.dashboard.test_time_lines import told
from tests.dashboard.visitors import signed_in
from tests.gateway.told_alerts import STORY
from tests.rules.cared import wiped_down
from tests.rules.feeder import instant
from tests.rules.followed import contact

HERE = "/logbook/happened"
# Second 0 of the record is 2023-11-14 22:13:20 UTC (`date -u -d @1700000000`, coreutils); Lisbon is on UTC then.
SOAK = f"{HERE}?from=2023-11-14+22:15:00&to=2023-11-14+22:27:01"


UNSOAKED = contact(4050, "skin", exam="EX-4411")
"""An exam after which no probe was soaked."""


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    written = book(tmp_path_factory.mktemp("happened")).feed([UNSOAKED, wiped_down(4100)])
    written.note(*(event.model_copy(update={"at": Micros(event.at + 5000 * SECOND)}) for event in STORY)).closed()
    with serve(
        Hub(Feed(picture(basin())), Desk().ask),
        LISBON,
        premises=duties(always("tech", "pager-1")),
        journal=written.path,
    ) as running:
        yield running


@pytest.fixture
def client(served: Served) -> Iterator[Client]:
    with signed_in(served.url) as browser:  # a responder
        yield browser


def test_an_hour_has_soaks_probes_alerts_carts_and_what_people_entered_in_order(client: Client) -> None:
    said = told(client, SOAK)
    assert said[:2] == [
        "Over: what it told of has ended. Alert: Basin 1: no signal from lid sensor",
        "Soak basin-1.1 began in Basin 1",
    ]
    met = "exposure met, counted 12:00 of 12:00"
    assert said[2:] == [
        f"Soak basin-1.1 in Basin 1: {met}",
        f"curved-1: Soaked in Basin 1 until 14 Nov 2023 22:27:00: {met}, claimed by R. Tech (technician)",
    ]
    assert told(client, f"{HERE}?from=2023-11-14+23:21&to=2023-11-14+23:22") == ["cart-1 wiped down"]


def test_alerts_are_told_with_what_was_told_and_done_about_them(client: Client) -> None:
    told_then = told(client, f"{HERE}?from=2023-11-14+23:36&to=2023-11-14+23:38&kind=alerts")
    assert told_then == [
        "Alert: Basin 1: solution too cold",
        "Alert: Basin 1: lid open",
        "Handed over to Charge nurse; since then it waits for an answer. Alert: Basin 1: solution too cold",
        "Answered by Ana, by the link or key of a page. Alert: Basin 1: solution too cold",
        "Over: settled by Ana (reprocessed anew). Alert: Basin 1: solution too cold",
    ]
    pages = told(client, f"{HERE}?from=2023-11-14+23:36&to=2023-11-14+23:38&kind=pages")
    assert pages[1] == "Nobody was on duty as engineer. Alert: Basin 1: solution too cold"
    assert pages[0].startswith("To be told: ")


@pytest.mark.parametrize(
    ("asked", "count"),
    [("", 4), ("&kind=soaks", 3), ("&thing=curved-1", 1), ("&by=people", 1), ("&text=claimed", 1), ("&thing=gone", 0)],
)
def test_it_is_found_by_kind_thing_teller_and_words_and_the_file_has_the_same(
    client: Client, asked: str, count: int
) -> None:
    address = f"{SOAK}{asked}"
    said, rows = told(client, address), table(client, address.replace(HERE, f"{HERE}.csv"))
    assert (len(said), len(rows)) == (count, count)
    assert [row["happened"] for row in rows] == sorted(row["happened"] for row in rows)
    assert said[::-1] == told(client, f"{address}&sort=-happened")


def test_each_soak_and_each_alert_leads_to_what_else_happened_then(client: Client) -> None:
    for page, begun in (("/logbook/soak/basin-1.1", "Soak basin-1.1 began"), ("/logbook/alert/alert-10", "Alert: ")):
        (leads,) = re.findall(rf'href="({HERE}[^"]*from[^"]*)">What else happened then', client.get(page).text)
        assert [words for words in told(client, unescape(leads)) if words.startswith(begun)]


def test_earlier_and_later_join_without_a_gap(client: Client) -> None:
    html = client.get(SOAK).text
    asked = [
        parse_qs(urlsplit(unescape(href)).query) for href in re.findall(r'href="([^"]+)" rel="(?:prev|next)"', html)
    ]
    assert [(one["from"], one["to"]) for one in asked[:2]] == [
        (["2023-11-14 22:02:59"], ["2023-11-14 22:15"]),
        (["2023-11-14 22:27:01"], ["2023-11-14 22:39:02"]),
    ]


def test_without_a_time_it_is_the_last_hour_and_the_address_says_so(client: Client) -> None:
    answer = client.get(HERE, follow_redirects=False)
    asked = parse_qs(urlsplit(answer.headers["location"]).query)
    assert (answer.status_code, set(asked)) == (303, {"from", "to"})
    assert client.get(answer.headers["location"]).status_code == 200
    assert table(client, f"{HERE}.csv?from=2023-11-14&from-time=23:21") == table(
        client, f"{HERE}.csv?from=2023-11-14+23:21&to=2023-11-15+00:21"
    )


def listed(begin: str, end: str) -> Asked:
    return happened_listing(()).asked([("from", begin), ("to", end)])


@pytest.mark.parametrize(
    ("begin", "end", "wanted"),
    [
        # Europe/Lisbon went back from summer time on 27 October 2024, 02:00, and to it on 31 March 2024, 01:00 (IANA
        # time zone database): an hour from 00:30 on ends in the hour that comes twice, or after that which never did.
        ("2024-10-27 00:30", "", ("2024-10-27 00:30", "2024-10-27 01:30+01:00")),
        ("", "2024-10-27 01:30+00:00", ("2024-10-27 01:30+01:00", "2024-10-27 01:30+00:00")),
        ("2024-03-31 00:30", "", ("2024-03-31 00:30", "2024-03-31 02:30")),
        ("2024-10-27", "", ("2024-10-27", "2024-10-27")),
        ("", "2024-10-27", ("2024-10-27", "2024-10-27")),
    ],
)
def test_one_end_alone_means_an_hour_or_its_day(begin: str, end: str, wanted: tuple[str, str]) -> None:
    whole = completed(listed(begin, end), instant(0), LISBON)
    assert (str(whole.since), str(whole.until)) == wanted


def test_stretches_beside_a_change_of_the_clocks_are_as_long_and_adjoin() -> None:
    asked = listed("2024-10-27 00:30", "2024-10-27 01:30+01:00")
    before, after = beside(asked, asked.during(LISBON), LISBON)
    assert (before.during(LISBON).end, after.during(LISBON).start) == tuple(asked.during(LISBON))
    assert after.until == Bound.read("2024-10-27 01:30+00:00")
    assert {one.during(LISBON).micros for one in (before, asked, after)} == {3600 * SECOND}


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("?from=2023-11-01&to=2023-12-02", "At most 31 days are shown here at once; ask for less."),
        ("?from=six", "A time is written as 2026-11-25 06:00"),
        ("?from=2023-11-14&kind=weather", "There is no such kind; choose one from the list."),
        ("?from=2023-11-14&by=me", "Whoever told it is one of &#39;people&#39; and &#39;others&#39;."),
        ("?from=2023-11-14&sort=told", "This list cannot be sorted so; it can by happened,"),
    ],
)
@pytest.mark.parametrize("path", [HERE, f"{HERE}.csv"])
def test_nonsense_is_answered_in_a_sentence(client: Client, path: str, asked: str, said: str) -> None:
    answer = client.get(path + asked)
    assert (answer.status_code, said in answer.text) == (422, True), plain(answer.text)


def test_a_month_of_31_days_with_a_change_of_the_clocks_is_shown(client: Client) -> None:
    assert client.get(f"{HERE}?from=2023-10-01&to=2023-10-31").status_code == 200


def test_of_a_soak_that_lasted_longer_than_can_be_shown_the_beginning_is(client: Client) -> None:
    # A lid that stays closed over a basin that nobody uses.
    address = stretch_href(instant(0), instant(40 * 86_400), LISBON)
    assert address.startswith(f"{HERE}?from=2023-11-14+22%3A13%3A20&to=2023-12-15+22%3A13%3A20")
    assert client.get(address).status_code == 200


def test_an_exam_that_no_soak_followed_is_found_from_the_search_of_soaks_on_all_days(client: Client) -> None:
    page = client.get("/logbook/soaks?text=ex-4411").text
    assert 'No soak fits: "ex-4411".' in plain(page)
    (leads,) = re.findall(rf'href="({HERE}[^"]*)">Look for an exam', page)
    asked = parse_qs(urlsplit(unescape(leads)).query)
    assert (asked["text"], asked["from"]) == (["ex-4411"], ["2000-01-01"])
    found = client.get(unescape(leads)).text
    assert told(client, unescape(leads)) == [
        "curved-1: Touched skin, cover not entered: owes cleaning; exam EX-4411",
    ]
    assert ONLY_EXAM in plain(found)
    assert 'rel="prev">Earlier' not in found
    assert [row["happened"] for row in table(client, unescape(leads).replace(HERE, f"{HERE}.csv"))]
    assert 'No event fits: "4411"' in plain(client.get(unescape(leads).replace("ex-4411", "4411")).text)


def test_within_a_month_an_exam_is_found_by_a_part_of_its_reference(client: Client) -> None:
    assert len(told(client, f"{HERE}?from=2023-11-01&to=2023-11-20&text=4411")) == 1


def test_a_soak_that_is_found_leads_nowhere_else(client: Client) -> None:
    page = client.get("/logbook/soaks?text=EX-2291").text
    assert ("basin-1.1" in page, "Look for an exam" in page) == (True, False)


def test_each_group_can_be_asked_for() -> None:
    assert list(GROUP_WORDS) == list(GROUPS)
