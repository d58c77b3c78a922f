"""The life of a ward: its people, and what befalls it, from its epoch on."""

from rules.readings import Micros
from sim_devices.chance import Chance
from sim_devices.staff.basin_room import BasinRoom
from sim_devices.staff.cart_care import CartCare
from sim_devices.staff.exams import Exams
from sim_devices.staff.habits import Habits
from sim_devices.staff.hands import Hands
from sim_devices.staff.patients import Patients, Visit
from sim_devices.staff.reprocessing import Reprocessing
from sim_devices.staff.rooms import Rooms
from sim_devices.staff.solutions import Solutions
from sim_devices.ward.first_deeds import first_deeds
from sim_devices.ward.ward import Ward


class Life:
    """People as processes of simulated time. Who they are and what they do follows from habits and chance alone.

    A ward in which nothing was done yet is first made ready: solution poured, carts wiped, probes answered for.
    begins: when people come to work, not before the ward's epoch; left out, at it.
    """

    def __init__(self, ward: Ward, habits: Habits, chance: Chance, begins: Micros | None = None) -> None:
        """Raises: MistakesError: the habits name a cart or station that the site does not have."""
        departments = habits.departments_of(ward.site)
        self._hands = hands = Hands(ward, chance, begins)
        if not ward.log:
            for deed in first_deeds(ward):
                ward.do(ward.epoch, deed)
        technicians = round(habits.sinks.technicians)
        rooms = {station: BasinRoom(hands, station, technicians) for station in ward.rooms}
        Rooms(hands, habits.rooms)
        reprocessing = Reprocessing(hands, habits, rooms, Solutions(hands, habits, rooms))
        exams = Exams(hands, habits, reprocessing)
        self._patients = [Patients(hands, department, exams.examine) for department in departments]
        CartCare(hands, habits.carts)
        hands.start(reprocessing.go_on())

    def live(self, until: Micros) -> None:
        """Everything that people do before ``until`` is done; what they do at that very instant is not.

        Nothing may be done in the ward by others after ``until`` before this is called.
        """
        span = until - self._hands.begins
        if span > self._hands.env.now:
            self._hands.env.run(until=span)

    @property
    def refused(self) -> int:
        """So many deeds could not be done, as others had changed the ward meanwhile."""
        return self._hands.refused

    def visits(self) -> list[Visit]:
        """Patients whose exams are over, by department and then by their ends; of long lives the newest."""
        return [visit for patients in self._patients for visit in patients.visits]
