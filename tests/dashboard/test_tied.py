"""Which alert tells of which basin or cart, and that both are there on the wall."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from dashboard.alert_standing import Standing
from dashboard.panel import LYING, UPRIGHT, Panel
from dashboard.tied import LAST, tied
from dashboard.view import WallView, wall_view
from gateway.hub import Feed
from rules.alert_words import Priority, State
from rules.picture import AlertPicture, Picture, ProbePicture
from tests.dashboard.pictures import NOON, alert, basin, busy, cart, picture, soak
from tests.dashboard.probe_pictures import owing, probe, soaking, standing, with_probes

UTC = ZoneInfo("UTC")


def wall(shown: Picture, panel: Panel = LYING) -> WallView:
    return wall_view(Feed(shown), "North Hall", NOON, UTC, panel)


def department(*alerts: AlertPicture, probes: tuple[ProbePicture, ...] = ()) -> Picture:
    carts = tuple(cart(f"Cart {n}") for n in range(1, 21))
    shown = picture(basin("Basin 1", soak()), basin("Basin 2"), carts=carts, alerts=alerts)
    return with_probes(*probes, shown=shown)


def test_an_alert_is_tied_to_its_thing_and_that_of_a_probe_to_its_cart_and_to_the_basin_in_which_it_is() -> None:
    probes = (probe("Linear probe 3", soaking("basin-1"), cart=3), probe("Curved probe 4", owing(), cart=4))
    alerts = [
        alert(about="cart cart-2", name="a"),
        alert(about="sensor basin-2/lid", name="b"),
        alert(about="soak basin-2.7", name="e"),
        alert(about="probe linear-3", name="c"),
        alert(about="probe curved-4", name="d"),
    ]
    found = tied(alerts, department(probes=probes), ())
    assert {thing: (tie.turn, set(tie.probes)) for thing, tie in found.items()} == {
        "cart-2": (0, set()),
        "basin-2": (1, set()),
        "cart-3": (3, {"linear-3"}),
        "basin-1": (3, {"linear-3"}),
        "cart-4": (4, {"curved-4"}),
    }

    of_a_soak = tied([alert(about="soak basin-1.3")], department(), ())
    assert list(of_a_soak) == ["basin-1"]


def test_the_most_urgent_alert_of_a_thing_gives_the_sign() -> None:
    alerts = [alert(priority=Priority.MEDIUM, name="a"), alert(name="b"), alert(by="Ana", name="c")]
    tie = tied(alerts, department(), ())["cart-3"]
    assert (tie.priority, tie.standing, tie.word, tie.asks) == (Priority.HIGH, Standing.WAITING, "Now", True)


@pytest.mark.parametrize("told", [alert(by="Ana"), replace(alert(by="Ana"), settles=True)])
def test_what_somebody_has_seen_keeps_its_sign_without_asking_for_anybody(told: AlertPicture) -> None:
    tie = tied([told], department(), ())["cart-3"]
    assert (tie.priority, tie.word, tie.place) == (Priority.HIGH, "On it", LAST)


def test_what_is_over_ties_nothing_and_a_note_only_where_it_has_a_place() -> None:
    assert tied([replace(alert(), state=State.RETURNED)], department(), {"a-1"}) == {}
    note = alert(priority=Priority.LOW)
    assert tied([note], department(), ()) == {}
    assert tied([note], department(), {"a-1"})["cart-3"].place == LAST


def test_while_no_sensor_is_heard_nothing_is_put_first() -> None:
    tie = tied([alert()], replace(department(), hearing=False), ())["cart-3"]
    assert (tie.last_known, tie.place) == (True, LAST)


@pytest.mark.parametrize("panel", [LYING, UPRIGHT], ids=lambda panel: panel.name)
@pytest.mark.parametrize("many", [1, 2, 3, 4])
def test_the_carts_of_unanswered_urgent_alerts_stand_first_in_their_order(panel: Panel, many: int) -> None:
    things = ("cart-12", "cart-5", "cart-9", "cart-7")[:many]
    alerts = [alert(about=f"cart {thing}", name=thing, at=NOON) for thing in things]
    quiet_probes = tuple(probe("Linear probe", standing(), cart=n) for n in range(1, 21))
    places = wall(department(*alerts, probes=quiet_probes), panel).carts.places
    assert [place.name.text for place in places[:many]] == [thing.replace("cart-", "Cart ") for thing in things]
    assert all(place.tied and place.tied.asks for place in places[:many])


def test_the_tile_names_the_probe_of_its_alert_where_one_row_only_has_room() -> None:
    probes = tuple(
        probe(f"{kind} probe {n}", owing() if n < 9 else standing(), cart=n)
        for n in range(1, 21)
        for kind in ("Linear", "Curved")
    )
    called = department(alert(about="probe curved-5"), probes=probes)
    crowd = replace(called, basins=busy().picture.basins * 2)
    view = wall(crowd).carts
    assert view.rows == 1
    assert [mark.words for mark in view.places[0].probes.marks] == ["soak curved"]
    assert [mark.words for mark in view.places[1].probes.marks] == ["0 of 2 ready"]
