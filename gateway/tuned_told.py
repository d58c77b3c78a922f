"""The answer to a question about thresholds, told to people."""

from collections.abc import Iterator, Mapping
from zoneinfo import ZoneInfo

from gateway.toml_snippet import toml_snippet
from gateway.tuned import WEEK_DAYS, Answer, Aspect, Change, Judged, Kept, Point, Proportion, Rate, of_both
from gateway.when import written
from rules.readings import Micros

BEST_TOLD, CHANGES_TOLD = 12, 20
"""So many are told in words; the file of the answer has all (ours)."""

_UTC = ZoneInfo("UTC")

INTERVALS = (
    "In brackets: 95 % intervals, each of one setting by itself, as if nothing hung together with anything else;",
    "'?' where so few were detected that an end of it is not known.",
    "Of many settings the best looks better than it is, in part by luck: go by what was held out.",
)


def lines(answer: Answer) -> Iterator[str]:
    """In plain words: what is in force, what is suggested, how it does where it was not chosen, what would change."""
    tried = f"{_counted(len(answer.points), 'setting')} tried, {_counted(answer.replays, 'replay')}"
    yield f"{tried}, {answer.seconds:.0f} s."
    yield from answer.notes
    yield ""
    yield from _table(answer)
    yield ""
    yield from INTERVALS
    if answer.suggested is None:
        yield ""
        yield f"Nothing is suggested. {answer.why_none}"
    else:
        yield from _suggestion(answer, answer.points[answer.suggested])
    yield from _changes(answer)


def _table(answer: Answer) -> Iterator[str]:
    yield _row("", *_HEADINGS, "goal")
    for aspect, name in ASPECTS.items():
        if (judged := answer.judged(aspect)) is not None:
            yield _judged(name, judged, answer.verdict(aspect))
    yield from _exposure(answer)
    goal = answer.asked.goal
    for one in answer.of_rules:
        yield f"Of {one.rule} alone:"
        for aspect, name in ASPECTS.items():
            if (judged := one.judged(aspect)) is not None:
                yield _judged(name, judged, goal.of_rule(judged) if goal.each_rule else None)
    yield from _best(answer)


_HEADINGS = ("detected", "false a cart-week", "told after, median", "95 % told after", "alerts a cart-week")

ASPECTS: Mapping[Aspect, str] = {
    "present": "present",
    "suggested": "suggested",
    "present_held_out": "present, held out",
    "suggested_held_out": "suggested, held out",
}


def _exposure(answer: Answer) -> Iterator[str]:
    yield exposure_words(answer)


def exposure_words(answer: Answer) -> str:
    """On how much it was chosen, and how much was held out to judge it by."""
    return f"Chosen by what happened in {answer.present.judged.alerts.cart_days:.3g} cart-days; {_aside(answer)}."


def _aside(answer: Answer) -> str:
    """How much really was held out: of few days no share that is asked for can be, as days are held out whole.

    The share is of those cart-days of which is known what went wrong; the others judge nothing.
    """
    held, chosen = answer.present_held_out, answer.present.judged.false_alerts
    if held is None:
        return "nothing was held out"
    aside = held.alerts.cart_days
    share, wanted = 100 * aside / (aside + (chosen.cart_days if chosen else 0)), 100 * answer.asked.held_out
    asked = "" if round(share) == round(wanted) else f"; asked for were {wanted:.0f} %, and days are held out whole"
    return f"held out were {aside:.3g} others, {share:.0f} % of what is known{asked}"


def _best(answer: Answer) -> Iterator[str]:
    """Those that detect most first; settings that do alike once, by the first of them."""
    alike: dict[str, list[Point]] = {}
    for point in answer.points:
        if point.best:
            alike.setdefault(point.judged.model_dump_json(), []).append(point)
    ways = sorted(alike.values(), key=lambda points: _worth(points[0].judged))
    if ways:
        yield f"The best {len(ways)}:" if len(ways) <= BEST_TOLD else f"The first {BEST_TOLD} of the best {len(ways)}:"
    for first, *others in ways[:BEST_TOLD]:
        more = f", and {_counted(len(others), 'setting')} more that did the same" if others else ""
        yield f"  {_figures(first)}{more}"
        yield _judged("", first.judged)


def _worth(judged: Judged) -> tuple[int, int]:
    detected, false = judged.detected, judged.false_alerts
    return -(detected.hits if detected else 0), false.count if false else 0


_WIDTHS = (22, 26, 22, 30, 34, 20)


def _row(*cells: str) -> str:
    return "".join(f"{cell:<{width}}" for cell, width in zip(cells, (*_WIDTHS, 0), strict=True)).rstrip()


def _judged(name: str, judged: Judged, kept: Kept | None = None) -> str:
    late = judged.delay
    return _row(
        f"  {name}",
        _proportion(judged.detected),
        _rate(judged.false_alerts),
        "-" if late is None else _span(late.median, late.median_low, late.median_high),
        "-" if late is None else _span(late.p95, late.p95_low, late.p95_high),
        f"{judged.alerts.per_cart_week:.3g}",
        kept or "",
    )


def _proportion(found: Proportion | None) -> str:
    if found is None:
        return "not measured"
    if found.share is None:
        return "nothing went wrong"
    return f"{found.hits}/{found.of} {found.share:.0%} [{found.low:.0%}, {found.high:.0%}]"


def _rate(found: Rate | None) -> str:
    if found is None:
        return "not measured"
    low, high = (WEEK_DAYS * end for end in (found.low, found.high))
    return f"{found.per_cart_week:.3g} [{low:.3g}, {high:.3g}]"


def _span(seconds: float, low: float | None, high: float | None) -> str:
    if low is None and high is None:
        return f"{lasting(seconds)} [too few]"
    ends = ", ".join("?" if end is None else lasting(end) for end in (low, high))
    return f"{lasting(seconds)} [{ends}]"


def lasting(seconds: float) -> str:
    """``8.5 s``, ``3 min 20 s``."""
    if seconds < _MINUTES_FROM_SECONDS:
        return f"{seconds:.3g} s"
    return f"{int(seconds) // 60} min {int(seconds) % 60:02} s"


_MINUTES_FROM_SECONDS = 120


def _figures(point: Point) -> str:
    return ", ".join(f"{name.removeprefix('rule.')} = {value:g}" for name, value in point.values.items())


def _suggestion(answer: Answer, point: Point) -> Iterator[str]:
    yield ""
    yield "Suggested, for the site file:"
    yield ""
    yield from toml_snippet(point.values).rstrip().split("\n")
    yield ""
    yield from filter(None, (held_out_words(answer), few_words(answer), answer.why_chosen))


def few_words(answer: Answer) -> str:
    """That a suggestion rests on too few events, where the interval of what it detects says so; else ''."""
    detected = None if answer.chosen is None else answer.chosen.judged.detected
    if detected is None or not detected.of or detected.high - detected.low <= _WIDE:
        return ""
    events = _counted(detected.of, "event")
    return (
        f"It rests on {events}, of which it detects {detected.hits}: that is too few to tell by. What it detects in the"
        f" long run may be anything from {detected.low:.0%} to {detected.high:.0%}. Ask of more days or carts."
    )


_WIDE = 0.3
"""An interval of what is detected that is wider than this tells little (ours): fewer than some ten events of which all
are detected, or some forty of which half are."""


def held_out_words(answer: Answer) -> str:
    """Whether what is suggested keeps the goal where it was not chosen."""
    kept = answer.verdict("suggested_held_out")
    return "Nothing was held out to judge it by." if kept is None else _HELD_OUT[kept]


_HELD_OUT: Mapping[Kept, str] = {
    Kept.NOT_MEASURED: (
        "On what was held out nothing went wrong that the rules are for: what it detects there is not measured."
    ),
    Kept.MET: "It keeps the goal on what was held out, too, also at the worse ends of the intervals.",
    Kept.NOT_SHOWN: (
        "On what was held out it keeps the goal by what was counted, but that is too little to be sure: the worse"
        " ends of the intervals do not keep it. Ask of more days."
    ),
    Kept.NOT_MET: (
        "On what was held out it does NOT keep the goal: it fits the days that it was chosen by. Ask of more days,"
        " or choose a setting with room to spare."
    ),
}


NOT_COMPARED = "Which alerts would change is not compared, as nothing is suggested."


def _changes(answer: Answer) -> Iterator[str]:
    yield ""
    if not answer.is_compared:
        yield NOT_COMPARED
        return
    told = [f"{one.count} {_happens(one.kind, one.count)} ({_real(one.real)})" for one in answer.change_counts]
    changed = ", ".join(told) or "none changes"
    yield f"Alerts, from present to these figures: {answer.unchanged} stay as they are; {changed}."
    yield from (f"  {_change(change)}" for change in of_both(answer.changes, CHANGES_TOLD))
    left = sum(one.count for one in answer.change_counts) - CHANGES_TOLD
    if left > 0:
        yield f"  ... and {left} more."
    if answer.changes:
        yield "Times are UTC."


def _happens(kind: str, count: int) -> str:
    word = {"vanishes": "vanish", "appears": "appear", "moves": "move"}[kind]
    return kind if count == 1 else word


def _real(real: bool | None) -> str:  # noqa: FBT001 - what is told
    return "nobody knows whether real" if real is None else "real" if real else "false"


def _change(change: Change) -> str:
    when = {
        "vanishes": lambda: _time(change.was),
        "appears": lambda: _time(change.would_be),
        "moves": lambda: f"{_time(change.was)} -> {_time(change.would_be)}",
    }[change.kind]()
    return f"{change.kind:<9} {when}  {change.rule}, {change.subject} ({_real(change.real)}; {change.on})"


def _time(at: Micros | None) -> str:
    return "" if at is None else written(at, _UTC)


def _counted(count: int, what: str) -> str:
    return f"{count:,} {what}" if count == 1 else f"{count:,} {what}s"
