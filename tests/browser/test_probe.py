"""The pages of probes and carts in a real browser: a phone in a gloved hand."""

from dataclasses import replace
from typing import Any

import pytest

from gateway.clock import Clock
from gateway.hub import Feed
from rules.commands import Contact, Inspected, Placed, StepsDone, Vouch, WipedDown
from rules.picture import CarePicture, Picture
from rules.probe_words import Fitness, Place, Step, Surface
from rules.readings import Micros
from rules.standing import Standing
from tests.browser.rendered import texts
from tests.dashboard.pictures import basin, cart, later, picture, solution
from tests.dashboard.probe_pictures import (
    damaged,
    not_proven,
    owing,
    probe,
    soaking,
    standing,
    unclaimed,
    with_probes,
)
from tests.dashboard.serving import Desk, Served

pytestmark = pytest.mark.browser

PHONE = {"width": 390, "height": 844}
OPEN_ALL = "document.querySelectorAll('details').forEach(d => d.open = true)"
AGO = "Done how many minutes ago"
PATHS = ["/probes", "/probes?find=nothing", "/probe/linear-1", "/probe/phased-1", "/cart/cart-1"]


def shown(now: Micros, stands: Standing | None = None) -> Picture:
    care = CarePicture(wipes_followed=True, wipe_due_since=later(-900, now))
    probes = (
        probe("Linear probe 1", stands or owing(at=now)),
        probe("Curved probe 1", not_proven(now)),
        probe("Phased probe 1", damaged(now), internal=True),
        probe("Linear probe 2", soaking(at=now), cart=2),
        probe("Curved probe 2", standing(Fitness.IN_USE, at=now, place=Place.IN_HANDS, thing=None), cart=2),
        probe("Phased probe 2", standing(at=now, soak="soak-6", ready_until=later(600_000, now)), cart=2),
    )
    known = solution(at=now)
    basins = (basin("Basin 1", at=now, solution=known), basin("Basin 2", at=now, solution=known))
    carts = (replace(cart(), care=care), cart("Cart 2"))
    return with_probes(*probes, shown=picture(*basins, carts=carts, at=now), soaks=(unclaimed(at=now),))


def show(page: Any, served: Served, clock: Clock, path: str, stands: Standing | None = None) -> None:
    served.hub.publish(Feed(shown(clock.now(), stands)))
    page.set_viewport_size(PHONE)
    page.goto(served.url + path)


def tick(page: Any, *steps: str) -> None:
    for step in steps:
        page.locator("#steps").get_by_label(step).check()


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("width", [390, 320])
def test_nothing_reaches_out_sideways_and_contrast_holds(
    page: Any, served: Served, clock: Clock, path: str, width: int
) -> None:
    # WCAG 2.2: 1.4.10 reflow at 320 CSS px, 1.4.3 contrast 4.5:1.
    show(page, served, clock, path)
    page.set_viewport_size({"width": width, "height": 844})
    page.evaluate(OPEN_ALL)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert [t for t in texts(page) if t.contrast < 4.5] == []


@pytest.mark.parametrize("path", PATHS)
def test_whatever_is_touched_is_large_enough_for_a_glove(page: Any, served: Served, clock: Clock, path: str) -> None:
    # At least 48 CSS px, above the 44 of WCAG 2.2, 2.5.5 (AAA); a box to tick is touched by its label.
    show(page, served, clock, path)
    page.evaluate(OPEN_ALL)
    touched = "[...document.querySelectorAll('a, button, summary, input:not([type=radio], [type=checkbox]), .choice')]"
    seen = f"{touched}.filter(e => e.checkVisibility())"
    boxes = page.evaluate(f"{seen}.map(e => [e.textContent.trim() || e.name, e.offsetWidth, e.offsetHeight])")
    assert len(boxes) >= 6
    assert [box for box in boxes if min(box[1:]) < 48] == []


def test_how_the_probe_stands_is_the_largest_on_the_screen_before_anything_is_scrolled(
    page: Any, served: Served, clock: Clock
) -> None:
    show(page, served, clock, "/probe/linear-1")
    said = page.locator("#standing .fitness")
    assert said.inner_text() == "To be reprocessed"
    # In one step: the first word of the stream puts another one in its place.
    top = page.evaluate("document.querySelector('#standing .fitness').getBoundingClientRect().top")
    assert top < PHONE["height"] / 3
    sizes = {t.words: t.capital_px for t in texts(page)}
    assert max(sizes, key=lambda words: sizes[words]) == "To be reprocessed"
    assert page.get_by_text("Next: take off cover and gel.").is_visible()


def test_a_mark_and_a_word_tell_the_states_apart(page: Any, served: Served, clock: Clock) -> None:
    show(page, served, clock, "/probes")
    marks = page.evaluate(
        "[...document.querySelectorAll('.choose .fitness')].map(e =>"
        " [e.querySelector('use').getAttribute('href'), e.textContent.trim()])"
    )
    assert len({mark for mark, _ in marks}) == len({words for _, words in marks}) == len(Fitness)


def test_a_keyboard_wedge_scanner_opens_its_probe(page: Any, served: Served, clock: Clock) -> None:
    """It types into the field that has the focus, and ends with Enter (common practice)."""
    show(page, served, clock, "/probes")
    page.keyboard.type("TAGCURVED2")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Curved probe 2").wait_for()


def test_a_contact_is_entered_with_cover_and_needle(page: Any, served: Served, clock: Clock, desk: Desk) -> None:
    show(page, served, clock, "/probe/linear-1", standing(Fitness.IN_USE, at=clock.now()))
    page.get_by_role("group", name="Cover on it").get_by_label("yes").check()
    page.get_by_role("button", name="Mucosa").click()
    page.get_by_text("Say whether a needle was led beside it: yes or no.").wait_for()
    page.get_by_role("group", name="Needle led beside it").get_by_label("no", exact=True).check()
    page.get_by_role("button", name="Mucosa").click()
    page.get_by_text("Contact: mucosa, with a cover. It asks for high-level disinfection.").wait_for()
    (entry,) = desk.entered
    assert isinstance(entry, Contact)
    assert (entry.surface, entry.covered, entry.percutaneous) == (Surface.MUCOSA, True, False)
    page.get_by_text("What it touched", exact=True).click()
    assert not page.get_by_role("group", name="Cover on it").get_by_label("yes").is_checked()


def test_nothing_is_ticked_before_somebody_says_that_it_was_done(page: Any, served: Served, clock: Clock) -> None:
    show(page, served, clock, "/probe/linear-1")
    assert page.locator("#steps input:checked").count() == 0
    due = page.locator("#steps .step.due")
    assert due.all_inner_texts() == ["cover off due now", "washed due now", "dried due now"]
    page.get_by_role("button", name="Write down the ticked steps").click()
    page.get_by_text("Tick the steps that you did.").wait_for()


@pytest.mark.own_page
def test_the_steps_that_were_ticked_are_entered_and_none_is_ticked_any_more(
    page: Any, served: Served, clock: Clock, desk: Desk
) -> None:
    show(page, served, clock, "/probe/linear-1")
    tick(page, "cover off", "washed")
    page.get_by_role("button", name="Write down the ticked steps").click()
    page.get_by_text("Done: cover off, washed.").wait_for()
    (entry,) = desk.entered
    assert isinstance(entry, StepsDone)
    assert (entry.who, entry.steps) == ("Ana", (Step.COVER_OFF, Step.WASHED))
    page.wait_for_function("() => document.querySelectorAll('#steps input:checked').length === 0")


def test_what_is_due_is_told_anew_when_the_probe_stands_otherwise(page: Any, served: Served, clock: Clock) -> None:
    show(page, served, clock, "/probe/linear-1")
    page.get_by_label(AGO).fill("7")
    done = (Step.COVER_OFF, Step.WASHED, Step.DRIED, Step.SOAKED)
    served.hub.publish(Feed(shown(clock.now(), owing(*done, next_step=Step.RINSED, at=clock.now()))))
    page.get_by_text("Next: rinse it as often as").wait_for()
    page.wait_for_function("() => document.querySelector('.due [name=\"step:rinsed\"]') !== null")
    assert page.locator("#steps .step.due").all_inner_texts() == ["rinsed due now", "dried due now"]
    assert page.locator("#steps input:checked").count() == 0
    assert page.get_by_label(AGO).input_value() == "7"


@pytest.mark.own_page
def test_a_form_that_is_renewed_before_the_answer_is_there_closes_all_the_same(
    page: Any, served: Served, clock: Clock
) -> None:
    held: list[Any] = []
    page.route("**/probe/linear-1/steps", lambda route: held.append(route))  # noqa: PLW0108 - it takes no built-in
    show(page, served, clock, "/probe/linear-1")
    tick(page, "cover off", "washed", "dried")
    page.get_by_role("button", name="Write down the ticked steps").click()
    page.get_by_text("Being written down...").wait_for()
    served.hub.publish(Feed(shown(clock.now(), soaking(at=clock.now()))))
    page.get_by_text("Next is the soak").wait_for()
    held[0].continue_()
    page.get_by_text("Done: cover off, washed, dried.").wait_for()
    page.wait_for_function("() => !document.getElementById('steps').closest('details').open")


@pytest.mark.own_page
def test_a_probe_is_looked_over_answered_for_and_put_into_a_basin(
    page: Any, served: Served, clock: Clock, desk: Desk
) -> None:
    show(page, served, clock, "/probe/linear-1")
    page.get_by_text("Looked over for damage").click()
    page.get_by_role("button", name="Sound").click()
    page.get_by_text("Looked over: sound.").wait_for()
    page.get_by_text("Answer for it", exact=True).click()
    page.get_by_label("Why").fill("taken into service")
    page.get_by_role("button", name="Answer as charge nurse").click()
    page.get_by_text("Ana answers for it as charge nurse.").wait_for()
    page.get_by_text("Where it is now").click()
    page.get_by_role("button", name="Into Basin 1").click()
    page.get_by_text("Place: in Basin 1.").wait_for()
    assert [type(entry) for entry in desk.entered] == [Inspected, Vouch, Placed]


@pytest.mark.own_page
def test_a_claim_that_is_too_late_is_refused_and_its_limit_was_told(page: Any, served: Served, clock: Clock) -> None:
    show(page, served, clock, "/probe/linear-1")
    page.get_by_text("Which soak it was in").click()
    assert "to be said by" in page.locator("#claims").inner_text()
    page.locator("#claims input[type=radio]").check()
    page.get_by_role("button", name="It was in it: technician").click()
    page.get_by_text("This soak cannot be chosen any more").wait_for()
    assert page.locator("#answer.refused").is_visible()


@pytest.mark.own_page
def test_a_cart_is_wiped_down_with_one_touch(page: Any, served: Served, clock: Clock, desk: Desk) -> None:
    show(page, served, clock, "/cart/cart-1")
    assert page.get_by_text("A wipe-down is due since").is_visible()
    page.get_by_role("button", name="The cart was wiped down").click()
    page.get_by_text("Written down at").wait_for()
    (entry,) = desk.entered
    assert isinstance(entry, WipedDown)


@pytest.mark.own_page
def test_a_glove_that_taps_twice_writes_down_one_entry(page: Any, served: Served, clock: Clock, desk: Desk) -> None:
    show(page, served, clock, "/cart/cart-1")
    for times in range(1, 3):
        with page.expect_response("**/wiped"):
            page.get_by_role("button", name="The cart was wiped down").click()
        page.get_by_text("Written down at").wait_for()
        assert (times, len(desk.entered)) == (times, 1)
    page.get_by_label(AGO).fill("5")
    with page.expect_response("**/wiped"):
        page.get_by_role("button", name="The cart was wiped down").click()
    page.get_by_text("Written down at").wait_for()
    assert len(desk.entered) == 2


def test_the_live_page_leads_to_probe_and_cart(page: Any, served: Served, clock: Clock) -> None:
    show(page, served, clock, "/live")
    page.get_by_role("button", name="Menu").click()
    page.get_by_role("link", name="Probes").click()
    page.get_by_role("link", name="Curved probe 1").click()
    page.get_by_role("link", name="Cart 1").click()
    page.get_by_role("heading", name="Cart 1").wait_for()
