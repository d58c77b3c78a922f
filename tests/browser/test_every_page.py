"""Every page with something in everything, by day and by night, on a phone and at a desk: what a rule can find.

The rules are those of axe-core for WCAG 2.2, levels A and AA; contrast, reflow, targets and text spacing are measured
here besides, as the recommendation words them.
"""

from collections.abc import Iterator
from io import BytesIO
from itertools import pairwise
from typing import Any

import pytest
from PIL import Image, ImageStat
from pypdfium2 import PdfDocument

from gateway.clock import Clock
from tests.browser.every_page import BEFORE_SIGNING_IN, ON_PAPER, PAGES, everything
from tests.browser.rendered import ALL_RULES, CONTRAST, broken_rules, texts
from tests.browser.signing_in import sign_in
from tests.dashboard.benches import BenchSite, bench_site
from tests.gateway.answers import RULE

pytestmark = pytest.mark.browser

PHONE, DESK, NARROW = {"width": 390, "height": 844}, {"width": 1920, "height": 1080}, {"width": 320, "height": 640}
SCREENS = [
    ("light", PHONE, ALL_RULES),
    ("dark", PHONE, CONTRAST),
    ("light", DESK, CONTRAST),
    ("dark", DESK, ALL_RULES),
]

TWO_RULES = ("rule.cord-down-rolling", "rule.moved-plugged-in")
"""Whose figures the bench has there; with those of all, its pages are as long as they are alike."""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[BenchSite]:
    with bench_site(tmp_path_factory.mktemp("everything")) as served:
        known = served.desk.engine.picture().figures
        of_two_rules = tuple(figure for figure in known if figure.name.startswith(TWO_RULES))
        served.hub.publish(everything(Clock().now(), of_two_rules))
        yield served


@pytest.fixture(scope="module")
def one_page(site: BenchSite, chromium: Any) -> Iterator[Any]:
    """One page for all: its scripts are kept off, so that nothing changes while it is measured."""
    page = chromium.new_page(viewport=PHONE)
    sign_in(page.context)
    page.set_default_timeout(20_000)
    page.route("**/static/*.js", lambda route: route.abort())
    page.goto(f"{site.served.url}/bench/tune?rule={RULE}")
    page.get_by_label("from").first.fill("4")
    page.get_by_role("button", name="Try them").click()
    assert site.jobs.wait_over(1, 30) is not None
    yield page
    page.close()


def opened(page: Any, site: BenchSite, path: str) -> None:
    if path in BEFORE_SIGNING_IN:
        page.context.clear_cookies()
    else:
        sign_in(page.context)
    page.emulate_media(color_scheme="light")
    page.set_viewport_size(PHONE)
    page.goto(site.served.url + path)
    page.evaluate("stop(); document.querySelector('meta[http-equiv=refresh]')?.remove()")  # as page.js does on a wall
    page.evaluate("document.querySelectorAll('details').forEach((one) => (one.open = true))")
    page.evaluate("document.documentElement.classList.add('alive')")  # as page.js does it


@pytest.fixture(scope="module", params=PAGES + BEFORE_SIGNING_IN)
def loaded(one_page: Any, site: BenchSite, request: pytest.FixtureRequest) -> Any:
    """A page that is loaded once for all that is measured of it."""
    opened(one_page, site, request.param)
    return one_page


@pytest.fixture
def shown(loaded: Any) -> Any:
    """By day, on a phone, with no other style than its own."""
    loaded.emulate_media(color_scheme="light")
    loaded.set_viewport_size(PHONE)
    loaded.evaluate("document.adoptedStyleSheets = []")
    return loaded


def test_no_rule_of_wcag_2_2_is_broken_and_every_text_can_be_read(shown: Any) -> None:
    # WCAG 2.2, 1.4.3: contrast 4.5:1, worked out here from the rendered page as well.
    for scheme, screen, rules in SCREENS:
        shown.emulate_media(color_scheme=scheme)
        shown.set_viewport_size(screen)
        assert (scheme, screen["width"], broken_rules(shown, rules)) == (scheme, screen["width"], [])
        assert [(scheme, text) for text in texts(shown) if text.contrast < 4.5] == []


# WCAG 2.2, 1.4.12: line height 1.5, space after paragraphs 2, between letters 0.12, between words 0.16 of the size.
_SPACED = """
* { line-height: 1.5 !important; letter-spacing: 0.12em !important; word-spacing: 0.16em !important; }
p { margin-bottom: 2em !important; }
"""

_WITH_STYLE = """(css) => {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync(css);
  document.adoptedStyleSheets = [sheet];
}"""

_TOO_WIDE = """() => [...document.querySelectorAll("body *")].filter((e) =>
  e.checkVisibility() && !e.closest("svg") && e.getBoundingClientRect().right > innerWidth + 1
).map((e) => `${e.tagName}.${e.className} ${e.textContent.trim().slice(0, 40)}`)"""

_SMALL = """() => [...document.querySelectorAll("a, button, summary, select, input:not([type=hidden])")].filter((e) => {
  const box = e.getBoundingClientRect();
  const inline = e.tagName === "A" && getComputedStyle(e).display === "inline";
  return e.checkVisibility() && !inline && !e.closest("label") && Math.min(box.width, box.height) < 24;
}).map((e) => `${e.tagName} ${e.name ?? ""} ${e.textContent.trim()}`)"""


def test_it_fits_a_narrow_phone_by_any_spacing_and_can_be_hit(shown: Any) -> None:
    # WCAG 2.2: 1.4.10 reflow at 320 CSS px; 1.4.12 text spacing; 2.5.8 targets of 24 px but for those in a sentence.
    shown.set_viewport_size(NARROW)
    assert shown.evaluate(_TOO_WIDE) == []
    assert shown.evaluate(_SMALL) == []
    shown.evaluate(_WITH_STYLE, _SPACED)
    assert shown.evaluate(_TOO_WIDE) == []
    assert shown.evaluate(_CUT) == []


# Words of what is chosen or pressed that go on in another line; a word ends at its hyphen too.
_TORN = """() => {
  const torn = [];
  for (const one of document.querySelectorAll("button, label, legend, summary")) {
    if (!one.checkVisibility()) continue;
    const texts = document.createTreeWalker(one, NodeFilter.SHOW_TEXT);
    for (let text = texts.nextNode(); text !== null; text = texts.nextNode()) {
      for (const word of text.data.matchAll(/[\\p{L}\\d]+/gu)) {
        const range = document.createRange();
        range.setStart(text, word.index);
        range.setEnd(text, word.index + word[0].length);
        const lines = new Set([...range.getClientRects()].map((line) => Math.round(line.top)));
        if (text.parentElement.checkVisibility() && lines.size > 1) torn.push(word[0]);
      }
    }
  }
  return torn;
}"""


def test_no_word_that_is_chosen_or_pressed_is_torn_on_a_phone(shown: Any) -> None:
    assert shown.evaluate(_TORN) == []


# Text that its own box hides, but where it is meant to end in '…'.
_CUT = """() => [...document.querySelectorAll("main *, header *, footer *")].filter((e) => {
  const style = getComputedStyle(e);
  return e.checkVisibility() && style.overflow === "hidden" && style.textOverflow !== "ellipsis"
    && !e.matches(".unseen") && (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1);
}).map((e) => `${e.tagName}.${e.className} ${e.textContent.trim().slice(0, 40)}`)"""


def test_each_page_has_one_head_one_heading_and_headings_in_order(shown: Any) -> None:
    assert shown.locator("main").count() == 1
    assert shown.locator("header").count() == 1
    assert shown.locator("main h1").count() == 1
    levels = shown.evaluate(
        "[...document.querySelectorAll('h1, h2, h3')].filter((e) => e.checkVisibility()).map((e) => +e.tagName[1])"
    )
    assert levels[0] == 1
    assert [after for before, after in pairwise(levels) if after > before + 1] == []


def test_the_keyboard_is_seen_wherever_it_is(one_page: Any, site: BenchSite) -> None:
    # WCAG 2.2, 2.4.13 (AAA): as thick as 2 px around; 2.4.11: not hidden by what is fixed.
    opened(one_page, site, "/basin/basin-1")
    for scheme in ("light", "dark"):
        one_page.emulate_media(color_scheme=scheme)
        one_page.evaluate("document.activeElement.blur()")
        for _ in range(12):
            one_page.keyboard.press("Tab")
            ring = one_page.evaluate(
                "(() => { const e = document.activeElement, s = getComputedStyle(e), b = e.getBoundingClientRect();"
                " return [parseFloat(s.outlineWidth), s.outlineStyle, b.top >= 0 && b.bottom <= innerHeight]; })()"
            )
            assert (ring[0] >= 2, ring[1], ring[2]) == (True, "solid", True)


SIDEWAYS = {"width": 844, "height": 390}


# Names as long as those of the demo, in the place of what the page says.
_LONG = """() => {
  const long = {
    ".site": "Harbour Street emergency department",
    ".what-happened h1": "Curved probe 8: used again, disinfection not known (Cart 8)",
    ".do p": "Take Phased probe 7 off Cart 7 and soak it. Stop the cart. The probe needs high-level disinfection" +
      " before the next patient.",
    "#standing .next": "Next: take it out of the basin, rinse it as often as its label says, and dry it.",
  };
  for (const [where, words] of Object.entries(long))
    for (const found of document.querySelectorAll(where)) found.textContent = words;
}"""

# Whether all of a part is on the screen, and under nothing else.
_IN_SIGHT = """(wanted) => {
  const part = document.querySelector(wanted), box = part.getBoundingClientRect();
  const corners = [[box.left + 1, box.top + 1], [box.right - 1, box.bottom - 1]];
  return corners.every(([x, y]) => part.contains(document.elementFromPoint(x, y)));
}"""


@pytest.mark.parametrize(("path", "wanted"), [("/alert/a-1", ".do"), ("/probe/linear-1", "#standing .next")])
def test_held_sideways_what_to_do_is_seen_without_scrolling(
    one_page: Any, site: BenchSite, path: str, wanted: str
) -> None:
    opened(one_page, site, path)
    one_page.set_viewport_size(SIDEWAYS)
    one_page.evaluate(_LONG)
    assert one_page.evaluate(_IN_SIGHT, wanted)
    assert one_page.evaluate("document.querySelector('.head').offsetHeight") <= 80  # one row of targets for a glove
    touched = "[...document.querySelectorAll('.thumb button')].filter((e) => e.checkVisibility())"
    low = one_page.evaluate(f"{touched}.map((e) => e.getBoundingClientRect()).map((box) => [box.top, box.bottom])")
    assert all(0 <= top < bottom <= SIDEWAYS["height"] for top, bottom in low)


def test_the_ring_around_what_is_filled_in_cuts_no_words(one_page: Any, site: BenchSite) -> None:
    # WCAG 2.2, 1.4.3: words are read where they are covered by nothing. The ring is an outline and a shadow (base.css).
    opened(one_page, site, "/sign-in")
    one_page.emulate_media(color_scheme="dark")
    one_page.get_by_label("Sign-in name").focus()
    words, field, ring = one_page.evaluate(
        "(() => { const field = document.activeElement, words = document.createRange();"
        " words.selectNodeContents(field.parentElement.firstChild);"
        " const around = [...getComputedStyle(field).boxShadow.matchAll(/(\\d+)px/g)].map((found) => Number(found[1]));"
        " return [words.getBoundingClientRect().bottom, field.getBoundingClientRect().top, Math.max(...around)]; })()"
    )
    assert ring > 0
    assert field - ring >= words


def test_a_wall_on_a_phone_reaches_out_nowhere_wherever_it_stands(one_page: Any, site: BenchSite) -> None:
    opened(one_page, site, "/wall")
    for place in range(9):
        one_page.evaluate("place => { document.body.dataset.shift = place; }", place)
        assert (place, one_page.evaluate("document.documentElement.scrollWidth")) == (place, PHONE["width"])


@pytest.mark.parametrize(("scheme", "is_dark"), [("light", False), ("dark", True)])
def test_a_drawing_is_as_dark_as_the_page_around_it(
    one_page: Any,
    site: BenchSite,
    scheme: str,
    is_dark: bool,  # noqa: FBT001 - a row of the table
) -> None:
    opened(one_page, site, "/logbook/soak/basin-1.1")
    one_page.emulate_media(color_scheme=scheme)
    drawn = Image.open(BytesIO(one_page.locator(".trace img").screenshot())).convert("L")
    assert (ImageStat.Stat(drawn).median[0] < 64) is is_dark


def test_what_leads_on_at_the_foot_leaves_no_hole_in_a_sentence(one_page: Any, site: BenchSite) -> None:
    opened(one_page, site, "/probe/linear-1")
    lefts = one_page.evaluate("[...document.querySelectorAll('.caution a')].map((one) => one.offsetLeft)")
    edge = one_page.evaluate("parseFloat(getComputedStyle(document.querySelector('.caution')).paddingLeft)")
    assert lefts == [edge, edge]  # each begins a line of its own


def test_on_a_phone_what_need_not_be_seen_at_first_is_folded(chromium: Any, site: BenchSite) -> None:
    page = chromium.new_page(viewport=PHONE)
    sign_in(page.context)
    page.goto(f"{site.served.url}/load")
    folded = page.evaluate("[...document.querySelectorAll('details[data-fold]')].map((one) => one.open)")
    assert folded == [False] * 5
    page.close()


def test_the_keyboard_alone_leads_past_the_head(one_page: Any, site: BenchSite) -> None:
    opened(one_page, site, "/alerts")
    one_page.keyboard.press("Tab")
    assert one_page.evaluate("document.activeElement.className") == "skip"
    one_page.keyboard.press("Enter")
    one_page.wait_for_function("document.activeElement.id === 'content'")


def test_the_keyboard_alone_leads_through_the_ways(one_page: Any, site: BenchSite) -> None:
    opened(one_page, site, "/duty")
    one_page.get_by_role("button", name="Menu").focus()
    one_page.keyboard.press("Enter")
    one_page.locator("#ways").wait_for()
    one_page.keyboard.press("Tab")
    one_page.wait_for_function("document.activeElement.textContent === 'Wall'")
    one_page.keyboard.press("Escape")
    one_page.locator("#ways").wait_for(state="hidden")


def test_each_sheet_on_paper_says_whose_it_is_and_of_how_many(one_page: Any, site: BenchSite) -> None:
    opened(one_page, site, "/logbook/soak/basin-1.1")
    sheets = [sheet.get_textpage().get_text_bounded() for sheet in PdfDocument(one_page.pdf())]
    assert len(sheets) > 2
    for number, words in enumerate(sheets, 1):
        assert "North Hall" in words
        assert "not proof of disinfection" in words
        assert "Head of the record" in words
        assert f"Page {number} of {len(sheets)}" in words
    entered = [words for words in sheets if "by R. Tech" in words or "Done:" in words]
    assert len(entered) > 1
    assert not any("Skip to" in words or "Look-back" in words for words in sheets)


def test_no_row_is_cut_between_two_sheets_and_headings_come_again(one_page: Any, site: BenchSite) -> None:
    one_page.emulate_media(color_scheme="dark")
    one_page.goto(site.served.url + "/logbook/solutions")
    one_page.evaluate(
        "(() => { const body = document.querySelector('.grid tbody'), row = body.rows[0];"
        " for (let n = 0; n < 60; n++) { const more = row.cloneNode(true);"
        " more.cells[1].textContent = `b${n}b ${'word '.repeat(40)} e${n}e`; body.append(more); } })()"
    )
    sheets = [sheet.get_textpage().get_text_bounded() for sheet in PdfDocument(one_page.pdf())]
    assert len(sheets) > 2
    headings = one_page.locator(".grid th").all_inner_texts()
    assert [n for n, words in enumerate(sheets) if headings[0] not in words] == []
    for n in range(60):
        begins, ends = ([p for p, words in enumerate(sheets) if mark in words] for mark in (f"b{n}b", f"e{n}e"))
        assert (n, len(begins), begins) == (n, 1, ends)


@pytest.mark.parametrize("path", ON_PAPER)
def test_a_list_on_paper_keeps_every_column_and_nothing_that_is_only_touched(
    one_page: Any, site: BenchSite, path: str
) -> None:
    # A4 with the margins that page.css sets: 182 mm are 688 CSS px, narrower than the screen of a tablet.
    opened(one_page, site, path)
    one_page.set_viewport_size({"width": 688, "height": 1032})
    one_page.emulate_media(media="print")
    table = ".querySelectorAll('.grid').forEach"
    counted = one_page.evaluate(
        f"(() => {{ const told = []; document{table}(t => {{ const heads = [...t.querySelectorAll('thead th')];"
        " for (const row of t.tBodies[0].rows) told.push([heads.filter(h => h.checkVisibility()).length, heads.length,"
        " [...row.cells].filter(c => c.checkVisibility()).length]); }); return told; })()"
    )
    assert counted
    assert [row for row in counted if len(set(row)) > 1] == []
    assert one_page.evaluate("document.documentElement.scrollWidth") <= 688
    arrows = "[...document.querySelectorAll('[aria-sort] a')].map(a => getComputedStyle(a, '::after').content)"
    assert set(one_page.evaluate(arrows)) <= {"none"}
    words = "".join(sheet.get_textpage().get_text_bounded() for sheet in PdfDocument(one_page.pdf()))
    assert "How this is used" not in words
    one_page.emulate_media(media="screen")


def test_paper_is_white_by_night_too(one_page: Any, site: BenchSite) -> None:
    opened(one_page, site, "/logbook/soak/basin-1.1")
    one_page.emulate_media(media="print", color_scheme="dark")
    assert one_page.evaluate("getComputedStyle(document.querySelector('.verdict')).color") == "rgb(0, 0, 0)"
    one_page.emulate_media(media="screen")
