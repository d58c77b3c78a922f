"""The signs of alerts on the wall, in a real browser: what tells priorities apart, and what flashes."""

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from gateway.clock import Clock
from gateway.hub import Feed
from rules.alert_words import Priority, State
from rules.picture import AlertPicture
from tests.browser.rendered import SILENT_MS, luminance, texts
from tests.browser.still import StillWall
from tests.browser.walls import alerts_in_every_state, in_state
from tests.dashboard.pictures import alert, picture
from tests.dashboard.serving import Served

pytestmark = pytest.mark.browser


def show(page: Any, served: Served, clock: Clock, *alerts: AlertPicture) -> None:
    now = clock.now()
    served.hub.publish(Feed(picture(alerts=alerts, at=now)))
    page.goto(served.url + "/wall")


def of_each_priority(clock: Clock, state: State) -> tuple[AlertPicture, ...]:
    now = clock.now()
    return tuple(in_state(alert(one.value, one, name=one.value, at=now), state, now) for one in Priority)


SIGNS = """[...document.querySelectorAll('.flag')].map(f => ({
    shape: f.querySelector('.sign use').getAttribute('href'),
    path: document.querySelector(f.querySelector('.sign use').getAttribute('href')).innerHTML,
    said: f.querySelector('.sign').getAttribute('aria-label') ?? '',
    word: f.querySelector('.how-soon span').textContent,
    color: getComputedStyle(f.querySelector('.sign')).color,
    ground: getComputedStyle(f.querySelector('.how-soon')).backgroundColor}))"""


@pytest.mark.parametrize("state", [State.UNACKNOWLEDGED, State.ACKNOWLEDGED, State.RETURNED])
def test_each_priority_has_a_colour_a_shape_and_a_word_of_its_own_and_what_was_seen_says_so(
    page: Any, served: Served, clock: Clock, state: State
) -> None:
    show(page, served, clock, *of_each_priority(clock, state))
    signs = page.evaluate(SIGNS)
    words = {
        State.UNACKNOWLEDGED: ["Now", "Soon", "Note"],
        State.ACKNOWLEDGED: ["On it"] * 3,
        State.RETURNED: ["Ended"] * 3,
    }
    assert [sign["word"] for sign in signs] == words[state]
    assert [sign["said"] or sign["word"] for sign in signs] == ["Now", "Soon", "Note"]
    for told in ("color", "shape", "path"):
        assert len({sign[told] for sign in signs}) == 3


def hue(color: str) -> str:
    """What a colour is called that has most of these of red, green and blue."""
    parts = [int(part) > 128 for part in color.removeprefix("rgb(").removesuffix(")").split(",")]
    return {(1, 0, 0): "red", (1, 1, 0): "yellow", (0, 1, 1): "cyan"}[tuple(map(int, parts))]


def test_the_colours_are_red_yellow_and_cyan_on_a_ground_on_which_they_are_read(
    page: Any, served: Served, clock: Clock
) -> None:
    # After IEC 60601-1-8, Table 2 (secondary): high red, medium yellow, low cyan or yellow.
    # WCAG 2.2, 1.4.3: 4.5:1 for text, which red on white does not reach (3.998:1), and yellow and cyan far less.
    show(page, served, clock, *of_each_priority(clock, State.UNACKNOWLEDGED))
    signs = page.evaluate(SIGNS)
    assert [hue(sign["color"]) for sign in signs] == ["red", "yellow", "cyan"]
    for sign in signs:
        assert (luminance(sign["color"]) + 0.05) / (luminance(sign["ground"]) + 0.05) >= 4.5


FLASHING = """(ms) => {
    for (const running of document.getAnimations()) { running.pause(); running.currentTime = ms; }
    return [...document.querySelectorAll('.flag .sign')].map(sign => Number(getComputedStyle(sign).fillOpacity));
}"""
STEP_MS = 10
WATCHED_MS = 20_000


def lit(page: Any) -> list[list[bool]]:
    """For each alert, whether its sign is lit at each step of the watched time, as the page draws it at that time."""
    seen = page.evaluate(f"Array.from({{length: {WATCHED_MS // STEP_MS}}}, (_, n) => ({FLASHING})(n * {STEP_MS}))")
    return [[opacity == 1 for opacity in sign] for sign in zip(*seen, strict=True)]


def flashes_a_second(sign: list[bool]) -> float:
    ons = sum(after and not before for before, after in pairwise(sign))
    return ons / (WATCHED_MS / 1000)


def test_the_signs_of_what_waits_flash_as_fast_as_their_priority_asks(page: Any, served: Served, clock: Clock) -> None:
    # IEC 60601-1-8, Table 2 (secondary): high 1.4-2.8 Hz, medium 0.4-0.8 Hz, low steady; lit 20-60 % of the time (from
    # memory). WCAG 2.2, 2.3.1: never more than three flashes a second.
    show(page, served, clock, *of_each_priority(clock, State.UNACKNOWLEDGED))
    high, medium, low = lit(page)
    assert 1.4 <= flashes_a_second(high) <= 2.8
    assert 0.4 <= flashes_a_second(medium) <= 0.8
    assert all(low)
    for sign in (high, medium):
        assert 0.2 <= sum(sign) / len(sign) <= 0.6


BETWEEN_FLASHES = """() => {
    const mix = (over, under, share) => over.match(/[\\d.]+/g).slice(0, 3).map((part, n) => {
        return Math.round(Number(part) * share + Number(under.match(/[\\d.]+/g)[n]) * (1 - share));
    });
    const parts = document.querySelector('.flag');
    return [...document.querySelectorAll('.flag .sign')].slice(0, 2).map((sign) => {
        const drawn = getComputedStyle(sign), ground = getComputedStyle(parts).backgroundColor;
        return [`rgb(${mix(drawn.fill, ground, Number(drawn.fillOpacity)).join(', ')})`, ground];
    });
}"""


def test_a_sign_that_waits_is_filled_between_its_flashes_too_for_an_outline_is_what_was_seen(
    page: Any, served: Served, clock: Clock
) -> None:
    # WCAG 2.2, 1.4.11: 3:1 for what must be seen of a sign.
    show(page, served, clock, *of_each_priority(clock, State.UNACKNOWLEDGED))
    for ms in (300, 1000):
        page.evaluate(FLASHING, ms)
        for drawn, ground in page.evaluate(BETWEEN_FLASHES):
            assert (luminance(drawn) + 0.05) / (luminance(ground) + 0.05) >= 3


def test_nothing_flashes_but_what_is_urgent_and_waits(still: StillWall, clock: Clock) -> None:
    now = clock.now()
    for shown in alerts_in_every_state(now):
        (sign,) = lit(still.show(Feed(picture(alerts=(shown,), at=now)), now))
        waits = shown.state in (State.UNACKNOWLEDGED, State.LATCHED_UNACKNOWLEDGED)
        assert (0 < sum(sign) < len(sign)) is (waits and shown.priority is not Priority.LOW), shown.id


def test_nothing_flashes_for_whoever_asked_for_less_motion(page: Any, served: Served, clock: Clock) -> None:
    page.emulate_media(reduced_motion="reduce")
    show(page, served, clock, *of_each_priority(clock, State.UNACKNOWLEDGED))
    assert all(all(sign) for sign in lit(page))


@pytest.mark.own_page
def test_nothing_flashes_while_the_picture_is_not_live(page: Any, served: Served, clock: Clock) -> None:
    page.clock.install()
    show(page, served, clock, *of_each_priority(clock, State.UNACKNOWLEDGED))
    served.stop()
    page.clock.fast_forward(SILENT_MS)
    page.get_by_role("alert").wait_for()
    assert all(all(sign) for sign in lit(page))


def test_a_change_of_the_list_adds_no_flash(page: Any, served: Served, clock: Clock) -> None:
    high = alert(at=clock.now())
    show(page, served, clock, high)
    page.evaluate("document.getAnimations().forEach(running => { running.pause(); running.currentTime = 300; })")
    served.hub.publish(Feed(picture(alerts=(high, replace(high, id="a-2", text="Cart 4")), at=clock.now())))
    page.get_by_text("Cart 4").wait_for()
    assert page.evaluate("document.getAnimations().map(running => running.currentTime)") == [300, 300]


def test_whoever_reads_the_wall_is_told_how_each_alert_stands(page: Any, served: Served, clock: Clock) -> None:
    now = clock.now()
    states = (State.UNACKNOWLEDGED, State.ACKNOWLEDGED, State.LATCHED_ACKNOWLEDGED, State.RETURNED)
    shown = [in_state(alert("Lid.", name=state.value, advice="Close the lid.", at=now), state, now) for state in states]
    show(page, served, clock, *shown[1:])
    # In one step of the page: what a newer picture takes away meanwhile has no lines any more.
    said = page.evaluate("[...document.querySelectorAll('.flag')].map(flag => flag.innerText)")
    # What still holds comes before what only waits for an entry; what to do stays.
    seen = "Ana of the reprocessing room has it."
    orders = ("Close the lid", "Enter what was done")
    assert all(order in words and seen in words for order, words in zip(orders, said[:2], strict=True))
    assert said[2].endswith("Nobody has answered yet.")
    assert all(text.contrast >= 4.5 for text in texts(page, ".flags"))
