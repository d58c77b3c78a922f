"""What the wall says of a cart."""

import re
from dataclasses import replace
from datetime import date

import pytest

from dashboard.alert_standing import Standing
from dashboard.carts import Care, cart_view, carts_view, summary
from dashboard.fitness import URGENCY
from dashboard.panel import LYING, UPRIGHT, Panel
from dashboard.readiness import CartProbes
from dashboard.rest import Count
from dashboard.tied import Tied
from rules.alert_words import Priority
from rules.picture import CarePicture, CartPicture, GelPicture
from rules.probe_words import Fitness
from tests.dashboard.pictures import cart, later


@pytest.mark.parametrize(
    ("shown", "care", "said"),
    [
        (cart(), Care.STANDS, ("cart stands", "all hung")),
        (cart(rolling=True), Care.ROLLS, ("cart rolls", "all hung")),
        (cart(rolling=True, hooks=(True, False)), Care.ROLLS_CORD_OFF, ("cart rolls", "1 off hook")),
        (cart(rolling=True, hooks=(None, True)), Care.ROLLS_NOT_KNOWN, ("cart rolls", "1 no signal")),
        (cart(hooks=(False, False, True)), Care.CORD_OFF, ("cart stands", "2 off hook")),
        (cart(hooks=(False, None)), Care.UNKNOWN, ("cart stands", "1 off, 1 ?")),
        (cart(rolling=None), Care.UNKNOWN, ("motion not known", "all hung")),
        (cart(rolling=None, hooks=(False, True)), Care.UNKNOWN, ("motion not known", "1 off hook")),
        (cart(hooks=(None, None)), Care.UNKNOWN, ("cart stands", "not known")),
        (cart(hooks=()), Care.STANDS, ("cart stands", "no cords")),
    ],
)
def test_every_state_has_its_words(shown: CartPicture, care: Care, said: tuple[str, str]) -> None:
    view = cart_view(shown, hearing=True)
    assert (view.care, (view.motion, view.cords)) == (care, said)


@pytest.mark.parametrize(
    ("shown", "care", "said"),
    [
        (cart(rolling=True, hooks=(True, False)), Care.ROLLS, "1 away"),
        (cart(hooks=(False, False)), Care.CORD_OFF, "1 off hook"),
        (cart(hooks=(None, False)), Care.UNKNOWN, "1 no signal"),
        (cart(hooks=(True, True)), Care.STANDS, "all hung"),
        (cart(hooks=(None, None)), Care.UNKNOWN, "not known"),
    ],
)
def test_a_cord_whose_probe_is_at_a_sink_or_in_a_basin_is_not_off_its_hook(
    shown: CartPicture, care: Care, said: str
) -> None:
    last = replace(shown.cords[-1], away=True)
    view = cart_view(replace(shown, cords=(*shown.cords[:-1], last)), hearing=True)
    assert (view.care, view.cords) == (care, said)


WIPE = CarePicture(wipe_due_since=later(-60))
OLD = GelPicture(opened=date(2025, 10, 1), lot=None, discard_on=date(2025, 10, 29), out_of_date=True)


@pytest.mark.parametrize(
    ("shown", "care", "said"),
    [
        (cart(), WIPE, "wipe down"),
        (cart(rolling=True), WIPE, "wipe down"),
        (cart(hooks=()), WIPE, "wipe down"),
        (cart(), CarePicture(gel=OLD), "new gel"),
        (cart(), replace(WIPE, gel=OLD), "wipe down"),
        (cart(), CarePicture(gel=replace(OLD, out_of_date=False)), "all hung"),
        (cart(), CarePicture(wipes_followed=True), "all hung"),
        (cart(hooks=(True, False)), WIPE, "1 off hook"),
        (cart(hooks=(True, None)), WIPE, "1 no signal"),
        (cart(hooks=(True, True, True, True)), WIPE, "all hung"),
    ],
)
def test_what_a_carts_care_asks_for_stands_where_every_cord_hangs(
    shown: CartPicture, care: CarePicture, said: str
) -> None:
    assert cart_view(replace(shown, care=care), hearing=True).cords == said


def test_while_no_sensor_is_heard_nothing_is_asked_for_on_the_wall() -> None:
    assert cart_view(replace(cart(), care=WIPE), hearing=False).cords == "not known"


def test_the_peg_of_a_probe_that_is_elsewhere_is_empty() -> None:
    shown = cart(hooks=(True, False))
    view = cart_view(replace(shown, cords=(shown.cords[0], replace(shown.cords[1], away=True))), hearing=True)
    assert view.pegs == ("on", "away")


def test_while_no_sensor_is_heard_a_cart_is_not_known() -> None:
    view = cart_view(cart(), hearing=False)
    assert (view.care, view.motion, view.cords, view.pegs) == (
        Care.UNKNOWN, "motion not known", "not known", ("not-known", "not-known", "not-known")
    )  # fmt: skip


def test_carts_without_a_place_are_counted_most_urgent_first() -> None:
    shown = (cart(), cart(rolling=True), cart(rolling=True, hooks=(False,)), cart())
    assert summary([cart_view(c, hearing=True) for c in shown]) == [
        Count(1, "rolling, cord off"), Count(1, "rolling"), Count(2, "standing")
    ]  # fmt: skip


def test_a_cord_off_its_hook_while_the_cart_stands_is_no_trouble() -> None:
    assert Care.CORD_OFF > Care.UNKNOWN > Care.ROLLS_CORD_OFF


def test_pegs_are_drawn_where_they_are_few() -> None:
    assert cart_view(cart(hooks=(True, False, None)), hearing=True).pegs == ("on", "off", "not-known")
    assert cart_view(cart(hooks=(True, True, True, True)), hearing=True).pegs == ()


def named(*shown: CartPicture) -> tuple[CartPicture, ...]:
    return tuple(replace(c, name=f"Cart {n}") for n, c in enumerate(shown, 1))


def test_five_carts_keep_their_places() -> None:
    view = carts_view([cart_view(c, hearing=True) for c in named(*[cart(rolling=True)] * 5)])
    assert ([c.name.text for c in view.places], view.more) == (["Cart 1", "Cart 2", "Cart 3", "Cart 4", "Cart 5"], 0)


@pytest.mark.parametrize("count", range(6, 21))
def test_of_more_carts_all_are_shown_or_counted(count: int) -> None:
    kinds = (cart(), cart(rolling=True), cart(hooks=(False,)), cart(rolling=None), cart(rolling=True, hooks=(None,)))
    view = carts_view([cart_view(kinds[n % 5], hearing=True) for n in range(count)])
    assert len(view.places) + view.more == count
    assert sum(int(number) for number in re.findall(r"\d+", re.sub(r"\(.*?\)", "", view.rest))) == view.more


def test_a_cart_that_needs_a_look_has_its_place_among_the_others_in_the_order_of_the_site() -> None:
    shown = named(*[cart(rolling=True)] * 13, cart(rolling=True, hooks=(False,)), *[cart(hooks=(False,))] * 6)
    view = carts_view([cart_view(c, hearing=True) for c in shown])
    assert [c.name.text for c in view.places] == ["Cart 1", "Cart 2", "Cart 14"]


@pytest.mark.parametrize(("panel", "rows", "shown"), [(LYING, 1, 5), (LYING, 2, 10), (UPRIGHT, 1, 3), (UPRIGHT, 3, 9)])
def test_carts_fill_as_many_rows_as_there_are(panel: Panel, rows: int, shown: int) -> None:
    view = carts_view([cart_view(c, hearing=True) for c in named(*[cart()] * shown)], 0, panel, rows)
    assert (len(view.places), view.more) == (shown, 0)


def of(*stands: Fitness, ready: int = 0) -> CartProbes:
    return CartProbes(ready=ready, of=len(stands), worst=min(stands, key=URGENCY.index), stands=stands)


READY = of(Fitness.READY, Fitness.READY, ready=2)


def test_where_probes_are_followed_those_of_carts_without_a_place_are_counted_and_not_their_carts() -> None:
    waits = of(Fitness.READY, Fitness.NOT_PROVEN, Fitness.OWES, ready=1)
    rolls = cart_view(cart(rolling=True, hooks=(False,)), hearing=True, probes=READY)
    shown = [rolls] * 6 + [cart_view(cart(), hearing=True, probes=waits)] * 9
    view = carts_view(shown, 1)
    assert (len(view.places), view.more) == (3, 12)
    assert view.rest.replace("\N{NO-BREAK SPACE}", " ") == "3 rolling, cord off (Cart 1 first)"
    assert view.probes.replace("\N{NO-BREAK SPACE}", " ") == "15 of 33 probes ready, 9 in doubt, 9 to reprocess"


@pytest.mark.parametrize(
    ("probes", "said"),
    [
        (READY, "18 probes ready"),
        (replace(of(Fitness.NOT_PROVEN), unheard=1), "9 probes not confirmed"),
        (replace(of(Fitness.READY, Fitness.NOT_PROVEN, ready=1), unheard=1), "9 of 18 probes ready, 9 not confirmed"),
    ],
)
def test_whatever_is_known_of_probes_without_a_place_is_said_of_probes(probes: CartProbes, said: str) -> None:
    view = carts_view([cart_view(cart(), hearing=True, probes=probes)] * 13, 1)
    assert view.more == 9
    assert (view.rest, view.probes.replace("\N{NO-BREAK SPACE}", " ")) == ("", said)


def tie(turn: int, *, asks: bool = True) -> Tied:
    return Tied(turn, Priority.HIGH, Standing.WAITING, "Now", asks=asks, last_known=False)


def test_where_not_all_have_a_place_carts_of_urgent_alerts_come_first_in_the_order_of_the_alerts() -> None:
    shown = [cart_view(c, hearing=True) for c in named(*[cart()] * 20)]
    tied = [replace(view, tied={18: tie(1), 3: tie(4), 9: tie(2, asks=False)}.get(n)) for n, view in enumerate(shown)]
    names = [view.name.text for view in carts_view(tied).places]
    assert names == ["Cart 19", "Cart 4", "Cart 1", "Cart 10"]
    assert [view.name.text for view in carts_view(tied[:5]).places] == [f"Cart {n}" for n in range(1, 6)]


def test_a_cart_with_nothing_to_do_gives_its_place_to_one_whose_probe_is_being_reprocessed() -> None:
    states = [READY] * 9 + [of(Fitness.READY, Fitness.IN_PROCESS, ready=1)]
    shown = [cart_view(c, hearing=True, probes=p) for c, p in zip(named(*[cart()] * 10), states, strict=True)]
    assert "Cart 10" in [view.name.text for view in carts_view(shown, 1).places]


def test_the_sign_of_its_alert_takes_its_room_from_the_name() -> None:
    sizes = [cart_view(cart("Procedures"), hearing=True, tied=of).name.size for of in (None, tie(0))]
    assert sizes == ["key", "second"]


@pytest.mark.parametrize(("width", "words", "pegs"), [(347, "motion not known", 3), (316, "motion ?", 3)])
def test_in_a_narrow_place_fewer_signs_and_words_say_the_same(width: float, words: str, pegs: int) -> None:
    view = cart_view(cart(rolling=None, hooks=(True, None, True)), hearing=True, width_px=width)
    assert (view.motion, view.cords, len(view.pegs)) == (words, "1 no signal", pegs)
