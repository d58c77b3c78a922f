"""Whom to tell, as the site file says it: roles, who is on duty in them, how each is reached, and by which routes."""

from datetime import datetime, time
from typing import Annotated, Literal

from pydantic import Field, Strict, StringConstraints

from rules.alert_words import Confirmation, Priority
from rules.part import Array, Part, Word
from rules.policy import Role

Slug = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9-]{0,39}$")]
Title = Annotated[str, StringConstraints(min_length=1, max_length=40, strip_whitespace=True)]
Address = Annotated[str, StringConstraints(pattern=r"^[^\x00-\x1f\x7f]{1,254}$")]
WallTime = Annotated[time, Strict(strict=False)]
WallMoment = Annotated[datetime, Strict(strict=False)]
Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
WEEK: tuple[Weekday, ...] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


class Channel(Part):
    """A way out of the house, as far as the rules have to know it; the gateway knows how it is spoken to.

    asks: the least that is to be heard of a page for it to count as told, and deadline_seconds: within what time of
        asking. A channel that cannot tell that much is refused at load. 60 s: ours, after a mail's retry of 30 min and
        more (RFC 5321, 4.5.4.1), which no alert can wait for.
    most_letters: how much a message may have; its link counts too. 80 and 160: pagers and SMS. None = no bound.
    """

    id: Slug
    asks: Word[Confirmation] = Confirmation.ACCEPTED
    deadline_seconds: Annotated[float, Field(ge=5, le=3600)] = 60
    most_letters: Annotated[int, Field(ge=80, le=10_000)] | None = None


class Way(Part):
    """How a contact is reached: the channel, and the number, mailbox or name that it knows the contact by."""

    channel: Slug
    address: Address


class Contact(Part):
    """A pager, phone or mailbox that whoever is on duty carries: never a person's own name.

    ways: the best first; where one does not confirm within its deadline, the next is tried.
    """

    id: Slug
    name: Title
    ways: Annotated[Array[Way], Field(min_length=1, max_length=6)]


class DutyRole(Part):
    """What somebody is on duty as: charge nurse, reprocessing tech, engineer, infection preventionist."""

    id: Slug
    name: Title


class Duty(Part):
    """Who is on duty in a role, by the site's wall clock, on the given days of the week.

    A duty that ends at or before its start ends on the next day; ``days`` are those on which it starts.
    """

    role: Slug
    contacts: Annotated[Array[Slug], Field(min_length=1, max_length=8)]
    days: Array[Weekday] = WEEK
    start: WallTime
    end: WallTime


class DutyChange(Part):
    """From one local date and time to another these contacts are on duty in a role, and nobody else.

    Of several that cover an instant the last one in the file counts. No contacts: nobody is on duty, on purpose.
    """

    role: Slug
    start: WallMoment
    end: WallMoment
    contacts: Array[Slug] = ()


class Tier(Part):
    """Whom to tell if nobody has answered ``after_seconds`` after the alert was raised."""

    roles: Annotated[Array[Slug], Field(min_length=1, max_length=8)]
    after_seconds: Annotated[float, Field(ge=0, le=86_400)] = 0


class Route(Part):
    """Whom to tell of which alerts; the first route of the file that fits an alert is taken, when it is raised.

    priorities, rules, places, shifts: what it is for; left out, any. places: ids of stations, basins, carts, probes;
        shifts: names of [[shift]].
    repeat_seconds: until somebody answers, the tier reached last is told again so often; 0 = never. most_repeats: of
        each tier.
    """

    name: Title
    priorities: Array[Word[Priority]] = ()
    rules: Array[str] = ()
    places: Array[Slug] = ()
    shifts: Array[str] = ()
    tiers: Annotated[Array[Tier], Field(min_length=1, max_length=8)]
    repeat_seconds: Annotated[float, Field(ge=0, le=86_400)] = 0
    most_repeats: Annotated[int, Field(ge=0, le=100)] = 6


class AlertPolicy(Part):
    """How alerts are lived with.

    shelve_most_minutes: longest stay on the shelf (ours: a shift); shelve_high_most_minutes: of what is of high
        priority, where that is less (ours: nobody is told meanwhile of what endangers a patient).
    maintenance_roles: who may take out of service.
    remind_*_minutes: an acknowledged alert whose condition still holds asks anew after so long, by priority; 0 = never.
    most_pages: to one contact within 10 min, what is above comes as one summary. 10: after the flood limit of ISA-18.2
        (secondary); of what is not of high priority half of it. What is, and is new to the contact, waits 30 s at most.
    gather_seconds: how long alerts of medium and low priority wait for others of the same cause (ours).
    test_at: when each day whoever is on duty gets a test page, by the site's clock; None = never.
    """

    shelve_most_minutes: Annotated[float, Field(gt=0, le=1440)] = 480
    shelve_high_most_minutes: Annotated[float, Field(gt=0, le=1440)] = 60
    maintenance_roles: Array[Role] = ("engineer",)
    remind_high_minutes: Annotated[float, Field(ge=0, le=1440)] = 30
    remind_medium_minutes: Annotated[float, Field(ge=0, le=1440)] = 120
    remind_low_minutes: Annotated[float, Field(ge=0, le=10_080)] = 0
    most_pages: Annotated[int, Field(ge=2, le=60)] = 10
    gather_seconds: Annotated[float, Field(ge=0, le=120)] = 10
    test_at: WallTime | None = None

    def shelve_most(self, priority: Priority) -> float:
        """For how many minutes what is of that priority stays on the shelf at most."""
        high = priority is Priority.HIGH
        return min(self.shelve_most_minutes, self.shelve_high_most_minutes) if high else self.shelve_most_minutes
