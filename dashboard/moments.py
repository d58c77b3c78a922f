"""Time lines: things that happened, one after the other, each with who said so."""

from dataclasses import dataclass

from dashboard.happening import Telling, strike_href, struck_words, who_words
from gateway.told import Told
from rules.probe_events import ProbeEvent, ProbeSoaked, ProbeStands
from rules.readings import Micros


@dataclass(frozen=True, slots=True)
class Moment:
    """One thing that happened.

    number: of its event in the record. happened, entered: when; entered '' where it was known at once.
    href: the soak that it tells of, '' where it tells of none. struck: who struck it, when and why; '' where it counts.
    strike: where it can be struck, '' where it cannot.
    """

    number: int
    happened: str
    entered: str
    who: str
    words: str
    href: str
    struck: str
    strike: str

    @property
    def said(self) -> tuple[str, ...]:
        """All that it says, as a text is looked for in it."""
        return self.words, self.who, self.struck, f"No. {self.number}"


_AT_ONCE = Micros(60_000_000)
"""What is told within a minute is told at once."""


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
    )


def _teller(item: Told) -> str:
    """Whoever said so; how a probe stands, and what is taken back for a strike, is worked out by the program."""
    is_ours = isinstance(item.event, ProbeStands) or _is_taken_back(item)
    return "worked out" if is_ours else who_words(item)


def _is_taken_back(item: Told) -> bool:
    return isinstance(item.event, ProbeEvent) and item.event.withdrawn
