"""What is shown of many samples: in pieces where something was not measured, thinned where they are too many."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from gateway.soak_log import Sample
from rules.exposure import Span


def pieces(samples: Sequence[Sample], gaps: Sequence[Span]) -> Iterator[Sequence[Sample]]:
    """Samples in measured order, split at the gaps: over what was not measured no line is drawn."""
    breaks = [
        n
        for n, (before, after) in enumerate(pairwise(samples), 1)
        if any(gap.start < after.at and gap.end > before.at for gap in gaps)
    ]
    for first, end in pairwise((0, *breaks, len(samples))):
        if first < end:
            yield samples[first:end]


def thinned(samples: Sequence[Sample], most: int) -> tuple[Sample, ...]:
    """At most about ``most``: the first, the last, and the lowest and the highest of equal shares of all."""
    if len(samples) <= most:
        return tuple(samples)
    kept, shares = {0, len(samples) - 1}, max(1, most // 2)
    for n in range(shares):
        share = range(n * len(samples) // shares, (n + 1) * len(samples) // shares)
        kept |= {pick(share, key=lambda i: samples[i].celsius) for pick in (min, max)}
    return tuple(samples[i] for i in sorted(kept))
