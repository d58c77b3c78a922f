"""The trade's words for what a probe touched, what it owes for that, what is done with it, and where it is."""

from enum import StrEnum


class Surface(StrEnum):
    """What an exam touched, as the classes of Spaulding tell surfaces apart."""

    SKIN = "skin"
    MUCOSA = "mucosa"
    BLOOD = "blood"
    STERILE = "sterile"


class Level(StrEnum):
    """What a probe owes, the least first."""

    CLEANING = "cleaning"
    LOW = "low-level disinfection"
    HIGH = "high-level disinfection"
    STERILISATION = "sterilisation"

    @property
    def short(self) -> str:
        """As the trade says it where there is little room."""
        return self.value.removesuffix(" disinfection")

    @property
    def process(self) -> str:
        """What is to be done, without how thoroughly."""
        return self.value.rpartition(" ")[2]

    @property
    def deed(self) -> str:
        """What somebody has to do, to be read behind the name of the probe."""
        return _DEEDS[self]

    @property
    def rank(self) -> int:
        """The more, the stricter."""
        return list(Level).index(self)


_DEEDS = {
    Level.CLEANING: "clean it",
    Level.LOW: "wipe it with disinfectant",
    Level.HIGH: "soak it",
    Level.STERILISATION: "have it sterilised",
}


class Step(StrEnum):
    """A step of reprocessing. SOAKED is measured and never entered by hand; the others are entered by people."""

    COVER_OFF = "cover off"
    WASHED = "washed"
    DRIED = "dried"
    LOW_LEVEL = "wiped with low-level disinfectant"
    SOAKED = "soaked"
    RINSED = "rinsed"
    STERILISED = "sterilised"


class Place(StrEnum):
    """Where a probe is; IN_HANDS: off its hook and seen nowhere else since."""

    HOOK = "hook"
    IN_HANDS = "in hands"
    SINK = "sink"
    BASIN = "basin"
    CABINET = "cabinet"
    UNKNOWN = "unknown"


NOWHERE = (Place.IN_HANDS, Place.UNKNOWN)
"""No place at which anybody sees a probe."""


class Fitness(StrEnum):
    """Whether a probe may touch the next patient.

    READY: all that its last contact demands is shown. IN_USE: at a patient, or in hands after the hook.
    OWES: what is owed is known and nothing of it is done. IN_PROCESS: some of it is done.
    NOT_PROVEN: nobody can tell. INSPECT: it was knocked or damaged and is to be looked over first.
    """

    READY = "ready for use"
    IN_USE = "in use"
    OWES = "to be reprocessed"
    IN_PROCESS = "being reprocessed"
    NOT_PROVEN = "not proven"
    INSPECT = "to be inspected"
