"""How a strip is written down on a basin's page."""

from typing import Any


def read_strip(page: Any, result: str) -> None:
    """Chosen, and then written down."""
    page.get_by_role("group", name="How the strip looks").get_by_label(result).check()
    page.get_by_role("button", name="Write down the strip").click()
