"""What a question takes for granted, looked up and checked before any work is given out."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from gateway.tuned import Asked
from rules.exposure import Span
from rules.figures import RULE, THRESHOLD, figures_of, out_of_range
from rules.part import meant
from rules.rule import Figure
from rules.ruleset import RuleBook
from sim_devices.troubles.found import FOR
from sim_devices.tuning.meter import Length
from sim_devices.tuning.pieces import Piece, Situation
from sim_devices.tuning.settings import AskError
from sim_devices.tuning.watching import is_fast


@dataclass(frozen=True, slots=True)
class Premises:
    """What is in force.

    present: what varies, as it is now. on_delays: of each rule, in seconds. notes: what is to be known besides.
    lengths: of what is played of a piece, by the group of the piece, whose pieces are alike in that.
    """

    present: Mapping[str, float]
    on_delays: Mapping[str, float]
    notes: tuple[str, ...]
    lengths: Mapping[str, Length]


def premises(asked: Asked, pieces: Sequence[Piece]) -> Premises:
    """Look up what is in force, in what is named first; raises AskError where the question does not fit it."""
    notes: list[str] = []
    first: Premises | None = None
    measured = 0
    lengths: dict[str, Length] = {}
    kinds = {piece.group: piece for piece in reversed(pieces)}
    for piece in dict.fromkeys(kinds[piece.group] for piece in pieces):
        with piece.opened() as given:
            _check_site(piece, len(given.site.cart))
            _check_length(piece, given.record)
            _check_rules(asked, piece, given.book)
            lengths[piece.group] = Length.of(piece.on, Span(given.begins, given.record.end))
            figures = figures_of(given.book)
            _check_figures(asked, figures)
            here = {one.figure: figures[one.figure].value for one in asked.vary}
            on_delays = {rule: given.book.rules[rule].rule.on_delay_seconds.value for rule in asked.rules}
            measured += given.episodes is not None
            if given.note:
                notes.append(given.note)
            if first is None:
                first = Premises(here, on_delays, (), {})
            elif here != first.present:
                notes.append(f"{piece.on} has other figures in force; 'present' means those of {pieces[0].on}.")
            if given.episodes is None:
                notes.append(
                    f"Of {piece.on} nobody knows what really went wrong: its alerts are counted, but what they detect,"
                    " and which of them are false, is not measured."
                )
    assert first is not None  # noqa: S101 - a question is of something
    if any(isinstance(piece, Situation) for piece in pieces):
        notes.append(_SITUATIONS)
    if measured and (unknown := [rule for rule in asked.rules if rule not in FOR]):
        raise AskError(
            f"Rule '{unknown[0]}' is for nothing that the simulators know to go wrong, so that it cannot be held"
            f" against the truth; leave it out, or ask of records alone. Known are {', '.join(FOR)}."
        )
    return Premises(first.present, first.on_delays, tuple(notes), lengths)


_SITUATIONS = (
    "Situations put what goes wrong in weeks into minutes: how often a cart alerts in a week of theirs says nothing of"
    " a week of a ward."
)


def _check_length(piece: Piece, record: Span) -> None:
    if record.micros <= 0:
        raise AskError(f"{piece.on}: the record ends as it begins; name one that lasts for some time.")


def _check_site(piece: Piece, carts: int) -> None:
    if not carts:
        raise AskError(f"{piece.on}: the site has no carts, and rates are told by cart; name one that has some.")


def _check_rules(asked: Asked, piece: Piece, book: RuleBook) -> None:
    for rule in asked.rules:
        if rule not in book.rules:
            raise AskError(f"{piece.on}: rule '{rule}' is not known or not enabled there; {meant(rule, book.rules)}.")
        if not is_fast(book.rules[rule].rule):
            raise AskError(
                f"Rule '{rule}' watches Sinkside itself, and hangs on the alerts of all other rules; ask for rules"
                " about carts, basins, soaks, probes, rooms or sensors."
            )


def _check_figures(asked: Asked, figures: Mapping[str, Figure]) -> None:
    for problem in _problems(asked, figures):
        raise AskError(problem)


def _problems(asked: Asked, figures: Mapping[str, Figure]) -> Iterator[str]:
    seen: set[str] = set()
    for one in asked.vary:
        name = one.figure
        if name not in figures:
            yield f"'{name}' is no figure that can be changed; {meant(name, figures)}."
        elif name in seen:
            yield f"'{name}' is asked for twice; give all of its values at once."
        else:
            figure = figures[name]
            said = (out_of_range(name, value, figure.low, figure.high, figure.unit) for value in one.values)
            yield from (f"{sentence}." for sentence in said if sentence)
        if not name.startswith(THRESHOLD) and name.removeprefix(RULE).partition(".")[0] not in asked.rules:
            yield f"'{name}' is of a rule that is not asked about; add its rule, or leave it out."
        seen.add(name)
