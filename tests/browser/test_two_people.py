"""Two people who answer the same alert in the same moment, before a real gateway; and one who has no mouse."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from rules.alert_commands import Acknowledge
from rules.alert_words import PageWhy, State
from tests.browser.keys import to
from tests.browser.lasting import new_page
from tests.browser.signing_in import sign_in
from tests.dashboard.paged_ward import PagedWard, paged_ward
from tests.dashboard.visitors import fresh
from tests.gateway.people.staff import PASSWORD

pytestmark = pytest.mark.browser


@pytest.fixture
def ward(tmp_path: Path) -> Iterator[PagedWard]:
    with paged_ward(tmp_path) as running:
        yield running


GO = ("I go",)
TAKE_OVER = ("Take over", "I have it from now on")


@contextmanager
def of(browser: Any, called: str, address: str, deed: str, taps: Sequence[str]) -> Iterator[tuple[Any, list[Any]]]:
    """An alert's page before somebody, whose answers are held back on their way."""
    held: list[Any] = []
    with new_page(browser) as page:
        sign_in(page.context, called)
        page.route(f"**/{deed}", lambda route: held.append(route))  # noqa: PLW0108 - a builtin has no name
        page.goto(address)
        with page.expect_request(f"**/{deed}"):
            for tap in taps:
                page.get_by_role("button", name=tap, exact=True).click()
        page.get_by_text(": being sent...").wait_for()
        yield page, held


def both(ward: PagedWard, chromium: Any, alert: str, deed: str, taps: Sequence[str]) -> tuple[str, str]:
    """Who of two who do the same at once has the alert, and what the other is told."""
    address = f"{ward.served.url}/alert/{alert}"
    with (
        of(chromium, "Ana", address, deed, taps) as (anas, held),
        of(chromium, "Ben", address, deed, taps) as (bens, also_held),
    ):
        assert (len(held), len(also_held)) == (1, 1)
        for route in (*also_held, *held):
            route.continue_()
        pages = {"Ana": anas, "Ben": bens}
        said = {}
        for called, page in pages.items():
            page.wait_for_function("() => /: (sent|refused)\\. /.test(document.getElementById('answer').textContent)")
            said[called] = page.locator("#answer").inner_text()
        (has_it,) = [called for called, words in said.items() if "sent. You have it" in words]
        (late,) = said.keys() - {has_it}
        for page in pages.values():
            page.locator(".stands", has_text=f"{has_it} has it, since").wait_for()
        return has_it, said[late]


def holders(ward: PagedWard, alert: str) -> list[str | None]:
    shown = ward.await_state(alert, State.ACKNOWLEDGED).picture.alerts
    return [one.acknowledged_by for one in shown if one.id == alert]


def test_of_two_who_go_at_once_one_has_it_and_the_other_is_told_who(ward: PagedWard, chromium: Any) -> None:
    alert = ward.roll_with_a_cord_down()
    has_it, said = both(ward, chromium, alert.id, "acknowledge", GO)
    assert f"refused. Answered already: {has_it} has it" in said
    assert holders(ward, alert.id) == [has_it]


def test_of_two_who_take_it_over_at_once_one_has_it_and_the_device_that_had_it_is_told(
    ward: PagedWard, chromium: Any
) -> None:
    alert = ward.roll_with_a_cord_down()
    page = ward.first_page(alert.id).page
    arrived = ward.service.clock.now()
    ward.service.hub.ask(Acknowledge(arrived=arrived, who="Phone 1", alert=alert.id, page=page)).result(20)
    has_it, said = both(ward, chromium, alert.id, "take-over", TAKE_OVER)
    assert f"refused. {has_it} has it, since" in said
    assert "and not Phone 1 any more: take it over from them." in said
    assert holders(ward, alert.id) == [has_it]
    told = [one for one in ward.pages_asked() if one.why is PageWhy.TAKEN_OVER]
    assert [(one.contact, one.alerts) for one in told] == [("phone-1", (alert.id,))]


def test_by_the_keyboard_alone_somebody_signs_in_and_answers(ward: PagedWard, chromium: Any) -> None:
    name, _ = fresh("Kay")
    alert = ward.roll_with_a_cord_down()
    with new_page(chromium) as page:
        page.goto(f"{ward.served.url}/alerts")
        page.wait_for_function("() => document.activeElement.name === 'name'")
        page.keyboard.type(name)
        page.keyboard.press("Tab")
        page.keyboard.type(PASSWORD)
        page.keyboard.press("Enter")
        page.wait_for_url("**/alerts")
        to(page, ".alert-row")
        page.keyboard.press("Enter")
        page.wait_for_url(f"**/alert/{alert.id}")
        to(page, "button.go")
        page.keyboard.press("Enter")
        page.get_by_text("I go: sent. You have it").wait_for()
