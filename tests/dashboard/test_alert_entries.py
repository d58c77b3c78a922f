"""What is done about an alert from its page: what is taken, what is said of it, and what is refused."""

import re
from collections.abc import Sequence
from dataclasses import replace
from html import unescape
from secrets import token_hex

import pytest
from httpx import Client, Response

from gateway.hub import Hub
from gateway.pump import StoppedError
from rules.alert_commands import Acknowledge, Decline, HandOver, PauseSound, Settle, Shelve, TakeOver, Unshelve
from rules.alert_events import AlertAcknowledged, AlertMoved, AlertOver, AlertTakenOver, SoundPaused
from rules.alert_words import Cause, Priority, State
from rules.commands import Command
from rules.events import Event
from tests.dashboard.alert_pictures import alerted, standing
from tests.dashboard.pictures import NOON, later
from tests.dashboard.serving import Desk
from tests.dashboard.visitors import script

HOSTILE = '<img src=x onerror="alert(1)">'


@pytest.fixture
def tap() -> str:
    """As a page makes one up, of which nobody has heard before."""
    return token_hex(8)


@pytest.fixture(autouse=True)
def raised(hub: Hub) -> None:
    hub.publish(alerted(standing()))


def send(client: Client, deed: str, alert: str = "alert-7", **fields: object) -> Response:
    return client.post(f"/alert/{alert}/{deed}", data={"who": "Ana", **fields}, headers=script(client))


def words(client: Client, path: str = "/alert/alert-7") -> str:
    """The visible words of a page."""
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", client.get(path).text)).split())


def moved(cause: Cause, **more: object) -> AlertMoved:
    ends = {"before": State.UNACKNOWLEDGED, "after": State.SHELVED}
    of = {"alert": "alert-7", "rule": "lid", "subject": "basin basin-1", "at": NOON, "cause": cause}
    return AlertMoved.model_validate({**ends, **of, **more})


# ---- what is shown ---------------------------------------------------------------------------------------------------


def test_the_page_says_what_happened_what_to_do_and_who_was_told(client: Client) -> None:
    said = words(client)
    assert "Now since Tue 25 Nov 11:58" in said
    assert "Basin 1: lid opened before the soak was done" in said
    assert "What to do Close the lid." in said
    assert "If nobody answers, Charge nurse is told at Tue 25 Nov 12:05." in said
    assert "Reprocessing tech, pager-1 snpp, first told: delivered to the device" in said
    assert "not a medical device and not proof of disinfection" in said


def test_an_alert_that_is_over_is_said_to_be_so_and_the_page_stays(client: Client) -> None:
    answer = client.get("/alert/alert-99")
    assert answer.status_code == 200
    assert "No alert of this number stands now" in answer.text
    assert 'href="/alerts"' in answer.text


def test_of_an_alert_that_does_not_stand_nothing_is_said_that_only_one_that_stands_needs(client: Client) -> None:
    said = words(client, "/alert/nonsense")
    assert "It is over, or there never was one: the record says which ." in said
    assert ("All that was told" in said, "Look before you act" in said) == (False, False)
    assert "All that was told and done so far" in words(client)


def test_hostile_texts_are_shown_as_texts(client: Client, hub: Hub) -> None:
    hub.publish(alerted(standing(text=HOSTILE, by=HOSTILE, state=State.ACKNOWLEDGED)))
    for path in ("/alert/alert-7", f"/alert/{HOSTILE}"):
        assert "<img" not in client.get(path).text
    assert "&lt;img" in client.get("/alert/alert-7").text
    refused = client.post("/alert/alert-7/settle", data={"who": HOSTILE, "token": token(client)})
    assert "<img" not in refused.text


# ---- what is taken ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("deed", "fields", "said", "events"),
    [
        (
            "decline",
            {},
            ("Written down that you cannot go. Nobody else could be told at once: tell somebody yourself."),
            [moved(Cause.DECLINED)],
        ),
        (
            "hand-over",
            {"role": "charge-nurse"},
            ("Handed over to Charge nurse at 12:00, who is told now and has to answer: until then nobody has it."),
            [moved(Cause.HANDED_OVER, role="charge-nurse")],
        ),
        (
            "shelve",
            {"minutes": "30", "why": "false alarm"},
            "Put aside until Tue 25 Nov 12:30. Nobody is told until then.",
            [moved(Cause.SHELVED, until=later(1800))],
        ),
        (
            "take-over",
            {"holder": "Ben"},
            "You have it: Ana, 12:00. Ben had it before.",
            [AlertTakenOver(at=NOON, alert="alert-7", who="Ana", holder="Ben")],
        ),
        ("unshelve", {}, "No longer put aside: it counts again.", [moved(Cause.TAKEN_FROM_SHELF)]),
        (
            "settle",
            {"done": "cleaned up"},
            "It is over since 12:00: settled by Ana (cleaned up). Nobody has to go any more.",
            [
                AlertAcknowledged(at=NOON, alert="alert-7", who="Ana"),
                AlertOver(at=NOON, alert="alert-7", why="settled", who="Ana", remark="cleaned up"),
            ],
        ),
        ("quiet", {}, "The walls are silent until 12:10.", [SoundPaused(at=NOON, until=later(600), who="Ana")]),
    ],
)
def test_each_deed_says_what_came_of_it(
    client: Client, desk: Desk, deed: str, fields: dict[str, str], said: str, events: Sequence[Event]
) -> None:
    desk.said = list(events)
    answer = send(client, deed, **fields)
    assert (answer.status_code, answer.json()) == (200, {"said": said})


def test_whoever_answers_has_it(client: Client, desk: Desk) -> None:
    desk.open_alerts = {"alert-7"}
    assert re.fullmatch(r"You have it: Ana, \d\d:\d\d\.", send(client, "acknowledge").json()["said"])


def last(desk: Desk) -> Command:
    return desk.asked[-1] if desk.asked else desk.entered[-1]


@pytest.mark.parametrize(
    ("deed", "fields", "kind", "more"),
    [
        ("acknowledge", {}, Acknowledge, {"alert": "alert-7", "page": None}),
        ("decline", {}, Decline, {"alert": "alert-7"}),
        ("hand-over", {"role": "engineer"}, HandOver, {"role": "engineer"}),
        ("take-over", {"holder": "Ben"}, TakeOver, {"holder": "Ben"}),
        ("shelve", {"minutes": "30", "why": "false alarm"}, Shelve, {"minutes": 30, "one_shot": False}),
        ("shelve", {"minutes": "30", "why": "false alarm", "own": "x"}, Shelve, {"why": "x"}),
        ("shelve", {"minutes": "until it ends", "own": "x"}, Shelve, {"minutes": 480, "one_shot": True}),
        ("unshelve", {}, Unshelve, {"alert": "alert-7"}),
        ("settle", {"done": "cleaned up"}, Settle, {"why": "cleaned up"}),
        ("settle", {"done": "cleaned up", "done_own": "x"}, Settle, {"why": "x"}),
        ("quiet", {}, PauseSound, {"minutes": 10}),
    ],
)
def test_each_deed_reaches_the_pump(
    client: Client, desk: Desk, deed: str, fields: dict[str, str], kind: type[Command], more: dict[str, object]
) -> None:
    desk.said = []
    send(client, deed, **fields)
    command = last(desk)
    assert isinstance(command, kind)
    assert {"who": "Ana", **more}.items() <= command.model_dump().items()


def test_the_time_of_a_tap_is_that_of_its_arrival(client: Client, desk: Desk) -> None:
    before = later(0)
    send(client, "acknowledge", at="1000", ago="60", arrived="1000")
    assert desk.asked[0].arrived > before


# ---- a tap that comes again ------------------------------------------------------------------------------------------


def test_a_tap_that_comes_again_is_taken_once_and_answered_alike(client: Client, desk: Desk, tap: str) -> None:
    desk.said = [moved(Cause.DECLINED)]
    first, again = (send(client, "decline", tap=tap) for _ in range(2))
    assert len(desk.entered) == 1
    assert (first.status_code, first.json()) == (again.status_code, again.json())


def test_another_tap_is_taken_anew(client: Client, desk: Desk, tap: str) -> None:
    desk.said = [moved(Cause.DECLINED)]
    for another in (tap, tap[::-1], "", ""):
        send(client, "decline", tap=another)
    assert len(desk.entered) == 4


def test_a_tap_that_was_not_taken_may_come_again(client: Client, desk: Desk, tap: str) -> None:
    desk.refusal = StoppedError("Sinkside is stopping; ask again in a moment.")
    assert send(client, "decline", tap=tap).status_code == 503
    desk.refusal, desk.said = None, [moved(Cause.DECLINED)]
    assert send(client, "decline", tap=tap).status_code == 200
    assert len(desk.entered) == 1


# ---- what is refused -------------------------------------------------------------------------------------------------


def test_who_answers_second_is_told_who_has_it(client: Client, hub: Hub) -> None:
    hub.publish(alerted(standing(State.ACKNOWLEDGED, by="Ben")))
    answer = send(client, "acknowledge")
    assert (answer.status_code, answer.json()["error"]) == (
        409,
        "Answered already: Ben has it, since Tue 25 Nov 12:00.",
    )


@pytest.mark.parametrize(("deed", "fields"), [("acknowledge", {}), ("take-over", {"holder": "Ben"})])
def test_who_has_it_and_says_so_once_more_is_told_that_it_is_so(
    client: Client, hub: Hub, desk: Desk, deed: str, fields: dict[str, str]
) -> None:
    desk.open_alerts, desk.said = set(), []
    hub.publish(alerted(standing(State.ACKNOWLEDGED, by="Ana")))
    answer = send(client, deed, **fields)
    assert (answer.status_code, answer.json()) == (200, {"said": "You have it already, since Tue 25 Nov 12:00."})


@pytest.mark.parametrize(
    ("state", "by", "said"),
    [
        (
            State.ACKNOWLEDGED,
            "Cid",
            "Cid has it, since Tue 25 Nov 12:00, and not Ben any more: take it over from them.",
        ),
        (
            State.ACKNOWLEDGED,
            "Ben",  # and the message that was answered by serves no more
            "Nothing changed: this was answered already, or things have moved on. Look at what stands above.",
        ),
        (State.UNACKNOWLEDGED, None, "Nobody has it any more: tap 'I go'."),
        (State.SHELVED, None, "Nothing changed: this alert is put aside, or out of service."),
    ],
)
def test_who_takes_over_what_is_otherwise_by_now_is_told_how_it_is(
    client: Client, hub: Hub, desk: Desk, state: State, by: str | None, said: str
) -> None:
    desk.said = []
    hub.publish(alerted(standing(state, by=by)))
    answer = send(client, "take-over", holder="Ben")
    assert (answer.status_code, answer.json()["error"]) == (409, said)


def test_what_is_urgent_is_put_aside_for_no_longer_than_the_site_says_of_it(
    client: Client, hub: Hub, desk: Desk
) -> None:
    feed = alerted(standing())
    most = {Priority.HIGH: 60.0, Priority.MEDIUM: 480.0, Priority.LOW: 480.0}
    hub.publish(replace(feed, picture=replace(feed.picture, shelve_most_minutes=most)))
    page = words(client)
    assert ("At most 1 h here." in page, "a patient may be in danger" in page, "2 h" in page) == (True, True, False)
    refused = send(client, "shelve", minutes="61", why="false alarm")
    assert (refused.status_code, "at most 60 minutes here" in refused.json()["error"]) == (422, True)
    assert desk.entered == []


def test_a_deed_for_an_alert_that_is_over_is_said_to_come_too_late(client: Client, desk: Desk) -> None:
    answer = send(client, "acknowledge", "alert-6")
    assert (answer.status_code, "no alert of this number stands now" in answer.json()["error"]) == (404, True)
    assert desk.asked == []


@pytest.mark.parametrize(
    ("deed", "fields", "said"),
    [
        ("shelve", {"minutes": "30"}, "Say why"),
        ("shelve", {"why": "false alarm"}, "Choose for how long"),
        ("shelve", {"why": "false alarm", "minutes": "481"}, "at most 480 minutes here"),
        ("shelve", {"why": "false alarm", "minutes": "-1"}, "Choose for how long"),
        ("shelve", {"why": "x" * 201, "minutes": "30"}, "at most 200 characters"),
        ("settle", {}, "Say what was done"),
        ("take-over", {}, "Say from whom you take it over"),
        ("hand-over", {}, "Choose to whom"),
        ("hand-over", {"role": "nobody"}, "Choose to whom"),
    ],
)
def test_what_is_wrong_is_said_plainly(
    client: Client, desk: Desk, deed: str, fields: dict[str, str], said: str
) -> None:
    answer = send(client, deed, **fields)
    assert (answer.status_code, said in answer.json()["error"]) == (422, True)
    assert (desk.entered, desk.asked) == ([], [])


def token(client: Client) -> str:
    (found,) = set(re.findall(r'name="token" value="([^"]+)"', client.get("/alert/alert-7").text))
    return str(found)


def test_a_form_without_javascript_answers_too(client: Client, desk: Desk) -> None:
    desk.open_alerts = {"alert-7"}
    answer = client.post("/alert/alert-7/acknowledge", data={"who": "Ana", "token": token(client)})
    assert (answer.status_code, answer.headers["location"]) == (303, "/alert/alert-7?written=acknowledge")


@pytest.mark.parametrize("deed", ["acknowledge", "take-over"])
def test_a_form_of_a_foreign_site_does_nothing(client: Client, desk: Desk, deed: str) -> None:
    answer = client.post(f"/alert/alert-7/{deed}", data={"who": "Ana", "holder": "Ben"})
    assert (answer.status_code, desk.asked, desk.entered) == (403, [], [])
