"""The page of one alert on a phone whose network drops: what was tapped waits, and counts once."""

from typing import Any

import pytest

from dashboard.cookies import Cookie
from gateway.clock import Clock
from gateway.people import SessionSecret
from gateway.pump import StoppedError
from rules.alert_words import Cause
from tests.browser.phones import moved, show
from tests.browser.rendered import SILENT_MS, texts
from tests.dashboard.serving import Desk, Served
from tests.dashboard.visitors import fresh, people
from tests.gateway.people.staff import HERE, PASSWORD

pytestmark = pytest.mark.browser


def test_a_tap_without_network_is_kept_said_to_be_and_sent_once(
    phone: Any, served: Served, clock: Clock, desk: Desk
) -> None:
    desk.open_alerts = {"alert-7"}
    show(phone, served, clock)
    phone.context.set_offline(True)
    phone.get_by_role("button", name="I go").tap()
    phone.get_by_text("I go: not sent yet, waits for the network.").wait_for()
    assert desk.asked == []
    phone.context.set_offline(False)
    phone.get_by_text("I go: sent. You have it").wait_for()
    assert len(desk.asked) == 1
    assert phone.evaluate("localStorage.getItem('sinkside.taps')") == "[]"


def test_a_tap_outlives_the_page_on_which_it_was_made(phone: Any, served: Served, clock: Clock, desk: Desk) -> None:
    desk.open_alerts = {"alert-7"}
    show(phone, served, clock)
    phone.context.set_offline(True)
    phone.get_by_role("button", name="I go").tap()
    phone.get_by_text("waits for the network").wait_for()
    context = phone.context
    phone.close()
    context.set_offline(False)
    later = context.new_page()
    later.goto(f"{served.url}/alert/alert-8")
    later.get_by_text("I go (Basin 1: lid opened before the soak was done): sent. You have it").wait_for()
    assert len(desk.asked) == 1


def test_a_tap_outlives_the_session_in_which_it_was_made_though_its_person_signs_in_elsewhere(
    phone: Any, served: Served, clock: Clock, desk: Desk
) -> None:
    desk.open_alerts = {"alert-7"}
    name, secret = fresh("Nora")
    cookie = {"name": Cookie.SESSION.value, "url": "http://127.0.0.1", "httpOnly": True}
    phone.context.add_cookies([{**cookie, "value": secret}])
    show(phone, served, clock)
    people().sign_out(SessionSecret(secret))
    phone.get_by_role("button", name="I go").click()
    phone.get_by_text("I go: not sent yet, waits for the person: signed out, sign in again").wait_for()
    anew = people().sign_in(name, PASSWORD, HERE)
    phone.context.add_cookies([{**cookie, "value": anew}])
    with phone.expect_response("**/acknowledge") as refused:
        phone.evaluate("dispatchEvent(new Event('online'))")
    assert (refused.value.status, len(desk.asked)) == (403, 0)  # by the token of the session before
    phone.reload()
    phone.get_by_text("I go: sent").wait_for()
    assert len(desk.asked) == 1


def test_a_tap_whose_answer_was_lost_is_sent_again_and_taken_once(
    phone: Any, served: Served, clock: Clock, desk: Desk
) -> None:
    desk.said = [moved(Cause.DECLINED, clock.now())]
    show(phone, served, clock)
    taken: list[str] = []

    def lose_the_first_answer(route: Any) -> None:
        taken.append(route.request.post_data)
        if len(taken) == 1:
            route.fetch()
            route.abort()
        else:
            route.continue_()

    phone.route("**/decline", lose_the_first_answer)
    phone.get_by_role("button", name="Cannot").tap()
    phone.get_by_role("button", name="I cannot go").tap()
    phone.get_by_text("I cannot go: sent. Written down that you cannot go.").wait_for()
    assert (len(taken), taken[0] == taken[1], len(desk.entered)) == (2, True, 1)


def test_a_tap_that_is_not_sent_yet_can_be_taken_back(phone: Any, served: Served, clock: Clock, desk: Desk) -> None:
    show(phone, served, clock)
    phone.context.set_offline(True)
    phone.get_by_role("button", name="I go").tap()
    phone.get_by_role("button", name="Take it back").tap()
    phone.get_by_text("Taken back: it is not sent any more.").wait_for()
    phone.context.set_offline(False)
    phone.reload()
    phone.get_by_role("button", name="I go").wait_for()
    assert (desk.asked, phone.evaluate("localStorage.getItem('sinkside.taps')")) == ([], "[]")


def test_a_tap_of_long_ago_is_not_sent_any_more(phone: Any, served: Served, clock: Clock, desk: Desk) -> None:
    # Who said "I go" an hour ago is not on the way now, and nobody else would be told.
    old = (
        "JSON.stringify([{id: '0123456789abcdef', here: '/alert/alert-7', of: 'x', path: '/alert/alert-7/acknowledge',"
    )
    keep = f"{old} by: 'Ana', said: 'I go', fields: 'who=Ana', at: Date.now() - 601000}}])"
    phone.add_init_script(f"localStorage.setItem('sinkside.taps', {keep})")
    show(phone, served, clock)
    phone.get_by_text("I go: not sent, for it is more than 10 minutes old.").wait_for()
    assert desk.asked == []


def test_a_gateway_that_cannot_take_it_now_is_asked_again(phone: Any, served: Served, clock: Clock, desk: Desk) -> None:
    desk.open_alerts, desk.refusal = {"alert-7"}, StoppedError("Sinkside is stopping; ask again in a moment.")
    show(phone, served, clock)
    phone.get_by_role("button", name="I go").tap()
    phone.get_by_text("I go: not sent yet, waits for the gateway.").wait_for()
    desk.refusal = None
    phone.get_by_text("I go: sent. You have it").wait_for()


def test_the_page_can_be_read_while_it_is_not_live_and_says_since_when(
    phone: Any, served: Served, clock: Clock
) -> None:
    phone.clock.install()
    show(phone, served, clock)
    phone.wait_for_function("() => gateway.offsetMs !== null")  # the first beat was heard
    served.stop()
    phone.clock.fast_forward(SILENT_MS)
    phone.get_by_text("Nothing heard from the gateway since").wait_for()
    phone.get_by_text("What stands here may have changed.").wait_for()
    assert phone.evaluate("getComputedStyle(document.getElementById('sheet')).filter") == "none"
    assert [t for t in texts(phone) if t.contrast < 4.5] == []
    covered = "document.elementFromPoint(...(({left, top}) => [left + 5, top + 5])(%s)) === %s"
    button = "document.querySelector('.go')"
    assert phone.evaluate(f"(({covered % (button + '.getBoundingClientRect()', button)}))")
