"""What the record tells of one thing at a time: who said it, when, what judged it, and whether it was struck."""

from dataclasses import dataclass

from rules.events import Event
from rules.readings import Micros


@dataclass(frozen=True, slots=True)
class Struck:
    """An entry counts no more: who struck it, when the gateway was told, and why."""

    at: Micros
    who: str
    why: str


@dataclass(frozen=True, slots=True)
class Told:
    """An event of the record.

    number: of the event. after_input: number of the last input applied before it.
    measured: when it was so. who: the person, None where a sensor told or the program itself.
    struck: None where it counts.
    """

    number: int
    after_input: int
    measured: Micros
    who: str | None
    event: Event
    struck: Struck | None = None

    @property
    def at(self) -> Micros:
        """When the engine said so."""
        return self.event.at


@dataclass(frozen=True, slots=True)
class JudgedBy:
    """The versions of what judged.

    sha256: of site file, rules and labels together. program: version of the program.
    since: when they took over; from_input: the first input that they judged.
    """

    sha256: str
    program: str
    since: Micros
    from_input: int


@dataclass(frozen=True, slots=True)
class BasinPlace:
    """A basin and its station, by id and as the site called them then; the id stands for a name that is not known."""

    basin: str
    basin_name: str
    station: str | None
    station_name: str
