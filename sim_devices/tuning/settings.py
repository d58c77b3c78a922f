"""All settings of a question: every combination of the values to be tried, and the figures in force."""

from collections.abc import Mapping, Sequence
from itertools import product
from math import prod

import numpy as np
from numpy.typing import NDArray

from gateway.tuned import MOST_SETTINGS, Vary
from rules.figures import RULE, THRESHOLD

Values = Mapping[str, float]
"""Figures by name."""


class AskError(ValueError):
    """A question that cannot be asked; one sentence says what was expected."""


class Settings:
    """Every setting by its number, and the one in force, which comes last whether or not it is tried as well.

    Rules do not hang on each other, nor on each other's figures. So a rule is evaluated once for each combination of
    its own figures, and only figures of the trackers ask for another replay.

    figures: names of what varies. count: how many are tried; the one in force has this number.
    replays: figures of the trackers, each combination once. of_rules: by rule, each combination of its own figures.
    """

    def __init__(self, rules: Sequence[str], vary: Sequence[Vary], present: Values) -> None:
        tried = [tuple(dict.fromkeys(one.values)) for one in vary]
        self.figures = tuple(one.figure for one in vary)
        self.count = prod(map(len, tried))
        if self.count > MOST_SETTINGS:
            raise AskError(
                f"There are {self.count:,} settings to be tried; expected at most {MOST_SETTINGS:,}: try fewer values,"
                " or fewer figures at once."
            )
        self._rows = [*product(*tried), tuple(present[name] for name in self.figures)]
        self._spreads = [max(values) - min(values) or 1.0 for values in tried]
        self.replays, self._replay = self._distinct(THRESHOLD)
        found = {rule: self._distinct(f"{RULE}{rule}.") for rule in dict.fromkeys(rules)}
        self.of_rules: Mapping[str, tuple[Values, ...]] = {rule: own for rule, (own, _) in found.items()}
        self._of_rule = {rule: numbers for rule, (_, numbers) in found.items()}

    def _distinct(self, beginning: str) -> tuple[tuple[Values, ...], NDArray[np.int64]]:
        """Each combination of the figures that begin so, and for each setting the number of its own."""
        columns = [n for n, name in enumerate(self.figures) if name.startswith(beginning)]
        own = [tuple(row[n] for n in columns) for row in self._rows]
        numbers = {values: number for number, values in enumerate(dict.fromkeys(own))}
        names = [self.figures[n] for n in columns]
        distinct = tuple(dict(zip(names, values, strict=True)) for values in numbers)
        return distinct, np.array([numbers[values] for values in own])

    def values(self, setting: int) -> dict[str, float]:
        """The figures of a setting."""
        return dict(zip(self.figures, self._rows[setting], strict=True))

    def replay(self, setting: int) -> int:
        """Which replay a setting is told from."""
        return int(self._replay[setting])

    def of_rule(self, rule: str, setting: int) -> int:
        """Which of the rule's combinations a setting has."""
        return int(self._of_rule[rule][setting])

    def distance(self, setting: int) -> float:
        """How far its figures are from those in force, each as a share of the range that is tried."""
        here, present = self._rows[setting], self._rows[-1]
        return sum(abs(a - b) / spread for a, b, spread in zip(here, present, self._spreads, strict=True))
