"""Each stay of a probe in a basin, and what came of it.

Sound is what a probe has to be given in one unbroken stretch of closed lid: at least the label's time, at or above its
least temperature (compare with >=: facts of CDC/HICPAC 2008, Table 4), in a solution that is at or above its least
concentration and in date. That a lifted lid begins the time anew is policy, inferred; it is taken for true here.
"""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from rules.probe_words import Place
from rules.readings import SECOND, Micros
from rules.site import Label
from sim_devices.troubles.good import good_until
from sim_devices.troubles.stretches import Held, both, held
from sim_devices.troubles.warmth import cold, doomed, warm
from sim_devices.ward.state import BasinState, ProbeState

PASSING_SECONDS = 30
"""A probe that is taken out again sooner, the lid never closed over it, was not put in to be soaked (ours)."""


class Bath(NamedTuple):
    """A probe lay in a basin during ``stay``; it still does where ``is_over`` is false, and ``stay`` ends at the look.

    read: whether its tag was seen there. closed: when the lid was closed over it.
    done: when it had all that the label asks for of time and temperature, None where it never did.
    longest: of ``closed``, microseconds. good: whether the solution was strong and in date up to the end of the soak.
    """

    probe: str
    basin: str
    stay: Held
    is_over: bool
    read: bool
    closed: tuple[Held, ...]
    done: Micros | None
    longest: int
    good: bool

    @property
    def is_sound(self) -> bool:
        """Whether it disinfected what lay in it."""
        return self.done is not None and self.good

    @property
    def is_a_soak(self) -> bool:
        """Whether it was put in to be soaked."""
        return bool(self.closed) or self.stay.micros >= PASSING_SECONDS * SECOND

    @property
    def lifted(self) -> Micros:
        """When the lid was lifted for the last time while it lay there; when it was taken out where it never was."""
        return self.closed[-1].end if self.closed else self.stay.end


class Tub(NamedTuple):
    """A basin, with the label of what is to be in it."""

    state: BasinState
    label: Label

    @property
    def needed(self) -> int:
        """The label's time, microseconds."""
        return round(self.label.min_minutes * 60 * SECOND)

    def warm(self, within: Held) -> list[Held]:
        """When the solution was really warm enough."""
        return warm(self.state.heat, within, self.label.min_celsius)

    def cold(self, within: Held) -> list[Held]:
        """When it was too cold."""
        return cold(self.state.heat, within, self.label.min_celsius)

    def doomed(self, within: Held) -> list[Held]:
        """When a soak would never have been done, as things went."""
        return doomed(self.state.heat, within, self.label.min_celsius)


def baths_of(probe: str, life: ProbeState, tubs: Mapping[str, Tub], within: Held) -> Iterator[Bath]:
    """Every stay of a probe in a basin, in order."""
    for start, end, stay in life.stay.stretches(*within):
        if stay.place is Place.BASIN and stay.thing in tubs:
            is_over = life.stay.at(end).place is not Place.BASIN or life.stay.at(end).thing != stay.thing
            yield _bath(probe, stay.thing, Held(start, end), tubs[stay.thing], is_over=is_over, read=stay.read)


def _bath(probe: str, basin: str, stay: Held, tub: Tub, *, is_over: bool, read: bool) -> Bath:
    state = tub.state
    wet = held(state.liquid, lambda liquid: liquid is not None, stay)
    closed = both(held(state.lid_closed, bool, stay), wet)
    done = next((at for span in closed if (at := _done(tub, span)) is not None), None)
    last = closed[-1].end if closed else stay.end
    return Bath(
        probe=probe,
        basin=basin,
        stay=stay,
        is_over=is_over,
        read=read,
        closed=tuple(closed),
        done=done,
        longest=max((span.micros for span in closed), default=0),
        good=_is_good(tub, Micros(last - 1)),
    )


def _done(tub: Tub, closed: Held) -> Micros | None:
    """When enough unbroken warm time had passed under a closed lid; at the lifting that is just in time."""
    if closed.micros < tub.needed:
        return None
    ends = (Micros(span.start + tub.needed) for span in tub.warm(closed) if span.micros >= tub.needed)
    return next(ends, None)


def _is_good(tub: Tub, at: Micros) -> bool:
    liquid = tub.state.liquid.at(at)
    return liquid is not None and liquid.strong and at < good_until(liquid, tub.label, tub.state, at)
