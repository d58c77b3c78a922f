"""Links in messages: what they open, whom they let answer, once, and what is said of those that serve no more."""

import logging
import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from httpx import Client, Response

from dashboard.answers import MOST_ANSWERS
from gateway.clock import Clock
from gateway.hub import Hub
from rules.alert_commands import Decline, HandOver, PageTold, Settle, Shelve
from rules.alert_events import AlertMoved
from rules.alert_words import Cause, Confirmation, State
from rules.call_picture import CallPicture
from rules.events import Event
from rules.readings import Micros
from tests.dashboard.alert_pictures import alerted, call, standing
from tests.dashboard.conftest import LISBON
from tests.dashboard.links import Sent, send
from tests.dashboard.serving import Desk, serve
from tests.dashboard.visitors import stranger

OWN = {"X-Sinkside": "1"}
HALF_A_DAY = 12 * 3600


@pytest.fixture
def now() -> Micros:
    return Clock().now()


@pytest.fixture
def sent(tmp_path: Path, now: Micros) -> Sent:
    return send(tmp_path, now, "alert-7", "alert-8")


@pytest.fixture
def client(hub: Hub, sent: Sent, now: Micros) -> Iterator[Client]:
    hub.publish(alerted(standing(at=now), standing(name="alert-8", text="Basin 2: too cold", at=now), at=now))
    with serve(hub, LISBON, answering=sent.answering) as running, stranger(running.url) as browser:
        yield browser


def post(client: Client, path: str, deed: str, **fields: object) -> Response:
    return client.post(f"{path}/{deed}", data=fields, headers=OWN)


def words(text: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", text)).split())


# ---- what a link opens -----------------------------------------------------------------------------------------------


def test_a_link_opens_the_alert_and_says_who_answers(client: Client, sent: Sent) -> None:
    said = words(client.get(sent.path()).text)
    assert "Basin 1: lid opened before the soak was done" in said
    assert "You answer as Duty phone 1 ." in said
    assert "I go one answer to all 2 alerts" in said


def test_it_leads_to_the_other_alerts_by_the_same_link(client: Client, sent: Sent) -> None:
    other = f"{sent.path()}?alert=alert-8"
    assert f'href="{other}"' in client.get(sent.path()).text
    assert re.search(r"<h1>Basin 2: too cold</h1>", client.get(other).text)
    assert client.get(f"{sent.path()}?alert=alert-9").status_code == 404


def test_the_alert_that_still_waits_is_shown_first(client: Client, sent: Sent, hub: Hub, now: Micros) -> None:
    seen = standing(State.ACKNOWLEDGED, by="Ana", at=now)
    hub.publish(alerted(seen, standing(name="alert-8", text="Basin 2: too cold", at=now), at=now))
    assert "<h1>Basin 2: too cold</h1>" in client.get(sent.path()).text


def test_of_an_alert_that_is_over_it_asks_the_record_by_the_same_link(client: Client, sent: Sent, hub: Hub) -> None:
    hub.publish(alerted(at=Clock().now()))
    assert f'data-end="{sent.path()}/end?alert=alert-8"' in client.get(f"{sent.path()}?alert=alert-8").text


def test_opening_it_answers_nothing(client: Client, sent: Sent, desk: Desk) -> None:
    for _ in range(3):
        assert client.get(sent.path()).status_code == 200
    assert (desk.asked, desk.entered) == ([], [])


def test_what_follows_links_on_its_own_is_not_taken_for_a_reader(client: Client, sent: Sent, desk: Desk) -> None:
    # A mail filter fetches the page and runs no script; the page's own script says once that it was opened.
    client.get(sent.path())
    assert desk.entered == []
    desk.said = []
    post(client, sent.path(), "opened")
    post(client, sent.path(), "opened")
    (told,) = desk.entered
    assert isinstance(told, PageTold)
    assert (told.page, told.outcome, told.who) == ("page-1", Confirmation.READ, "Duty phone 1")


# ---- who may answer --------------------------------------------------------------------------------------------------


def test_one_tap_answers_for_all_that_the_message_told_of(client: Client, sent: Sent, desk: Desk) -> None:
    desk.open_alerts, desk.said = {"alert-7", "alert-8"}, []
    answer = post(client, sent.path(), "acknowledge", who="Somebody else", alert="alert-7")
    assert re.fullmatch(r"You have it: Duty phone 1, \d\d:\d\d\.", answer.json()["said"])
    answers = {(one.alert, one.who, one.page) for one in desk.asked}
    assert answers == {("alert-7", "Duty phone 1", "page-1"), ("alert-8", "Duty phone 1", "page-1")}
    (told,) = desk.entered
    assert isinstance(told, PageTold)
    assert told.outcome is Confirmation.ANSWERED


def test_no_other_leave_is_asked_for(client: Client, sent: Sent, desk: Desk) -> None:
    desk.open_alerts, desk.said = {"alert-7"}, []
    answer = client.post(f"{sent.path()}/acknowledge", data={})
    assert (answer.status_code, answer.headers["location"]) == (303, f"{sent.path()}?written=acknowledge")


def test_the_same_tap_twice_is_one_answer(client: Client, sent: Sent, desk: Desk) -> None:
    desk.open_alerts, desk.said = {"alert-7", "alert-8"}, []
    first, again = (post(client, sent.path(), "acknowledge", tap="f" * 32) for _ in range(2))
    assert (first.json(), len(desk.asked)) == (again.json(), 2)


def moved(cause: Cause) -> list[Event]:
    of = {"alert": "alert-7", "rule": "lid", "subject": "basin basin-1", "at": 1, "cause": cause}
    return [AlertMoved.model_validate({"before": State.UNACKNOWLEDGED, "after": State.UNACKNOWLEDGED, **of})]


@pytest.mark.parametrize(
    ("calls", "declined"),
    [
        ((call(alerts=("alert-7", "alert-8")),), ["alert-7"]),
        ((call(alerts=("alert-7",)), call(alerts=("alert-8",))), ["alert-7", "alert-8"]),
    ],
)
def test_who_cannot_go_says_so_once_to_each_call(
    client: Client, sent: Sent, desk: Desk, hub: Hub, now: Micros, calls: tuple[CallPicture, ...], declined: list[str]
) -> None:
    both = standing(at=now), standing(name="alert-8", at=now)
    hub.publish(alerted(*both, at=now, calls=calls))
    desk.said = moved(Cause.DECLINED)
    post(client, sent.path(), "decline")
    assert [one.alert for one in desk.entered if isinstance(one, Decline)] == declined


@pytest.mark.parametrize(("who", "declined"), [("Ben", ["alert-8"]), ("Duty phone 1", ["alert-8", "alert-7"])])
@pytest.mark.parametrize("deed", ["decline", "hand-over"])
def test_what_somebody_else_has_answered_stays_theirs_and_keeps_nothing_from_being_passed_on(
    client: Client, sent: Sent, desk: Desk, hub: Hub, now: Micros, who: str, declined: list[str], deed: str
) -> None:
    hub.publish(alerted(standing(State.ACKNOWLEDGED, by=who, at=now), standing(name="alert-8", at=now), at=now))
    desk.said = moved(Cause.DECLINED)
    post(client, sent.path(), deed, role="engineer")
    assert [one.alert for one in desk.entered if isinstance(one, Decline | HandOver)] == declined


def test_whoever_hands_over_hands_over_all(client: Client, sent: Sent, desk: Desk) -> None:
    desk.said = moved(Cause.HANDED_OVER)
    post(client, sent.path(), "hand-over", role="engineer")
    assert [one.alert for one in desk.entered if isinstance(one, HandOver)] == ["alert-7", "alert-8"]


def test_what_needs_a_reason_is_about_the_alert_that_is_looked_at(client: Client, sent: Sent, desk: Desk) -> None:
    desk.said = moved(Cause.SHELVED)
    post(client, sent.path(), "shelve", alert="alert-8", minutes="30", own="x")
    post(client, sent.path(), "settle", alert="alert-8", done_own="y")
    assert [one.alert for one in desk.entered if isinstance(one, Shelve | Settle)] == ["alert-8", "alert-8"]


def test_nothing_is_done_about_an_alert_that_the_message_did_not_tell_of(
    client: Client, sent: Sent, desk: Desk
) -> None:
    assert post(client, sent.path(), "acknowledge", alert="alert-9").status_code == 404
    assert desk.asked == []


def test_a_link_is_not_taken_without_end(client: Client, sent: Sent, desk: Desk) -> None:
    desk.said = moved(Cause.DECLINED)
    answers = [post(client, sent.path(), "decline").status_code for _ in range(MOST_ANSWERS + 1)]
    assert (answers[:-1], answers[-1]) == ([200] * MOST_ANSWERS, 403)


# ---- links that serve no more ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("token", ["A" * 22, "x", "x" * 500, "%00", "<img src=x>", "ü"])
def test_a_forged_link_opens_nothing_and_leads_on(client: Client, desk: Desk, token: str) -> None:
    page = client.get(f"/p/{token}", headers={"Accept": "text/html"})
    assert (page.status_code, "This link is not one of ours" in page.text, "<img" in page.text) == (404, True, False)
    assert 'href="/sign-in"' in page.text
    assert post(client, f"/p/{token}", "acknowledge").status_code == 404
    assert client.get(f"/stream/p/{token}").status_code == 404
    assert (desk.asked, desk.entered) == ([], [])


def test_a_link_that_has_served_its_time_says_so(tmp_path: Path, client: Client, desk: Desk, now: Micros) -> None:
    old = send(tmp_path, now, "alert-7", page="page-2", ago=HALF_A_DAY + 5)
    page = client.get(old.path("page-2", ago=HALF_A_DAY + 5), headers={"Accept": "text/html"})
    assert (page.status_code, "This link has served its time" in page.text) == (410, True)
    assert post(client, old.path("page-2", ago=HALF_A_DAY + 5), "acknowledge").status_code == 410
    assert desk.asked == []


def test_the_token_of_one_page_does_not_open_another(client: Client, sent: Sent) -> None:
    assert client.get(sent.path("page-2")).status_code == 404


def test_no_token_reaches_a_log_or_another_site(
    client: Client, sent: Sent, caplog: pytest.LogCaptureFixture, capfd: pytest.CaptureFixture[str]
) -> None:
    caplog.set_level(logging.DEBUG)
    ours = [logger for logger in (logging.getLogger(name) for name in ("httpx", "httpcore")) if not logger.disabled]
    for logger in ours:
        logger.disabled = True  # the client of this test, not the server
    try:
        answer = client.get(sent.path())
        post(client, sent.path(), "acknowledge")
    finally:
        for logger in ours:
            logger.disabled = False
    token = sent.path().rpartition("/")[2]
    out = capfd.readouterr()
    assert token not in caplog.text + out.out + out.err
    assert answer.headers["referrer-policy"] == "same-origin"
    assert answer.headers["cache-control"] == "no-store"
    assert "http" not in re.sub(r"http://www.w3.org\S*", "", answer.text)


# ---- a test ----------------------------------------------------------------------------------------------------------


def test_a_test_says_that_nothing_has_happened_and_is_answered(
    tmp_path: Path, client: Client, desk: Desk, now: Micros
) -> None:
    test = send(tmp_path, now, page="page-3")
    path = test.path("page-3")
    assert "Nothing has happened." in client.get(path).text
    desk.said = []
    assert post(client, path, "arrived").json()["said"] == "Written down: it arrived."
    (told,) = desk.entered
    assert isinstance(told, PageTold)
    assert (told.page, told.outcome) == ("page-3", Confirmation.ANSWERED)
