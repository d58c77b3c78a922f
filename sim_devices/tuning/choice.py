"""How the settings do where one of them is chosen, which one is, and how that one does where it is judged."""

from collections.abc import Sequence
from dataclasses import dataclass

from gateway.tuned import Asked, Judged, Point
from sim_devices.tuning.front import Merit, best, suggested
from sim_devices.tuning.ledger import Ledger, Page
from sim_devices.tuning.parts import held_out
from sim_devices.tuning.settings import Settings


@dataclass(frozen=True, slots=True)
class Choice:
    """What is chosen. present: how the figures in force do where it is.

    other: what the present is compared with: what is suggested, or what alone was tried.
    """

    points: tuple[Point, ...]
    present: Judged
    suggested: int | None
    why_none: str
    other: int | None
    notes: tuple[str, ...]
    _held_out: Page | None

    @classmethod
    def of(cls, asked: Asked, ledger: Ledger, settings: Settings) -> "Choice":
        aside = held_out(ledger.units(measured=True), asked.held_out, asked.seed)
        chosen_by = ledger.page(unit for unit in ledger.units() if unit not in aside)
        assert chosen_by is not None  # noqa: S101 - of each group something is left to choose by
        judged = [chosen_by.judged(setting) for setting in range(settings.count)]
        choice = suggested(judged, asked.goal, [settings.distance(setting) for setting in range(settings.count)])
        on_front = best([Merit.of(one) for one in judged])
        is_measured = any(one.detected is not None and one.detected.of for one in judged)
        points = tuple(
            Point(values=settings.values(setting), judged=one, best=is_measured and on_front[setting])
            for setting, one in enumerate(judged)
        )
        alone = 0 if settings.count == 1 else None
        nothing_aside = is_measured and asked.held_out > 0 and not aside
        return cls(
            points=points,
            present=chosen_by.judged(settings.count),
            suggested=choice,
            why_none="" if choice is not None else _why_none(judged, asked),
            other=alone if choice is None else choice,
            notes=(_NOTHING_ASIDE,) if nothing_aside else (),
            _held_out=ledger.page(aside),
        )

    def held_out(self, setting: int) -> Judged | None:
        """How a setting does on what was held out."""
        return None if self._held_out is None else self._held_out.judged(setting)


_NOTHING_ASIDE = (
    "Nothing could be held out, as there is one day or scenario only: how well the suggestion does elsewhere is not"
    " known."
)


def _why_none(judged: Sequence[Judged], asked: Asked) -> str:
    of = [one.detected.of for one in judged if one.detected is not None]
    if not of:
        return (
            "Detection is not measured, as nobody knows what really went wrong on these days; add a population or"
            " scenarios to choose by."
        )
    if not max(of):
        return "Nothing went wrong that these rules are for on what is chosen by; ask of more days or other scenarios."
    goal = asked.goal
    return (
        f"No setting keeps the goal of at most {goal.most_false_words} of a cart in a week"
        + (f" and at least {goal.least_detected:.0%} detected" if goal.least_detected else "")
        + "; try other values or another goal."
    )
