"""Answers of our own invention about thresholds, with intervals from statsmodels and scipy."""

from collections.abc import Iterator
from math import exp

from scipy.stats import chi2
from statsmodels.stats.proportion import proportion_confint

from gateway.tuned import (
    Answer,
    Asked,
    Change,
    Counted,
    Day,
    Delay,
    Judged,
    Lane,
    Point,
    Proportion,
    Raised,
    Rate,
    Truth,
    Vary,
)
from rules.readings import Micros
from tests.rules.feeder import instant

RULE, FIGURE = "cord-down-rolling", "rule.cord-down-rolling.on_delay_seconds"
CART_DAYS = 420.0
HOSTILE = '<img src=x onerror="alert(1)">'


def rate(count: int, days: float = CART_DAYS) -> Rate:
    """With the exact interval after Garwood (1936)."""
    low = chi2.ppf(0.025, 2 * count) / 2 if count else 0.0
    return Rate(
        count=count, cart_days=days, low=float(low) / days, high=float(chi2.ppf(0.975, 2 * count + 2)) / 2 / days
    )


def judged(hits: int, false: int, of: int = 180) -> Judged:
    """So much was detected, and so many alerts were false."""
    low, high = map(float, proportion_confint(hits, of, method="wilson"))
    delay = Delay(count=hits, median=20, median_low=18.5, median_high=22, p95=61, p95_low=None, p95_high=None)
    return Judged(
        alerts=rate(hits + false),
        detected=Proportion(hits=hits, of=of, low=low, high=high),
        false_alerts=rate(false),
        delay=delay if hits else None,
    )


def point(seconds: float, hits: int, false: int, *, best: bool = False) -> Point:
    return Point(values={FIGURE: seconds}, judged=judged(hits, false), best=best)


def answer(*, wide: bool = False, days: tuple[Day, ...] = (), held_out: bool = True, keeps: bool = True) -> Answer:
    """Of an on-delay of 0 to 29 s; wide: from none to very many false alerts."""
    points = tuple(_points(2000 if wide else 55))
    chosen = next((n for n, one in enumerate(points) if one.judged.false_alerts.count <= 40), None) if keeps else None  # type: ignore[union-attr]
    return Answer(
        asked=Asked(
            rules=(RULE,),
            vary=(Vary(figure=FIGURE, values=tuple(one.values[FIGURE] for one in points)),),
            on=("population:14x30",),
        ),
        points=points,
        present=points[0],
        suggested=chosen,
        why_none="" if keeps else "No setting makes at most 1 false alert of a cart in a week.",
        present_held_out=judged(160, 1800 if wide else 52) if held_out else None,
        suggested_held_out=judged(141, 20) if held_out and keeps else None,
        changes=changes(),
        change_counts=(Counted(kind="vanishes", real=False, count=41), Counted(kind="moves", real=True, count=12)),
        unchanged=7,
        notes=("Half of the days were held out.",),
        days=days,
        replays=2,
        seconds=12.4,
    )


def _points(most: int) -> Iterator[Point]:
    for n in range(30):
        false = round(most * exp(-n / (3 if most > 100 else 12)))
        yield point(1.0 * n, 178 - 3 * n, false, best=n % 2 == 0)


def changes() -> tuple[Change, ...]:
    on = "population:14x30"
    return (
        Change(on=on, kind="vanishes", rule=RULE, subject="cart-1", was=instant(60), would_be=None, real=False),
        Change(on=on, kind="moves", rule=RULE, subject="cart-2", was=instant(90), would_be=instant(102), real=True),
        Change(on=on, kind="appears", rule=RULE, subject=HOSTILE, was=None, would_be=instant(95), real=None),
    )


def hours(at: float) -> Micros:
    """So many hours after the start of the invented day."""
    return instant(at * 3600)


def day(subject: str = "cart-1") -> Day:
    """24 hours with a trouble that is detected, one that is missed, and a false alert that goes."""
    lane = Lane(
        rule=RULE,
        subject=subject,
        truths=(
            Truth(start=hours(3), end=hours(4), present=True, suggested=True),
            Truth(start=hours(15), end=hours(15.5), present=False, suggested=False),
            Truth(start=hours(22), end=None, present=True, suggested=False),
        ),
        present=(
            Raised(at=hours(3.25), end=hours(4), real=True),
            Raised(at=hours(18), end=hours(18.1), real=False),
            Raised(at=hours(23), end=None, real=True),
        ),
        suggested=(Raised(at=hours(3.5), end=hours(4), real=True),),
    )
    return Day(on="population:14x30", zone="Europe/Lisbon", since=hours(0), until=hours(24), lanes=(lane,))
