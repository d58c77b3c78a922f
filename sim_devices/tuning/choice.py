"""How the settings do where one of them is chosen, which one is, and how that one does where it is judged."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from gateway.tuned import Asked, Goal, Judged, OfRule, Point
from sim_devices.tuning.front import Merit, best, keeping_of, suggested, why
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
    why_chosen: str
    other: int | None
    notes: tuple[str, ...]
    of_rules: tuple[OfRule, ...]
    _held_out: Page | None

    @classmethod
    def of(cls, asked: Asked, ledger: Ledger, settings: Settings) -> "Choice":
        aside = held_out(ledger.units(measured=True), asked.held_out, asked.seed)
        chosen_by = ledger.page(unit for unit in ledger.units() if unit not in aside)
        assert chosen_by is not None  # noqa: S101 - of each group something is left to choose by
        judged = [chosen_by.judged(setting) for setting in range(settings.count)]
        closeness = [settings.distance(setting) for setting in range(settings.count)]

        def is_even(setting: int) -> bool:
            return _is_enough_of_each(asked.goal, chosen_by, setting, settings)

        choice = suggested(judged, asked.goal, closeness, is_even)
        on_front = best([Merit.of(one) for one in judged])
        is_measured = any(one.detected is not None and one.detected.of for one in judged)
        points = tuple(
            Point(values=settings.values(setting), judged=one, best=is_measured and on_front[setting])
            for setting, one in enumerate(judged)
        )
        alone = 0 if settings.count == 1 else None
        present = chosen_by.judged(settings.count)
        present_keeps = asked.goal.kept_by(present) and is_even(settings.count)
        judging = ledger.page(aside)
        of_rules = tuple(_of_rules(settings, choice, chosen_by, judging)) if len(settings.of_rules) > 1 else ()
        nothing_aside = is_measured and asked.held_out > 0 and not aside
        return cls(
            points=points,
            present=present,
            suggested=choice,
            why_none="" if choice is not None else _why_none(judged, asked),
            why_chosen="" if choice is None else why(judged, keeping_of(judged, asked.goal, is_even), choice),
            other=alone if choice is None else choice,
            notes=(
                *((_NOTHING_ASIDE,) if nothing_aside else ()),
                *((_STAY,) if choice is not None and present_keeps and _is_no_worse(present, judged[choice]) else ()),
                *map(_detects_less, filter(_is_less, of_rules)),
            ),
            of_rules=of_rules,
            _held_out=judging,
        )

    def held_out(self, setting: int) -> Judged | None:
        """How a setting does on what was held out."""
        return None if self._held_out is None else self._held_out.judged(setting)


def _of_rules(settings: Settings, choice: int | None, chosen_by: Page, judging: Page | None) -> Iterator[OfRule]:
    for rule in settings.of_rules:
        yield OfRule(
            rule=rule,
            present=chosen_by.judged(settings.count, rule),
            suggested=None if choice is None else chosen_by.judged(choice, rule),
            present_held_out=None if judging is None else judging.judged(settings.count, rule),
            suggested_held_out=None if judging is None or choice is None else judging.judged(choice, rule),
        )


def _is_enough_of_each(goal: Goal, page: Page, setting: int, settings: Settings) -> bool:
    return not goal.each_rule or all(goal.is_enough(*page.detected(setting, rule)) for rule in settings.of_rules)


def _is_no_worse(present: Judged, other: Judged) -> bool:
    here, there = Merit.of(present), Merit.of(other)
    return (here.missed, here.late) <= (there.missed, there.late)


_STAY = (
    "The figures in force keep the goal as well, and what is suggested detects no more and no sooner where it was"
    " chosen: there is no reason to change."
)


def _is_less(one: OfRule) -> bool:
    return one.suggested is not None and _hits(one.suggested) < _hits(one.present)


def _hits(judged: Judged) -> int:
    return 0 if judged.detected is None else judged.detected.hits


def _detects_less(one: OfRule) -> str:
    assert one.suggested is not None  # noqa: S101 - it was compared
    return (
        f"Of what rule '{one.rule}' is for {_hits(one.suggested)} would be detected instead of {_hits(one.present)}:"
        " look whether that may be missed."
    )


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
    fewest = min(one.false_alerts.per_cart_week for one in judged if one.false_alerts is not None)
    most = max(one.detected.share or 0 for one in judged if one.detected is not None)
    return (
        f"No setting keeps the goal of {asked.goal.words}; try other values or another goal. The fewest false alerts"
        f" that came of any were {fewest:.3g} of a cart in a week, the most detected {100 * most:.3g} %."
    )
