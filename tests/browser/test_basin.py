"""The basins' pages in a real browser: a phone in a gloved hand."""

from dataclasses import replace
from typing import Any

import pytest

from gateway.clock import Clock
from gateway.hub import Feed
from gateway.pump import StoppedError
from rules.commands import Discard, Pour, StripRead
from rules.picture import SolutionPicture
from rules.probe_words import Fitness, Place
from rules.readings import SECOND, StripResult
from rules.verdict import Reason
from tests.browser.rendered import texts
from tests.browser.signing_in import sign_in
from tests.browser.strips import read_strip
from tests.dashboard.pictures import TERMS, basin, picture, soak, solution
from tests.dashboard.probe_pictures import probe, standing, with_probes
from tests.dashboard.serving import Desk, Served

pytestmark = pytest.mark.browser

PHONE = {"width": 390, "height": 844}
OPEN_ALL = "document.querySelectorAll('details').forEach(d => d.open = true)"
AGO = "Done how many minutes ago"


def show(page: Any, served: Served, clock: Clock, shown: SolutionPicture | None = None, path: str = "") -> None:
    now = clock.now()
    filled = basin(at=now, solution=solution(Reason.STRIP_MISSING, at=now) if shown is None else shown)
    served.hub.publish(Feed(picture(filled, basin("Basin 2", at=now, solution=filled.solution), at=now)))
    page.set_viewport_size(PHONE)
    page.goto(served.url + (path or "/basin/basin-1"))


@pytest.mark.parametrize("path", ["/basins", "/basin/basin-1"])
@pytest.mark.parametrize("width", [390, 320])
def test_nothing_reaches_out_sideways_and_contrast_holds(
    page: Any, served: Served, clock: Clock, path: str, width: int
) -> None:
    # WCAG 2.2: 1.4.10 reflow at 320 CSS px, 1.4.3 contrast 4.5:1.
    timed = replace(solution(Reason.STRIP_FAILED, at=clock.now()), terms=replace(TERMS, strip_after=90 * SECOND))
    show(page, served, clock, timed, path)
    page.set_viewport_size({"width": width, "height": 640})
    page.evaluate(OPEN_ALL)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert [t for t in texts(page) if t.contrast < 4.5] == []


@pytest.mark.parametrize("path", ["/basins", "/basin/basin-1"])
def test_whatever_is_touched_is_large_enough_for_a_glove(page: Any, served: Served, clock: Clock, path: str) -> None:
    # WCAG 2.2, 2.5.5 (AAA): at least 44 by 44 CSS px; a radio button is touched by its label.
    show(page, served, clock, path=path)
    page.evaluate(OPEN_ALL)
    touched = "[...document.querySelectorAll('a, button, summary, input:not([type=radio]), .choice')]"
    seen = f"{touched}.filter(e => e.checkVisibility())"
    boxes = page.evaluate(f"{seen}.map(e => [e.textContent.trim() || e.name, e.offsetWidth, e.offsetHeight])")
    assert len(boxes) >= 3
    assert [box for box in boxes if min(box[1:]) < 44] == []


@pytest.mark.own_page
def test_a_strip_is_chosen_and_then_written_down_in_the_name_of_whoever_signed_in(
    page: Any, served: Served, clock: Clock, desk: Desk
) -> None:
    show(page, served, clock)
    page.get_by_text("You enter as Ana.").wait_for()
    read_strip(page, "Fail")
    page.get_by_text("Strip: fail. It does not count as a good one: strip failed.").wait_for()
    assert page.locator("#answer.warns").is_visible()
    assert page.locator("[name=result]:checked").count() == 0
    (entry,) = desk.entered
    assert isinstance(entry, StripRead)
    assert (entry.who, entry.result, entry.lot, entry.basin) == ("Ana", StripResult.FAIL, "S-9", "basin-1")


def test_one_tap_alone_writes_down_no_strip(page: Any, served: Served, clock: Clock, desk: Desk) -> None:
    show(page, served, clock)
    page.get_by_role("button", name="Write down the strip").click()
    page.get_by_text("Say how the strip looks: pass, fail or invalid.").wait_for()
    page.get_by_role("group", name="How the strip looks").get_by_label("Pass").check()
    assert desk.entered == []


def test_the_head_tells_what_soaks_as_the_wall_does_and_counts_on(page: Any, served: Served, clock: Clock) -> None:
    now = clock.now()
    soaking = basin(soaking=soak(done_in=300, at=now), at=now, solution=solution(at=now))
    inside = probe("Linear probe 1", standing(Fitness.IN_PROCESS, at=now, place=Place.BASIN, thing="basin-1"))
    served.hub.publish(Feed(with_probes(inside, shown=picture(soaking, at=now))))
    page.set_viewport_size(PHONE)
    page.goto(served.url + "/basin/basin-1")
    told = page.locator("#now").inner_text()
    assert "In it: Linear probe 1" in told
    assert "Lid closed, temperature 21.4 °C, needs 20.5 °C (label 20 °C, sensor 0.5)" in told
    begun = page.locator("#now .figure").inner_text()
    assert begun.startswith(("05:0", "04:5"))
    page.wait_for_function("begun => document.querySelector('#now .figure').innerText !== begun", arg=begun)
    lifted = basin(soaking=soak(None, lid_open=True, at=now), at=now, solution=solution(at=now), lid_closed=False)
    served.hub.publish(Feed(with_probes(inside, shown=picture(lifted, at=now))))
    page.get_by_text("Lid lifted too early").wait_for()
    assert "Lid open" in page.locator("#now").inner_text()


def test_a_pour_is_entered(page: Any, served: Served, clock: Clock, desk: Desk) -> None:
    show(page, served, clock)
    page.get_by_text("Pour fresh solution").click()
    page.get_by_label("Lot on the bottle").fill("L-7")
    page.get_by_label("Printed expiry").fill("2099-06-30")
    page.get_by_label("Bottle opened now").check()
    page.get_by_label("Days it may be used").fill("30")
    page.get_by_role("button", name="Write down the pour").click()
    page.get_by_text("Poured: lot L-7, good until").wait_for()
    (entry,) = desk.entered
    assert isinstance(entry, Pour)
    page.reload()
    page.get_by_text("You enter as Ana.").wait_for()


def test_what_is_wrong_is_said_and_what_was_typed_stays(page: Any, served: Served, clock: Clock, desk: Desk) -> None:
    show(page, served, clock)
    page.get_by_text("Pour fresh solution").click()
    page.get_by_label("Lot on the bottle").fill("L-7")
    page.get_by_role("button", name="Write down the pour").click()
    page.get_by_text("Say when the bottle was opened: now, or on which day.").wait_for()
    assert page.get_by_label("Lot on the bottle").input_value() == "L-7"
    assert desk.entered == []


def test_a_gateway_that_refuses_says_so(page: Any, served: Served, clock: Clock, desk: Desk) -> None:
    desk.refusal = StoppedError("Sinkside is stopping; ask again in a moment.")
    show(page, served, clock)
    read_strip(page, "Pass")
    page.get_by_text("Sinkside is stopping").wait_for()


def test_the_return_key_enters_nothing(page: Any, served: Served, clock: Clock, desk: Desk) -> None:
    # HTML standard, implicit submission: nothing is sent where the form's first submit button is disabled.
    show(page, served, clock)
    page.get_by_label(AGO).press("Enter")
    read_strip(page, "Pass")
    page.get_by_text("Strip: pass.").wait_for()
    assert len(desk.entered) == 1


def test_the_seconds_since_a_dip_are_counted(page: Any, served: Served, clock: Clock, desk: Desk) -> None:
    timed = replace(solution(at=clock.now()), terms=replace(TERMS, strip_after=90 * SECOND))
    show(page, served, clock, timed)
    page.get_by_role("button", name="Dipped now").click()
    page.wait_for_function("() => document.getElementById('dip-seconds').value === '1'")
    read_strip(page, "Pass")
    page.get_by_text("Written down at").wait_for()
    (entry,) = desk.entered
    assert isinstance(entry, StripRead)
    assert entry.dipped is not None
    assert entry.measured - entry.dipped >= SECOND


def test_what_is_being_typed_survives_a_new_picture(page: Any, served: Served, clock: Clock) -> None:
    show(page, served, clock)
    page.get_by_label(AGO).fill("7")
    now = clock.now()
    served.hub.publish(Feed(picture(basin(at=now, solution=solution(Reason.STRIP_FAILED, at=now)), at=now)))
    page.get_by_text("test strip failed: do not use").wait_for()
    assert page.get_by_label(AGO).input_value() == "7"


def test_a_form_works_without_javascript(chromium: Any, served: Served, clock: Clock, desk: Desk) -> None:
    plain = chromium.new_context(java_script_enabled=False).new_page()
    sign_in(plain.context)
    show(plain, served, clock)
    plain.get_by_text("Discard", exact=True).click()
    plain.get_by_role("button", name="Write down that it was emptied").click()
    plain.get_by_text("Written down: discard.").wait_for()
    (entry,) = desk.entered
    assert isinstance(entry, Discard)
    plain.context.close()


def test_the_live_page_leads_to_the_basins(page: Any, served: Served, clock: Clock) -> None:
    show(page, served, clock, path="/live")
    page.get_by_role("button", name="Menu").click()
    page.get_by_role("link", name="Basins").click()
    page.get_by_role("link", name="Basin 1").click()
    page.get_by_role("heading", name="Basin 1").wait_for()


def test_a_field_that_is_to_be_mended_is_marked_and_says_why(page: Any, served: Served, clock: Clock) -> None:
    # WCAG 2.2, 3.3.1: the item in error is identified, and the error is described in text.
    show(page, served, clock)
    page.get_by_text("Pour fresh solution").click()
    page.get_by_role("button", name="Write down the pour").click()
    lot = page.get_by_label("Lot on the bottle")
    page.locator("#answer.refused").wait_for()
    assert lot.get_attribute("aria-invalid") == "true"
    assert lot.get_attribute("aria-describedby") == "answer"
    assert page.evaluate("document.activeElement.name") == "lot"
    lot.fill("L7")
    page.get_by_role("button", name="Write down the pour").click()
    page.locator("[name=lot]:not([aria-invalid])").wait_for()
