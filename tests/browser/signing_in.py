"""Browsers in which somebody has signed in."""

from typing import TYPE_CHECKING, Any

from tests.dashboard.visitors import cookie_of

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext


def sign_in(context: "BrowserContext", called: str = "Ana", **more: Any) -> None:
    """Somebody has signed in there, whatever server of these tests is looked at."""
    name, secret = cookie_of(called, **more)
    context.add_cookies([{"name": name, "value": secret, "url": "http://127.0.0.1", "httpOnly": True}])
