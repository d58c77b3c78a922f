"""A question about thresholds answered: every setting tried, the best of them, and one that is suggested."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from distributed import Client

from gateway.tuned import MOST_CHANGES_NAMED, Answer, Asked, Change, Counted, Point, of_both
from rules.readings import micros
from sim_devices.tuning.asking import Premises, premises
from sim_devices.tuning.cases import Terms
from sim_devices.tuning.changes import when
from sim_devices.tuning.choice import Choice
from sim_devices.tuning.meter import Meter, Tell
from sim_devices.tuning.pieces import Piece, pieces_of
from sim_devices.tuning.settings import Settings
from sim_devices.tuning.tasks import Work, lengths_of
from sim_devices.tuning.timeline import days


@dataclass(frozen=True, slots=True)
class Plan:
    """A question that can be asked: what it is asked of, what that takes for granted, and every setting."""

    asked: Asked
    pieces: Sequence[Piece]
    known: Premises
    settings: Settings

    @classmethod
    def of(cls, asked: Asked, this_record: Path | None = None) -> "Plan":
        """Look up all that it names, before anybody is called to work.

        this_record: the folder of what the question calls so; the answer does not name it.

        Raises:
            AskError: it cannot be asked so.
            JournalError, TruthError, FigureError: what it is asked of cannot be used.
        """
        pieces = pieces_of(asked, this_record)
        known = premises(asked, pieces)
        return cls(asked, pieces, known, Settings(asked.rules, asked.vary, known.present))


def tune(plan: Plan, client: Client, tell: Tell, seconds: Callable[[], float]) -> Answer:
    """Answer a question.

    The answer hangs on the question, the records and the seed alone, but for how long it took: not on who did the
    work, nor in which order.

    Args:
        plan: of the question.
        client: of those who do the work.
        tell: is told how far it is.
        seconds: any clock that runs on.

    Raises:
        JournalError, TruthError, FigureError: what it is asked of cannot be used any more.
    """
    begun = seconds()
    asked, pieces, known, settings = plan.asked, plan.pieces, plan.known, plan.settings
    with Meter(client, tell, lengths_of(pieces, settings, known.lengths)) as meter:
        work = Work(client, meter, pieces, settings, _terms(asked, settings, known))
        ledger = work.ledger()
        found = Choice.of(asked, ledger, settings)
        compared = work.compared(found.other)
    every = sorted((change for one in compared.pieces for change in one.changes), key=when)
    return Answer(
        asked=asked,
        points=found.points,
        present=Point(values=settings.values(settings.count), judged=found.present, best=False),
        suggested=found.suggested,
        why_none=found.why_none,
        why_chosen=found.why_chosen,
        present_held_out=found.held_out(settings.count),
        suggested_held_out=None if found.suggested is None else found.held_out(found.suggested),
        of_rules=found.of_rules,
        changes=of_both(every, MOST_CHANGES_NAMED),
        change_counts=tuple(_counted(every)),
        unchanged=compared.unchanged,
        notes=(*known.notes, *found.notes),
        days=tuple(days(compared.pieces)),
        replays=len(pieces) * len(settings.replays),
        seconds=seconds() - begun,
    )


def _terms(asked: Asked, settings: Settings, known: Premises) -> dict[str, Terms]:
    """By rule; what still goes on at the end counts once the longest delay that is tried could have passed."""
    grace = micros(asked.grace_seconds)
    longest = {
        rule: max(own.get(f"rule.{rule}.on_delay_seconds", known.on_delays[rule]) for own in combinations)
        for rule, combinations in settings.of_rules.items()
    }
    return {
        rule: Terms(micros(asked.least_seconds), grace, micros(on_delay + asked.grace_seconds))
        for rule, on_delay in longest.items()
    }


def _counted(every: Sequence[Change]) -> Iterator[Counted]:
    for kind in ("vanishes", "appears", "moves"):
        for real in (True, False, None):
            count = sum(change.kind == kind and change.real is real for change in every)
            if count:
                yield Counted(kind=kind, real=real, count=count)
