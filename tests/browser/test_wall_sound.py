"""The wall that is heard, in a browser that plays, and in one that does not."""

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import pytest

from gateway.clock import Clock
from gateway.hub import Feed
from gateway.when import local
from rules.alert_commands import PauseSound
from rules.alert_words import Priority, State
from rules.picture import AlertPicture
from rules.readings import SECOND, Micros
from tests.browser.conftest import ARGUMENTS, CHROMIUM
from tests.browser.lasting import let_pictures_age
from tests.browser.rendered import SILENT_MS, overflows
from tests.browser.signing_in import sign_in
from tests.browser.walls import in_state
from tests.dashboard.pictures import alert, calm
from tests.dashboard.serving import Desk, Served

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser

# What reaches the loudspeaker is measured on its way there.
EAR = """
const joined = AudioNode.prototype.connect;
AudioNode.prototype.connect = function (to, ...more) {
  if (to instanceof AudioDestinationNode) joined.call(this, window.ear ??= new AnalyserNode(this.context));
  return joined.call(this, to, ...more);
};
window.loudest = () => {
  if (window.ear === undefined) return 0;
  const samples = new Float32Array(window.ear.fftSize);
  window.ear.getFloatTimeDomainData(samples);
  return samples.reduce((most, one) => Math.max(most, Math.abs(one)), 0);
};
window.said = [];
new MutationObserver(() => window.said.push(document.documentElement.dataset.heard))
  .observe(document, { subtree: true, attributeFilter: ["data-heard"] });
"""


def browser(driver: Any, policy: str) -> "Browser":
    arguments = [*ARGUMENTS, f"--autoplay-policy={policy}"]
    return driver.chromium.launch(executable_path=str(CHROMIUM), args=arguments)  # type: ignore[no-any-return]


@pytest.fixture(scope="module", params=["no-user-gesture-required"])
def policy(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture(scope="module")
def playing(policy: str) -> "Iterator[Browser]":
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 - only where it is there

    if not CHROMIUM.exists():
        pytest.skip(f"Chromium is not installed at {CHROMIUM}")
    with sync_playwright() as driver:
        running = browser(driver, policy)
        yield running
        running.close()


@pytest.fixture
def wall(playing: "Browser") -> Iterator[Any]:
    page = playing.new_page(viewport={"width": 1920, "height": 1080})
    sign_in(page.context)
    page.set_default_timeout(20_000)
    page.add_init_script(EAR)
    let_pictures_age(page)
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda said: errors.append(said.text) if "Security Policy" in said.text else None)
    yield page
    page.close()
    assert errors == []


def feed(clock: Clock, *alerts: AlertPicture, paused_for: float | None = None) -> Feed:
    now = clock.now()
    until = None if paused_for is None else Micros(now + round(paused_for * SECOND))
    return Feed(replace(calm(now).picture, alerts=alerts, sound_paused_until=until))


def show(wall: Any, served: Served, shown: Feed, address: str = "/wall?sound=on") -> None:
    served.hub.publish(shown)
    wall.goto(served.url + address)


def is_heard(wall: Any, priority: str) -> None:
    wall.wait_for_function("priority => document.documentElement.dataset.heard === priority", arg=priority)
    wall.wait_for_function("() => loudest() > 0.1")


def is_silent(wall: Any) -> None:
    wall.wait_for_function("() => document.documentElement.dataset.heard === '' && loudest() === 0")


def line(wall: Any) -> str:
    return str(wall.locator(".sound").inner_text()).strip()


@pytest.mark.parametrize("priority", Priority)
def test_an_alert_that_nobody_has_answered_is_heard(
    wall: Any, served: Served, clock: Clock, priority: Priority
) -> None:
    show(wall, served, feed(clock, alert(priority=priority)))
    is_heard(wall, priority.value)
    assert line(wall) == "Sound on"


def test_the_most_urgent_is_heard_as_soon_as_it_comes(wall: Any, served: Served, clock: Clock) -> None:
    low = alert(priority=Priority.LOW)
    show(wall, served, feed(clock, low))
    is_heard(wall, "low")
    served.hub.publish(feed(clock, low, replace(alert(), id="a-2")))
    is_heard(wall, "high")


def test_acknowledging_ends_the_sound(wall: Any, served: Served, clock: Clock) -> None:
    show(wall, served, feed(clock, alert()))
    is_heard(wall, "high")
    served.hub.publish(feed(clock, alert(by="Ana")))
    is_silent(wall)


def test_what_is_over_is_silent_and_what_waits_to_be_settled_unseen_is_not(
    wall: Any, served: Served, clock: Clock
) -> None:
    show(wall, served, feed(clock, in_state(alert(), State.LATCHED_UNACKNOWLEDGED, clock.now())))
    is_heard(wall, "high")
    served.hub.publish(feed(clock, in_state(alert(), State.RETURNED, clock.now())))
    is_silent(wall)


def test_a_pause_is_shown_and_silent_and_ends_by_itself(wall: Any, served: Served, clock: Clock) -> None:
    show(wall, served, feed(clock, alert()))
    is_heard(wall, "high")
    served.hub.publish(feed(clock, alert(), paused_for=600))
    is_silent(wall)
    assert line(wall).startswith("Sound paused until ")
    wall.evaluate("document.querySelector('.sound').dataset.pausedUntilMs = String(gatewayNow() + 300)")
    is_heard(wall, "high")  # nothing newer was published
    assert wall.evaluate("said") == ["", "high", "", "high"]


def test_the_light_stays_while_the_sound_is_paused(wall: Any, served: Served, clock: Clock) -> None:
    show(wall, served, feed(clock, alert(), paused_for=600))
    assert wall.locator(".flag.high.waiting").count() == 1
    assert wall.evaluate("document.getAnimations().length") == 2


def test_a_picture_that_is_not_live_is_silent(wall: Any, served: Served, clock: Clock) -> None:
    wall.clock.install()
    show(wall, served, feed(clock, alert()))
    is_heard(wall, "high")
    served.stop()
    wall.clock.fast_forward(SILENT_MS)
    wall.get_by_role("alert").wait_for()
    is_silent(wall)


def test_a_wall_that_was_not_asked_to_makes_no_sound(wall: Any, served: Served, clock: Clock) -> None:
    show(wall, served, feed(clock, alert()), "/wall")
    wall.get_by_text("Live", exact=True).wait_for()
    assert wall.locator(".sound").count() == 0
    assert wall.evaluate("document.documentElement.dataset.heard") is None


@pytest.mark.parametrize("policy", ["document-user-activation-required"], indirect=True)
def test_a_wall_that_may_not_play_says_so_until_somebody_touches_it(wall: Any, served: Served, clock: Clock) -> None:
    show(wall, served, feed(clock, alert()))
    wall.get_by_text("No sound yet: click here once").wait_for()
    assert wall.evaluate("document.documentElement.dataset.heard") == ""
    assert overflows(wall) == []
    wall.get_by_text("No sound yet").click()
    is_heard(wall, "high")
    assert line(wall) == "Sound on"


def test_a_pause_that_somebody_commands_is_shown_with_the_time_at_which_it_ends(
    wall: Any, served: Served, clock: Clock, desk: Desk
) -> None:
    """By the engine itself, as it takes the command and as its time goes on."""
    desk.hub = served.hub
    show(wall, served, feed(clock))
    now = clock.now()
    served.hub.ask(PauseSound(arrived=now, who="Ana", minutes=5)).result()
    until = local(Micros(now + 300 * SECOND), ZoneInfo("Europe/Lisbon"))
    wall.get_by_text(f"Sound paused until {until:%H:%M}").wait_for()
    desk.engine.advance(Micros(now + 300 * SECOND))
    served.hub.publish(Feed(desk.engine.picture()))
    wall.get_by_text("Sound on").wait_for()
