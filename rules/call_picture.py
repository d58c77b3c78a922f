"""Who was told of what, as screens show it."""

from dataclasses import dataclass

from rules.alert_words import Confirmation, PageEnd, PageWhy
from rules.readings import Micros


@dataclass(frozen=True, slots=True)
class ToldPicture:
    """One page of a call.

    outcome: the surest word so far, None while there is none. cannot: the answer was that whoever was paged cannot go.
    """

    page: str
    at: Micros
    why: PageWhy
    role: str
    contact: str
    channel: str
    outcome: Confirmation | PageEnd | None
    cannot: bool = False


@dataclass(frozen=True, slots=True)
class CallPicture:
    """What people are told of together, because one cause raised it: usually one alert.

    alerts: ids of those that are not over: the ones that wait for an answer, the most urgent first, then the answered
    ones. route: its name. tier: reached last, from 0. told: oldest first, the newest 50.
    next_at, next_roles: when who is told next if nobody answers; None and empty where nobody is.
    unmanned: roles in which nobody was on duty when they were to be told.
    """

    alerts: tuple[str, ...]
    route: str
    tier: int
    told: tuple[ToldPicture, ...]
    next_at: Micros | None
    next_roles: tuple[str, ...]
    unmanned: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RolePicture:
    """A role and the names of the contacts that are on duty in it now; until: when that changes next, None = never."""

    id: str
    name: str
    contacts: tuple[str, ...]
    until: Micros | None
