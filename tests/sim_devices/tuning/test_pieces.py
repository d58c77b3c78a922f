"""What is tuned on besides records: days of a generated hospital."""

from collections import Counter
from itertools import islice
from pathlib import Path

import pytest

from gateway.recording import JournalError
from gateway.tuned import Asked
from rules.board import Subject, SubjectKind
from rules.commands import Input
from rules.readings import Reading
from sim_devices.troubles.episode import Episode, Trouble
from sim_devices.tuning.pieces import Piece, Populated, Recorded, Situation, pieces_of
from sim_devices.tuning.settings import AskError


def lived(piece: Piece) -> tuple[list[Input], list[Episode]]:
    with piece.opened() as given:
        inputs = list(given.inputs)
        assert given.episodes is not None
        return inputs, list(given.episodes())


def of_the_first_cart(piece: Piece) -> list[Input]:
    """What its plug, hooks and wheels say first."""
    with piece.opened() as given:
        heard = (item for item in given.inputs if isinstance(item, Reading) and item.sensor.startswith("cart-1/"))
        return list(islice(heard, 20))


def test_a_generated_day_begins_in_order_and_is_the_same_each_time_it_is_drawn() -> None:
    piece = Populated("population:2x1", 1, 1, 7)
    inputs, episodes = lived(piece)
    again = lived(piece)
    assert again == (inputs, episodes)
    for other in (Populated("population:2x1", 1, 0, 7), Populated("population:2x2", 2, 1, 7)):
        assert of_the_first_cart(other) != of_the_first_cart(piece)
    with piece.opened() as given:
        record, probes, basins = given.record, len(given.site.probe), len(given.site.basin)
    entered = Counter(type(item).__name__ for item in inputs if not isinstance(item, Reading))
    assert (entered["Vouch"], entered["Pour"] > 0) == (probes, basins > 0)
    arrivals = [item.arrived for item in inputs]
    assert arrivals == sorted(arrivals)
    assert record.start <= arrivals[0] <= arrivals[-1] <= record.end
    assert all(record.start <= episode.start <= record.end for episode in episodes)


def test_a_scenario_is_judged_from_its_beginning_and_heard_from_before() -> None:
    inputs, episodes = lived(Situation("cord-down-rolling"))
    with Situation("cord-down-rolling").opened() as given:
        assert inputs[0].arrived < given.record.start
        assert inputs[-1].arrived <= given.record.end
        carts = {Subject(SubjectKind.CART, cart.id) for cart in given.site.cart}
    assert [episode.trouble for episode in episodes if episode.subject in carts] == [Trouble.CORD_DOWN_ROLLING]


@pytest.mark.parametrize(
    ("on", "said"),
    [
        (("population:2x3", "population:1x3"), "are the same, as they have as many carts"),
        (("population:2x3", "population:02x3"), "are the same, as they have as many carts"),
        (("{}", "{}/."), "are the same"),
        (("{}", "{}"), "is named twice"),
        (("quiet-night", "quiet-night"), "'quiet-night' is named twice"),
    ],
)
def test_what_would_be_counted_twice_is_refused(on: tuple[str, str], said: str, tmp_path: Path) -> None:
    question = {"rules": ("x",), "vary": [{"figure": "x", "values": [1]}]}
    named = tuple(each.format(tmp_path) for each in on)
    with pytest.raises(AskError, match=said):
        pieces_of(Asked.model_validate({**question, "on": named}))


def test_a_folder_that_a_worker_cannot_find_is_named_with_what_is_needed(tmp_path: Path) -> None:
    gone = Recorded("DATA", tmp_path / "data")
    with (
        pytest.raises(JournalError, match="with --scheduler one that all workers find under the same path"),
        gone.opened(),
    ):
        pass
