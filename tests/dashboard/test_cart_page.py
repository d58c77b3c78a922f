"""A cart's page: its care, its probes, what is entered there, and what is refused."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from html import unescape
from zoneinfo import ZoneInfo

import pytest
from httpx import Client, Response

from dashboard.cart_care import CareLine, cart_page_view, gel_line
from gateway.hub import Feed, Hub
from rules.commands import GelDiscarded, GelOpened, WipedDown
from rules.picture import CarePicture, GelPicture, LeftOff
from rules.readings import SECOND
from tests.dashboard.pictures import NOON, cart, later, picture
from tests.dashboard.probe_pictures import PREMISES, owing, probe, with_probes
from tests.dashboard.serving import Desk
from tests.dashboard.visitors import script

HOSTILE = '<img src=x onerror="alert(1)">'
LISBON = ZoneInfo("Europe/Lisbon")
# CPSBC 2018: an opened multi-dose gel bottle is thrown away after 28 days; opened on 1 January, that is the 29th.
GEL = GelPicture(date(2026, 1, 1), "G-7", date(2026, 1, 29), out_of_date=False)


def cared(**care: object) -> list[CareLine]:
    one = replace(cart(), care=replace(CarePicture(), **care))  # type: ignore[arg-type]
    return list(cart_page_view(one, picture(carts=(one,)), NOON, LISBON, PREMISES).care)


def said(**care: object) -> list[str]:
    return [line.said for line in cared(**care)]


# ---- what is shown ---------------------------------------------------------------------------------------------------


def test_a_wipe_down_that_is_due_stands_out() -> None:
    due = cared(wipes_followed=True, wipe_due_since=later(-900), wiped_at=later(-18_000))[0]
    assert due == CareLine("A wipe-down is due since 11:45. Last wiped down 07:00.", due=True)


def test_none_is_due_or_none_is_recorded() -> None:
    assert said(wipes_followed=True, wiped_at=later(-900))[0] == "No wipe-down is due. Last wiped down 11:45."
    assert said(wiped_at=later(-900))[0] == "Last wiped down 11:45."
    assert said()[:2] == ["No wipe-down is recorded.", "No open gel bottle is recorded."]


def test_the_gel_tells_when_it_is_to_be_thrown_away() -> None:
    fresh, old = gel_line(GEL, date(2026, 1, 20)), gel_line(replace(GEL, out_of_date=True), date(2026, 1, 29))
    assert fresh == CareLine("Gel bottle opened 1 Jan, lot G-7: to be thrown away on 29 Jan.")
    assert old == CareLine("Gel bottle opened 1 Jan, lot G-7: out of date since 29 Jan. Throw it away.", due=True)
    assert gel_line(replace(GEL, lot=None), date(2025, 12, 31)).said.startswith("Gel bottle opened 1 Jan 2026: ")


def test_a_probe_that_may_lie_somewhere_and_what_is_at_risk_are_told() -> None:
    lines = said(left_off=(LeftOff("linear", later(-1800)),), plugged_in=True, at_risk=12_500.0)
    assert lines[2:] == [
        "The linear probe is off its hook since 11:30, and no exam is marked: see where it lies.",
        "Plugged in: unplug it before you move the cart.",
        "Off their hooks are probes worth 12,500 EUR, as far as prices are known.",
    ]


def words(client: Client, path: str = "/cart/cart-1") -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", client.get(path).text)).split())


@pytest.fixture
def page(hub: Hub) -> None:
    probes = (probe("Linear probe 1", owing()), probe("Curved probe 2", cart=2))
    hub.publish(Feed(with_probes(*probes, shown=picture(carts=(cart(), cart("Cart 2"))))))


@pytest.mark.usefixtures("page")
def test_each_probe_of_the_cart_has_a_link_and_each_cart_one_from_the_list(client: Client) -> None:
    assert re.findall(r'href="(/probe/[^"]+)"', client.get("/cart/cart-1").text) == ["/probe/linear-1"]
    assert re.findall(r'href="(/cart/[^"]+)"', client.get("/probes").text) == ["/cart/cart-1", "/cart/cart-2"]
    assert 'href="/cart/cart-1"' in client.get("/probe/linear-1").text


@pytest.mark.usefixtures("page")
def test_the_cautions_stand_on_the_page(client: Client) -> None:
    told = words(client)
    assert "Wear gloves when you wipe. The wipe's label and local policy govern." in told
    assert "an opened bottle is used for 28 days. Never top up a bottle." in told


def test_hostile_texts_are_shown_as_texts(client: Client, hub: Hub) -> None:
    bad = replace(cart(HOSTILE), id="cart-1")
    care = CarePicture(gel=replace(GEL, lot=HOSTILE), left_off=(LeftOff(HOSTILE, NOON),), at_risk=1.0, currency=HOSTILE)
    hub.publish(Feed(with_probes(probe(HOSTILE), shown=picture(carts=(replace(bad, care=care),)))))
    told = client.get("/cart/cart-1").text
    assert "<img" not in told
    assert "&lt;img" in told


# ---- what is taken ---------------------------------------------------------------------------------------------------


def send(client: Client, deed: str, name: str = "cart-1", **fields: str) -> Response:
    return client.post(f"/cart/{name}/{deed}", data={"who": "Ana", **fields}, headers=script(client))


def test_a_wipe_down_reaches_the_pump_and_is_confirmed(client: Client, desk: Desk) -> None:
    answer = send(client, "wiped", ago="10").json()["said"]
    (entry,) = desk.entered
    assert isinstance(entry, WipedDown)
    assert (entry.cart, entry.who, entry.arrived - entry.measured) == ("cart-1", "Ana", 600 * SECOND)
    assert answer.endswith("The cart was wiped down.")


def test_a_gel_bottle_is_opened_and_told_until_when_it_may_be_used(client: Client, desk: Desk) -> None:
    answer = send(client, "gel-opened", opened_when="today", gel_lot="G-7").json()["said"]
    (entry,) = desk.entered
    assert isinstance(entry, GelOpened)
    today = datetime.fromtimestamp(entry.arrived / SECOND, UTC).astimezone(LISBON).date()
    assert (entry.opened, entry.lot) == (today, "G-7")
    last = today + timedelta(days=28)  # CPSBC 2018
    assert f"To be thrown away on {last.day} {last:%b}" in answer


def test_a_gel_bottle_opened_on_another_day_and_one_thrown_away(client: Client, desk: Desk) -> None:
    send(client, "gel-opened", opened_when="day", opened="2024-02-01")
    answer = send(client, "gel-discarded").json()["said"]
    opened, gone = desk.entered
    assert isinstance(opened, GelOpened)
    assert isinstance(gone, GelDiscarded)
    assert (opened.opened, opened.lot) == (date(2024, 2, 1), None)
    assert answer.endswith("The gel bottle was thrown away.")


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({}, "Say when the bottle was opened"),
        ({"opened_when": "day"}, "Give the day on which the bottle was opened"),
        ({"opened_when": "day", "opened": "2098-01-01"}, "Opened: a day from 2000 to today."),
        ({"opened_when": "day", "opened": "yesterday"}, "Opened: a day from 2000 to today."),
        ({"opened_when": "today", "gel_lot": "x" * 81}, "Lot of the gel"),
    ],
)
def test_what_is_wrong_is_said_plainly_and_nothing_is_entered(
    client: Client, desk: Desk, fields: dict[str, str], told: str
) -> None:
    answer = send(client, "gel-opened", **fields)
    assert (answer.status_code, told in answer.json()["error"], desk.entered) == (422, True, [])


def test_a_cart_that_is_not_there_is_told(client: Client) -> None:
    for answer in (client.get("/cart/elsewhere"), send(client, "wiped", "elsewhere")):
        assert (answer.status_code, "no such cart" in answer.json()["error"]) == (404, True)
