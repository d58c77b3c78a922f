"""What the wall says of a cart."""

import pytest

from dashboard.carts import Care, cart_view, summary
from rules.picture import CartPicture
from tests.dashboard.pictures import cart


@pytest.mark.parametrize(
    ("shown", "care", "said"),
    [
        (cart(), Care.STANDS, ("standing", "all on hooks")),
        (cart(rolling=True), Care.ROLLS, ("rolling", "all on hooks")),
        (cart(rolling=True, hooks=(True, False)), Care.ROLLS_CORD_OFF, ("rolling", "1 off hook")),
        (cart(rolling=True, hooks=(None, True)), Care.ROLLS_NOT_KNOWN, ("rolling", "1 not known")),
        (cart(hooks=(False, False, True)), Care.CORD_OFF, ("standing", "2 off hook")),
        (cart(hooks=(False, None)), Care.CORD_OFF, ("standing", "1 off, 1 ?")),
        (cart(rolling=None), Care.UNKNOWN, ("not known", "all on hooks")),
        (cart(rolling=None, hooks=(False, True)), Care.CORD_OFF, ("not known", "1 off hook")),
        (cart(hooks=(None, None)), Care.UNKNOWN, ("standing", "not known")),
        (cart(hooks=()), Care.STANDS, ("standing", "no cords")),
    ],
)
def test_every_state_has_its_words(shown: CartPicture, care: Care, said: tuple[str, str]) -> None:
    view = cart_view(shown, hearing=True)
    assert (view.care, (view.motion, view.cords)) == (care, said)


def test_while_no_sensor_is_heard_a_cart_is_not_known() -> None:
    view = cart_view(cart(), hearing=False)
    assert (view.care, view.motion, view.cords, view.pegs) == (
        Care.UNKNOWN, "not known", "not known", ("not-known", "not-known", "not-known")
    )  # fmt: skip


def test_carts_without_a_place_are_counted_most_urgent_first() -> None:
    shown = (cart(), cart(rolling=True), cart(rolling=True, hooks=(False,)), cart())
    assert summary([cart_view(c, hearing=True) for c in shown]) == (
        "1 rolling, cord off hook", "1 rolling, all on hooks", "2 standing, all on hooks"
    )  # fmt: skip
