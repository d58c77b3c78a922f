"""What the list of basins says of the air: a reading and its trend, and for context what is published."""

from dataclasses import dataclass

from dashboard.words import NOT_KNOWN, listed
from rules.air import CLEARED, VapourLimit
from rules.picture import RoomPicture


@dataclass(frozen=True, slots=True)
class RoomView:
    """A vapour sensor in words; ``clears``: '' where the site does not say how often the air changes."""

    name: str
    reading: str
    trend: str
    limits: tuple[str, ...]
    clears: str


def room_view(room: RoomPicture) -> RoomView:
    """What is said of a room."""
    return RoomView(
        name=room.name,
        reading=NOT_KNOWN if room.ppm is None else f"{room.ppm:.3g} ppm",
        trend=_trend(room),
        limits=tuple(map(_limit, room.limits)) or (_no_limit(room),),
        clears=_clears(room),
    )


def _trend(room: RoomPicture) -> str:
    if room.ppm is None:
        return ""
    return f"trend {NOT_KNOWN} yet" if room.trend is None else f"{room.trend.value} over the last 15 min"


def _limit(limit: VapourLimit) -> str:
    return f"{limit.substance}: {limit.ppm:g} ppm, {limit.over} ({limit.source})"


def _no_limit(room: RoomPicture) -> str:
    return f"No limit is listed for {listed(list(room.chemistries))}." if room.chemistries else "No basin is near."


def _clears(room: RoomPicture) -> str:
    if room.air_changes_per_hour is None:
        return ""
    shares = zip(CLEARED, room.clear_minutes, strict=True)
    gone = [f"{share * 100:.4g} % after {minutes:.0f} min" for share, minutes in shares]
    return (
        f"At {room.air_changes_per_hour:g} air changes an hour a vapour has cleared by {listed(gone)}, once nothing"
        " gives it off any more; later where the air does not mix."
    )
