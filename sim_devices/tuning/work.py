"""What is done with one piece, wherever there is a processor free: replay it, and hold alerts against truth."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from rules.figures import LIMITS, RULE, judged_by
from rules.readings import Micros
from rules.rule import Rule
from sim_devices.troubles.found import FOR
from sim_devices.tuning.cases import Cases, Terms
from sim_devices.tuning.days import Days
from sim_devices.tuning.evaluate import evaluate
from sim_devices.tuning.figures import RuleFigures
from sim_devices.tuning.meter import Played
from sim_devices.tuning.pieces import Piece
from sim_devices.tuning.scoring import Scores, score
from sim_devices.tuning.settings import AskError, Values
from sim_devices.tuning.watching import Sight, watch

MOST_CELLS = 40_000_000
"""Settings of a rule times what went wrong, of all rules, pieces and replays: 320 MB (ours)."""

TOO_MUCH = (
    "So many settings on so much that went wrong need too much memory: try fewer values of a rule's figures, or fewer"
    " days."
)


@dataclass(frozen=True, slots=True)
class Seen:
    """One replay of a piece: all that is needed to evaluate any figures of the rules.

    sights, cases: by rule. is_measured: whether truth is known; where not, there are no cases.
    """

    sights: Mapping[str, Sight]
    cases: Mapping[str, Cases]
    days: Days
    is_measured: bool


@dataclass(frozen=True, slots=True)
class Tally:
    """How settings do on a piece, by rule; starts: of the rule's cases that count."""

    scores: Mapping[str, Scores]
    starts: Mapping[str, tuple[Micros, ...]]
    days: Days
    is_measured: bool


def see(piece: Piece, thresholds: Values, terms: Mapping[str, Terms], played: Played | None = None) -> Seen:
    """Replay a piece with figures of the trackers; terms: of each rule looked at; played: tells how far it is."""
    with piece.opened() as given:
        book = judged_by(given.site, given.book, thresholds)
        inputs = given.inputs if played is None else played.passing(given.inputs, given.begins)
        sights = watch(given.site, book, tuple(terms), inputs, given.record.end)
        days = Days.of(given.record, given.site.site.zone, len(given.site.cart))
        episodes = () if given.episodes is None else given.episodes()
        cases = {rule: Cases.of(episodes, FOR.get(rule, ()), given.record, own) for rule, own in terms.items()}
        return Seen({sight.rule.id: sight for sight in sights}, cases, days, given.episodes is not None)


TOGETHER = 2000
"""So many settings of a rule are evaluated at once: what they raise is let go of before the next (ours)."""


def tally(seen: Seen, settings: Mapping[str, Sequence[Values]]) -> Tally:
    """How each rule does with each of its own figures.

    Raises:
        AskError: it is too much to be kept.
    """
    cells = sum(len(combinations) * len(seen.cases[rule].starts) for rule, combinations in settings.items())
    if cells > MOST_CELLS:
        raise AskError(TOO_MUCH)
    scores = {rule: _scores(seen, rule, combinations) for rule, combinations in settings.items()}
    return Tally(scores, {rule: seen.cases[rule].starts for rule in settings}, seen.days, seen.is_measured)


def _scores(seen: Seen, rule: str, combinations: Sequence[Values]) -> Scores:
    sight, found = seen.sights[rule], []
    for begin in range(0, len(combinations), TOGETHER):
        some = combinations[begin : begin + TOGETHER]
        told = evaluate(sight, [rule_figures(sight.rule, values) for values in some])
        found.append(score(told, len(some), seen.cases[rule], seen.days))
    return Scores(*map(np.concatenate, zip(*((s.delays, s.alerts, s.false_alerts) for s in found), strict=True)))


def rule_figures(rule: Rule, values: Values) -> RuleFigures:
    """The rule's figures with some of them changed, which are within their ranges."""
    own: dict[str, Any] = {"limits": dict(rule.limits)}
    for name, value in values.items():
        key = name.removeprefix(f"{RULE}{rule.id}.")
        place, last = (own["limits"], key.removeprefix(LIMITS)) if key.startswith(LIMITS) else (own, key)
        before = rule.limits[last] if key.startswith(LIMITS) else getattr(rule, key)
        place[last] = before.model_copy(update={"value": float(value)})
    return RuleFigures.of(rule.model_copy(update=own))
