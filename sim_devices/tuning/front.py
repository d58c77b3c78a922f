"""Which settings are worth a choice, and which of them is suggested under a goal."""

from bisect import bisect_right, insort
from collections.abc import Callable, Sequence
from math import inf
from typing import NamedTuple

from gateway.tuned import Goal, Judged


class Merit(NamedTuple):
    """What settings are compared by; less is better of each.

    missed: cases not told of. false_alerts: count. late: the median delay in seconds, endless where nothing is told.
    """

    missed: int
    false_alerts: int
    late: float

    @classmethod
    def of(cls, judged: Judged) -> "Merit":
        """Of figures that were all measured; ones that were not make it worst."""
        detected, false = judged.detected, judged.false_alerts
        if detected is None or false is None:
            return cls(0, 0, inf)
        return cls(detected.of - detected.hits, false.count, inf if judged.delay is None else judged.delay.median)


def best(merits: Sequence[Merit]) -> list[bool]:
    """The Pareto front: of each, whether no other is as good in everything and better in something.

    In order of merit nothing that follows can be better in everything than what went before, so that one pass does;
    it keeps, of what went before, the stair of fewest false alerts and least delay.
    """
    on_front: dict[Merit, bool] = {}
    stair: list[tuple[int, float]] = []  # by false alerts, with ever smaller delays
    for merit in sorted(set(merits)):
        step = (merit.false_alerts, merit.late)
        place = bisect_right(stair, (merit.false_alerts, inf))
        on_front[merit] = not (place and stair[place - 1][1] <= merit.late)
        if on_front[merit]:
            insort(stair, step)
            place = bisect_right(stair, step)
            while place < len(stair) and stair[place][1] >= merit.late:
                del stair[place]
    return [on_front[merit] for merit in merits]


def keeping_of(judged: Sequence[Judged], goal: Goal, also: Callable[[int], bool] | None = None) -> list[int]:
    """The numbers of those that keep the goal."""
    return [number for number, one in enumerate(judged) if goal.kept_by(one) and (also is None or also(number))]


def why(judged: Sequence[Judged], keeping: Sequence[int], chosen: int) -> str:
    """By what the suggested one was preferred to the others that keep the goal, in a sentence."""
    merit = Merit.of(judged[chosen])
    merits = [Merit.of(judged[number]) for number in keeping]
    if len(merits) == 1:
        return "It is the only setting of those tried that keeps the goal."
    as_much = [one for one in merits if one.missed == merit.missed]
    if len(as_much) == 1:
        return f"Of the {len(merits)} settings that keep the goal it detects most."
    equals = f"{len(as_much)} settings that keep the goal detect equally much; of these"
    as_soon = [one for one in as_much if one.late == merit.late]
    if len(as_soon) == 1:
        return f"{equals} this one tells soonest, by the median."
    if as_soon.count(merit) == 1:
        return f"{equals} {len(as_soon)} tell soonest, and this one has the fewest false alerts of them."
    return (
        f"{equals} {as_soon.count(merit)} tell soonest with equally few false alerts, and this one changes least of"
        " what is in force."
    )


def suggested(
    judged: Sequence[Judged], goal: Goal, closeness: Sequence[float], also: Callable[[int], bool] | None = None
) -> int | None:
    """The number of the one that is suggested; None where none keeps the goal.

    Of those that keep it, the one that detects most; then the soonest told, by the median delay; then with fewest
    false alerts; then the one that changes least.

    Args:
        judged: of each setting.
        goal: what it has to keep.
        closeness: of each setting, how far its figures are from those in force.
        also: whether the one of that number keeps what else is asked for.
    """
    keeping = keeping_of(judged, goal, also)

    def rank(number: int) -> tuple[int, float, int, float, int]:
        merit = Merit.of(judged[number])
        return merit.missed, merit.late, merit.false_alerts, closeness[number], number

    return min(keeping, key=rank, default=None)
