"""The logbook's pages in a real browser, over a real journal: at a desk and on a phone."""

from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from dashboard.premises import Named, Premises
from gateway.hub import Feed, Hub
from gateway.logbook import PAGE_LINES
from tests.browser.conftest import watched
from tests.browser.lasting import DESK, new_page
from tests.browser.rendered import texts
from tests.browser.signing_in import sign_in
from tests.dashboard.conftest import LISBON
from tests.dashboard.logbooks import Pen, book
from tests.dashboard.pictures import basin, picture
from tests.dashboard.serving import Served, serve
from tests.gateway.pages import asked, commit
from tests.rules.feeder import HOOK_A, OFF_HOOK, ON_HOOK, read
from tests.rules.followed import inspected

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, ViewportSize

pytestmark = pytest.mark.browser

SOUND = "/logbook/soak/basin-1.1"
PAGES = [
    "/logbook",
    "/logbook/soaks",
    "/logbook/soaks?verdict=too+cold&text=nobody",
    SOUND,
    "/logbook/soak/none",
    "/logbook/probes",
    "/logbook/probe/curved-1",
    "/logbook/solutions",
    "/logbook/look-back",
    "/logbook/look-back?what=lot&lot=L1",
    "/logbook/day/room/2023-11-14",
    "/logbook/entry/8",
    "/load",
]
PHONE: "ViewportSize" = {"width": 390, "height": 844}
TOUCHED = "[...document.querySelectorAll('a, button, input, select, textarea')].filter(e => e.checkVisibility())"


@contextmanager
def shelf(folder: Path) -> Iterator[tuple[Pen, Served]]:
    """A book, served while its pen writes on."""
    pen = Pen(book(folder))
    hub = Hub(Feed(picture(basin())), pen.ask)
    premises = Premises(sinks=(Named("room", "Room, left"),))
    with closing(pen.book.journal), serve(hub, LISBON, premises=premises, journal=pen.book.path) as running:
        yield pen, running


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Over a book that is only read."""
    with shelf(tmp_path_factory.mktemp("read")) as (_, running):
        yield running


@pytest.fixture
def written_in(tmp_path: Path) -> Iterator[tuple[Pen, Served]]:
    """A book of its own for a test that writes in it."""
    with shelf(tmp_path) as both:
        yield both


def show(page: Any, served: Served, path: str, size: "ViewportSize" = PHONE) -> None:
    page.set_viewport_size(size)
    page.goto(served.url + path)


# ---- each page -------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def looked_at(served: Served, chromium: "Browser") -> "Iterator[Page]":  # noqa: ARG001 - it ends after the page has left it
    """A page that is only loaded and measured."""
    with new_page(chromium) as page, watched(page):
        sign_in(page.context)
        yield page


@pytest.fixture(scope="module", params=PAGES)
def at_a_desk(looked_at: Any, served: Served, request: pytest.FixtureRequest) -> Any:
    show(looked_at, served, request.param, DESK)
    return looked_at


@pytest.fixture(scope="module", params=PAGES)
def on_a_phone(looked_at: Any, served: Served, request: pytest.FixtureRequest) -> Any:
    show(looked_at, served, request.param)
    return looked_at


def reaches_out_or_is_faint(page: Any) -> list[object]:
    """How wide it is where the screen is less wide, and its texts of too little contrast."""
    # WCAG 2.2: 1.4.10 reflow at 320 CSS px, 1.4.3 contrast 4.5:1.
    reach = page.evaluate("document.documentElement.scrollWidth")
    return [*([reach] if reach > page.viewport_size["width"] else []), *(t for t in texts(page) if t.contrast < 4.5)]


def test_at_a_desk_nothing_reaches_out_sideways_and_contrast_holds(at_a_desk: Any) -> None:
    assert reaches_out_or_is_faint(at_a_desk) == []


@pytest.mark.parametrize("width", [390, 320])
def test_on_a_phone_nothing_reaches_out_sideways_and_contrast_holds(on_a_phone: Any, width: int) -> None:
    on_a_phone.set_viewport_size({"width": width, "height": 844})
    assert reaches_out_or_is_faint(on_a_phone) == []


def test_whatever_is_touched_is_large_enough(on_a_phone: Any) -> None:
    # WCAG 2.2, 2.5.8 (AA): at least 24 by 24 CSS px; links within a sentence are excepted there.
    on_a_phone.set_viewport_size(PHONE)
    boxes = on_a_phone.evaluate(
        f"{TOUCHED}.filter(e => e.type !== 'hidden' && !e.closest('p:not(.onward, .by, .who)') || e.closest('td'))"
        ".map(e => [e.textContent.trim() || e.name, e.offsetWidth, e.offsetHeight])"
    )
    assert boxes
    assert [box for box in boxes if min(box[1:]) < 24] == []


# ---- what is done there ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("size", "wide"), [(DESK, True), (PHONE, False)])
def test_a_soak_shows_its_drawing_in_the_size_of_the_screen(
    page: Any, served: Served, size: "ViewportSize", *, wide: bool
) -> None:
    show(page, served, SOUND, size)
    image = page.locator(".trace img")
    page.wait_for_function("() => document.querySelector('.trace img').complete")
    assert page.evaluate("document.querySelector('.trace img').naturalWidth > 0")
    box = image.bounding_box()
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= size["width"]
    assert image.evaluate("e => e.currentSrc.endsWith('trace.svg')") is wide
    assert "counted from 14 Nov 2023 22:15:00 to 14 Nov 2023 22:27:00" in image.get_attribute("alt")


def test_the_letters_of_a_drawing_on_a_phone_are_as_large_as_they_were_meant(page: Any, served: Served) -> None:
    show(page, served, SOUND)
    page.wait_for_function("() => document.querySelector('.trace img').complete")
    shown, drawn = page.evaluate("(() => { const i = document.querySelector('.trace img');"
                                 " return [i.getBoundingClientRect().width, i.naturalWidth]; })()")  # fmt: skip
    assert shown >= 0.85 * drawn


def test_a_drawing_that_is_opened_by_itself_is_drawn_as_it_was_meant(page: Any, served: Served) -> None:
    show(page, served, f"{SOUND}/trace.svg", DESK)
    fills = page.evaluate("[...document.querySelectorAll('polyline')].map(e => getComputedStyle(e).fill)")
    assert fills == ["none"] * 3
    assert "Liberation Sans" in page.evaluate("getComputedStyle(document.querySelector('text')).fontFamily")


def test_no_short_word_is_broken_for_a_long_text_beside_it(written_in: tuple[Pen, Served], page: Any) -> None:
    pen, served = written_in
    commit(pen.book.journal, asked("page-1", channel="pagers"))
    show(page, served, "/pages", DESK)
    page.evaluate("document.querySelector('[data-heading=\"What it said\"] p').textContent = 'word '.repeat(60)")
    told, by = (page.locator(f"[data-heading={name}] p").first for name in ("Tries", "By"))
    assert by.inner_text() == "pagers"
    assert by.bounding_box()["height"] == told.bounding_box()["height"]


def test_from_the_live_page_to_a_soak_by_search(page: Any, served: Served) -> None:
    show(page, served, "/live", DESK)
    page.get_by_role("link", name="Logbook").click()
    page.get_by_label("Search soaks").fill("ex-2291")
    page.get_by_role("button", name="Search").click()
    page.get_by_role("link", name="14 Nov 2023 22:15:00").click()
    page.get_by_label("Verdict").get_by_text("Exposure met").wait_for()


def test_a_wrong_entry_is_struck_by_hand(written_in: tuple[Pen, Served], page: Any) -> None:
    _, served = written_in
    show(page, served, SOUND)
    page.get_by_role("link", name="this was wrong").first.click()
    page.get_by_label("Why it was wrong").fill("other basin")
    page.get_by_role("button", name="Strike this entry").click()
    page.get_by_text("by Ana: other basin").wait_for()
    assert page.get_by_role("button", name="Strike this entry").count() == 0


def test_the_logbook_works_without_javascript(chromium: Any, served: Served) -> None:
    plain = chromium.new_context(java_script_enabled=False).new_page()
    sign_in(plain.context)
    show(plain, served, "/logbook/soaks")
    plain.get_by_text("Filter and sort").click()
    plain.locator("select[name=verdict]").select_option("too short")
    plain.get_by_role("button", name="Show").click()
    plain.get_by_role("link", name="14 Nov 2023 22:46:40").click()
    plain.get_by_text("Too short: the lid was closed for less than the label's time.").wait_for()
    plain.context.close()


def began(page: Any) -> list[str]:
    return list(page.locator("[data-heading=Began] p").all_inner_texts())


def test_a_list_is_sorted_and_filtered_by_keyboard_and_its_address_shows_the_same_anew(
    page: Any, served: Served, chromium: Any
) -> None:
    show(page, served, "/logbook/soaks", DESK)
    newest_first = began(page)
    assert len(newest_first) == 2
    page.locator("[aria-sort=descending]").get_by_role("link", name="Began").focus()
    page.keyboard.press("Enter")
    page.locator("[aria-sort=ascending]").get_by_role("link", name="Began").wait_for()
    assert began(page) == newest_first[::-1]
    verdict = page.locator("select[name=verdict]")
    verdict.focus()
    for _ in range(verdict.locator("option").count()):  # typing finds an option only where it is typed fast
        if verdict.input_value() != "too short":
            page.keyboard.press("ArrowDown")
    page.get_by_label("Search").focus()
    page.keyboard.press("Enter")
    page.get_by_role("link", name="Take off: verdict too short").wait_for()
    assert began(page) == newest_first[:1]
    anew = chromium.new_page()
    sign_in(anew.context)
    anew.goto(page.url)
    assert began(anew) == newest_first[:1]
    assert anew.locator("select[name=sort]").input_value() == "began"
    anew.get_by_role("link", name="Take off: verdict too short").click()
    anew.locator("tbody tr").nth(1).wait_for()
    assert began(anew) == newest_first[::-1]
    anew.close()


def test_on_a_phone_the_filters_are_folded_and_open_by_a_touch(page: Any, served: Served) -> None:
    show(page, served, "/logbook/soaks")
    assert not page.locator("select[name=verdict]").is_visible()
    page.get_by_text("Filter and sort").click()
    assert page.locator("select[name=verdict]").is_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


def test_at_a_desk_the_filters_stand_open(page: Any, served: Served) -> None:
    show(page, served, "/logbook/soaks", DESK)
    assert page.locator("select[name=verdict]").is_visible()


def test_a_sheet_in_print_leaves_out_what_cannot_be_touched_there(page: Any, served: Served) -> None:
    show(page, served, "/logbook/day/room/2023-11-14", DESK)
    page.emulate_media(media="print")
    hidden = page.evaluate(
        "[...document.querySelectorAll('.head nav, .within, .onward')].map(e => e.checkVisibility())"
    )
    assert hidden == [False] * 4
    assert "not proof of disinfection" in page.locator("footer").inner_text()


def test_what_is_folded_on_the_screen_is_printed_whole(page: Any, written_in: tuple[Pen, Served]) -> None:
    pen, served = written_in
    hook = [read(HOOK_A, place, 4100 + number / 2) for number, place in enumerate([ON_HOOK, OFF_HOOK] * 3)]
    pen.book.feed(hook)
    show(page, served, "/logbook/probe/curved-1", DESK)
    inside = page.locator(".alike .moment").first
    assert not inside.is_visible()
    page.emulate_media(media="print")
    assert inside.is_visible()
    assert inside.bounding_box()["height"] > 0
    assert not page.locator("#stood form").is_visible()


def test_a_part_of_a_list_says_on_paper_that_it_is_one(page: Any, written_in: tuple[Pen, Served]) -> None:
    pen, served = written_in
    show(page, served, "/logbook/probe/curved-1", DESK)
    assert page.locator(".list-part").count() == 0
    pen.book.feed([inspected(4100 + number) for number in range(PAGE_LINES)])
    page.reload()
    part = page.locator(".list-part")
    assert not part.is_visible()
    page.emulate_media(media="print")
    assert part.inner_text() == "This is a part of the list: what comes after it is not on this paper."


def test_a_sheet_in_print_says_what_was_filtered_out(page: Any, served: Served) -> None:
    show(page, served, "/logbook/day/room/2023-11-14?verdict=too+short", DESK)
    assert [page.locator(".list-fits").is_visible(), page.locator(".sift").first.is_visible()] == [False, True]
    page.emulate_media(media="print")
    assert [page.locator(".list-fits").is_visible(), page.locator(".sift").first.is_visible()] == [True, False]
    assert page.locator(".list-fits").inner_text() == "Only what fits is listed: verdict too short."
