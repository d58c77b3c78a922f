"""How a probe stood at a time, on its page of the logbook: against what the command line reads of the same journal."""

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest
from httpx import Client

from gateway.logbook import Logbook
from gateway.probe_told import lines
from tests.dashboard.conftest import LISBON
from tests.dashboard.logbooks import desk_hub, plain, written
from tests.dashboard.serving import serve
from tests.dashboard.visitors import signed_in
from tests.rules.feeder import instant

PROBE = "/logbook/probe/curved-1"
# Second 0 of the record is 2023-11-14 22:13:20 UTC (`date -u -d @1700000000`, coreutils); Lisbon is on UTC then. A
# contact at 15 s is entered wrongly and struck at 3000 s, another at 20 s stands; soaked from 100 s to 820 s, hung up
# at 970 s.


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(tmp_path_factory.mktemp("stood"))


@pytest.fixture(scope="module")
def client(path: Path) -> Iterator[Client]:
    with serve(desk_hub(), LISBON, journal=path) as running, signed_in(running.url) as browser:
        yield browser


def section(client: Client, query: str, status: int = 200) -> str:
    answer = client.get(f"{PROBE}?{query}")
    assert answer.status_code == status, plain(answer.text)
    (found,) = re.findall(r'(?s)<section id="stood".*?</section>', answer.text)
    return plain(found)


@pytest.mark.parametrize(
    ("clock", "seconds"), [("22:13:36", 16), ("22:14:30", 70), ("22:20:00", 400), ("22:29:31", 971), ("22:30", 1000)]
)
def test_it_is_what_the_command_line_reads(client: Client, path: Path, clock: str, seconds: int) -> None:
    said = section(client, f"at=2023-11-14+{clock}")
    found = Logbook(path).probe_at("curved-1", instant(seconds))
    assert found is not None
    told = dict(re.findall(r"(?m)^  (\w+(?: \w+)?)  +(.+)$", "\n".join(lines(found, LISBON))))
    assert f"How it stood at 14 Nov 2023 {clock if len(clock) > 5 else clock + ':00'} {found.standing.fitness} " in said
    assert f"What it owed {told['owes']} " in said
    for name, heading in (("why", "Why"), ("done", "Done of that"), ("ready by", "Made ready by")):
        missing = " nothing that counts" if name == "done" and told["owes"] != "nothing" else ""
        wanted = f" {told[name]}" if name in told else missing
        assert (f"{heading}{wanted} " in said) is bool(wanted), (name, said)


def test_by_what_it_was_ready_is_told_with_the_soak_where_it_can_be_read(client: Client) -> None:
    said = section(client, "at=2023-11-14&at-time=22:30")
    assert "ready for use By all that is known today" in said
    assert "Made ready by soak basin-1.1" in said
    assert 'href="/logbook/soak/basin-1.1"' in client.get(f"{PROBE}?at=2023-11-14+22:30").text


def test_what_was_known_then_stands_beside_what_is_known_today(client: Client) -> None:
    wrong = section(client, "at=2023-11-14+22:13:36")  # the contact that was struck later
    assert "Last contact marked none" in wrong
    assert "As it was known then At that time it was said otherwise: " in wrong
    assert "As it was known then The same was said at that time, since 14 Nov 2023 22:29:30." in section(
        client, "at=2023-11-14+22:30"
    )
    assert "What was made of it at that time is not on record." in section(client, "at=2023-11-14+22:00")


def test_the_form_stays_filled_in_names_the_zone_and_keeps_the_filters(client: Client) -> None:
    page = client.get(f"{PROBE}?at=2023-11-14&at-time=22:30&what=probe+soaked").text
    assert '<input type="hidden" name="what" value="probe soaked">' in page
    assert 'value="2023-11-14" required' in page
    assert 'value="22:30"' in page
    assert "at, by the clocks of Europe/Lisbon" in page
    assert '<input type="hidden" name="at" value="2023-11-14 22:30">' in page  # of the filters of the time line


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("at=noon", "A time is written as 2026-11-25 06:00"),
        ("at=2023-11-14", "Give the time of day too, such as 09:40"),
        ("at=2199-01-01+09:40", "lies after the end of the record; ask for a time up to 2023-11-14 23:20:00"),
        # Lisbon's clocks went back on 29 October 2023, 02:00, and forward on 26 March 2023, 01:00 (IANA time zones).
        ("at=2023-10-29+01:30", "showed '2023-10-29 01:30' twice, as they were changed; add the offset meant"),
        ("at=2023-03-26&at-time=01:30", "showed '2023-03-26 01:30' never"),
        ("at=%3Cb%3E", "A time is written as"),
    ],
)
def test_a_time_that_is_none_is_answered_in_a_sentence_beside_the_form(client: Client, query: str, said: str) -> None:
    shown = section(client, query, 422)
    assert said in shown
    assert "By all that is known" not in shown


def test_with_the_offset_the_hour_that_came_twice_is_answered(client: Client) -> None:
    assert "How it stood at 29 Oct 2023 01:30:00 (UTC+0100)" in section(client, "at=2023-10-29&at-time=01:30%2B01:00")
    assert "How it stood at 29 Oct 2023 01:30:00 (UTC+0000)" in section(client, "at=2023-10-29+01:30%2B00:00")


@pytest.mark.parametrize("page", [PROBE, "/logbook/happened?from=2023-11-14+22:13&to=2023-11-14+22:15"])
def test_each_contact_leads_to_how_the_probe_stood_just_before_it(client: Client, page: str) -> None:
    html = client.get(page).text
    leads = [unescape(href) for href in re.findall(r'href="([^"]+)">how it stood just before', html)]
    asked = sorted(parse_qs(urlsplit(href).query)["at"][0] for href in leads)
    assert asked == ["2023-11-14 22:13:34", "2023-11-14 22:13:39"]
    assert all(client.get(href).status_code == 200 for href in leads)
