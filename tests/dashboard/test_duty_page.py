"""Who is on duty now, in the coming fortnight, and when nobody is."""

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from html import unescape

import pytest
from httpx import Client

from dashboard.duty_page import DAYS, duty_table, on_duty_rows
from dashboard.premises import Premises
from gateway.hub import Feed, Hub
from rules.readings import SECOND, Micros
from tests.dashboard.alert_pictures import CHARGE, ENGINEER, alerted
from tests.dashboard.pictures import NOON, later
from tests.dashboard.rotas import LISBON, always, by_day, duties, nobody
from tests.dashboard.serving import serve
from tests.dashboard.visitors import signed_in

COVERED = duties(always("charge-nurse", "phone-2"), always("tech", "pager-1"))
BY_DAY = duties(always("charge-nurse", "phone-2"), by_day("tech", "pager-1"))


def at(iso: str) -> Micros:
    return Micros(int(datetime.fromisoformat(iso).replace(tzinfo=UTC).timestamp()) * SECOND)


def test_who_is_on_duty_now_is_said_with_until_when() -> None:
    picture = replace(alerted().picture, roles=(replace(CHARGE, until=later(3600)), ENGINEER))
    charge, engineer = on_duty_rows(picture, NOON, LISBON)
    assert (charge.role, charge.who, charge.until) == ("Charge nurse", "Phone 2", "until 13:00")
    assert (engineer.role, engineer.who, engineer.until) == ("Engineer", "", "")


def test_a_fortnight_that_is_covered_has_no_gap() -> None:
    assert duty_table(COVERED, NOON, LISBON).gaps == ()


def test_each_night_without_anybody_is_a_gap() -> None:
    gaps = duty_table(BY_DAY, NOON, LISBON).gaps
    assert len(gaps) == DAYS
    assert (gaps[0].role, gaps[0].said) == ("Reprocessing tech", "19:00 to Wed 26 Nov 07:00, 12 h")


def test_a_gap_that_has_begun_is_said_to_be_now() -> None:
    gaps = duty_table(BY_DAY, later(10 * 3600), LISBON).gaps
    assert gaps[0].said == "now to Wed 26 Nov 07:00, 9 h"


def test_a_role_without_any_duty_is_one_gap() -> None:
    (gap,) = duty_table(duties(always("tech", "pager-1")), NOON, LISBON).gaps
    assert (gap.role, gap.said) == ("Charge nurse", "now on, for all of the fortnight")


def test_a_time_that_is_left_free_on_purpose_is_no_gap() -> None:
    free = nobody("tech", "2025-11-26T07:00:00", "2025-11-27T07:00:00")
    table = duty_table(
        duties(always("charge-nurse", "phone-2"), always("tech", "pager-1"), changes=(free,)), NOON, LISBON
    )
    assert table.gaps == ()
    assert [(turn.times, turn.who, turn.gap) for turn in table.days[1].roles[1].turns] == [
        ("00:00-07:00", "Pager 1", False),
        ("07:00-24:00", "nobody, on purpose", False),
    ]


def test_each_day_begins_and_ends_at_the_sites_midnight() -> None:
    today = duty_table(BY_DAY, NOON, LISBON).days[0]
    assert today.title == "Tuesday 25 November"
    assert [(turn.times, turn.who, turn.gap) for turn in today.roles[1].turns] == [
        ("00:00-07:00", "nobody", True),
        ("07:00-19:00", "Pager 1", False),
        ("19:00-24:00", "nobody", True),
    ]


def test_the_day_of_twenty_five_hours_has_no_gap_of_its_own() -> None:
    # The clocks of Lisbon are put back on 26 Oct 2025 (IANA tz database).
    table = duty_table(COVERED, at("2025-10-25T12:00:00"), LISBON)
    assert table.gaps == ()
    assert [turn.times for turn in table.days[1].roles[0].turns] == ["00:00-24:00"]


# ---- the page --------------------------------------------------------------------------------------------------------


@pytest.fixture
def premises() -> Premises:
    return BY_DAY


@pytest.fixture
def client(hub: Hub, premises: Premises) -> Iterator[Client]:
    with serve(hub, LISBON, premises=premises) as running, signed_in(running.url) as browser:
        yield browser


def words(client: Client) -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", client.get("/duty").text)).split())


def test_the_page_names_who_is_on_duty_and_every_gap(client: Client, hub: Hub) -> None:
    hub.publish(alerted())
    said = words(client)
    assert "Engineer nobody" in said
    assert "Charge nurse Phone 2" in said
    assert said.count("Reprocessing tech : nobody,") >= DAYS


def test_days_later_than_tomorrow_can_be_folded(client: Client) -> None:
    before, _, later = client.get("/duty").text.partition('<details id="later-days" open data-fold>')
    assert (before.count('<div class="day">'), later.count('<div class="day">')) == (2, 12)


def test_a_site_without_roles_is_told_what_to_write(client: Client, hub: Hub) -> None:
    hub.publish(Feed(replace(alerted().picture, roles=())))
    assert "This site pages nobody: its site file names no role." in words(client)


def test_one_role_can_be_looked_at_and_its_stream_keeps_to_it(hub: Hub) -> None:
    hub.publish(replace(alerted(), picture=replace(alerted().picture, roles=(CHARGE, ENGINEER))))
    with serve(hub, LISBON, premises=BY_DAY) as served, signed_in(served.url) as client:
        page = client.get("/duty?role=charge-nurse").text
        shown = page.partition('id="now-on-duty"')[2]
        assert ("Charge nurse" in shown, "Reprocessing tech" in shown, "Engineer" in shown) == (True, False, False)
        assert 'data-stream="/stream/duty?role=charge-nurse"' in page
        assert client.get("/duty?role=nobody").status_code == 422
