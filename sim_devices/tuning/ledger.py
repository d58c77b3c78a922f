"""What came of every piece, put together: how any setting does on the days that are asked of."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gateway.tuned import Judged
from rules.readings import SECOND
from sim_devices.tuning.intervals import delay, proportion, rate
from sim_devices.tuning.parts import Unit
from sim_devices.tuning.scoring import MISSED
from sim_devices.tuning.settings import AskError, Settings
from sim_devices.tuning.work import MOST_CELLS, TOO_MUCH, Tally


class Entry(NamedTuple):
    """What came of one piece. group: what its days are held out among; replay: with which figures of the trackers."""

    group: str
    piece: int
    replay: int
    tally: Tally


class _Sheet(NamedTuple):
    """Of one rule and replay on some days: delays of those detected, and counts, by combination of its figures."""

    delays: tuple[NDArray[np.float64], ...]
    cases: int
    alerts: NDArray[np.int64]
    false_alerts: NDArray[np.int64]


class _Exposure(NamedTuple):
    """Cart-days of all pieces, and of those of which truth is known."""

    cart_days: float
    measured_cart_days: float


class Page:
    """How settings do on some of the days."""

    def __init__(self, entries: Sequence[Entry], settings: Settings, units: frozenset[Unit]) -> None:
        self._settings = settings
        self._sheets = {
            (replay, rule): _sheet([entry for entry in entries if entry.replay == replay], rule, units)
            for replay in {entry.replay for entry in entries}
            for rule in settings.of_rules
        }
        self._exposure = _exposure(entries, units)

    @property
    def cart_days(self) -> float:
        """The exposure in all days."""
        return self._exposure.cart_days

    def detected(self, setting: int, rule: str) -> tuple[int, int]:
        """How much is detected of what one rule is for, and how much there was."""
        sheet = self._sheets[self._settings.replay(setting), rule]
        hits = len(sheet.delays[self._settings.of_rule(rule, setting)]) if sheet.cases else 0
        return hits, sheet.cases

    def judged(self, setting: int, rule: str | None = None) -> Judged:
        """How a setting does, the alerts and cases of all rules together, or of one of them."""
        settings, replay = self._settings, self._settings.replay(setting)
        rules = settings.of_rules if rule is None else (rule,)
        of_rules = [(self._sheets[replay, each], settings.of_rule(each, setting)) for each in rules]
        alerts = rate(sum(int(sheet.alerts[number]) for sheet, number in of_rules), self._exposure.cart_days)
        if not self._exposure.measured_cart_days:
            return Judged(alerts=alerts, detected=None, false_alerts=None, delay=None)
        delays = np.concatenate([sheet.delays[number] for sheet, number in of_rules])
        false = sum(int(sheet.false_alerts[number]) for sheet, number in of_rules)
        return Judged(
            alerts=alerts,
            detected=proportion(len(delays), sum(sheet.cases for sheet, _ in of_rules)),
            false_alerts=rate(false, self._exposure.measured_cart_days),
            delay=delay(delays),
        )


@dataclass
class Ledger:
    """Gathers what comes of the pieces, in any order, and tells it in one."""

    settings: Settings
    entries: list[Entry]
    cells: int = 0

    def enter(self, entry: Entry) -> None:
        """What came of a piece.

        Raises:
            AskError: it is too much to be kept.
        """
        self.cells += sum(scores.delays.size for scores in entry.tally.scores.values())
        if self.cells > MOST_CELLS:
            raise AskError(TOO_MUCH)
        self.entries.append(entry)

    def units(self, *, measured: bool = False) -> list[Unit]:
        """All days; measured: those alone of which truth is known."""
        asked = [entry for entry in self.entries if entry.tally.is_measured or not measured]
        return sorted(
            {Unit(e.group, e.piece, day) for e in asked for day in range(e.tally.days.count)},
            key=lambda unit: (unit.piece, unit.day),
        )

    def page(self, units: Iterable[Unit]) -> Page | None:
        """How settings do on some of the days; None where there are none."""
        chosen = frozenset(units)
        entries = sorted(self.entries, key=lambda entry: (entry.piece, entry.replay))
        return Page(entries, self.settings, chosen) if chosen else None


def _sheet(entries: Sequence[Entry], rule: str, units: frozenset[Unit]) -> _Sheet:
    delays, alerts, false_alerts = [], [], []
    for entry in entries:
        scores, days = entry.tally.scores[rule], entry.tally.days
        is_asked = np.array([Unit(entry.group, entry.piece, day) in units for day in range(days.count)])
        alerts.append(scores.alerts[:, is_asked].sum(axis=1))
        if entry.tally.is_measured:
            false_alerts.append(scores.false_alerts[:, is_asked].sum(axis=1))
            case_days = np.array([days.number(start) for start in entry.tally.starts[rule]], np.int64)
            delays.append(scores.delays[:, is_asked[case_days]])
    every = np.concatenate(delays, axis=1) if delays else np.zeros((len(alerts[0]), 0), np.int64)
    detected = tuple(row[row != MISSED] / SECOND for row in every)
    return _Sheet(detected, every.shape[1], _summed(alerts), _summed(false_alerts))


def _summed(counts: list[NDArray[np.int64]]) -> NDArray[np.int64]:
    return np.sum(counts, axis=0) if counts else np.zeros(0, np.int64)


def _exposure(entries: Sequence[Entry], units: frozenset[Unit]) -> _Exposure:
    """Each piece counts once, however often it was replayed."""
    pieces: Mapping[int, Entry] = {entry.piece: entry for entry in entries}
    every = measured = 0.0
    for entry in pieces.values():
        days = entry.tally.days
        cart_days = days.cart_days([day for day in range(days.count) if Unit(entry.group, entry.piece, day) in units])
        every += cart_days
        measured += cart_days if entry.tally.is_measured else 0.0
    return _Exposure(every, measured)
