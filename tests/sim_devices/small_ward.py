"""A ward of two carts and two basins in which a test does everything itself, second by second."""

from collections.abc import Mapping
from typing import Any

from rules.board import Subject, SubjectKind
from rules.readings import Micros, SensorId
from rules.site import Label, Site
from sim_devices.chance import Chance
from sim_devices.troubles.episode import Episode, Trouble
from sim_devices.troubles.found import episodes
from sim_devices.troubles.look import Look
from sim_devices.troubles.standing import Standing, Truth
from sim_devices.ward import deeds
from sim_devices.ward.deeds import DEED
from sim_devices.ward.figures import WardFigures
from sim_devices.ward.ward import Ward

EPOCH = Micros(1_790_000_000_000_000)
"""2026-09-21 14:13:20 in UTC."""

HOUR = 3600


def site_of(label: str = "opa-0.55-manual", **further: Any) -> Site:
    """A site whose basins are for one label; further: tables of the site file."""
    parts: dict[str, Any] = {
        "site": {"id": "small", "name": "Small"},
        "station": [{"id": "room", "name": "Room"}],
        "basin": [{"id": f"basin-{n}", "name": f"Basin {n}", "station": "room", "label": label} for n in (1, 2)],
        "cabinet": [{"id": "cabinet", "name": "Cabinet"}],
        "cart": [{"id": f"cart-{n}", "name": f"Cart {n}", "cords": ["a", "b"]} for n in (1, 2)],
        "probe": [
            {"id": f"{c}-{n}", "name": f"Probe {c}{n}", "cart": f"cart-{n}", "cord": c, "tag": f"T-{c}-{n}"}
            for n in (1, 2)
            for c in ("a", "b")
        ],
        "solution": {"recorded": True},
        "reprocessing": {"tracked": True},
        "sensor": [{"thing": f"basin-{n}", "name": "tag", "kind": "tag"} for n in (1, 2)],
    }
    return Site.model_validate(parts | further)


class SmallWard:
    """``at`` is in seconds since the ward began; rooms and solutions keep one temperature, the heaters are broken."""

    def __init__(self, labels: Mapping[str, Label], site: Site | None = None, celsius: float = 21) -> None:
        self.ward = Ward(site or site_of(), labels, EPOCH, Chance(1), WardFigures(room_celsius=celsius))
        for basin in self.ward.basins:
            self.ward.do(EPOCH, deeds.Heater(basin=basin, works=False))
            self.ward.do(EPOCH, deeds.OpenLid(basin=basin))
            self.ward.do(EPOCH, deeds.Pour(basin=basin, celsius=celsius))
            self.ward.do(EPOCH, deeds.CloseLid(basin=basin))

    def do(self, at: float, do: str, **keys: Any) -> "SmallWard":
        self.ward.do(instant(at), DEED.validate_python({"do": do} | keys))
        return self

    def soak(self, start: float, end: float, probe: str = "a-1", basin: str = "basin-1", **bring: Any) -> "SmallWard":
        """The probe lies under a closed lid from start to end."""
        self.do(start - 5, "open-lid", basin=basin).do(start, "bring", probe=probe, place="basin", thing=basin, **bring)
        self.do(start, "close-lid", basin=basin).do(end, "open-lid", basin=basin)
        return self.do(end, "bring", probe=probe, place="in hands")

    def exam(self, start: float, end: float, surface: str, probe: str = "a-1") -> "SmallWard":
        """It touches a patient at the start and hangs again at the end."""
        cord, number = probe.split("-")
        self.do(start, "take-down", cart=f"cart-{number}", cord=cord).do(start, "touch", probe=probe, surface=surface)
        return self.do(end, "hang-up", cart=f"cart-{number}", cord=cord)

    def found(self, trouble: Trouble, until: float, after: float = 0) -> list[tuple[str, float, float | None]]:
        """Id of the subject, start and end in seconds of each such episode."""
        told = episodes(self.ward, instant(after), instant(until))
        return [(e.subject.id, seconds(e.start), seconds(e.end)) for e in told if e.trouble is trouble]

    def all(self, until: float) -> list[Episode]:
        return episodes(self.ward, EPOCH, instant(until))

    def standing(self, until: float, probe: str = "a-1") -> Standing:
        return Look.back(self.ward, instant(until)).standings[probe]

    def truth(self, at: float, probe: str = "a-1") -> Truth:
        return self.standing(at + 1, probe).truth(instant(at))


def instant(seconds_since: float) -> Micros:
    return Micros(EPOCH + round(seconds_since * 1_000_000))


def seconds(at: Micros | None) -> Any:
    """Since the ward began; None stays None."""
    return None if at is None else (at - EPOCH) / 1_000_000


def sensor(name: str) -> Subject:
    return Subject(SubjectKind.SENSOR, SensorId(name))
