"""Time lines: things that happened, one after the other, each with who said so."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from dashboard.happening import Telling, strike_href, struck_words, who_words
from dashboard.stood import stood_href
from gateway.told import Told
from rules.probe_events import ProbeEvent, ProbeSeen, ProbeSoaked, ProbeStands, ProbeTouched
from rules.readings import Micros


@dataclass(frozen=True, slots=True)
class Moment:
    """One thing that happened.

    number: of its event in the record. happened, entered: when; entered '' where it was known at once.
    href: the soak that it tells of, '' where it tells of none. struck: who struck it, when and why; '' where it counts.
    strike: where it can be struck, '' where it cannot. stood: of a contact, where it is told how the probe stood just
    before it; '' of anything else. alike: what else was told of the kind within ``CLOSE``, which is
    shown with it.
    """

    number: int
    happened: str
    entered: str
    who: str
    words: str
    href: str
    struck: str
    strike: str
    stood: str = ""
    alike: tuple["Moment", ...] = ()

    @property
    def said(self) -> tuple[str, ...]:
        """All that it says, as a text is looked for in it."""
        return self.words, self.who, self.struck, f"No. {self.number}"


_AT_ONCE = Micros(60_000_000)
"""What is told within a minute is told at once."""

CLOSE = Micros(5_000_000)
"""What a bouncing contact tells within so long of each other is shown as one (ours)."""

FEWEST = 3
"""So many are shown as one, no fewer (ours): who takes a probe in hand and hangs it up again did so once each."""


def moment_of(item: Told, telling: Telling) -> Moment:
    """An event of the record."""
    event = item.event
    is_late = item.at - item.measured > _AT_ONCE
    return Moment(
        number=item.number,
        happened=telling.time(item.measured),
        entered=telling.time(item.at) if is_late else "",
        who=_teller(item),
        words=telling.words(event),
        href=f"/logbook/soak/{event.soak}" if isinstance(event, ProbeSoaked) else "",
        struck="" if _is_taken_back(item) else struck_words(item, telling),
        strike=strike_href(item),
        stood=_stood(item, telling),
    )


def _stood(item: Told, telling: Telling) -> str:
    event = item.event
    if not isinstance(event, ProbeTouched) or event.withdrawn:
        return ""
    return stood_href(event.probe, item.measured, telling.zone)


def folded(told: Sequence[Told], moments: Sequence[Moment]) -> tuple[Moment, ...]:
    """Moments, those that stand for several with them: of one probe, by sensors alone, at nearly the same time.

    The newest of them is shown first. told: the events of the moments, in the same order.
    """
    groups: list[list[int]] = []
    newest: dict[tuple[str, str], list[int]] = {}
    for place, item in enumerate(told):
        alike = _alike(item)
        group = newest.get(alike) if alike else None
        if group is None or abs(item.measured - told[group[0]].measured) > CLOSE:
            group = []
            groups.append(group)
        if alike:
            newest[alike] = group
        group.append(place)
    shown: dict[int, Moment] = {}
    for group in groups:
        parts = [group] if len(group) >= FEWEST else [[place] for place in group]
        for part in parts:
            first = max(part, key=lambda place: (told[place].measured, told[place].number))
            shown[first] = replace(moments[first], alike=tuple(moments[other] for other in part if other != first))
    return tuple(shown[place] for place in sorted(shown))


def _alike(item: Told) -> tuple[str, str] | None:
    """What may be shown together: where a probe was and how it stood, where nobody told it."""
    event = item.event
    if not isinstance(event, ProbeSeen | ProbeStands) or item.who is not None or event.withdrawn:
        return None
    return event.kind, event.probe


def _teller(item: Told) -> str:
    """Whoever said so; how a probe stands, and what is taken back for a strike, is worked out by the program."""
    is_ours = isinstance(item.event, ProbeStands) or _is_taken_back(item)
    return "worked out" if is_ours else who_words(item)


def _is_taken_back(item: Told) -> bool:
    return isinstance(item.event, ProbeEvent) and item.event.withdrawn
