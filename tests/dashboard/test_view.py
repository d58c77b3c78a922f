"""What the wall shows as a whole."""

import tomllib
from dataclasses import replace
from importlib.resources import files
from zoneinfo import ZoneInfo

from dashboard.pages import WallPage
from dashboard.quiet import CALM
from dashboard.view import WallView, wall_view
from gateway.hub import Feed
from rules.picture import Picture
from tests.dashboard.pictures import NOON, alert, basin, busy, calm, cart, crowded, later, picture, soak

UTC = ZoneInfo("UTC")


def wall(shown: Picture | Feed, at: float = 0) -> WallView:
    feed = shown if isinstance(shown, Feed) else Feed(shown)
    return wall_view(feed, "North Hall", later(at), UTC)


def heads(view: WallView) -> list[str]:
    return [trouble.what for trouble in view.state.troubles]


def test_all_is_well_says_so() -> None:
    view = wall(calm())
    assert (heads(view), view.needs.quiet.first, view.state.time) == ([], CALM, "12:00:00")


def test_being_cut_off_is_said_with_its_time_and_what_to_do() -> None:
    view = wall(picture(hearing=False))
    assert heads(view) == ["No sensor heard since 11:50. Tell the engineer"]
    assert view.state.troubles[0].advice == "Watch soaks and carts yourself."


def test_what_a_shown_alert_tells_of_has_a_place_before_what_is_as_urgent() -> None:
    carts = tuple(cart(f"Cart {n}", rolling=True, hooks=(False,)) for n in range(1, 31))
    basins = tuple(basin(f"Basin {n}", soak(None, lid_open=True)) for n in range(1, 31))
    alerts = (alert(about="cart cart-29", name="a"), alert(about="sensor basin-28/lid", name="b"))
    shown = picture(*basins, carts=carts, alerts=alerts)
    view = wall(shown)
    assert {one.id for one in view.needs.shown} == {"a", "b"}
    assert "Cart 29" in [place.name.text for place in view.carts.places]
    assert "Basin 28" in [cell.basin.name for cell in view.basins.cells]
    none = wall(replace(shown, alerts=()))
    assert "Cart 29" not in [place.name.text for place in none.carts.places]
    assert "Basin 28" not in [cell.basin.name for cell in none.basins.cells]


def test_never_having_heard_is_said() -> None:
    assert heads(wall(replace(picture(hearing=False), hearing_since=None))) == [
        "No sensor heard yet. Tell the engineer"
    ]


def test_a_disk_that_cannot_be_written_is_said_whoever_noticed_it() -> None:
    for view in (wall(picture(storing=False)), wall(Feed(picture(), store_trouble="disk full"))):
        assert heads(view) == ["New readings cannot be saved"]
        assert view.state.troubles[0].advice == "Tell the engineer."


def test_what_the_head_says_is_not_said_a_second_time_among_the_alerts() -> None:
    said = replace(alert("Sinkside does not hear its sensors"), rule="gateway-cut-off")
    other = alert("other")
    assert [a.text for a in wall(picture(alerts=(said, other), hearing=False)).needs.shown] == ["other"]
    assert len(wall(picture(alerts=(said, other))).needs.shown) == 2


def test_rules_whose_alerts_the_head_tells_are_standard_rules() -> None:
    standard = tomllib.loads(files("rules").joinpath("standard.toml").read_text("utf-8"))
    told = {trouble.rule for trouble in wall(picture(hearing=False, storing=False)).state.troubles}
    assert told <= {rule["id"] for rule in standard["rule"]}


def test_sixty_carts_and_twelve_basins_are_all_there_shown_or_counted() -> None:
    view = wall(crowded())
    assert (len(view.basins.cells), view.basins.rest[:13]) == (8, "4 more basins")
    assert len(view.carts.places) + view.carts.more == 60


def test_many_basins_leave_less_room_for_alerts() -> None:
    few, many = (replace(busy().picture, basins=busy().picture.basins * times) for times in (1, 2))
    assert wall(many).needs.height_px < wall(few).needs.height_px


def test_a_long_name_of_the_site_shows_that_it_is_shortened() -> None:
    name = "Emergency department of the hospital by the harbour, second floor, eastern wing"
    shown = wall_view(calm(), name, later(0), UTC).state.site
    assert (shown[:9], "…" in shown, shown[-12:]) == ("Emergency", True, "eastern wing")


def test_nothing_is_new_when_only_time_has_passed() -> None:
    feed = busy()
    assert wall(feed) == wall(feed, at=7)


def test_the_wall_has_a_view_of_an_empty_site() -> None:
    view = wall(picture())
    assert (view.basins.cells, view.carts.places) == ((), ())


def test_what_is_warned_of_on_the_engineers_page_is_counted_on_the_wall() -> None:
    page, feed = WallPage("North Hall", UTC), Feed(picture())
    assert "warning" not in _foot(page, feed)
    assert "1 warning: phone, Sensors" in _foot(page, replace(feed, warnings=("No page can go by channel 'house'.",)))
    assert "2 warnings: phone, Sensors" in _foot(
        page, replace(feed, warnings=("The disk is nearly full.", "No watch."))
    )


def _foot(page: WallPage, feed: Feed) -> str:
    return next(region.html() for region in page.draw(feed, NOON) if region.id == "record")
