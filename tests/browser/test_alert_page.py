"""The page of one alert in a real browser: a phone in one gloved hand, and a real gateway behind it."""

from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import pytest

from gateway.clock import Clock
from gateway.hub import Hub
from gateway.journal import Journal
from gateway.replay import verify
from gateway.schema import DATABASE
from rules.alert_commands import Acknowledge
from rules.alert_words import Cause, Confirmation, State
from tests.browser.phones import PHONE, moved, phone_of, show
from tests.browser.rendered import texts
from tests.dashboard.alert_pictures import alerted, standing
from tests.dashboard.conftest import LISBON
from tests.dashboard.paged_ward import paged_ward
from tests.dashboard.rotas import duties
from tests.dashboard.serving import Desk, Served, serve
from tests.gateway.pages import asked, commit, told
from tests.gateway.told_alerts import told_alerts

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

LEAST_PX = 64
"""Ours, for a gloved thumb: 44 after WCAG 2.2, 2.5.5 (AAA), and half as much again."""


@pytest.fixture(scope="module")
def lasting_glass(chromium: "Browser") -> "Iterator[Page]":
    with phone_of(chromium) as page:
        yield page


@pytest.fixture
def glass(served: Served, lasting_glass: "Page") -> "Iterator[Page]":  # noqa: ARG001 - it ends after the page has left it
    """A phone for all that is only looked at and measured."""
    yield lasting_glass
    lasting_glass.goto("about:blank")


def open_all(page: Any) -> None:
    """Every sheet at once, so that all that can be touched is measured."""
    page.evaluate(
        "document.querySelectorAll('[popover]').forEach((sheet) => { sheet.popover = 'manual'; sheet.showPopover(); })"
    )


# ---- large enough, and within reach ----------------------------------------------------------------------------------


@pytest.mark.parametrize("state", [State.UNACKNOWLEDGED, State.LATCHED_ACKNOWLEDGED, State.SHELVED])
def test_whatever_is_touched_is_large_enough_for_a_glove(
    glass: Any, served: Served, clock: Clock, state: State
) -> None:
    show(glass, served, clock, state)
    open_all(glass)
    touched = "[...document.querySelectorAll('a, button, input:not([type=radio], [type=hidden]), .choice')]"
    seen = f"{touched}.filter((e) => e.checkVisibility()).map((e) => [e.textContent.trim() || e.name, e.offsetHeight])"
    boxes = glass.evaluate(seen)
    assert len(boxes) > 10
    assert [box for box in boxes if box[1] < LEAST_PX] == []


def gap(a: list[float], b: list[float]) -> float:
    """How far two boxes (left, top, right, bottom) are from each other, across or down."""
    across, down = max(a[0], b[0]) - min(a[2], b[2]), max(a[1], b[1]) - min(a[3], b[3])
    return max(across, down)


def test_what_is_touched_does_not_lie_close_together(glass: Any, served: Served, clock: Clock) -> None:
    # Ours: 8 px between targets, so that the edge of one is not the edge of another.
    show(glass, served, clock)
    open_all(glass)
    sheets = glass.evaluate(
        "[...document.querySelectorAll('.thumb, .raised')].map((sheet) => [...sheet.querySelectorAll('button, input')]"
        ".filter((e) => e.checkVisibility()).map((e) => e.getBoundingClientRect())"
        ".map((b) => [b.left, b.top, b.right, b.bottom]))"
    )
    assert len(sheets) == 8
    close = [(a, b) for boxes in sheets for a, b in combinations(boxes, 2) if gap(a, b) < 8]
    assert close == []


def test_what_is_most_wanted_is_where_the_thumb_is(glass: Any, served: Served, clock: Clock) -> None:
    show(glass, served, clock)
    box = glass.evaluate("document.querySelector('button.go').getBoundingClientRect().toJSON()")  # in one step
    assert box["y"] > PHONE["height"] / 2
    assert box["y"] + box["height"] <= PHONE["height"]
    assert (box["width"] > 300, box["height"] >= 88) == (True, True)


@pytest.mark.parametrize("state", [State.UNACKNOWLEDGED, State.LATCHED_ACKNOWLEDGED, State.SHELVED, State.SUPPRESSED])
def test_nothing_reaches_out_sideways_and_contrast_holds(
    glass: Any, served: Served, clock: Clock, state: State
) -> None:
    # WCAG 2.2: 1.4.10 reflow at 320 CSS px, 1.4.3 contrast 4.5:1.
    show(glass, served, clock, state, text="Basin 1: lid opened before the soak was done, Donaudampfschifffahrtsbecken")
    open_all(glass)
    for width in (PHONE["width"], 320):
        glass.set_viewport_size({"width": width, "height": 640})
        assert glass.evaluate("document.documentElement.scrollWidth") <= width
    assert [t for t in texts(glass) if t.contrast < 4.5] == []


# ---- one tap ---------------------------------------------------------------------------------------------------------


def test_one_tap_answers_and_says_who_has_it(phone: Any, served: Served, clock: Clock, desk: Desk) -> None:
    desk.open_alerts = {"alert-7"}
    show(phone, served, clock)
    phone.get_by_role("button", name="I go").tap()
    phone.get_by_text("I go: sent. You have it: Ana").wait_for()
    now = clock.now()
    served.hub.publish(alerted(standing(State.ACKNOWLEDGED, by="Ana", at=now), at=now))
    phone.get_by_text("Ana has it, since").wait_for()
    phone.get_by_role("button", name="I go").wait_for(state="detached")
    assert [(asked.alert, asked.who) for asked in desk.asked] == [("alert-7", "Ana")]


def test_a_glove_that_taps_twice_answers_once(phone: Any, served: Served, clock: Clock, desk: Desk) -> None:
    desk.open_alerts = {"alert-7"}
    show(phone, served, clock)
    held: list[Any] = []
    phone.route("**/acknowledge", lambda route: held.append(route))  # noqa: PLW0108 - a bound method cannot be given
    with phone.expect_request("**/acknowledge"):
        phone.get_by_role("button", name="I go").dblclick()
    phone.evaluate("lastAt = -TWICE_MS")  # as if a while had passed, and the first one were still under way
    phone.get_by_role("button", name="I go").tap()
    take_back = phone.get_by_role("button", name="Take it back")
    assert (phone.locator("#answer").inner_text(), take_back.is_visible()) == ("I go: being sent...", False)
    held[0].continue_()
    phone.get_by_text("I go: sent. You have it: Ana").wait_for()
    assert (take_back.is_visible(), len(held), len(desk.asked)) == (False, 1, 1)


def test_the_second_tap_of_a_glove_hits_nothing_that_has_come_to_lie_there(
    phone: Any, served: Served, clock: Clock, desk: Desk
) -> None:
    desk.open_alerts, desk.said = {"alert-7"}, [moved(Cause.DECLINED, clock.now())]
    show(phone, served, clock)
    phone.get_by_role("button", name="Cannot").tap()
    phone.evaluate(
        "document.querySelector('#cannot .sure').addEventListener('click', () => setTimeout(() =>"
        " document.querySelector('button.go').click()))"
    )
    phone.get_by_role("button", name="I cannot go: tell the next one").tap()
    phone.get_by_text("I cannot go: sent.").wait_for()
    assert (desk.asked, phone.evaluate("localStorage.getItem('sinkside.taps')")) == ([], "[]")


def test_a_touch_of_the_sleeve_passes_nothing_on(phone: Any, served: Served, clock: Clock, desk: Desk) -> None:
    desk.said = [moved(Cause.DECLINED, clock.now())]
    show(phone, served, clock)
    phone.get_by_role("button", name="Cannot").tap()
    sure = phone.get_by_role("button", name="I cannot go: tell the next one")
    sure.wait_for()
    assert desk.entered == []
    sure.tap()
    phone.get_by_text("Written down that you cannot go.").wait_for()
    assert [command.kind for command in desk.entered] == ["decline"]


def test_an_alert_is_handed_over_to_somebody_on_duty(phone: Any, served: Served, clock: Clock, desk: Desk) -> None:
    desk.said = [moved(Cause.HANDED_OVER, clock.now()).model_copy(update={"role": "charge-nurse"})]
    show(phone, served, clock)
    phone.get_by_role("button", name="More").tap()
    phone.get_by_role("button", name="Hand over").tap()
    phone.get_by_role("button", name="Charge nurse").tap()
    phone.get_by_text("Handed over to Charge nurse").wait_for()
    assert desk.entered[0].model_dump()["role"] == "charge-nurse"


@pytest.mark.parametrize(("holder", "offered"), [("Ana", "hidden"), ("Ben", "visible")])
def test_what_somebody_else_has_can_be_taken_over_from_them(
    phone: Any, served: Served, clock: Clock, holder: str, offered: Literal["visible", "hidden"]
) -> None:
    show(phone, served, clock, State.ACKNOWLEDGED, by=holder)
    phone.get_by_text(f"{holder} has it, since").wait_for()
    phone.get_by_role("button", name="Take over", include_hidden=True).wait_for(state=offered)


def test_putting_aside_asks_why(phone: Any, served: Served, clock: Clock, desk: Desk) -> None:
    show(phone, served, clock)
    phone.get_by_role("button", name="More").tap()
    phone.get_by_role("button", name="Put aside for a time").tap()
    phone.get_by_role("button", name="30 min").tap()
    phone.get_by_text("Say why first").wait_for()
    phone.get_by_text("For how long?").wait_for()
    assert desk.entered == []


@pytest.mark.parametrize(("holder", "offered"), [("Ana", "visible"), ("Ben", "hidden")])
def test_only_whoever_has_it_is_asked_whether_they_cannot_after_all(
    phone: Any, served: Served, clock: Clock, holder: str, offered: Literal["visible", "hidden"]
) -> None:
    show(phone, served, clock)
    phone.get_by_role("button", name="Cannot", exact=True).wait_for()
    now = clock.now()
    served.hub.publish(alerted(standing(State.ACKNOWLEDGED, by=holder, at=now), at=now))
    phone.get_by_text(f"{holder} has it, since").wait_for()
    button = phone.get_by_text("Cannot after all")
    button.wait_for(state=offered)


def test_somebody_else_who_was_faster_is_named(phone: Any, served: Served, clock: Clock) -> None:
    show(phone, served, clock)
    now = clock.now()
    phone.route("**/stream/**", lambda route: route.abort())
    phone.reload()
    served.hub.publish(alerted(standing(State.ACKNOWLEDGED, by="Ben", at=now), at=now))
    phone.get_by_role("button", name="I go").tap()
    phone.get_by_text("I go: refused. Answered already: Ben has it").wait_for()


def test_what_ends_while_it_is_looked_at_says_who_ended_it_and_how(
    phone: Any, hub: Hub, clock: Clock, tmp_path: Path
) -> None:
    with serve(hub, LISBON, journal=told_alerts(tmp_path)) as served:
        served.hub.publish(alerted(standing(name="alert-1", at=clock.now()), at=clock.now()))
        phone.goto(f"{served.url}/alert/alert-1")
        phone.get_by_text("Nobody has answered yet.").wait_for()
        served.hub.publish(alerted(at=clock.now()))
        phone.get_by_role("heading", name="settled by Ana (reprocessed anew)").wait_for()
        phone.goto(f"{served.url}/alert/alert-99")
        phone.get_by_role("heading", name="There never was an alert of this number.").wait_for()


# ---- a real gateway --------------------------------------------------------------------------------------------------


def test_a_link_of_a_real_gateway_is_answered_with_one_tap_that_waited_for_the_network(
    phone: Any, tmp_path: Path
) -> None:
    with paged_ward(tmp_path) as ward:
        alert = ward.roll_with_a_cord_down()
        page = ward.first_page(alert.id)
        phone.goto(f"{ward.served.url}{ward.link_of(page)}")
        phone.get_by_text("You answer as Phone 1.").wait_for()
        phone.context.set_offline(True)
        phone.get_by_role("button", name="I go").tap()
        phone.get_by_text("waits for the network").wait_for()
        assert [one for one in ward.commands() if isinstance(one, Acknowledge)] == []
        phone.context.set_offline(False)
        phone.get_by_text("I go: sent. You have it: Phone 1").wait_for()
        phone.get_by_text("Phone 1 has it, since").wait_for()
        answers = [one for one in ward.commands() if isinstance(one, Acknowledge)]
        assert [(one.who, one.alert, one.page) for one in answers] == [("Phone 1", alert.id, page.page)]
    assert verify(tmp_path / DATABASE).is_sound


def test_opening_a_link_tells_that_it_was_read_and_answers_nothing(phone: Any, tmp_path: Path) -> None:
    with paged_ward(tmp_path) as ward:
        alert = ward.roll_with_a_cord_down()
        phone.goto(f"{ward.served.url}{ward.link_of(ward.first_page(alert.id))}")
        phone.get_by_text("opened there").wait_for()
        phone.get_by_role("button", name="I go").wait_for()
        assert [one for one in ward.commands() if isinstance(one, Acknowledge)] == []


def test_many_pages_that_were_told_are_seen_at_once_on_a_phone(phone: Any, hub: Hub, tmp_path: Path) -> None:
    # Ours: six in the height of a phone, with text as large as everywhere.
    journal = Journal.open(tmp_path)
    commit(journal, *(asked(f"page-{n}", at=n) for n in range(6)))
    commit(journal, said=(told("page-1", Confirmation.DELIVERED, "250 ok", at=20),))
    journal.close()
    with serve(hub, LISBON, premises=duties(), journal=tmp_path / DATABASE) as served:
        phone.goto(f"{served.url}/pages")
        heights = phone.evaluate("[...document.querySelectorAll('tbody tr')].map((row) => row.offsetHeight)")
        assert len(heights) == 6
        assert sum(heights) <= PHONE["height"]


def test_the_lists_around_it_fit_a_phone_and_can_be_read_and_touched(phone: Any, tmp_path: Path) -> None:
    # WCAG 2.2: 1.4.10 reflow at 320 CSS px, 1.4.3 contrast 4.5:1, 2.5.8 (AA) targets of at least 24 px.
    with paged_ward(tmp_path) as ward:
        alert = ward.roll_with_a_cord_down()
        ward.first_page(alert.id)
        for path in ("/alerts", "/duty", "/pages", "/logbook/alerts", f"/logbook/alert/{alert.id}"):
            phone.goto(f"{ward.served.url}{path}")
            phone.evaluate("document.querySelectorAll('details').forEach((one) => (one.open = true))")
            for width in (PHONE["width"], 320):
                phone.set_viewport_size({"width": width, "height": 640})
                assert (path, phone.evaluate("document.documentElement.scrollWidth") <= width) == (path, True)
            assert [(path, text) for text in texts(phone) if text.contrast < 4.5] == []
            touched = (
                "[...document.querySelectorAll('main a, main button, main select, main input:not([type=hidden])')]"
            )
            boxes = phone.evaluate(f"{touched}.filter((e) => e.checkVisibility()).map((e) => e.offsetHeight)")
            assert [(path, height) for height in boxes if height < 24] == []
