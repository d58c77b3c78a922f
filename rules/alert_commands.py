"""What people, and the gateway on their behalf, do about alerts and pages."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from rules.alert_words import Confirmation, PageEnd
from rules.readings import Micros

Words = Annotated[str, Field(min_length=1, max_length=80)]
"""A name or number as a person writes it."""

Remark = Annotated[str, Field(min_length=1, max_length=200)]
"""Why, in a person's words."""


class Deed(BaseModel):
    """What a person does; ``arrived``: when the gateway was told."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    arrived: Micros
    who: Words


class _OfAlert(Deed):
    """page: the page whose link or reply key was used, which serves for one answer to each of its alerts."""

    alert: Words
    page: Words | None = None


class Acknowledge(_OfAlert):
    """A person has seen an alert and answers for it; it does not end what the alert tells of."""

    kind: Literal["acknowledge"] = "acknowledge"


class Decline(_OfAlert):
    """Whoever was told cannot go: the next tier is told at once. Of no effect where another one has answered.

    own_contact: what whoever said so at a screen carries, where that is known; a page says by itself who was told.
    """

    kind: Literal["decline"] = "decline"
    own_contact: Words | None = None


class HandOver(_OfAlert):
    """A person gives an alert to another role, which is told at once and has to answer anew; ``role``: its id."""

    kind: Literal["hand over"] = "hand over"
    role: Words


class TakeOver(_OfAlert):
    """A person has an alert in place of whoever answered for it; who gave the order is who has it from then on.

    holder: who had it, as that person saw. Of no effect where another one has it by now: of two who take it from the
    same holder the second is told so, and can ask the first.
    """

    kind: Literal["take over"] = "take over"
    holder: Words


class Settle(_OfAlert):
    """A person says what was done about something that happened, so that nobody has to know of it any more."""

    kind: Literal["settle"] = "settle"
    why: Remark


class Shelve(_OfAlert):
    """A person puts an alert aside: for ``minutes``, or until its condition ends (``one_shot``), which comes first.

    Never for longer than the site's policy allows.
    """

    kind: Literal["shelve"] = "shelve"
    minutes: Annotated[float, Field(gt=0, le=1440)]
    one_shot: bool = False
    why: Remark


class Unshelve(_OfAlert):
    """A person takes an alert from the shelf before its time is over."""

    kind: Literal["unshelve"] = "unshelve"


class TakeOut(Deed):
    """Maintenance: a rule, or all rules where None, tells nobody of a thing until it is put back.

    thing: id of a basin, cart, station, probe or sensor, and what belongs to it. role: what entitles the person.
    """

    kind: Literal["take out of service"] = "take out of service"
    thing: Words
    rule: Words | None = None
    role: Words
    why: Remark


class PutBack(Deed):
    """Maintenance is over; thing, rule and role as in ``TakeOut``."""

    kind: Literal["put back into service"] = "put back into service"
    thing: Words
    rule: Words | None = None
    role: Words


class PauseSound(Deed):
    """No sound on the walls for ``minutes``, the light stays; it comes back by itself. 0 ends the pause."""

    kind: Literal["pause sound"] = "pause sound"
    minutes: Annotated[float, Field(ge=0, le=60)]


class TryPages(Deed):
    """Whoever is on duty is paged over every channel, to see whether it arrives."""

    kind: Literal["try pages"] = "try pages"


class PageTold(Deed):
    """The gateway's word of what became of a page; ``detail``: what the channel said, without secrets."""

    kind: Literal["page told"] = "page told"
    page: Words
    outcome: Confirmation | PageEnd
    detail: Annotated[str, Field(max_length=200)] = ""


AlertDeed = Acknowledge | Decline | HandOver | TakeOver | Settle | Shelve | Unshelve
"""About one alert, with ``alert`` and ``page``."""

AlertCommand = AlertDeed | TakeOut | PutBack | PauseSound | TryPages | PageTold
