"""What stands at the head of every page: whose it is, and what keeps it from being live."""

from dataclasses import dataclass, field, replace
from zoneinfo import ZoneInfo

from dashboard.words import brief, clock
from gateway.hub import Feed
from rules.picture import Picture
from rules.readings import Micros


@dataclass(frozen=True, slots=True)
class Trouble:
    """What keeps the picture from being live, and what to do about it; rule: whose alert says the same."""

    rule: str
    what: str
    advice: str


@dataclass(frozen=True, slots=True)
class StateView:
    """Whether the picture is live.

    troubles: what keeps it from being so; empty while all is well.
    time: the time of day when the page was made; the page carries it on.
    probes: how many may be used, on the wall of a site that follows them.
    """

    site: str
    troubles: tuple[Trouble, ...]
    time: str = field(compare=False)
    probes: str = ""

    @property
    def order(self) -> str:
        """What to do while the picture is not live, to be read behind a colon; '' while it is."""
        return self.troubles[0].advice[0].lower() + self.troubles[0].advice[1:].rstrip(".") if self.troubles else ""


def state_view(feed: Feed, site_name: str, now: Micros, zone: ZoneInfo) -> StateView:
    """The head at an instant."""
    troubles = []
    if not feed.picture.hearing:
        troubles.append(Trouble("gateway-cut-off", _deaf(feed.picture, now, zone), _WATCH))
    if not feed.picture.storing or feed.store_trouble:
        troubles.append(Trouble("gateway-cannot-store", "New readings cannot be saved", _TELL))
    if [trouble.advice for trouble in troubles] == [_WATCH]:
        troubles = [replace(troubles[0], what=f"{troubles[0].what}. {_TELL[:-1]}")]
    return StateView(site_name, tuple(troubles), clock(now, zone))


_WATCH = "Watch soaks and carts yourself."
_TELL = "Tell the engineer."


def _deaf(picture: Picture, now: Micros, zone: ZoneInfo) -> str:
    if picture.hearing_since is None:
        return "No sensor heard yet"
    return f"No sensor heard since {brief(picture.hearing_since, now, zone)}"
