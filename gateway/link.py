"""The words in which a connection to the broker is spoken of."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple


class End(StrEnum):
    """Why a connection is over."""

    STOPPED = "we stopped"
    LOST = "the broker or the network ended it"
    REFUSED = "the broker refused us"
    UNUSABLE = "our own settings cannot be used"
    OVERFLOW = "the inbox was full"
    SILENT = "our own ping did not come round"
    MUTE = "something is there but does not answer as a broker does; check the address and whether it wants mqtts"


class Aside(NamedTuple):
    """A subscription that goes to a listener of its own instead of the inbox: (topic, payload, retained)."""

    pattern: str
    hear: Callable[[str, bytes, bool], None]

    @property
    def prefix(self) -> str:
        """What every matching topic begins with."""
        return self.pattern.split("+")[0].split("#")[0]


class Posting(NamedTuple):
    """A message of ours, waiting to be sent."""

    topic: str
    payload: bytes
    retain: bool
    qos: int


@dataclass(slots=True)
class Tally:
    """What went otherwise than planned since the start, for the engineers' page.

    connects: connections accepted by the broker.
    overflows: connections that we dropped because the inbox was full.
    rebuilds: connections given up because the ping did not come round.
    faults: exceptions caught in callbacks.
    doubles: redeliveries of what we still hold, dropped.
    stale_receipts: acknowledgements skipped because their connection is gone.
    """

    connects: int = 0
    overflows: int = 0
    rebuilds: int = 0
    faults: int = 0
    doubles: int = 0
    stale_receipts: int = 0
