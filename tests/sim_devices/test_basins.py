import itertools

import pytest

from rules.readings import SECOND, Micros
from sim_devices.basins import BasinLife
from sim_devices.chance import Chance
from sim_devices.script import FirstSoak, Story

EPOCH = Micros(1_790_000_000_000_000)
LABEL_SECONDS = 720
FLOOR_CELSIUS = 20.5  # the label's 20 Cel and a guard band of 0.5 Cel


def life(seed: int = 7) -> BasinLife:
    return BasinLife("basin-1", EPOCH, LABEL_SECONDS, FirstSoak(Story.GOOD, -660), Chance(seed))


def turns(story: Story) -> list[tuple[BasinLife, int]]:
    """The first turns with that story, over several basins."""
    found = [(basin, turn) for basin in map(life, range(5)) for turn in range(1, 200) if basin.story(turn) is story]
    assert len(found) >= 20
    return found[:20]


@pytest.mark.parametrize("turn", range(-3, 40))
def test_a_turn_ends_with_the_lid_open(turn: int) -> None:
    basin = life()
    edges = [edge for span in basin.closed_spans(turn) for edge in span]
    assert edges == sorted(edges)
    assert basin.turns.start(turn) < edges[0]
    assert edges[-1] < basin.turns.start(turn + 1)


def test_a_good_soak_is_warm_and_long_enough() -> None:
    for basin, turn in turns(Story.GOOD):
        (soak,) = basin.closed_spans(turn)
        assert soak.end - soak.start >= LABEL_SECONDS * SECOND
        assert min(basin.celsius(Micros(t)) for t in range(soak.start, soak.end, SECOND * 10)) > FLOOR_CELSIUS


def test_a_hasty_soak_is_shorter_than_its_label() -> None:
    for basin, turn in turns(Story.EARLY):
        (soak,) = basin.closed_spans(turn)
        assert soak.end - soak.start < LABEL_SECONDS * SECOND


def test_a_solution_poured_cold_stays_below_the_label() -> None:
    for basin, turn in turns(Story.COLD):
        (soak,) = basin.closed_spans(turn)
        # The mixing is over two minutes after the pour.
        assert max(basin.celsius(Micros(t)) for t in range(soak.start + 60 * SECOND, soak.end, SECOND * 10)) < 20


def test_a_solution_poured_lukewarm_cools_through_the_floor_during_the_soak() -> None:
    for basin, turn in turns(Story.COOLING):
        (soak,) = basin.closed_spans(turn)
        assert basin.celsius(Micros(soak.start + 60 * SECOND)) > FLOOR_CELSIUS > basin.celsius(soak.end)


def test_a_lid_lifted_on_the_way_leaves_no_stretch_of_the_labels_length() -> None:
    for basin, turn in turns(Story.REOPENED):
        first, second = basin.closed_spans(turn)
        assert max(first.end - first.start, second.end - second.start) < LABEL_SECONDS * SECOND


def test_the_solution_never_leaps() -> None:
    # A thermometer that changes by more than 0.5 Cel/s would be taken for a broken one (rules/standard.toml).
    basin = life()
    course = [basin.celsius(Micros(EPOCH + t * SECOND)) for t in range(0, 20 * 1080, 1)]
    assert max(abs(b - a) for a, b in itertools.pairwise(course)) < 0.2
