"""How figures do, side by side: present and suggested, where they were chosen and where they were not."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from dashboard.grid import Cell, Grid, cell
from gateway.tuned import WEEK_DAYS, Answer, Aspect, Delay, Judged, Kept, OfRule
from gateway.tuned_told import ASPECTS, lasting

NOT_MEASURED = "not measured"

KEPT_SIGNS: Mapping[Kept, str] = {Kept.MET: "met", Kept.NOT_MET: "short"}
"""Signs of verdicts on the goal; the others are open."""


@dataclass(frozen=True, slots=True)
class RuleShown:
    """How one of several rules does by itself. said: in a line. is_less: it would detect less than now."""

    rule: str
    said: str
    is_less: bool
    compared: Grid


def compared(answer: Answer) -> Grid:
    """All rules together, with the verdict on the goal."""
    there = {aspect: judged for aspect in ASPECTS if (judged := answer.judged(aspect)) is not None}
    kept = tuple(verdict_cell(answer.verdict(aspect)) for aspect in there)
    return _side_by_side(there, ((cell("The goal is"), *kept),))


def of_rules(answer: Answer) -> Iterator[RuleShown]:
    """Each of several rules by itself."""
    goal = answer.asked.goal
    for one in answer.of_rules:
        there = {aspect: judged for aspect in ASPECTS if (judged := one.judged(aspect)) is not None}
        kept = (cell("Enough detected"), *(verdict_cell(goal.of_rule(judged)) for judged in there.values()))
        grid = _side_by_side(there, (kept,) if goal.each_rule else ())
        yield RuleShown(one.rule, _said(one), _is_less(one), grid)


def verdict_cell(kept: Kept | None) -> Cell:
    """Whether a goal is kept."""
    return cell(kept, sign="" if kept is None else KEPT_SIGNS.get(kept, "open"))


def _said(one: OfRule) -> str:
    present = f"detected {_share(one.present)}"
    return present if one.suggested is None else f"{present} now, {_share(one.suggested)} as suggested"


def _share(judged: Judged) -> str:
    told = judged.detected
    if told is None:
        return NOT_MEASURED
    return f"{told.hits} of {told.of}" if told.of else "nothing, as nothing went wrong"


def _is_less(one: OfRule) -> bool:
    there = None if one.suggested is None else one.suggested.detected
    return there is not None and one.present.detected is not None and there.hits < one.present.detected.hits


def _side_by_side(there: Mapping[Aspect, Judged], verdicts: tuple[tuple[Cell, ...], ...]) -> Grid:
    rows = tuple((cell(name), *(say(judged) for judged in there.values())) for name, say in _FIGURES)
    return Grid(("", *(ASPECTS[aspect].capitalize() for aspect in there)), (*verdicts, *rows), "")


def detected(judged: Judged) -> Cell:
    """How much is detected, with its interval."""
    told = judged.detected
    if told is None:
        return cell(missing=NOT_MEASURED)
    if told.share is None:
        return cell(missing="nothing went wrong")
    return cell(_percent(told.share), f"{_percent(told.low)} to {_percent(told.high)}", f"{told.hits} of {told.of}")


def _percent(share: float) -> str:
    return f"{share * 100:.1f} %"


def false(judged: Judged) -> Cell:
    """False alerts of a cart in a week, with their interval."""
    wrong = judged.false_alerts
    if wrong is None or not wrong.cart_days:
        return cell(missing=NOT_MEASURED)
    ends = f"{WEEK_DAYS * wrong.low:.3g} to {WEEK_DAYS * wrong.high:.3g}"
    return cell(f"{wrong.per_cart_week:.3g}", ends, f"{wrong.count} in {wrong.cart_days:.4g} cart-days")


def median(judged: Judged) -> Cell:
    """How late it is told, in the middle."""
    return _late(judged.delay, lambda delay: (delay.median, delay.median_low, delay.median_high))


def _p95(judged: Judged) -> Cell:
    return _late(judged.delay, lambda delay: (delay.p95, delay.p95_low, delay.p95_high))


def _late(delay: Delay | None, of: Callable[[Delay], tuple[float, float | None, float | None]]) -> Cell:
    if delay is None:
        return cell(missing=NOT_MEASURED)
    figure, low, high = of(delay)
    if low is None and high is None:
        return cell(lasting(figure), "too few for an interval")
    ends = [lasting(low) if low is not None else "not known", lasting(high) if high is not None else "not known"]
    return cell(lasting(figure), " to ".join(ends))


def _alerts(judged: Judged) -> Cell:
    every = judged.alerts
    return cell(f"{every.per_cart_week:.3g}" if every.cart_days else None, f"{every.count} in all")


_FIGURES: tuple[tuple[str, Callable[[Judged], Cell]], ...] = (
    ("Detected", detected),
    ("False alerts of a cart in a week", false),
    ("Told after, median", median),
    ("Told after, 95 of 100 within", _p95),
    ("All alerts of a cart in a week", _alerts),
)
