"""What the wall shows as a whole."""

from dataclasses import replace
from zoneinfo import ZoneInfo

from dashboard.view import WallView, wall_view
from gateway.hub import Feed
from rules.picture import Picture
from tests.dashboard.pictures import NOON, busy, calm, cart, crowded, later, picture, sensor

UTC = ZoneInfo("UTC")


def wall(shown: Picture | Feed, at: float = 0) -> WallView:
    feed = shown if isinstance(shown, Feed) else Feed(shown)
    return wall_view(feed, "North Hall", later(at), UTC)


def test_all_is_well_says_so() -> None:
    view = wall(calm())
    assert (view.state.troubles, view.needs.quiet, view.state.time) == ((), "Nothing needs a person now.", "12:00:00")


def test_being_cut_off_is_said_with_its_time() -> None:
    assert wall(picture(hearing=False)).state.troubles == ("The gateway hears no sensors since 11:50",)


def test_never_having_heard_is_said() -> None:
    deaf = replace(picture(hearing=False), hearing_since=None)
    assert wall(deaf).state.troubles == ("The gateway hears no sensors yet",)


def test_a_disk_that_cannot_be_written_is_said_whoever_noticed_it() -> None:
    said = ("The gateway cannot write to its disk",)
    assert wall(picture(storing=False)).state.troubles == said
    assert wall(Feed(picture(), store_trouble="disk full")).state.troubles == said


def test_silence_of_all_sensors_is_not_taken_for_calm() -> None:
    unheard = picture(sensors=(sensor(value=None, health="never heard"),))
    assert wall(unheard).needs.quiet == "No sensor is heard: nothing is known of what needs a person."


def test_four_basins_keep_their_places() -> None:
    assert [b.name for b in wall(busy()).basins.cells] == ["Basin 1", "Basin 2", "Basin 3", "Basin 4"]


def test_twelve_basins_and_sixty_carts_are_all_there_shown_or_counted() -> None:
    view = wall(crowded())
    assert len(view.basins.cells) == 12
    assert (len(view.carts.places), view.carts.more) == (2, 58)
    assert sum(int(words.split()[0]) for words in view.carts.rest) == 58


def test_three_carts_keep_their_places_where_the_rest_is_told_in_three_lines() -> None:
    view = wall(picture(carts=tuple(cart(f"Cart {n}") for n in range(8)))).carts
    assert (len(view.places), view.more, view.rest) == (3, 5, ("5 standing, all on hooks",))


def test_long_names_get_a_second_line_and_fewer_alerts_are_shown_for_it() -> None:
    named = tuple(replace(b, name="Reprocessing, left basin") for b in busy().picture.basins)
    view = wall(replace(busy().picture, basins=named))
    assert {b.size for b in view.basins.cells} == {"double"}
    assert len(view.needs.shown) < len(wall(busy()).needs.shown)


def test_carts_that_roll_with_a_cord_off_are_the_last_to_lose_their_place() -> None:
    shown = [cart(f"Cart {n}") for n in range(20)]
    shown[13] = cart("Cart 13", rolling=True, hooks=(False,))
    assert wall(picture(carts=tuple(shown))).carts.places[0].name == "Cart 13"


def test_basins_without_a_cell_are_counted() -> None:
    many = crowded().picture
    view = wall(replace(many, basins=many.basins * 2))
    assert (len(view.basins.cells), view.basins.rest[:8]) == (8, "16 more:")
    assert view.basins.cells[0].say.tone.word == "lifted"


def test_nothing_is_new_when_only_time_has_passed() -> None:
    feed = busy()
    assert wall(feed) == wall(feed, at=7)


def test_the_wall_has_a_view_of_an_empty_site() -> None:
    view = wall(picture())
    assert (view.basins.cells, view.carts.places) == ((), ())
    assert NOON
