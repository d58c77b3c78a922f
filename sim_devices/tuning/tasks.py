"""The work of a question given out to whoever does it, and what comes back."""

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import CancelledError
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from distributed import Client, Future, as_completed

from sim_devices.tuning.cases import Terms
from sim_devices.tuning.changes import Alerts, alerts, changes
from sim_devices.tuning.ledger import Entry, Ledger
from sim_devices.tuning.meter import Length, Meter
from sim_devices.tuning.pieces import Piece
from sim_devices.tuning.settings import Settings
from sim_devices.tuning.timeline import Compared
from sim_devices.tuning.work import Seen, Tally, see, tally


@dataclass(frozen=True, slots=True)
class Comparison:
    """Pieces under present and other figures; unchanged: alerts that stay as they are."""

    pieces: tuple[Compared, ...]
    unchanged: int


class Work:
    """Pieces to be replayed and compared.

    What was seen of each stays with the workers, on disk where memory is short; where a worker is lost
    it is seen anew.
    """

    def __init__(
        self,
        client: Client,
        meter: Meter,
        pieces: Sequence[Piece],
        settings: Settings,
        terms: Mapping[str, Terms],
    ) -> None:
        self._client = client
        self._meter = meter
        self._pieces = pieces
        self._settings = settings
        self._terms = terms
        self._seen: dict[tuple[int, int], Future[Seen]] = {}

    def ledger(self) -> Ledger:
        """Replay every piece with every figure of the trackers, and hold every setting against it."""
        settings, ledger = self._settings, Ledger(self._settings, [])
        asked: dict[Future[Tally], tuple[int, int, int]] = {}
        for number, piece in enumerate(self._pieces):
            for replay, thresholds in enumerate(settings.replays):
                job = len(asked)
                seen = self._client.submit(see, piece, thresholds, self._terms, self._meter.of(job), pure=False)
                asked[self._client.submit(tally, seen, settings.of_rules, pure=False)] = number, replay, job
                self._seen[number, replay] = seen
        with _cancelled_on_failure(self._client, [*asked, *self._seen.values()]):
            for future, result in self._as_done(list(asked)):
                number, replay, job = asked.pop(future)
                ledger.enter(Entry(self._pieces[number].group, number, replay, result))
                future.release()
                self._meter.done(job)
        self._meter.choosing()
        return ledger

    def _as_done(self, asked: Sequence[Future[Tally]]) -> Iterator[tuple[Future[Tally], Tally]]:
        # Told whose loop it is: a client of somebody else's cluster is nobody's default.
        for future, result in as_completed(asked, with_results=True, loop=self._client.loop):
            if isinstance(result, CancelledError):  # given as a result where the scheduler is lost
                raise result
            yield future, result

    def compared(self, other: int | None) -> Comparison:
        """The alerts of every piece under present and other figures.

        other: number of a setting; None: there is none to compare with.
        """
        wanted = (self._settings.count,) if other is None else (self._settings.count, other)
        futures = [[self._alerts(number, setting) for setting in wanted] for number in range(len(self._pieces))]
        found, unchanged = [], 0
        with _cancelled_on_failure(self._client, [future for each in futures for future in each]):
            told: list[list[Alerts]] = self._client.gather(futures)
        for piece, (present, *others) in zip(self._pieces, told, strict=True):
            on = piece.on
            other_alerts = others[0] if others else None
            changed, same = ([], 0) if other_alerts is None else changes(on, present.alerts, other_alerts.alerts)
            unchanged += same
            found.append(Compared(on, present, other_alerts, tuple(changed)))
        return Comparison(tuple(found), unchanged)

    def _alerts(self, number: int, setting: int) -> Future[Alerts]:
        settings = self._settings
        own = {rule: combinations[settings.of_rule(rule, setting)] for rule, combinations in settings.of_rules.items()}
        return self._client.submit(alerts, self._seen[number, settings.replay(setting)], own, pure=False)


def lengths_of(pieces: Sequence[Piece], settings: Settings, by_group: Mapping[str, Length]) -> list[Length]:
    """How long each work of a ledger is, in the order in which it is given out; by_group: of each piece."""
    return [by_group[piece.group] for piece in pieces for _ in settings.replays]


@contextmanager
def _cancelled_on_failure(client: Client, futures: Sequence[Future[Any]]) -> Iterator[None]:
    try:
        yield
    except BaseException:
        if client.status == "running":
            client.cancel(list(futures))
        raise
