"""The first minutes of the demo: what each basin and cart is at when it starts, in seconds from the start.

Basins and carts take the entries in the order of the site file; a site with more of them goes through the list again.
Every figure here is ours.
"""

from dataclasses import dataclass
from enum import StrEnum

from sim_devices.probe_habits import Path


class Story(StrEnum):
    """How a soak goes."""

    GOOD = "warm enough and long enough"
    EARLY = "lifted too early"
    COLD = "poured cold"
    COOLING = "poured lukewarm, heater off"
    REOPENED = "lid lifted on the way"


@dataclass(frozen=True, slots=True)
class FirstSoak:
    """The soak that a basin is at.

    closed_seconds: when its lid closed.
    lifted_seconds: when it is lifted; None = after the label's time.
    strip_read: whether somebody read a strip before it.
    """

    story: Story
    closed_seconds: float
    lifted_seconds: float | None = None
    strip_read: bool = True


@dataclass(frozen=True, slots=True)
class FirstRoll:
    """The first rolling of a cart.

    start_seconds: when it begins.
    cord_down: whether a cord is off its hook.
    """

    start_seconds: float
    cord_down: bool = False


@dataclass(frozen=True, slots=True)
class FirstJourneys:
    """Whose probes a basin serves at one of its turns, of which nobody forgets a step.

    basin: number of the basin. probes: number of each in the basin's share, and what becomes of it after its exam.
    """

    basin: int
    turn: int
    probes: tuple[tuple[int, Path], ...]


@dataclass(frozen=True, slots=True)
class Script:
    """What is certain to be seen, whatever chance says.

    soaks, rolls: for the basins and the carts in turn. journeys: where probes are followed.
    diligent_seconds: until then nobody forgets anything at a bed.
    cbor_basin: number of the basin whose device speaks CBOR.
    silent_hook: number of the hook sensor, among all of them, that falls silent.
    silent_seconds: from when to when.
    restarted_basin: number, among the basins with a 1-Wire thermometer, of the one whose device loses power.
    restart_seconds: when its power comes back.
    mislaid_role, mislaid_seconds: whose pagers lie in a locker and are heard by nobody, and until when.
    """

    soaks: tuple[FirstSoak, ...] = (
        FirstSoak(Story.GOOD, closed_seconds=-430),
        FirstSoak(Story.EARLY, closed_seconds=-200, lifted_seconds=70),
        FirstSoak(Story.COLD, closed_seconds=-240),
        FirstSoak(Story.GOOD, closed_seconds=-20, strip_read=False),
    )
    rolls: tuple[FirstRoll, ...] = (
        FirstRoll(-8),
        FirstRoll(100),
        FirstRoll(40, cord_down=True),
        FirstRoll(12),
        FirstRoll(150),
        FirstRoll(205),
        FirstRoll(27),
        FirstRoll(75),
    )
    journeys: tuple[FirstJourneys, ...] = (
        FirstJourneys(0, 0, ((3, Path.CARRIED),)),
        FirstJourneys(1, 0, ((0, Path.HUNG_BACK),)),
        FirstJourneys(2, 0, ((0, Path.CARRIED),)),
        FirstJourneys(3, 0, ((2, Path.CARRIED),)),
        # With the one its cart rolls away, and the other is used again while it owes, in the first three minutes.
        FirstJourneys(0, 1, ((1, Path.ROLLED_AWAY), (4, Path.HASTY))),
    )
    diligent_seconds: float = 180
    cbor_basin: int = 2
    silent_hook: int = 12
    silent_seconds: tuple[float, float] = (60, 360)
    restarted_basin: int = 2
    restart_seconds: float = 110
    mislaid_role: str = "tech"
    mislaid_seconds: float = 170


FIRST_MINUTES = Script()
