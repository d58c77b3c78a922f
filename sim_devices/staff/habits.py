"""How the people of a whole site behave: one set of habits for each kind of department, and those they share."""

from functools import lru_cache
from typing import Annotated, Literal, TypeVar, get_args

from pydantic import Field

from rules.part import Array, MistakesError, Part, meant
from rules.site import Site, Slug
from sim_devices.parameters import Parameters
from sim_devices.staff.arrival_habits import ARRIVALS, ArrivalHabits
from sim_devices.staff.exam_habits import EXAMS, ExamHabits, WayHabits
from sim_devices.staff.soak_habits import SinkHabits, SoakHabits
from sim_devices.staff.upkeep_habits import CartHabits, RoomHabits, SolutionHabits

Group = TypeVar("Group", bound=Parameters)

Kind = Literal["emergency", "ward", "clinic"]

_CARTS_PER_DEPARTMENT = 5
"""In a site of which nobody tells the departments (ours)."""


class Department(Part):
    """Carts that stand for the same patients.

    carts, stations: ids; a patient waits for one of these carts, and its probes are soaked at one of these stations.
    arrivals, exams: a figure that is left out is as usual for the kind.
    """

    id: Slug
    kind: Kind = "emergency"
    carts: Annotated[Array[Slug], Field(min_length=1)]
    stations: Array[Slug] = ()
    arrivals: ArrivalHabits | None = None
    exams: ExamHabits | None = None

    @property
    def comes(self) -> ArrivalHabits:
        """When its patients come."""
        return ARRIVALS[self.kind] if self.arrivals is None else _completed(ARRIVALS[self.kind], self.arrivals)

    @property
    def examines(self) -> ExamHabits:
        """How its exams go."""
        return EXAMS[self.kind] if self.exams is None else _completed(EXAMS[self.kind], self.exams)


@lru_cache(maxsize=64)
def _completed(usual: Group, told: Group) -> Group:
    return type(usual).model_validate({**usual.model_dump(), **told.model_dump(exclude_unset=True)})


class Habits(Part):
    """How people behave.

    departments: empty = as ``shared_out`` has it.
    """

    departments: Array[Department] = ()
    ways: WayHabits = WayHabits()
    sinks: SinkHabits = SinkHabits()
    soaks: SoakHabits = SoakHabits()
    solutions: SolutionHabits = SolutionHabits()
    rooms: RoomHabits = RoomHabits()
    carts: CartHabits = CartHabits()

    def departments_of(self, site: Site) -> tuple[Department, ...]:
        """The departments of a site, each with its stations.

        Raises:
            MistakesError: a department names a cart or station that the site does not have.
        """
        stations = tuple(station.id for station in site.station)
        carts = tuple(cart.id for cart in site.cart)
        if not self.departments:
            return shared_out(site)
        problems = [
            f"department '{department.id}', key '{key}': the site has no '{name}'; {meant(name, known)}"
            for department in self.departments
            for key, names, known in (("carts", department.carts, carts), ("stations", department.stations, stations))
            for name in names
            if name not in known
        ]
        if problems:
            raise MistakesError(*problems)
        return tuple(d.model_copy(update={"stations": d.stations or stations}) for d in self.departments)


def shared_out(site: Site) -> tuple[Department, ...]:
    """The carts of a site in departments of five: emergency, ward and clinic in turn, each with a station in turn."""
    carts, stations = [cart.id for cart in site.cart], [station.id for station in site.station]
    kinds: tuple[Kind, ...] = get_args(Kind)
    return tuple(
        Department(
            id=f"{kinds[number % len(kinds)]}-{number + 1}",
            kind=kinds[number % len(kinds)],
            carts=tuple(carts[first : first + _CARTS_PER_DEPARTMENT]),
            stations=(stations[number % len(stations)],) if stations else (),
        )
        for number, first in enumerate(range(0, len(carts), _CARTS_PER_DEPARTMENT))
    )


USUAL = Habits()
"""As people usually behave."""


def demo_pace(site: Site) -> Habits:
    """The same people with a patient every few minutes, so that something happens while one looks on."""
    carts = tuple(cart.id for cart in site.cart)
    arrivals = ArrivalHabits(exams_per_cart_day=150, night_share=1, peak_rise=0, weekend_share=1)
    exams = ExamHabits(
        exam_minutes=2,
        least_clean_seconds=10,
        most_clean_seconds=25,
        most_fetch_minutes=2,
        least_carry_seconds=10,
        most_carry_seconds=40,
        mucosa_share=0.03,
        blood_share=0.04,
    )
    busy = (Department(id="all", carts=carts, arrivals=arrivals, exams=exams),) if carts else ()
    return Habits(departments=busy, ways=WayHabits(least_roll_seconds=15, most_roll_seconds=40, most_walk_seconds=15))
