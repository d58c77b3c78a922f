"""What a probe is judged by."""

from collections.abc import Mapping
from dataclasses import dataclass

from rules.policy import ReprocessingPolicy
from rules.probe_words import Level, Surface
from rules.readings import DAY, Micros
from rules.spaulding import level_owed


@dataclass(frozen=True, slots=True)
class ProbeTerms:
    """What a probe is judged by.

    rinses: how often it is rinsed after a soak in a basin, by basin id; the policy's figure for others.
    use_after: off its hook for less is no use. carry_within: seen nowhere for no longer, it may be on its
        way from one place to another. Microseconds.
    """

    internal: bool
    policy: ReprocessingPolicy
    rinses: Mapping[str, int]
    use_after: Micros
    carry_within: Micros

    @property
    def unmarked_level(self) -> Level:
        """What a use owes of which nobody told the contact."""
        if self.policy.unmarked_use == "not proven":
            return Level.HIGH
        return level_owed(Surface.SKIN, covered=False, percutaneous=False, internal=self.internal, policy=self.policy)

    def stored_until(self, since: Micros) -> Micros:
        """Until when what is stored from then on stays ready."""
        return Micros(since + round(self.policy.storage_days * DAY))

    def rinses_after(self, basin: str) -> int:
        """How often it is rinsed after a soak in that basin."""
        return self.rinses.get(basin, self.policy.rinses)
