"""How far a long run is: with `--progress json` a line of JSON on standard output for each step."""

from typing import Annotated

from pydantic import Field

from rules.part import Part

MOST_SAID = 200
"""So many letters tell what is being done; a longer name is cut short."""


class Progress(Part):
    """``done`` of ``of`` steps, and in a few words what is being done: 'replayed day 3 of 30'."""

    done: Annotated[int, Field(ge=0)]
    of: Annotated[int, Field(ge=1)]
    said: Annotated[str, Field(max_length=MOST_SAID)] = ""

    @property
    def percent(self) -> int:
        """How much is done, of 100."""
        return min(100, 100 * self.done // self.of)
