"""One rule as data, and the figures in it."""

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from rules.alert_words import Priority
from rules.board import SubjectKind
from rules.part import Part, Word

DAY_SECONDS = 86_400

StandsUntil = Literal["seen", "cleared", "settled"]
SuppressedWhen = Annotated[str, StringConstraints(max_length=1000)]
Gathers = Annotated[str, StringConstraints(pattern=r"^([a-z][a-z0-9-]{0,39})?$")]


class Figure(Part):
    """A number that a site may change within [low, high]; ``source`` says where the default comes from."""

    value: float
    unit: str = "s"
    low: float
    high: float
    text: str = ""
    source: str


_NO_DELAY = Figure(value=0, low=0, high=DAY_SECONDS, source="ours")
_NO_DEADBAND = Figure(value=0, unit="", low=0, high=0, source="ours")


class Rule(Part):
    """One rule.

    watches: the kind of thing that it looks at; condition: CEL over that thing's facts (rules/board.py), the rule's own
        ``limits``, and ``deadband``, which is 0 until the alert is raised and the rule's deadband from then on.
    stands_until: 'seen' - until the condition is over and a person has answered; 'cleared' - until the condition is
        over, for what then needs nobody; 'settled' - it tells of something that happened and stands until a person
        says what was done, whatever becomes of the condition.
    suppressed_when: CEL over the same facts; while it holds, nobody is told, by design. '' = never. Where it cannot be
        worked out, people are told.
    gathers: alerts of rules with the same word here are taken for the work of one cause, and told together.
    ends: what makes its condition end, after 'Over when', as 'the probe is reprocessed'; '' = nothing that can be said.
    many: what several of its alerts are after their number, as 'sensors without a signal'; '' = only the first is told.
    """

    id: Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9-]{0,59}$")]
    watches: Word[SubjectKind]
    condition: Annotated[str, StringConstraints(min_length=1, max_length=1000)]
    on_delay_seconds: Figure = _NO_DELAY
    off_delay_seconds: Figure = _NO_DELAY
    deadband: Figure = _NO_DEADBAND
    limits: dict[str, Figure] = Field(default_factory=dict)
    stands_until: StandsUntil = "seen"
    suppressed_when: SuppressedWhen = ""
    gathers: Gathers = ""
    many: Annotated[str, StringConstraints(max_length=40)] = ""
    priority: Word[Priority]
    text: Annotated[str, StringConstraints(min_length=1, max_length=200)]
    advice: Annotated[str, StringConstraints(max_length=400)] = ""
    ends: Annotated[str, StringConstraints(max_length=120)] = ""
    source: Annotated[str, StringConstraints(min_length=1, max_length=400)]
