"""Two people who answer the same alert in the same moment, before a real gateway; and one who has no mouse."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from rules.alert_words import State
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


@contextmanager
def of(browser: Any, called: str, address: str) -> Iterator[tuple[Any, list[Any]]]:
    """An alert's page before somebody, whose answers are held back on their way."""
    held: list[Any] = []
    with new_page(browser) as page:
        sign_in(page.context, called)
        page.route("**/acknowledge", lambda route: held.append(route))  # noqa: PLW0108 - a builtin has no name
        page.goto(address)
        with page.expect_request("**/acknowledge"):
            page.get_by_role("button", name="I go").click()
        page.get_by_text("I go: being sent...").wait_for()
        yield page, held


def test_of_two_who_go_at_once_one_has_it_and_the_other_is_told_who(ward: PagedWard, chromium: Any) -> None:
    alert = ward.roll_with_a_cord_down()
    address = f"{ward.served.url}/alert/{alert.id}"
    with of(chromium, "Ana", address) as (anas, held), of(chromium, "Ben", address) as (bens, also_held):
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
        assert f"refused. Answered already: {has_it} has it" in said[late]
        for page in pages.values():
            page.locator(".stands", has_text=f"{has_it} has it, since").wait_for()
        shown = ward.await_state(alert.id, State.ACKNOWLEDGED).picture.alerts
        assert [one.acknowledged_by for one in shown if one.id == alert.id] == [has_it]


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
