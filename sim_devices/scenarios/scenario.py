"""A situation as a scenario file tells it: what is done, and what should and should not be raised."""

from collections.abc import Mapping
from datetime import date, datetime, time
from types import MappingProxyType
from typing import Annotated, Any, NamedTuple, Self
from zoneinfo import ZoneInfo

from pydantic import Field, Strict, model_validator

from rules.part import Array, Part, Word
from rules.readings import SECOND, Micros, micros
from rules.ruleset import RuleBook
from rules.site import Site
from rules.verdict import Outcome
from sim_devices.running.figures import Figures
from sim_devices.scenarios.clock import Between, Since, stop_watch
from sim_devices.sensing.radio_figures import RadioFigures
from sim_devices.troubles.episode import Trouble
from sim_devices.ward.deeds import Deed

Text = Annotated[str, Field(min_length=1, max_length=600)]
RuleId = Annotated[str, Field(min_length=1, max_length=60)]
Thing = Annotated[str, Field(max_length=81)]
"""Id of what an alert is about: a cart, basin, probe, station, or a sensor as 'cart-1/motion'; '' = any."""

TROUBLES: Mapping[str, Trouble] = MappingProxyType({t.name.lower().replace("_", "-"): t for t in Trouble})
"""By how a scenario file writes them."""


CALM = Figures(radio=RadioFigures(dropout_every_hours=0))


class About(Part):
    """What a scenario is.

    lasts: how long it is lived through. on, starts: day and time at which it begins, by the wall clock of its site.
    celsius: of the solutions at the beginning. seed: of what is drawn. besides: ids of rules that may raise alerts
        though they are not listed; all others must not.
    """

    title: Text
    about: Text
    lasts: Since
    on: Annotated[date, Strict(strict=False)] = date(2026, 9, 21)
    starts: Annotated[time, Strict(strict=False)] = time(10)
    celsius: Annotated[float, Field(ge=-20, le=100)] = 21
    seed: int = 1
    besides: Array[RuleId] = ()


class Raised(Part):
    """An alert that has to be raised, once unless ``times`` says otherwise, each time in ``between``.

    over: when it has to be over for its condition; left out, that is not looked at. falsely: why it is raised though
        nothing of what its rule is for really goes wrong; '' where it does.
    """

    rule: RuleId
    thing: Thing = ""
    between: Between
    over: Between | None = None
    falsely: Annotated[str, Field(max_length=300)] = ""
    times: Annotated[int, Field(ge=1, le=100)] = 1


class NotRaised(Part):
    """Alerts that must not be raised, though one might expect them; why: why not."""

    rule: RuleId
    thing: Thing = ""
    why: Annotated[str, Field(max_length=300)] = ""


class Wrong(Part):
    """What really goes wrong, whether or not anybody is told.

    between: when it begins; over: when it ends, left out where that is not looked at.
    """

    trouble: Annotated[str, Field(max_length=40)]
    thing: Thing = ""
    between: Between
    over: Between | None = None

    @property
    def meant(self) -> Trouble:
        """The trouble of that name."""
        return TROUBLES[self.trouble]

    @model_validator(mode="after")
    def _is_known(self) -> Self:
        if self.trouble not in TROUBLES:
            raise ValueError(f"no trouble is called '{self.trouble}'; expected one of {', '.join(TROUBLES)}")
        return self


class Verdict(Part):
    """What has to come of the ``soak``-th soak of a basin, by its newest verdict."""

    basin: str
    soak: Annotated[int, Field(ge=1)] = 1
    outcome: Word[Outcome]


class People(Part):
    """Who lives in the ward besides.

    busyness: how many exams there are, as a share of what is usual. seed: of what they do.
    """

    busyness: Annotated[float, Field(gt=0, le=20)] = 1
    seed: int = 1


class ScenarioTables(Part):
    """A scenario file as it stands.

    site: what is otherwise than in the small ward, as a site file has it; entries of the same id take the place of
        those there, others are added. figures: of people, ward, sensors and radios, where they are otherwise than
        usual; left out, no device is out of reach by bad luck, so that what happens stands in the steps.
    step: deeds, each with its time. wrong: what really goes wrong; nothing else may, unless people live there.
    """

    scenario: About
    site: dict[str, Any] = Field(default_factory=dict)
    step: Array[dict[str, Any]] = ()
    people: People | None = None
    figures: Figures = CALM
    raised: Array[Raised] = ()
    not_raised: Array[NotRaised] = ()
    wrong: Array[Wrong] = ()
    verdict: Array[Verdict] = ()


class Step(NamedTuple):
    """A deed, so many seconds after the beginning; number: its place in the file, from 0."""

    at: float
    deed: Deed
    number: int


class Scenario(NamedTuple):
    """A situation that can be run; name: by which it is called. steps: by time."""

    name: str
    tables: ScenarioTables
    site: Site
    book: RuleBook
    steps: tuple[Step, ...]

    @property
    def about(self) -> About:
        """What it is."""
        return self.tables.scenario

    @property
    def begins(self) -> Micros:
        """When."""
        local = datetime.combine(self.about.on, self.about.starts, ZoneInfo(self.site.site.timezone))
        return Micros(int(local.timestamp()) * SECOND)

    @property
    def ends(self) -> Micros:
        """When."""
        return self.instant(self.about.lasts)

    def instant(self, seconds: float) -> Micros:
        """So many seconds after the beginning."""
        return Micros(self.begins + micros(seconds))

    def time(self, at: Micros) -> str:
        """An instant as the file writes it."""
        return stop_watch((at - self.begins) / SECOND)
