"""What a probe is judged by."""

from collections.abc import Mapping
from dataclasses import dataclass

from rules.policy import ReprocessingPolicy
from rules.readings import Micros


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
