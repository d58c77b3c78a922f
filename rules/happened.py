"""What every event is made of."""

from pydantic import BaseModel, ConfigDict

from rules.readings import Micros


class Happened(BaseModel):
    """Something that the engine says; ``at``: the engine's time when it said so."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    at: Micros
