"""A live list that is filtered, in a real browser: it keeps to its filter while things change and says what left it."""

from typing import Any

import pytest

from gateway.clock import Clock
from gateway.hub import Feed, Hub
from tests.dashboard.pictures import busy
from tests.dashboard.probe_pictures import owing, probe, with_probes
from tests.dashboard.serving import Served

pytestmark = pytest.mark.browser


def test_a_probe_that_is_ready_no_more_leaves_the_list_of_the_ready_with_a_word(
    page: Any, served: Served, hub: Hub, clock: Clock
) -> None:
    at, other = clock.now(), probe("Curved probe 1")
    hub.publish(Feed(with_probes(probe("Linear probe 1"), other, shown=busy(at).picture)))
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(f"{served.url}/probes?stands=ready+for+use&sort=name")
    names = page.locator("#probes .choose").first.locator("b")
    assert names.all_inner_texts() == ["Curved probe 1", "Linear probe 1"]
    page.wait_for_function("() => document.querySelector('[data-clock]')?.textContent.length > 0")
    hub.publish(Feed(with_probes(probe("Linear probe 1", owing(at=at)), other, shown=busy(at).picture)))
    page.get_by_text("Linear probe 1 fits the filter no more.").wait_for()
    assert names.all_inner_texts() == ["Curved probe 1"]
    page.get_by_role("link", name="Take off: stands as ready for use").click()
    page.locator("#probes .fitness.owes").wait_for()
    assert names.all_inner_texts() == ["Curved probe 1", "Linear probe 1"]
