import itertools

import pytest

from rules.readings import SECOND, Micros
from sim_devices.carts import CartLife
from sim_devices.chance import Chance
from sim_devices.exams import CartExams
from sim_devices.script import FirstRoll

EPOCH = Micros(1_790_000_000_000_000)
CORDS = ("linear", "curved", "phased")


def cart(*, cord_down: bool = False, cords: tuple[str, ...] = CORDS) -> CartLife:
    return CartLife("cart-3", EPOCH, cords, FirstRoll(40, cord_down), Chance(7))


def exams(life: CartLife) -> CartExams:
    """On a cart whose probes nobody follows."""
    return CartExams(life, {}, lambda *_: [], has_button=False)


def cords_off(life: CartLife, at: Micros) -> list[str]:
    return [cord for cord in life.cords if not exams(life).on_hook(cord).at(at)]


@pytest.mark.parametrize("tour", range(-2, 30))
def test_cords_are_off_for_the_exam_and_up_while_it_rolls_unless_careless(tour: int) -> None:
    life = cart()
    exam, roll = life.exam(tour), life.roll(tour)
    assert cords_off(life, exam.start) == [exam.cord for exam in exams(life).at_tour(tour)]
    assert len(cords_off(life, exam.start)) == 1
    assert bool(cords_off(life, roll.start)) == life.careless(tour)
    assert life.tours.start(tour) < exam.start < exam.end < roll.start < roll.end < life.tours.start(tour + 1)


def test_the_plug_is_out_while_it_rolls() -> None:
    life = cart()
    for tour in range(20):
        assert not life.plugged_in.at(life.roll(tour).start)
        assert not life.plugged_in.at(life.roll(tour).end)
    assert life.plugged_in.at(life.exam(0).start)


def test_the_cart_of_the_script_rolls_with_a_cord_down_every_quarter_of_an_hour() -> None:
    life = cart(cord_down=True)
    careless = [life.roll(tour).start for tour in range(10) if life.careless(tour)]
    assert careless[0] == EPOCH + 40 * SECOND
    assert all(870 <= (b - a) / SECOND <= 930 for a, b in itertools.pairwise(careless))


def test_a_cart_without_cords_rolls_too() -> None:
    life = cart(cords=())
    assert exams(life).at_tour(0) == ()
    assert life.rolling.at(life.roll(0).start)
