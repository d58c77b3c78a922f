"""A cart is wiped down, and has a gel bottle."""

from datetime import date

import pytest
from pydantic import ValidationError

from rules.events import CartWiped, EntryStruck, GelChanged
from rules.picture import CarePicture
from rules.readings import GATEWAY_LINK
from rules.site import Site
from tests.rules.cared import (
    LET_GO,
    NIGHT,
    PRESSED,
    SENSORS,
    WIPED,
    cared_for,
    gel_discarded,
    gel_opened,
    strike,
    wiped_down,
)
from tests.rules.feeder import (
    MOTION,
    OFFLINE,
    ONLINE,
    STANDS,
    Feeder,
    department,
    instant,
    seconds,
)

DUE, GEL = "wipe-down-due", "gel-out-of-date"
HOUR, DAY = 3600, 86_400

TODAY = date(2023, 11, 14)
"""The day of second 0, which is 22:13:20 UTC; the night of the test begins at second 400."""

MIDNIGHT = 6400
"""The next midnight UTC, seconds of the test."""


def care(feeder: Feeder) -> CarePicture:
    return feeder.engine.picture().carts[0].care


def followed(at: float = 0, site: Site | None = None) -> Feeder:
    """Wipe-downs have been followed since then."""
    return Feeder(site or cared_for()).say(MOTION, STANDS, at)


def wipes(feeder: Feeder) -> list[tuple[float, str | None]]:
    return [(seconds(event.measured), event.who) for event in feeder.events if isinstance(event, CartWiped)]


def struck(feeder: Feeder) -> list[EntryStruck]:
    return [event for event in feeder.events if isinstance(event, EntryStruck)]


def due_since(feeder: Feeder) -> float | None:
    since = care(feeder).wipe_due_since
    return None if since is None else seconds(since)


# ---- wipe-downs ------------------------------------------------------------------------------------------------------


def test_a_wipe_down_is_due_from_the_start_of_the_shift_until_the_button_is_pressed() -> None:
    feeder = followed().until(399.999)
    assert due_since(feeder) is None
    assert due_since(feeder.until(400)) == 400
    assert due_since(feeder.say(WIPED, PRESSED, 500)) is None
    assert wipes(feeder) == [(500, None)]
    assert care(feeder).wiped_at == instant(500)


def test_a_person_may_enter_it_instead() -> None:
    feeder = followed().until(400).feed([wiped_down(450, 500)])
    assert due_since(feeder) is None
    assert wipes(feeder) == [(450, "R. Tech")]


def test_one_that_is_told_late_counts_from_when_it_was_done() -> None:
    feeder = followed().until(750)
    assert feeder.raised(DUE) == [700]
    assert feeder.say(WIPED, PRESSED, 800, measured=-100).over(DUE) == [(800, "cleared")]
    assert care(feeder).wiped_at == instant(-100)


def test_one_done_too_long_before_the_shift_does_not_count_for_it() -> None:
    assert due_since(followed().say(WIPED, PRESSED, 10, measured=400 - HOUR - 1).until(400)) == 400


def test_one_told_late_does_not_take_the_place_of_a_newer_one() -> None:
    feeder = followed().say(WIPED, PRESSED, 500).say(WIPED, PRESSED, 600, measured=450)
    assert care(feeder).wiped_at == instant(500)


def test_a_button_that_is_let_go_tells_of_nothing() -> None:
    feeder = followed().say(WIPED, LET_GO, 500)
    assert (wipes(feeder), due_since(feeder)) == ([], 400)


def test_what_is_told_twice_is_written_down_once() -> None:
    feeder = followed().say(WIPED, PRESSED, 500).say(WIPED, PRESSED, 510, measured=500)
    feeder.feed([wiped_down(600), wiped_down(600, 610)])
    assert wipes(feeder) == [(500, None), (600, "R. Tech")]


def test_it_is_due_again_during_the_shift() -> None:
    feeder = followed().say(WIPED, PRESSED, 300).until(400 + 2 * HOUR - 0.001)
    assert due_since(feeder) is None
    assert due_since(feeder.until(400 + 2 * HOUR)) == 400 + 2 * HOUR


def test_the_picture_tells_when_the_next_one_will_be_due_and_nothing_while_one_is() -> None:
    feeder = followed().until(399.999)
    assert care(feeder).wipe_due_next == instant(400)
    assert care(feeder.until(400)).wipe_due_next is None
    assert care(feeder.say(WIPED, PRESSED, 500)).wipe_due_next == instant(400 + 2 * HOUR)
    assert care(Feeder(cared_for(care={"wipes": False})).say(MOTION, STANDS, 0)).wipe_due_next is None


def test_after_the_shift_nothing_is_due_until_the_next_one() -> None:
    feeder = followed().until(400 + 12 * HOUR)
    assert due_since(feeder) is None
    assert due_since(feeder.until(400 + DAY)) == 400 + DAY


def test_a_shift_that_ran_when_sinkside_was_started_asks_only_for_what_comes() -> None:
    feeder = followed(at=1000).until(400 + 2 * HOUR - 0.001)
    assert due_since(feeder) is None
    assert due_since(feeder.until(400 + 2 * HOUR)) == 400 + 2 * HOUR


def test_a_tick_before_the_first_input_is_not_when_it_begins() -> None:
    # A replay of the journal sees inputs only.
    feeder = Feeder(cared_for()).until(100).restart().until(200).say(MOTION, STANDS, 500)
    assert due_since(feeder) is None
    assert due_since(followed(at=500)) is None


def test_another_site_file_before_the_first_input_asks_for_nothing_yet() -> None:
    feeder = Feeder(department(sensor=SENSORS)).until(100).restart(cared_for()).until(450)
    assert due_since(feeder) is None
    assert due_since(feeder.say(MOTION, STANDS, 460)) is None


def test_where_the_site_does_not_follow_wipe_downs_they_are_written_down_and_never_due() -> None:
    feeder = followed(site=department(sensor=SENSORS, shift=[NIGHT])).until(1000)
    assert (care(feeder).wipes_followed, due_since(feeder), feeder.raised(DUE)) == (False, None, [])
    assert wipes(feeder.say(WIPED, PRESSED, 1100)) == [(1100, None)]


def test_a_site_that_begins_to_follow_them_asks_for_what_comes_and_one_that_ends_it_for_nothing() -> None:
    feeder = followed(site=department(sensor=SENSORS)).until(1000).restart(cared_for())
    assert due_since(feeder) is None
    assert due_since(feeder.until(400 + 2 * HOUR)) == 400 + 2 * HOUR
    assert DUE in feeder.until(2.5 * HOUR).standing()
    feeder.restart(department(sensor=SENSORS)).until(3 * HOUR)
    assert (due_since(feeder), DUE in feeder.standing()) == (None, False)
    assert due_since(feeder.restart(cared_for())) is None


def test_what_is_owed_stays_owed_under_another_site_file() -> None:
    feeder = followed().until(1000).restart(cared_for(thresholds={"left_off_seconds": 600}))
    assert due_since(feeder) == 400


def test_a_wipe_down_of_a_cart_that_the_site_does_not_have_changes_nothing() -> None:
    other = wiped_down(500).model_copy(update={"cart": "cart-9"})
    feeder = followed().feed([other, strike(other, 510)])
    assert (wipes(feeder), struck(feeder), due_since(feeder)) == ([], [], 400)


def test_nothing_is_asked_while_nothing_is_heard_and_it_is_five_minutes_afterwards() -> None:
    feeder = followed().say(GATEWAY_LINK, ONLINE, 0).say(GATEWAY_LINK, OFFLINE, 300).until(2000)
    assert feeder.raised(DUE) == []
    assert feeder.say(GATEWAY_LINK, ONLINE, 2000).until(2400).raised(DUE) == [2300]


def test_what_was_done_more_than_a_week_ago_is_forgotten() -> None:
    feeder = followed()
    for day in range(20):
        feeder.say(WIPED, PRESSED, day * DAY + 500)
    kept = feeder.engine._parts.carts["cart-1"].state.care.wipes
    assert [seconds(wipe.at) for wipe in kept] == [day * DAY + 500 for day in range(12, 20)]


def test_wipe_downs_without_a_shift_are_refused() -> None:
    with pytest.raises(ValidationError, match=r"\[care\], key 'wipes': true needs the shifts .* add a \[\[shift\]\]"):
        cared_for(shift=[])


# ---- gel -------------------------------------------------------------------------------------------------------------


def changes(feeder: Feeder) -> list[tuple[date | None, str | None, date | None]]:
    return [(event.opened, event.lot, event.discard_on) for event in feeder.events if isinstance(event, GelChanged)]


def month() -> Site:
    return department(care={"gel_days": "month"})


def test_a_bottle_is_out_of_date_from_the_first_moment_of_the_day_on_which_it_is_to_be_discarded() -> None:
    feeder = Feeder().feed([gel_opened(10, TODAY, lot="G1")]).until(MIDNIGHT + 27 * DAY - 0.001)
    assert changes(feeder) == [(TODAY, "G1", date(2023, 12, 12))]
    assert feeder.raised(GEL) == []
    assert feeder.until(MIDNIGHT + 27 * DAY).raised(GEL) == [MIDNIGHT + 27 * DAY]


def test_a_site_may_give_it_a_calendar_month() -> None:
    feeder = Feeder(month()).feed([gel_opened(10, TODAY)]).until(MIDNIGHT + 29 * DAY - 0.001)
    assert changes(feeder) == [(TODAY, None, date(2023, 12, 14))]
    assert feeder.raised(GEL) == []
    assert feeder.until(MIDNIGHT + 29 * DAY).raised(GEL) == [MIDNIGHT + 29 * DAY]


def test_the_day_begins_where_the_site_is() -> None:
    site = department(site={"id": "here", "name": "Here", "timezone": "Asia/Tokyo"})  # nine hours ahead of UTC
    feeder = Feeder(site).feed([gel_opened(10, TODAY)]).until(MIDNIGHT + 30 * DAY)
    assert feeder.raised(GEL) == [MIDNIGHT + 27 * DAY - 9 * HOUR]


def test_the_picture_shows_the_bottle_until_it_is_thrown_away() -> None:
    feeder = Feeder().feed([gel_opened(10, date(2023, 10, 17), lot="G1")])
    gel = care(feeder).gel
    assert gel is not None
    assert (gel.opened, gel.lot, gel.discard_on, gel.out_of_date) == (
        date(2023, 10, 17), "G1", TODAY, True
    )  # fmt: skip
    assert care(feeder.feed([gel_discarded(20)])).gel is None
    assert changes(feeder)[-1] == (None, None, None)


def test_a_fresh_bottle_takes_the_place_of_the_old_one() -> None:
    feeder = Feeder().feed([gel_opened(10, date(2023, 10, 1)), gel_opened(20, TODAY)])
    assert feeder.over(GEL) == [(20, "cleared")]
    gel = care(feeder).gel
    assert gel is not None
    assert (gel.opened, gel.out_of_date) == (TODAY, False)


def test_one_that_is_told_late_does_not_take_the_place_of_a_newer_one() -> None:
    feeder = Feeder().feed([gel_opened(100, TODAY), gel_opened(50, date(2023, 10, 1), 200)])
    gel = care(feeder).gel
    assert gel is not None
    assert gel.opened == TODAY


def test_a_bottle_that_is_told_of_twice_is_written_down_once() -> None:
    assert len(changes(Feeder().feed([gel_opened(10, TODAY), gel_opened(10, TODAY, 20)]))) == 1


def test_another_policy_holds_for_the_bottle_that_is_there() -> None:
    feeder = Feeder().feed([gel_opened(10, TODAY)]).restart(month()).until(MIDNIGHT + 28 * DAY)
    assert feeder.raised(GEL) == []
    assert feeder.until(MIDNIGHT + 29 * DAY).raised(GEL) == [MIDNIGHT + 29 * DAY]


# ---- what was entered in error ---------------------------------------------------------------------------------------


def test_a_wipe_down_that_was_none_is_due_again() -> None:
    wrong = wiped_down(450)
    feeder = followed().feed([wrong, strike(wrong, 500)])
    assert due_since(feeder) == 400
    assert care(feeder).wiped_at is None
    event = EntryStruck(at=instant(500), entry=wrong, who="C. Nurse", why="another cart")
    assert struck(feeder) == [event]


def test_a_bottle_that_was_none_gives_the_one_before_back() -> None:
    wrong = gel_opened(20, TODAY)
    feeder = Feeder().feed([gel_opened(10, date(2023, 10, 1)), wrong, strike(wrong, 30)])
    assert feeder.raised(GEL) == [10, 30]
    assert [event.entry for event in struck(feeder)] == [wrong]


def test_a_bottle_that_was_not_thrown_away_is_there_again() -> None:
    wrong = gel_discarded(20)
    feeder = Feeder().feed([gel_opened(10, TODAY), wrong, strike(wrong, 30)])
    assert care(feeder).gel is not None
    assert len(struck(feeder)) == 1


def test_what_nobody_entered_cannot_be_struck_and_nothing_twice() -> None:
    wrong = wiped_down(450)
    feeder = followed().feed([wrong, strike(wiped_down(451), 500), strike(gel_discarded(450), 500)])
    assert struck(feeder) == []
    assert len(struck(feeder.feed([strike(wrong, 510), strike(wrong, 520)]))) == 1


def test_the_word_of_a_button_is_not_struck_with_a_persons_entry() -> None:
    entry = wiped_down(450)
    feeder = followed().say(WIPED, PRESSED, 450).feed([entry, strike(entry, 500)])
    assert due_since(feeder) is None


# ---- restarts --------------------------------------------------------------------------------------------------------


def test_wipe_downs_and_bottles_are_known_after_a_restart() -> None:
    feeder = followed().say(WIPED, PRESSED, 450).feed([gel_opened(460, TODAY, lot="G1")])
    before = care(feeder)
    assert care(feeder.restart()) == before
    assert due_since(feeder.until(400 + 2 * HOUR)) == 400 + 2 * HOUR
