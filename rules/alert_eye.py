"""Looks at one subject with one rule: keeps the values that its conditions read at hand for CEL."""

from collections.abc import Mapping

import cel

from rules.board import Fact
from rules.ruleset import Compiled


class Eye:
    """One rule on one subject."""

    def __init__(self, compiled: Compiled, facts: Mapping[str, Fact]) -> None:
        self.compiled = compiled
        limits = {name: figure.value for name, figure in compiled.rule.limits.items()}
        read = compiled.reads | compiled.suppression_reads
        self._context = cel.Context({**limits, **{name: facts[name] for name in read}, "deadband": 0.0})
        self._deadband = 0.0

    def see(self, name: str, value: Fact) -> None:
        """A fact has changed."""
        self._context.add_variable(name, value)

    def answer(self, *, active: bool) -> bool | None:
        """Whether the condition holds; None where nobody can say, so that a person has to look, too.

        active: whether the alert is raised, so that its deadband counts.
        """
        deadband = self.compiled.rule.deadband.value if active else 0.0
        if deadband != self._deadband:
            self._deadband = deadband
            self._context.add_variable("deadband", deadband)
        return self.compiled.holds(self._context)

    def suppresses(self) -> bool:
        """Whether nobody is to be told, by design; where that cannot be worked out, people are told."""
        return self.compiled.suppresses(self._context)
