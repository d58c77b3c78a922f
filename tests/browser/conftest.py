"""A real Chromium before a real server."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import pytest

from gateway.clock import Clock
from gateway.hub import Hub
from tests.browser.lasting import let_pictures_age, made_to_last, new_page, put_back
from tests.browser.phones import phone_of
from tests.browser.signing_in import sign_in
from tests.browser.still import StillWall
from tests.dashboard.conftest import desk, served, standing
from tests.dashboard.pictures import calm
from tests.dashboard.probe_pictures import PREMISES
from tests.dashboard.serving import Desk, Standing, serve

if TYPE_CHECKING:
    from playwright.sync_api import Browser, ConsoleMessage, Error, Page

__all__ = ["desk", "served", "standing"]

pytest.importorskip("playwright", reason="the Python package playwright is not installed")

CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="module")  # no longer: its event loop would be in the way of the asyncio tests that follow
def chromium() -> "Iterator[Browser]":
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 - only where it is there

    if not CHROMIUM.exists():
        pytest.skip(f"Chromium is not installed at {CHROMIUM}")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def hub(clock: Clock, desk: Desk, request: pytest.FixtureRequest) -> Hub:
    """The one that is served, where a test wants that; its picture is of now."""
    if "served" not in request.fixturenames:
        return Hub(calm(clock.now()), desk.ask)
    standing: Standing = request.getfixturevalue("standing")
    return standing.begin(desk, calm(clock.now()))


ZONE = ZoneInfo("Europe/Lisbon")


@pytest.fixture(scope="module")
def still(chromium: "Browser") -> Iterator[StillWall]:
    """One wall for all the measures of a module; the security policy must not object to anything that it is shown."""
    objections: list[str] = []
    with serve(Hub(calm(Clock().now()), Desk().ask), ZONE, premises=PREMISES) as running:
        page = chromium.new_page(viewport={"width": 1920, "height": 1080})
        sign_in(page.context)
        page.on("console", lambda said: objections.append(said.text) if "Security Policy" in said.text else None)
        yield StillWall(page, running.url, ZONE)
        page.close()
    assert objections == []


@pytest.fixture(scope="module")
def lasting(chromium: "Browser") -> "Iterator[Page]":
    """A page for all tests of a module that leave nothing behind in it."""
    with new_page(chromium) as page:
        yield made_to_last(page)


@pytest.fixture
def page(chromium: "Browser", request: pytest.FixtureRequest) -> "Iterator[Page]":
    """A page on a 1920x1080 screen; an error of a script or of the content security policy fails the test."""
    if "served" in request.fixturenames:
        # Made before the page and so ended after it: a server that ends first can leave a connection of it behind.
        request.getfixturevalue("served")
    if request.node.get_closest_marker("own_page") is not None:
        with new_page(chromium) as page, watched(page):
            sign_in(page.context)
            let_pictures_age(page)
            yield page
        return
    page = request.getfixturevalue("lasting")
    sign_in(page.context)
    let_pictures_age(page)
    try:
        with watched(page):
            yield page
    finally:
        put_back(page)


@pytest.fixture
def phone(chromium: "Browser") -> "Iterator[Page]":
    with phone_of(chromium) as page:
        yield page


@contextmanager
def watched(page: "Page") -> Iterator[None]:
    """Afterwards no script may have failed, nor the content security policy have objected."""
    errors: list[str] = []

    def failed(error: "Error") -> None:
        errors.append(str(error))

    def said(message: "ConsoleMessage") -> None:
        if "Content Security Policy" in message.text:
            errors.append(message.text)

    page.on("pageerror", failed)
    page.on("console", said)
    yield
    page.remove_listener("pageerror", failed)
    page.remove_listener("console", said)
    assert errors == []
