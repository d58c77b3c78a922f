"""What is tapped on the pages of alerts, as a real gateway takes it."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from httpx import Client, Response

from dashboard.called import OUTCOMES
from gateway.replay import verify
from gateway.schema import DATABASE
from rules.alert_commands import Acknowledge, Decline
from rules.alert_words import Confirmation, PageWhy, State
from rules.picture import AlertPicture
from sim_devices.answering.pager_book import Fate, PagerBook
from sim_devices.answering.snpp_server import SnppServer
from tests.dashboard.paged_ward import PATIENCE_SECONDS, PagedWard, paged_ward, with_pagers
from tests.dashboard.pictures import NOON
from tests.dashboard.visitors import script, signed_in
from tests.gateway.post_office import QUICK


@pytest.fixture
def ward(tmp_path: Path) -> Iterator[PagedWard]:
    with paged_ward(tmp_path) as running:
        yield running
    assert verify(tmp_path / DATABASE).is_sound


@pytest.fixture
def client(ward: PagedWard) -> Iterator[Client]:
    with signed_in(ward.served.url, timeout=20) as browser:
        yield browser


@pytest.fixture
def alert(ward: PagedWard) -> AlertPicture:
    return ward.roll_with_a_cord_down()


def post(client: Client, path: str, **fields: str) -> Response:
    return client.post(path, data={"who": "Ana", **fields}, headers=script(client))


def said(answer: Response) -> str:
    assert answer.status_code == 200, answer.text
    return str(answer.json()["said"])


def test_who_was_paged_answers_by_the_link_once_and_nobody_else_after_it(
    ward: PagedWard, client: Client, alert: AlertPicture
) -> None:
    page = ward.first_page(alert.id)
    link = ward.link_of(page)
    assert "Phone 1" in client.get(link).text
    assert "You have it: Phone 1" in said(post(client, f"{link}/acknowledge"))
    ward.await_state(alert.id, State.ACKNOWLEDGED)
    again = post(client, f"{link}/acknowledge")
    assert said(again).startswith("You have it already, since ")
    second = post(client, f"/alert/{alert.id}/acknowledge")
    assert (second.status_code, "Answered already: Phone 1 has it" in second.json()["error"]) == (409, True)
    answers = [one for one in ward.commands() if isinstance(one, Acknowledge)]
    assert (answers[0].who, answers[0].page) == ("Phone 1", page.page)
    assert f"<p>{OUTCOMES[Confirmation.ANSWERED]}</p>" in client.get("/pages").text


def test_who_cannot_go_passes_it_on_at_once(ward: PagedWard, client: Client, alert: AlertPicture) -> None:
    link = ward.link_of(ward.first_page(alert.id))
    assert "Told now: Charge nurse." in said(post(client, f"{link}/decline", tap="a" * 32))
    assert "Told now: Charge nurse." in said(post(client, f"{link}/decline", tap="a" * 32))
    feed = ward.await_feed(lambda feed: any(told.contact == "phone-2" for c in feed.picture.calls for told in c.told))
    assert feed.picture.alerts[0].state is State.UNACKNOWLEDGED
    assert len([one for one in ward.commands() if isinstance(one, Decline)]) == 1


def test_what_is_handed_over_has_to_be_answered_anew(ward: PagedWard, client: Client, alert: AlertPicture) -> None:
    said(post(client, f"/alert/{alert.id}/acknowledge"))
    ward.await_state(alert.id, State.ACKNOWLEDGED)
    assert "Handed over to Charge nurse" in said(post(client, f"/alert/{alert.id}/hand-over", role="charge"))
    ward.await_state(alert.id, State.UNACKNOWLEDGED)


def test_a_link_from_before_a_hand_over_answers_no_more_says_to_whom_it_was_given_and_that_role_is_told(
    ward: PagedWard, client: Client, alert: AlertPicture
) -> None:
    link = ward.link_of(ward.first_page(alert.id))
    said(post(client, f"/alert/{alert.id}/hand-over", role="charge"))
    ward.await_feed(lambda feed: any(one.handed_to for one in feed.picture.alerts))
    late = post(client, f"{link}/acknowledge")
    assert (late.status_code, "It was handed over to Charge nurse at" in late.json()["error"]) == (409, True)
    feed = ward.await_feed(lambda feed: any(t.why is PageWhy.HANDED_OVER for c in feed.picture.calls for t in c.told))
    assert [one.state for one in feed.picture.alerts] == [State.UNACKNOWLEDGED]
    opened = client.get(link).text
    assert "Handed over to Charge nurse at" in opened
    assert 'data-said="I go"' not in opened
    assert "You have it: Ana" in said(post(client, f"/alert/{alert.id}/acknowledge"))


def test_the_key_of_a_pager_from_before_a_hand_over_answers_no_more_and_its_carrier_is_told(tmp_path: Path) -> None:
    book = PagerBook(now=lambda: NOON)
    with SnppServer(book) as server, paged_ward(tmp_path, with_pagers(server.port), QUICK) as ward:
        alert = ward.roll_with_a_cord_down()
        [first] = book.wait_for(1, PATIENCE_SECONDS)
        ward.await_feed(lambda feed: any(told.outcome for call in feed.picture.calls for told in call.told))
        with signed_in(ward.served.url, timeout=20) as client:
            said(post(client, f"/alert/{alert.id}/hand-over", role="charge"))
        book.move(first.tag, Fate.READ)
        book.move(first.tag, Fate.ANSWERED, "01")
        later = sorted(book.wait_for(3, PATIENCE_SECONDS)[1:], key=lambda page: page.draft.pagers)
        assert [page.draft.pagers for page in later] == [("5550001",), ("5550002",)]
        assert [bool(page.draft.choices) for page in later] == [False, True]
        assert "Charge nurse is asked instead" in (later[0].draft.words or "")
        assert ward.await_state(alert.id, State.UNACKNOWLEDGED).picture.alerts[0].handed_to == "Charge nurse"
        book.move(later[1].tag, Fate.READ)
        book.move(later[1].tag, Fate.ANSWERED, "01")
        assert ward.await_state(alert.id, State.ACKNOWLEDGED).picture.alerts[0].acknowledged_by == "Phone 2"


def test_who_cannot_go_at_a_screen_is_not_called_by_their_own_device(ward: PagedWard, alert: AlertPicture) -> None:
    ward.first_page(alert.id)
    with signed_in(ward.served.url, "Nora", contact="phone-2", timeout=20) as nurse:
        assert "Nobody else could be told at once" in said(post(nurse, f"/alert/{alert.id}/decline"))
    assert [page.contact for page in ward.pages_asked()] == ["phone-1"]


def test_what_is_put_aside_comes_back_when_it_is_taken_from_the_shelf(
    ward: PagedWard, client: Client, alert: AlertPicture
) -> None:
    assert "Put aside until" in said(post(client, f"/alert/{alert.id}/shelve", minutes="30", own="wheels"))
    ward.await_state(alert.id, State.SHELVED)
    assert "Put aside" in client.get("/alerts").text
    assert "it counts again" in said(post(client, f"/alert/{alert.id}/unshelve"))
    ward.await_state(alert.id, State.UNACKNOWLEDGED)


def test_maintenance_takes_a_cart_out_of_service_and_puts_it_back(
    ward: PagedWard, client: Client, alert: AlertPicture
) -> None:
    out = {"role": "engineer", "thing": "cart-1", "why": "wheels are changed"}
    assert "Cart 1, all rules: out of service." in said(post(client, "/alerts/take-out", **out))
    ward.await_state(alert.id, State.OUT_OF_SERVICE)
    assert "back in service" in said(post(client, "/alerts/put-back", role="engineer", out="cart-1"))
    ward.await_state(alert.id, State.UNACKNOWLEDGED)


def test_walls_are_silenced_for_ten_minutes(ward: PagedWard, client: Client, alert: AlertPicture) -> None:
    assert "The walls are silent until" in said(post(client, f"/alert/{alert.id}/quiet"))
    ward.await_feed(lambda feed: feed.picture.sound_paused_until is not None)


def test_that_a_link_was_opened_is_known_of_the_page(ward: PagedWard, client: Client, alert: AlertPicture) -> None:
    link = ward.link_of(ward.first_page(alert.id))
    said(post(client, f"{link}/opened"))
    feed = ward.await_feed(lambda feed: any(c.told[0].outcome is Confirmation.READ for c in feed.picture.calls))
    assert feed.picture.alerts[0].state is State.UNACKNOWLEDGED
    assert "opened there" in client.get(f"/alert/{alert.id}").text


def test_the_story_of_an_alert_is_in_the_logbook(ward: PagedWard, client: Client, alert: AlertPicture) -> None:
    link = ward.link_of(ward.first_page(alert.id))
    said(post(client, f"{link}/acknowledge"))
    story = client.get(f"/logbook/alert/{alert.id}").text
    assert "Tech, Phone 1, by mail (first told)" in story
    assert "Answered by Phone 1, by the link or key of a page" in story


def test_a_test_page_is_asked_for_and_listed(ward: PagedWard, client: Client) -> None:
    ward.await_feed(lambda feed: feed.picture.hearing)
    page = client.get("/pages").text
    token = page.partition('name="token" value="')[2].partition('"')[0]
    answer = client.post("/pages/test", data={"who": "Eva", "token": token})
    assert (answer.status_code, answer.headers["location"]) == (303, "/pages")
    assert client.get("/pages").text.count("test") > page.count("test")
