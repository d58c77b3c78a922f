"""The wall without scripts, and the wall as it is read to those who do not see it, in a real browser."""

from collections.abc import Iterator
from math import pi
from typing import Any

import pytest

from gateway.clock import Clock
from tests.browser.rendered import overflows, texts
from tests.browser.signing_in import sign_in
from tests.browser.size_walls import busy_wall, quiet_wall
from tests.dashboard.pictures import calm
from tests.dashboard.serving import Served

pytestmark = pytest.mark.browser

LYING, UPRIGHT = (1920, 1080), (1080, 1920)
PARTS = ["Is the picture live", "What needs a person", "Soaks", "Carts and their probes", "Due soon"]


@pytest.fixture(params=[LYING, UPRIGHT], ids=["lying", "upright"])
def plain(chromium: Any, request: pytest.FixtureRequest) -> Iterator[Any]:
    """A browser that runs no scripts."""
    width, height = request.param
    context = chromium.new_context(java_script_enabled=False, viewport={"width": width, "height": height})
    sign_in(context)
    yield context.new_page()
    context.close()


def test_without_scripts_nothing_is_called_live_and_the_time_of_the_picture_is_read_from_afar(
    plain: Any, served: Served, clock: Clock
) -> None:
    served.hub.publish(quiet_wall(4, 5, clock.now()))
    plain.goto(served.url + "/wall")
    head = plain.locator(".state:visible")
    assert head.count() == 1
    assert not head.get_by_text("Live", exact=True).is_visible()
    assert head.get_by_text("Still", exact=True).is_visible()
    (made,) = [text for text in texts(plain) if text.where == "clock"]
    assert len(made.words) == len("12:00:00")
    # 22 arcmin at 4 m on a 55-inch panel, 1218 mm along its longer side.
    assert made.capital_px * 1218 / 1920 / 4000 * 60 * 180 / pi >= 22
    (rely,) = [text for text in texts(plain) if text.where == "by-hand"]
    assert rely.words == "Do not rely on it when older than 10 s"
    assert rely.capital_px * 1218 / 1920 / 4000 * 60 * 180 / pi >= 16


@pytest.mark.parametrize("path", ["/wall", "/basins"])
def test_where_the_script_could_not_be_fetched_nothing_is_called_live(
    page: Any, served: Served, clock: Clock, path: str
) -> None:
    served.hub.publish(calm(clock.now()))
    page.route("**/static/page.js", lambda route: route.abort())
    page.goto(served.url + path)
    assert page.locator(".made").first.inner_text().startswith("Still")
    assert not page.get_by_text("Live", exact=True).is_visible()


def test_without_scripts_everything_fits_in_the_same_order(plain: Any, served: Served, clock: Clock) -> None:
    for wall in (quiet_wall, busy_wall):
        served.hub.publish(wall(6, 20, clock.now()))
        plain.goto(served.url + "/wall")
        assert overflows(plain) == []
        boxes = [part.bounding_box() for part in plain.locator("section:visible").all()]
        assert len(boxes) == len(PARTS)
        assert [box["y"] for box in boxes] == sorted(box["y"] for box in boxes)


def heard(page: Any) -> list[tuple[str, str, int]]:
    """Role, name and level of each node of the accessibility tree, in its order."""
    session = page.context.new_cdp_session(page)
    nodes = session.send("Accessibility.getFullAXTree")["nodes"]
    session.detach()
    by_id = {node["nodeId"]: node for node in nodes}

    def walk(node: Any) -> Iterator[tuple[str, str, int]]:
        level = next((p["value"]["value"] for p in node.get("properties", ()) if p["name"] == "level"), 0)
        if not node["ignored"]:
            yield node["role"]["value"], node.get("name", {}).get("value", ""), level
        for child in node.get("childIds", ()):
            yield from walk(by_id[child])

    return list(walk(nodes[0]))


def test_the_wall_is_read_out_in_the_order_in_which_it_is_seen(page: Any, served: Served, clock: Clock) -> None:
    served.hub.publish(busy_wall(3, 5, clock.now()))
    page.goto(served.url + "/wall")
    said = heard(page)
    assert [name for role, name, _ in said if role == "region"] == PARTS
    assert [role for role, _, _ in said if role in {"main", "contentinfo"}] == ["main", "contentinfo"]
    headings = [(name, level) for role, name, level in said if role == "heading"]
    assert headings[0] == ("North Hall", 1)
    assert [name for name, level in headings if level == 2] == [*PARTS[1:4], "Due"]
    basins = headings[headings.index(("Soaks", 2)) + 1 : headings.index(("Carts and their probes", 2))]
    assert basins == [("Basin 1", 3), ("Soon Basin 2", 3), ("Now Basin 3", 3)]
    assert ("image", "lid closed", 0) in said


def test_the_page_does_not_speak_each_second(page: Any, served: Served, clock: Clock) -> None:
    # WCAG 2.2, 4.1.3: what changes is told by itself; a countdown is not.
    served.hub.publish(calm(clock.now()))
    page.goto(served.url + "/wall")
    page.wait_for_function("() => gateway.offsetMs !== null")
    page.evaluate("""() => {
      window.spoken = 0;
      for (const live of document.querySelectorAll("[aria-live], [role=alert], [role=status], [role=timer]"))
        new MutationObserver((all) => { window.spoken += all.length; })
          .observe(live, {childList: true, subtree: true, characterData: true});
      window.first = document.querySelector(".figure").textContent;
    }""")
    page.wait_for_function("() => document.querySelector('.figure').textContent !== window.first")
    assert page.evaluate("window.spoken") == 0
    assert page.locator("[aria-live]").count() == 1
