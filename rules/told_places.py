"""Where people say that probes are, and until when that holds."""

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from rules.agenda import NEVER
from rules.evidence import Sighting
from rules.exposure import Span
from rules.probe_words import Place
from rules.readings import SECOND, Micros
from rules.soaks import BasinState, ended

PUT_IN_BEFORE = Micros(15 * 60 * SECOND)
"""A person's word that a probe is in a basin is of no soak that begins later than this after it (ours)."""


class Word(NamedTuple):
    """Where a probe is by a person's word, and when that ends of itself; ``NEVER`` where it does not."""

    sighting: Sighting
    until: Micros


def words(entered: Iterable[Sighting], basins: Mapping[str, BasinState]) -> Iterator[Word]:
    """Each with its end: a probe that a person put into a basin is not known to be there once the soak is over.

    A reader names the next soak's probe anew; a person who says nothing anew has said nothing of the next soak. Nor has
    one who put it in without closing the lid told of a soak that begins long afterwards: it may be of another probe.
    """
    for sighting in entered:
        basin = basins.get(sighting.thing or "") if sighting.place is Place.BASIN else None
        yield Word(sighting, NEVER if basin is None else _soak_over(basin, sighting.at))


def _soak_over(basin: BasinState, at: Micros) -> Micros:
    """When the first soak that went on then, or began soon after, was over; ``NEVER`` while none was since."""
    over = ((soak.end, soak.start) for soak in ended(basin) if soak.end is not None and soak.end > at)
    end, start = min(over, default=(NEVER, NEVER))
    latest = Micros(at + PUT_IN_BEFORE)
    return end if start <= latest or end == NEVER else latest


def said_to_be_in(told: Iterable[Word], basin: str, span: Span) -> bool:
    """Whether people say that the probe was in the basin within the span, whatever sensors say."""
    in_order = sorted(told, key=lambda word: word.sighting.at)
    ends = [*(word.sighting.at for word in in_order[1:]), NEVER]
    return any(
        (word.sighting.place, word.sighting.thing) == (Place.BASIN, basin)
        and word.sighting.at < span.end
        and span.start < min(end, word.until)
        for word, end in zip(in_order, ends, strict=True)
    )
