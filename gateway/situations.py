"""Situations that ship with the simulators, and what came of running them: what the bench page shows."""

from typing import Annotated

from pydantic import Field

from rules.part import Array, Part


class Situation(Part):
    """A situation by its name.

    about: in a sentence or two. raised, quiet: ids of the rules that are to raise alerts in it, and that must not.
    """

    name: Annotated[str, Field(min_length=1, max_length=120)]
    about: str
    raised: Array[str] = ()
    quiet: Array[str] = ()


class SituationRun(Part):
    """What came of one. is_as_meant: whether what should be raised was, and nothing that must not be.

    said: a sentence for each alert that was raised, for each that was missed, and for each that should not have been.
    """

    name: str
    is_as_meant: bool
    said: Array[str] = ()


class SituationRuns(Part):
    """What came of several, in the order in which they were run."""

    runs: Array[SituationRun]
