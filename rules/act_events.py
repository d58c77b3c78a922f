"""What the engine says of what people did at the screens: that it was done, and nothing else."""

from typing import Literal

from rules.acts import Access, Act, Acted
from rules.happened import Happened
from rules.readings import Micros


class ActTold(Happened):
    """Something was done by a person; the fields are those of ``rules.acts.Acted``."""

    kind: Literal["act told"] = "act told"
    key: str
    measured: Micros
    who: str
    access: Access | None
    act: Act
    about: str
    times: int


def told(command: Acted) -> ActTold:
    """The event of a command; done no later than the gateway was told."""
    return ActTold(
        at=command.arrived,
        key=command.key,
        measured=min(command.measured, command.arrived),
        who=command.who,
        access=command.access,
        act=command.act,
        about=command.about,
        times=command.times,
    )
