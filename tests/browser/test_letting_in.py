"""Secrets behind the # of an address, and pages whose reader is let in no more, in a real browser."""

import logging
from collections.abc import Iterator
from typing import Any

import pytest

from dashboard.cookies import Cookie
from dashboard.stream import Pace
from gateway.clock import Clock
from gateway.people import MACHINE, Access, Draft, SessionSecret
from rules.commands import StripRead
from rules.readings import StripResult
from tests.browser.conftest import ZONE
from tests.browser.strips import read_strip
from tests.dashboard.pictures import calm
from tests.dashboard.serving import Desk, Served, Standing
from tests.dashboard.visitors import fresh, people, secret_of
from tests.gateway.people.staff import HERE, PASSWORD

pytestmark = pytest.mark.browser

INVITATION = "/invited#"
DISPLAY = "/display#"


@pytest.fixture(scope="module")
def standing() -> Iterator[Standing]:
    """Looks after each tenth of a second whether a stream may still be read."""
    made = Standing(ZONE, pace=Pace(beat=0.1))
    yield made
    made.end()


# ---- what is open while an administrator ends it ---------------------------------------------------------------------


def test_an_open_page_says_that_its_session_was_ended_and_leads_to_signing_in(
    page: Any, served: Served, clock: Clock, desk: Desk
) -> None:
    name, secret = fresh("Olga")
    page.context.add_cookies([{"name": Cookie.SESSION.value, "value": secret, "url": served.url, "httpOnly": True}])
    served.hub.publish(calm(clock.now()))
    page.goto(f"{served.url}/basin/basin-1?from=wall")
    page.get_by_label("Lot of the strips").fill("S-7")
    office = people().administer(MACHINE)
    for session in office.sessions(name):
        office.end_session(name, session.id)
    cut = page.get_by_role("alert").filter(has_text="Not live.")
    cut.get_by_text("Signed out: sign in again. What you have filled in is not lost").wait_for()
    way = cut.get_by_role("link", name="Sign in")
    assert (way.inner_text(), way.get_attribute("target")) == ("Sign in, in a new tab", "_blank")
    assert way.get_attribute("href") == "/sign-in?next=%2Fbasin%2Fbasin-1%3Ffrom%3Dwall"
    assert page.locator("#sheet.stale").count() == 1
    assert not page.get_by_text("Live", exact=True).is_visible()
    with page.expect_response("**/basin/basin-1/strip") as refused:
        read_strip(page, "Pass")
    assert (refused.value.status, desk.entered) == (401, [])
    page.get_by_text("It is kept here: sign in").wait_for()


def test_what_was_filled_in_before_the_session_ended_is_sent_after_signing_in_again(
    page: Any, served: Served, clock: Clock, desk: Desk
) -> None:
    name, secret = fresh("Odo")
    page.context.add_cookies([{"name": Cookie.SESSION.value, "value": secret, "url": served.url, "httpOnly": True}])
    served.hub.publish(calm(clock.now()))
    page.goto(f"{served.url}/basin/basin-1")
    page.get_by_label("Lot of the strips").fill("S-7")
    people().sign_out(SessionSecret(secret))
    read_strip(page, "Fail")
    page.get_by_text("You were signed out, so what you sent was not taken. It is kept here").wait_for()
    page.get_by_label("Sign-in name").fill(name)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", name="Not sent yet").wait_for()
    assert "S-7" in page.locator(".facts").inner_text()
    assert desk.entered == []
    page.get_by_role("button", name="Send it in my name").click()
    page.get_by_text("Written down: strip").wait_for()
    (entry,) = desk.entered
    assert isinstance(entry, StripRead)
    assert (entry.who.lower().replace(" ", "-"), entry.lot, entry.result) == (name, "S-7", StripResult.FAIL)
    assert page.url.startswith(f"{served.url}/basin/basin-1")


def test_a_page_of_before_sends_once_somebody_has_signed_in_beside_it(
    page: Any, served: Served, clock: Clock, desk: Desk
) -> None:
    name, secret = fresh("Oda")
    cookie = {"name": Cookie.SESSION.value, "url": served.url, "httpOnly": True}
    page.context.add_cookies([{**cookie, "value": secret}])
    served.hub.publish(calm(clock.now()))
    page.goto(f"{served.url}/basin/basin-1")
    page.get_by_label("Lot of the strips").fill("S-8")
    page.context.add_cookies([{**cookie, "value": people().sign_in(name, PASSWORD, HERE)}])
    read_strip(page, "Pass")
    page.get_by_role("button", name="Send it in my name").click()
    page.get_by_text("Written down: strip").wait_for()
    assert [getattr(entry, "lot", "") for entry in desk.entered] == ["S-8"]


def test_a_wall_on_which_somebody_had_signed_in_says_that_they_were_signed_out(
    page: Any, served: Served, clock: Clock
) -> None:
    name, secret = fresh("Otto")
    page.context.add_cookies([{"name": Cookie.SESSION.value, "value": secret, "url": served.url, "httpOnly": True}])
    served.hub.publish(calm(clock.now()))
    page.goto(f"{served.url}/wall")
    page.get_by_text("Live", exact=True).wait_for()
    people().administer(MACHINE).disable(name)
    page.get_by_role("alert").get_by_text("Signed out: sign in again.").wait_for()
    page.get_by_role("alert").get_by_role("link", name="Sign in").wait_for()


def test_a_wall_whose_display_is_withdrawn_says_so_asks_no_more_and_offers_nobody_a_password(
    page: Any, served: Served, clock: Clock
) -> None:
    new = people().administer(MACHINE).add_display("Wall by the door")
    page.context.clear_cookies()
    page.context.add_cookies([{"name": Cookie.DISPLAY.value, "value": new.secret, "url": served.url}])
    served.hub.publish(calm(clock.now()))
    page.goto(f"{served.url}/wall")
    page.get_by_text("Live", exact=True).wait_for()
    people().administer(MACHINE).revoke_display(new.display.id)
    cut = page.get_by_role("alert")
    cut.get_by_text("This display is not let in any more: an administrator can let it in again.").wait_for()
    assert "NOT LIVE" in cut.inner_text()
    assert cut.get_by_role("link").count() == 0
    assert page.evaluate("source.readyState") == 2  # EventSource.CLOSED, WHATWG HTML, 9.2.2


# ---- what stands behind the # ----------------------------------------------------------------------------------------


def opened(page: Any, address: str) -> list[str]:
    """Every address that the browser asks for from now on, and all that it says beside; but for its cookies."""
    sent: list[str] = []

    def note(request: Any) -> None:
        sent.append(request.url)
        sent.extend(value for name, value in request.all_headers().items() if name != "cookie")

    page.on("requestfinished", note)
    page.goto(address)
    return sent


def invitation_for(called: str) -> str:
    draft = Draft(called.lower(), called, Access.RESPONDER)
    return people().administer(MACHINE).add(draft).secret


def history_of(page: Any) -> list[str]:
    """Every address to which this tab can go back."""
    session = page.context.new_cdp_session(page)
    entries = session.send("Page.getNavigationHistory")["entries"]
    session.detach()
    return [entry[key] for entry in entries for key in ("url", "userTypedURL")]


@pytest.mark.own_page
def test_an_invitation_is_seen_by_no_log_no_history_and_no_other_page(
    page: Any, served: Served, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    page.context.clear_cookies()  # whoever is invited ends the session that the browser has, here of all other tests
    secret = invitation_for("Pia")
    sent = opened(page, served.url + INVITATION + secret)
    page.get_by_text("For Pia, who signs in as pia.").wait_for()
    assert page.url == served.url + "/invited"
    for label in ("Password, 12 letters at least", "The same once more"):
        page.get_by_label(label).fill("odd words in a heap")
    page.get_by_role("button", name="Set the password and sign in").click()
    page.wait_for_url("**/alerts")
    page.get_by_role("heading", name="Alerts").wait_for()
    assert f"{served.url}/invited" in sent  # so also the Referer of what the page asked for
    assert [line for line in (*sent, *history_of(page), caplog.text) if secret in line] == []


def test_an_invitation_serves_once_and_says_so_when_it_is_opened_again(page: Any, served: Served) -> None:
    page.context.clear_cookies()
    secret = invitation_for("Quin")
    people().redeem(secret, "odd words in a heap", "192.0.2.7")
    opened(page, served.url + INVITATION + secret)
    page.get_by_text("This invitation was used, has run out, was withdrawn, or is not whole").wait_for()
    assert (page.url, page.get_by_label("Password").count()) == (served.url + "/invited", 0)


@pytest.mark.own_page
def test_a_displays_key_is_seen_by_no_log_no_history_and_no_other_page(
    page: Any, served: Served, clock: Clock, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    served.hub.publish(calm(clock.now()))
    secret = secret_of("Wall by the stairs", Access.DISPLAY)
    page.context.clear_cookies()
    sent = opened(page, served.url + DISPLAY + secret)
    page.wait_for_url("**/wall")
    page.get_by_text("Live", exact=True).wait_for()
    assert f"{served.url}/display" in sent
    assert [line for line in (*sent, *history_of(page), caplog.text) if secret in line] == []


def test_a_displays_key_lets_it_in_again_until_it_is_withdrawn_and_then_it_is_said(
    page: Any, served: Served, clock: Clock
) -> None:
    served.hub.publish(calm(clock.now()))
    new = people().administer(MACHINE).add_display("Wall by the stove")
    for _ in range(2):  # many a display forgets everything when it is switched off
        page.context.clear_cookies()
        page.goto(served.url + DISPLAY + new.secret)
        page.wait_for_url("**/wall")
    people().administer(MACHINE).revoke_display(new.display.id)
    page.context.clear_cookies()
    page.goto(served.url + DISPLAY + new.secret)
    page.get_by_text("This address lets no display in: it was withdrawn, or is not whole.").wait_for()
    assert page.url == served.url + "/display"


def test_a_key_that_is_pasted_over_the_address_of_an_open_page_is_taken_too_and_leaves_no_trace(
    page: Any, served: Served, clock: Clock
) -> None:
    served.hub.publish(calm(clock.now()))
    page.context.clear_cookies()
    page.goto(served.url + "/display")
    secret = secret_of("Wall in the hall", Access.DISPLAY)
    page.goto(served.url + DISPLAY + secret)  # which fetches nothing anew
    page.wait_for_url("**/wall")
    assert f"{served.url}/display" in history_of(page)
    assert [address for address in history_of(page) if secret in address] == []
