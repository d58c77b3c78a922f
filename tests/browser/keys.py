"""A page without a mouse."""

from typing import Any

import pytest


def to(page: Any, selector: str) -> None:
    """Go on by the keyboard until that has the focus."""
    for _ in range(200):
        page.keyboard.press("Tab")
        if page.evaluate("selector => document.activeElement.matches(selector)", selector):
            return
    pytest.fail(f"the keyboard does not come to {selector}")
