"""The wall of a site that follows its probes, in a real browser: which may be used, readable from 4 m."""

from collections.abc import Callable
from dataclasses import replace
from math import pi
from typing import Any

import pytest

from gateway.clock import Clock
from gateway.hub import Feed
from rules.readings import Micros
from tests.browser.probe_walls import all_ready, deaf, department, followed, probes_in_a_crowd
from tests.browser.rendered import Text, overflows, texts
from tests.browser.still import StillWall
from tests.browser.walls import ALERTS_AND_CARTS, busy, long_names
from tests.dashboard.pictures import calm
from tests.dashboard.serving import Served

pytestmark = pytest.mark.browser

# A 55-inch 1920x1080 panel is 1218 mm wide.
PITCH_MM = 1218 / 1920
DISTANCE_MM = 4000


def long_names_of_probes(at: Micros) -> Feed:
    shown = followed(long_names(at).picture, at)
    probes = (
        replace(p, cord=f"{p.cord}-by-the-eastern-window", name=f"{p.name} of the eastern corridor")
        for p in shown.probes
    )
    return Feed(replace(shown, probes=tuple(probes)))


def busy_with_probes(at: Micros) -> Feed:
    return Feed(followed(busy(at).picture, at))


STATES = [department, all_ready, deaf, busy_with_probes, long_names_of_probes]


def show(page: Any, served: Served, feed: Feed) -> None:
    served.hub.publish(feed)
    page.goto(served.url + "/wall")


@pytest.mark.parametrize("state", STATES)
def test_everything_fits_a_full_hd_screen_and_has_enough_contrast(
    still: StillWall, clock: Clock, state: Callable[[Micros], Feed]
) -> None:
    now = clock.now()
    page = still.show(state(now), now)
    assert overflows(page) == []
    # WCAG 2.2, 1.4.3 (AA): at least 4.5:1.
    assert [t for t in texts(page) if t.contrast < 4.5] == []


@pytest.mark.parametrize("long", [False, True], ids=["short names", "long names"])
@pytest.mark.parametrize("basins", [1, 2, 3, 4, 5, 6, 7, 8, 12])
def test_every_crowd_with_its_probes_fits(
    still: StillWall,
    clock: Clock,
    basins: int,
    long: bool,  # noqa: FBT001 - a row of the table
) -> None:
    now = clock.now()
    crowds = (probes_in_a_crowd(basins, a, carts, long=long)(now) for a, carts in ALERTS_AND_CARTS)
    assert still.misfits(crowds, now) == [[]] * len(ALERTS_AND_CARTS)


def arcminutes(text: Text) -> float:
    """The angle of a capital letter from 4 m: h = 2 D tan(angle / 2), and tan x = x at such angles."""
    return text.capital_px * PITCH_MM / DISTANCE_MM * 60 * 180 / pi


@pytest.mark.parametrize("state", [department, busy_with_probes])
def test_what_is_said_of_probes_is_readable_from_four_metres(
    still: StillWall, clock: Clock, state: Callable[[Micros], Feed]
) -> None:
    # At least 16 arcmin (NUREG-0700 1.3.1-4, secondary).
    now = clock.now()
    page = still.show(state(now), now)
    for where in (".cart .fitness", ".dipped", ".probes"):
        for n in range(page.locator(where).count()):
            page.evaluate("([where, n]) => document.querySelectorAll(where)[n].id = `seen-${n}`", [where, n])
            assert all(arcminutes(text) >= 16 for text in texts(page, f"#seen-{n}"))
        assert page.locator(where).count() or where == ".probes"


def test_each_probe_that_is_not_ready_has_a_mark_of_its_own_and_a_word(page: Any, served: Served, clock: Clock) -> None:
    show(page, served, department(clock.now()))
    rows = page.evaluate(
        "[...document.querySelectorAll('.cart:first-child .fitness')].map(row =>"
        " [row.querySelector('use')?.getAttribute('href') ?? '', row.textContent.trim()])"
    )
    assert rows == [
        ["#fit-not-proven", "curved in doubt"],
        ["#fit-inspect", "check phased"],
        ["", "0 of 3 ready"],
    ]
    assert page.locator(".probes").inner_text() == "11 of 15 probes ready"


def test_the_probe_in_a_basin_is_named_or_said_not_to_be_known(page: Any, served: Served, clock: Clock) -> None:
    show(page, served, department(clock.now()))
    inside = page.evaluate(
        "[...document.querySelectorAll('.basin')].map(b => b.querySelector('.dipped')?.textContent ?? '')"
    )
    assert inside == ["Linear probe 2", "probe not known", "probe not known", ""]


def test_while_no_sensor_is_heard_no_probe_is_called_ready(page: Any, served: Served, clock: Clock) -> None:
    show(page, served, deaf(clock.now()))
    said = page.locator("#sheet").inner_text()
    assert "ready" not in said
    assert said.count("not confirmed") >= 5


def test_the_head_of_the_record_stands_at_the_foot_as_it_is_noted(page: Any, served: Served, clock: Clock) -> None:
    # RFC 9162 in use here: number of rows and the beginning of the root, as `sinkside verify --head` takes it.
    show(page, served, department(clock.now()))
    assert page.locator("#record").inner_text() == "record 12345678:0001-0203-0405-0607"


def test_where_probes_are_not_followed_the_floor_is_as_it_was(page: Any, served: Served, clock: Clock) -> None:
    show(page, served, calm(clock.now()))
    assert (page.locator(".cart .fitness").count(), page.locator(".dipped, .probes").count()) == (0, 0)
    # In one step: the first word of the stream puts another floor in its place.
    height = page.evaluate("document.querySelector('.floor').getBoundingClientRect().height")
    assert height == pytest.approx(171.4, abs=0.1)
