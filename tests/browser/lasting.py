"""A page that serves test after test: to make one for each takes Chromium five times as long as to show most pages."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib.resources import files
from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, ViewportSize

DESK: "ViewportSize" = {"width": 1920, "height": 1080}
_SCRIPT = (files("dashboard") / "static" / "page.js").read_text()
_OLD = "OLD_PICTURE_MS = 12000;"
_PATIENT = _SCRIPT.replace(_OLD, "OLD_PICTURE_MS = 45000;")
assert _OLD in _SCRIPT

REST = "http://127.0.0.1:1/"
"""Where it waits between two tests: beside all servers of the tests, so that Chromium keeps the same process for it."""


@contextmanager
def new_page(browser: "Browser") -> "Iterator[Page]":
    """A page on a 1920x1080 screen with cookies and storage of its own."""
    page = browser.new_page(viewport=DESK)
    page.set_default_timeout(20_000)
    yield page
    page.context.close()


def let_pictures_age(page: "Page") -> None:
    """Pictures of tests are made once, and a machine with much to do may show them when a department's were old."""
    page.route("**/static/page.js", lambda route: route.fulfill(body=_PATIENT, content_type="text/javascript"))


def made_to_last(page: "Page") -> "Page":
    """The same page, which refuses what could not be taken back after a test."""
    for thing, names in ((page, ("add_init_script", "expose_function", "expose_binding")), (page.clock, ("install",))):
        for name in names:
            setattr(thing, name, _refusing(name))
    return page


def _refusing(name: str) -> Callable[..., NoReturn]:
    def refuse(*_: Any, **__: Any) -> NoReturn:
        raise AssertionError(f"{name} changes a page for good; mark the test with @pytest.mark.own_page")

    return refuse


def put_back(page: "Page") -> None:
    """Leave the server that it looked at, and forget it."""
    page.unroute_all(behavior="ignoreErrors")
    if page.url.startswith("http"):
        page.evaluate("localStorage.clear(); sessionStorage.clear()")
    page.context.clear_cookies()  # they know no ports, so that the next server would be sent them
    page.route(REST, lambda route: route.fulfill(body="", content_type="text/html"))
    page.goto(REST)
    page.unroute_all()
    page.set_viewport_size(DESK)
    page.emulate_media(media="null", reduced_motion="null", color_scheme="null", forced_colors="null", contrast="null")
