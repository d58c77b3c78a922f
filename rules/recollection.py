"""What an engine takes up again of a checkpoint that trackers do not hold themselves."""

from collections.abc import Iterable, Mapping

from rules.basin import BasinTracker
from rules.board import Board, Fact, Subject, SubjectKind
from rules.checkpoint import Saved

_FROM_THE_SITE = frozenset({"name", "thing_name", "sensor_name", "kind", "min_celsius", "guard_celsius", "cart_name"})


def recall_facts(
    known_before: Iterable[tuple[Subject, dict[str, Fact]]], board: Board, basins: Mapping[str, BasinTracker]
) -> None:
    """Put back what changes over time; names and limits are those of the site file in force."""
    soaks = {soak.id for basin in basins.values() for soak in basin.state.soaks}
    for subject, facts in known_before:
        if subject.kind is SubjectKind.SOAK and subject.id in soaks:
            board.add(subject, **facts)
        known = board.facts.get(subject, {})
        for name in known.keys() & facts.keys() - _FROM_THE_SITE:
            known[name] = facts[name]


def number_on(saved: Saved, basins: Mapping[str, BasinTracker]) -> dict[str, int]:
    """No two soaks have one name, though the basin was away from the site file in between.

    The answer: how many soaks were numbered of each basin that is away now.
    """
    former: dict[str, int] = {}
    numbered = saved.former | {basin: state.counter for basin, state in saved.basins.items()}
    for basin, count in numbered.items():
        if (tracker := basins.get(basin)) is not None:
            tracker.state.counter = count
        elif count:
            former[basin] = count
    return former
