"""Addresses of every page that people can open, and a picture with something in everything that they show."""

from dataclasses import replace

from gateway.hub import Feed, RecordHead
from rules.air import VapourLimit
from rules.call_picture import RolePicture
from rules.figure_picture import FigurePicture
from rules.picture import OutPicture, RoomPicture
from rules.readings import Micros, SensorId
from tests.dashboard.pictures import busy, rejected
from tests.dashboard.probe_pictures import not_proven, owing, probe, unclaimed, with_probes

PAGES = [
    "/basins",
    "/basin/basin-1",
    "/probes",
    "/probes?find=nothing",
    "/probe/linear-1",
    "/cart/cart-1",
    "/alerts",
    "/alert/a-1",
    "/alert/none",
    "/duty",
    "/live",
    "/set-up",
    "/logbook",
    "/logbook/soaks",
    "/logbook/soak/basin-1.1",
    "/logbook/probes",
    "/logbook/probe/linear-1",
    "/logbook/probe/curved-1?at=2023-11-14+22:30",
    "/logbook/solutions",
    "/logbook/alerts",
    "/logbook/happened?from=2023-11-14&from-time=22:13",
    "/logbook/rejected",
    "/logbook/actions",
    "/logbook/soaks?text=no+such&verdict=too+cold&from=2023-11-01",
    "/logbook/look-back",
    "/logbook/look-back?what=lot&lot=L1",
    "/logbook/day/room/2023-11-14",
    "/logbook/entry/8",
    "/logbook/soak/none",
    "/pages",
    "/load",
    "/bench",
    "/bench/job/1",
    "/bench/tune?rule=cord-down-rolling&rule=moved-plugged-in",
    "/bench/situations",
    "/bench/hands?do=set-celsius&basin=basin-2&celsius=12",
    "/bench/figures?figure=rule.cord-down-rolling.on_delay_seconds",
    "/guide",
    "/guide/engineer",
    "/me",
    "/people",
    "/people/ana",
    "/nowhere",
]
ON_PAPER = [
    "/logbook/day/room/2023-11-14",
    "/logbook/soaks",
    "/logbook/probes",
    "/logbook/solutions",
    "/logbook/alerts",
    "/logbook/actions",
]
BEFORE_SIGNING_IN = ["/sign-in", "/invited", "/display"]


def everything(at: Micros, figures: tuple[FigurePicture, ...]) -> Feed:
    """A picture with something in everything that a page can show."""
    probes = (
        probe("Linear probe 1", owing(at=at)),
        probe("Curved probe 1", not_proven(at=at)),
        probe("Small probe 1"),
    )
    vapour = RoomPicture(SensorId("room/vapour"), "Soak room", 0.04, at, None, (), LIMITS, 10, (28, 42))
    shown = replace(
        with_probes(*probes, shown=busy(at).picture, soaks=(unclaimed(at=at),)),
        rooms=(vapour,),
        roles=(RolePicture("tech", "Technician", (), None), RolePicture("nurse", "Nurse", ("Pager",), at)),
        out=(OutPicture("basin-2", None, at, "Ana", "new pump"),),
        figures=figures,
    )
    return Feed(shown, (rejected(at=at),), warnings=("0.1 GB are free.",), head=RecordHead(12, bytes(32), at))


LIMITS = (VapourLimit("glutaraldehyde", 0.05, "ceiling", "ours, for tests"),)
