"""What a watch asks: are readings heard, judged and written down at this moment?"""

from dataclasses import dataclass
from typing import Self

from gateway.hub import Feed
from rules.readings import SECOND, Micros

FRESH_SECONDS = 10
"""How old the newest feed may be; a gateway that lives makes one each second. Ours."""


@dataclass(frozen=True, slots=True)
class Health:
    """The state of a gateway; all true is well.

    running: it is not stopping. fresh: its picture is of now. hearing: it hears the broker. storing: it can write.
    """

    running: bool
    fresh: bool
    hearing: bool
    storing: bool

    @classmethod
    def of(cls, feed: Feed, now: Micros, *, running: bool) -> Self:
        """From the newest feed, by the gateway's time."""
        fresh = now - feed.picture.at <= FRESH_SECONDS * SECOND
        return cls(running, fresh, feed.picture.hearing, feed.store_trouble is None)

    @property
    def ok(self) -> bool:
        """Whether everything is well."""
        return self.running and self.fresh and self.hearing and self.storing
