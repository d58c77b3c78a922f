"""A phone, and an alert's page on it."""

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from gateway.clock import Clock
from rules.alert_events import AlertMoved
from rules.alert_words import Cause, State
from tests.browser.signing_in import sign_in
from tests.dashboard.alert_pictures import alerted, standing
from tests.dashboard.serving import Served

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page, ViewportSize

PHONE: "ViewportSize" = {"width": 390, "height": 844}


@contextmanager
def phone_of(chromium: "Browser") -> "Iterator[Page]":
    """A page on a phone of somebody who has said who they are; no script may fail, nor the security policy object."""
    context = chromium.new_context(viewport=PHONE, has_touch=True)
    sign_in(context)
    page = context.new_page()
    page.set_default_timeout(20_000)
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda said: errors.append(said.text) if "Content Security Policy" in said.text else None)
    yield page
    context.close()
    assert errors == []


def show(page: Any, served: Served, clock: Clock, state: State = State.UNACKNOWLEDGED, **more: Any) -> None:
    """The page of an alert in that state."""
    now = clock.now()
    served.hub.publish(alerted(standing(state, at=now, **more), at=now))
    page.goto(f"{served.url}/alert/alert-7")


def moved(cause: Cause, at: int) -> AlertMoved:
    """What the engine says of that alert when somebody did something about it that leaves it unanswered."""
    of = {"alert": "alert-7", "rule": "lid", "subject": "basin basin-1", "at": at, "cause": cause}
    return AlertMoved.model_validate({"before": State.UNACKNOWLEDGED, "after": State.UNACKNOWLEDGED, **of})
