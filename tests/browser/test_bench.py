"""The bench in a real browser, at a desk and on a phone: from the form to the result, and what is put in force."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from gateway.pictures.size import PHONE as PHONE_PICTURE
from tests.browser.keys import to
from tests.browser.rendered import texts
from tests.browser.signing_in import sign_in
from tests.dashboard.benches import BenchSite, bench_site
from tests.gateway.answers import RULE

pytestmark = pytest.mark.browser

SIZES = {"desk": {"width": 1920, "height": 1080}, "phone": {"width": 390, "height": 844}}
PAGES = ["/bench", f"/bench/tune?rule={RULE}", "/bench/situations", "/bench/hands", "/bench/figures", "/bench/traces"]
TOUCHED = (
    "[...document.querySelectorAll('a, button, input, select, textarea, summary')].filter(e => e.checkVisibility())"
)
ALL_DRAWN = "() => [...document.querySelectorAll('.picture img')].every(i => i.complete && i.naturalWidth > 0)"


@pytest.fixture
def site(tmp_path: Path) -> Iterator[BenchSite]:
    with bench_site(tmp_path) as running:
        yield running


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[BenchSite]:
    """One bench for all that only look at it."""
    with bench_site(tmp_path_factory.mktemp("bench")) as running:
        yield running


def fits(page: Any) -> None:
    """Nothing reaches out sideways, and every text stands out (WCAG 2.2: 1.4.10, 1.4.3)."""
    page.wait_for_load_state()  # before its stylesheets have come a page is as wide as its pictures
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
    assert [text for text in texts(page) if text.contrast < 4.5] == []


def large_enough(page: Any) -> None:
    """WCAG 2.2, 2.5.8 (AA): at least 24 by 24 CSS px; links within a sentence are excepted there."""
    boxes = page.evaluate(
        f"{TOUCHED}.filter(e => e.type !== 'hidden' && !e.closest('p:not(.onward)'))"
        ".map(e => [e.textContent.trim().slice(0, 40) || e.name, e.offsetWidth, e.offsetHeight])"
    )
    assert boxes
    assert [box for box in boxes if min(box[1:]) < 24] == []


@pytest.mark.parametrize("size", list(SIZES))
def test_from_the_form_over_the_run_to_the_result_and_into_force(site: BenchSite, page: Any, size: str) -> None:
    page.set_viewport_size(SIZES[size])
    site.hold()
    page.goto(f"{site.served.url}/bench")
    page.get_by_role("link", name="Tune figures").click()
    page.locator(f"[name=rule][value={RULE}]").check()
    page.get_by_role("button", name="Go on with these rules").click()
    on_delay = page.locator("fieldset", has_text="on-delay").first
    for label, value in (("from", "0"), ("to", "29"), ("step", "1")):
        on_delay.get_by_label(label).fill(value)
    page.get_by_text("As filled in: 30 settings.").wait_for()
    fits(page)
    page.get_by_role("button", name="Try them").click()
    page.get_by_text("30 %. day 3 of 10 of this record. About").wait_for()
    fits(page)
    site.let_go()
    page.get_by_text("Suggested: on-delay of cord-down-rolling 4 s (now 0 s)").wait_for()
    for drawn in page.locator(".picture img").all():
        drawn.scroll_into_view_if_needed()
    page.wait_for_function(ALL_DRAWN)
    fits(page)
    large_enough(page)
    page.get_by_role("link", name="Put it in force").click()
    page.get_by_label("Why").fill("too many alerts at night")
    page.get_by_role("button", name="Put it in force").click()
    suggestion = page.get_by_role("region", name="Suggestion", exact=True)
    suggestion.get_by_text("by Ana, engineer: on-delay of cord-down-rolling 4 s").wait_for()
    assert page.get_by_role("button", name="Put it in force").count() == 0
    fits(page)


def test_the_bench_works_without_javascript(chromium: Any, site: BenchSite) -> None:
    plain = chromium.new_context(java_script_enabled=False).new_page()
    sign_in(plain.context)
    plain.goto(f"{site.served.url}/bench/tune?rule={RULE}")
    plain.get_by_label("from").first.fill("4")
    plain.get_by_role("button", name="Try them").click()
    plain.get_by_text("Suggested: on-delay").wait_for()  # the page of the run renews itself
    plain.context.close()


@pytest.mark.parametrize("path", PAGES)
def test_every_page_fits_and_can_be_read_and_touched(shared: BenchSite, page: Any, path: str) -> None:
    page.goto(shared.served.url + path)
    page.evaluate("for (const folded of document.querySelectorAll('details')) folded.open = true")
    for width in (1920, 320):  # between them lies every other; a phone of 390 px is walked through above
        page.set_viewport_size({"width": width, "height": 844})
        fits(page)
        large_enough(page)


def test_the_letters_of_a_picture_on_a_phone_are_as_large_as_they_were_meant(shared: BenchSite, page: Any) -> None:
    page.set_viewport_size(SIZES["phone"])
    page.goto(f"{shared.served.url}/bench/traces")
    page.wait_for_function("() => document.querySelector('.picture img').naturalWidth > 0")
    shown = page.evaluate("document.querySelector('.picture img').getBoundingClientRect().width")
    assert page.evaluate("document.querySelector('.picture img').currentSrc.endsWith('phone=yes')")
    # 13 px letters are drawn; 12 px are kept at least.
    assert shown * PHONE_PICTURE.em / PHONE_PICTURE.width >= 12


def test_a_lid_is_lifted_by_hand(shared: BenchSite, page: Any) -> None:
    page.goto(f"{shared.served.url}/bench/hands")
    page.locator("summary", has_text="Lift a lid").click()
    lid = page.locator("form", has_text="Lift a lid")
    lid.get_by_role("combobox").select_option("basin-2")
    lid.get_by_role("button").click()
    page.get_by_text("Done. open-lid was done with basin-2.").wait_for()
    assert lid.get_by_role("combobox").input_value() == "basin-2"
    assert shared.hands.done == [{"do": "open-lid", "basin": "basin-2"}]


def test_a_question_is_asked_by_the_keyboard_alone_and_what_is_wrong_with_it_is_come_to(
    shared: BenchSite, page: Any
) -> None:
    page.goto(f"{shared.served.url}/bench/tune")
    to(page, f"[value={RULE}]")
    page.keyboard.press("Space")
    to(page, ".chooser button")
    page.keyboard.press("Enter")
    page.wait_for_url("**/bench/tune?rule=*")
    to(page, '[name^="from:"]')
    page.keyboard.type("far")
    to(page, "button.start")
    page.keyboard.press("Enter")
    page.get_by_text("Nothing was started.").wait_for()
    to(page, ".refusal a")
    page.keyboard.press("Enter")
    page.keyboard.press("Shift+Tab")
    to(page, '[name^="from:"]')
    assert page.evaluate(
        "document.getElementById(document.activeElement.getAttribute('aria-describedby')).innerText"
    ) == ("on-delay of cord-down-rolling: from which value on? Expected a number such as 12 or 0.5.")
    page.keyboard.press("Control+a")
    page.keyboard.type("4")
    to(page, "button.start")
    page.keyboard.press("Enter")
    page.get_by_text("Suggested: on-delay").wait_for()


def test_a_run_that_is_out_of_reach_says_so_until_it_is_heard_again(site: BenchSite, page: Any) -> None:
    site.hold()
    page.goto(f"{site.served.url}/bench/tune?rule={RULE}")
    page.locator('[name^="from:"]').first.fill("4")
    page.get_by_role("button", name="Try them").click()
    page.get_by_text("30 %. day 3 of 10").wait_for()
    page.context.set_offline(True)
    page.get_by_text("Sinkside is out of reach").wait_for()
    page.context.set_offline(False)
    page.get_by_text("Sinkside is out of reach").wait_for(state="hidden")
    site.let_go()
    page.get_by_text("Suggested: on-delay").wait_for()
