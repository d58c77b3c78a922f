"""A probe's journey: from the exam that soiled it over sink, basin, as often as it takes, and cabinet to its hook."""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass

from rules.probe_words import Place, Step, Surface
from rules.readings import Micros
from sim_devices.probe_habits import Path
from sim_devices.spans import Span


@dataclass(frozen=True, slots=True)
class Stay:
    """From ``start`` on the probe is there, until its next stay.

    thing: id of the cart, station, basin or cabinet. read: whether a tag reader there sees it.
    told: when somebody enters that it is there, None where nobody does.
    """

    start: Micros
    place: Place
    thing: str | None = None
    read: bool = True
    told: Micros | None = None


@dataclass(frozen=True, slots=True)
class Chore:
    """Steps that were done, ``done``: when the last was over; ``told``: when they are entered, None where never."""

    done: Micros
    steps: tuple[Step, ...]
    told: Micros | None
    times: int = 1


@dataclass(frozen=True, slots=True)
class Leg:
    """One soak of a journey.

    dropped, out: when the probe was put into the basin and taken out of it.
    washed: whether it had been washed by then.
    claimed: where no tag was read, when somebody claims the soak; None where nobody does.
    """

    turn: int
    dropped: Micros
    out: Micros
    washed: bool
    tagged: bool
    claimed: Micros | None


@dataclass(frozen=True)
class Journey:
    """All of it.

    surface: what the exam touched. tours: of the cart, in which that exam was, and the hasty one after it.
    stays: the first begins with the exam, the last is the hook again.
    """

    probe: str
    cart: str
    basin: str
    path: Path
    surface: Surface
    tours: tuple[int, ...]
    legs: tuple[Leg, ...]
    chores: tuple[Chore, ...]
    stays: tuple[Stay, ...]

    @property
    def start(self) -> Micros:
        """When the probe was taken off its hook for the exam."""
        return self.stays[0].start

    @property
    def end(self) -> Micros:
        """When it hung on its hook again."""
        return self.stays[-1].start

    def stay_at(self, at: Micros) -> Stay:
        """Where the probe is at an instant of the journey."""
        return self.stays[bisect_right(self.stays, at, key=lambda stay: stay.start) - 1]

    def spans(self) -> Iterator[tuple[Span, Stay]]:
        """Each stay but the last with its span."""
        for stay, after in zip(self.stays, self.stays[1:], strict=False):
            yield Span(stay.start, after.start), stay

    def away(self) -> Iterator[Span]:
        """When the probe is off its hook."""
        since: Micros | None = None
        for stay in self.stays:
            if stay.place is Place.HOOK:
                if since is not None:
                    yield Span(since, stay.start)
                since = None
            elif since is None:
                since = stay.start
