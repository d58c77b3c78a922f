"""Which events of the record count no more, because the entry that they came from was struck."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from gateway.found import Found, RecordView
from gateway.told import Struck, Told
from rules.commands import (
    Claim,
    Contact,
    Discard,
    Entry,
    GelDiscarded,
    GelOpened,
    Inspected,
    Placed,
    Pour,
    StepsDone,
    StripRead,
    TopUp,
    Vouch,
    WipedDown,
)
from rules.events import (
    CartWiped,
    EntryStruck,
    Event,
    GelChanged,
    SolutionDiscarded,
    SolutionPoured,
    SolutionToppedUp,
    StripTaken,
)
from rules.probe_events import (
    ProbeInspected,
    ProbeSeen,
    ProbeSoaked,
    ProbeStepped,
    ProbeTouched,
    ProbeVouched,
)
from rules.readings import Micros

Key = tuple[object, ...]
"""What was entered, so that an entry and the event that came from it have the same one."""


class Strikes:
    """All strikes of a record; each bears on what was told before it, so that the same may be entered anew."""

    def __init__(self, found: Iterable[Found]) -> None:
        self._strikes: defaultdict[Key, list[Found]] = defaultdict(list)
        for strike in found:
            if isinstance(strike.event, EntryStruck):
                self._strikes[entered(strike.event.entry)].append(strike)

    @classmethod
    def of(cls, view: RecordView) -> "Strikes":
        """As the journal has them."""
        return cls(view.of_kind("entry struck"))

    def told(self, found: Found) -> Told:
        """An event with what is known of it, its strike too."""
        who = getattr(found.event, "who", None)
        return Told(found.number, found.after_input, found.measured, who, found.event, self.of_event(found))

    def of_event(self, found: Found) -> Struck | None:
        """Who struck it; None where it counts."""
        strike = self.found(found)
        if strike is None or not isinstance(strike.event, EntryStruck):
            return None
        return Struck(strike.event.at, strike.event.who, strike.event.why)

    def found(self, told: Found) -> Found | None:
        """The strike of it; None where it counts."""
        key = came_of(told.event)
        strikes = self._strikes.get(key, ()) if key is not None else ()
        return next((strike for strike in strikes if strike.number > told.number), None)

    def standing(self, found: Iterable[Found]) -> list[Found]:
        """What counts of it."""
        return [one for one in found if self.found(one) is None]


_SAME: Mapping[type[Entry], tuple[str, ...]] = MappingProxyType(
    {
        Pour: ("basin", "lot", "label", "printed_expiry", "opened", "opened_days"),
        TopUp: ("basin", "lot"),
        Discard: ("basin",),
        StripRead: ("basin", "result", "dipped", "lot", "expiry"),
        Contact: ("probe", "surface", "covered", "percutaneous", "exam"),
        StepsDone: ("probe", "steps", "times", "remark"),
        Placed: ("probe", "place", "thing"),
        Claim: ("probe", "soak", "role"),
        Vouch: ("probe", "role", "why"),
        Inspected: ("probe", "sound", "remark"),
        WipedDown: ("cart",),
        GelOpened: ("cart", "opened", "lot"),
        GelDiscarded: ("cart",),
    }
)
"""What an entry and the event that came from it say in the same words, besides who and when."""

_CAME_OF: Mapping[type[Event], type[Entry]] = MappingProxyType(
    {
        SolutionPoured: Pour,
        SolutionToppedUp: TopUp,
        SolutionDiscarded: Discard,
        StripTaken: StripRead,
        ProbeTouched: Contact,
        ProbeStepped: StepsDone,
        ProbeSeen: Placed,
        ProbeSoaked: Claim,
        ProbeVouched: Vouch,
        ProbeInspected: Inspected,
        CartWiped: WipedDown,
        GelChanged: GelOpened,
    }
)


def entered(entry: Entry) -> Key:
    """What was entered, by whom, and when it was so."""
    return _key(type(entry), entry, entry.happened)


def came_of(event: Event) -> Key | None:
    """As of the entry that an event came from; None where it can have come from none."""
    if isinstance(event, GelChanged) and event.opened is None:
        return _key(GelDiscarded, event, event.measured)
    kind = _CAME_OF.get(type(event))
    measured = getattr(event, "measured", None)
    return None if kind is None or measured is None else _key(kind, event, measured)


def _key(kind: type[Entry], said: Entry | Event, measured: Micros) -> Key:
    # When a claim was so is told anew where the soak proves to have begun otherwise than was known at first.
    when = None if kind is Claim else measured
    return (kind, getattr(said, "who", None), when, *(getattr(said, name) for name in _SAME[kind]))
