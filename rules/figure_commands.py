"""What people do about figures of rules and trackers, such as an on-delay: change them without a new site file."""

from typing import Annotated, Literal

from pydantic import Field, FiniteFloat

from rules.alert_commands import Deed, Remark, Words

FigureName = Annotated[str, Field(min_length=1, max_length=120)]
"""As in ``rules.figures``."""

MOST_FIGURES = 50
"""So many are changed at once; ours."""


class SetFigures(Deed):
    """Other figures judge from now on, all of ``values`` or none; role: what entitles the person.

    values: by name, such as 'rule.basin-cold.on_delay_seconds', each in its unit and within its range.
    """

    kind: Literal["set figures"] = "set figures"
    role: Words
    values: Annotated[dict[FigureName, FiniteFloat], Field(min_length=1, max_length=MOST_FIGURES)]
    why: Remark


class WithdrawFigures(Deed):
    """What the site file says judges again of the figures with these ``names``."""

    kind: Literal["withdraw figures"] = "withdraw figures"
    role: Words
    names: Annotated[tuple[FigureName, ...], Field(min_length=1, max_length=MOST_FIGURES)]
    why: Remark


FigureCommand = SetFigures | WithdrawFigures
