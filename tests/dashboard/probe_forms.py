"""What people send by the forms of a probe's page, and what an engine may say to it."""

import re
from html import unescape

from httpx import Client, Response

from gateway.hub import Feed, Hub
from rules.probe_events import ProbeSoaked, ProbeStands, ProbeTouched
from rules.probe_words import Fitness, Place, Surface
from rules.readings import SECOND, Micros, Reading
from rules.spaulding import level_owed
from rules.verdict import Outcome, Verdict
from tests.dashboard.pictures import NOON, basin, cart, picture
from tests.dashboard.probe_pictures import PREMISES, owing, probe, unclaimed, with_probes
from tests.dashboard.serving import Desk
from tests.dashboard.visitors import script
from tests.rules.feeder import LID, TEMPERATURE

AT = Micros(2**52)
CONTACT = {"who": "Ana", "surface": "mucosa", "covered": "yes", "needle": "no", "exam": "U-17"}
STEPS = {"who": "Ana", "step:washed": "1", "step:cover off": "1", "times": "3"}
CLAIM = {"who": "Ana", "soak": "basin-1-7", "role": "technician", "put_in": "2"}
VOUCH = {"who": "Ana", "vouch_role": "charge nurse", "why": "taken into service"}
STERILISED = {"who": "Ana", "vouch_role": "charge nurse", "cycle": "hydrogen peroxide gas plasma, load 12"}
INSPECTED = {"who": "Ana", "sound": "no", "remark": "crack in the lens"}


def follow_probes(hub: Hub) -> None:
    """A picture ahead of the machine's clock: the gateway's time stands at the picture's, as it is never behind it."""
    shown = picture(basin(at=AT), basin("Basin 2", at=AT), carts=(cart(),), at=AT)
    probes = (probe("Linear probe 1", owing(at=AT)), probe("Convex probe 1", sensed=True))
    hub.publish(Feed(with_probes(*probes, shown=shown, soaks=(unclaimed(at=AT),))))


def send(client: Client, deed: str, fields: dict[str, str], name: str = "linear-1") -> Response:
    return client.post(f"/probe/{name}/{deed}", data=fields, headers=script(client))


def words(client: Client, path: str = "/probe/linear-1") -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", client.get(path).text)).split())


def token(client: Client) -> str:
    return re.findall(r'name="token" value="([^"]+)"', client.get("/probe/linear-1").text)[0]


def share() -> ProbeSoaked:
    """Another word on the soak that is claimed, as a late reading brings it about."""
    verdict = Verdict(
        outcome=Outcome.EXPOSURE_MET,
        reasons=(),
        credited_start=None,
        credited_end=None,
        credited_seconds=735,
        needed_seconds=720,
        min_celsius=20,
        guard_celsius=0.5,
    )
    told = {"at": NOON, "probe": "linear-1", "measured": NOON, "who": None, "role": None, "end": NOON}
    return ProbeSoaked.model_validate({**told, "soak": "basin-1-7", "basin": "basin-1", "verdict": verdict})


def stands(probe: str = "linear-1") -> ProbeStands:
    told = {"at": NOON, "probe": probe, "measured": NOON, "who": None, "owes": None, "place": Place.SINK, "thing": None}
    return ProbeStands.model_validate({**told, "fitness": Fitness.READY, "why": ""})


def soaked(desk: Desk) -> None:
    """The engine's basin has soaked something for 13 minutes at 21 Cel, an hour before the picture's time."""
    begin = Micros(AT - 3600 * SECOND)
    times = [Micros(begin + 10 * n * SECOND) for n in range(86)]
    for n, at in enumerate(times):
        desk.engine.apply(Reading(TEMPERATURE, at, at, 21.0))
        desk.engine.apply(Reading(LID, at, at, 2 <= n < 80))
    desk.engine.advance(Micros(AT - 60 * SECOND))


def touched(probe: str, *, withdrawn: bool = False) -> ProbeTouched:
    told = {"at": NOON, "probe": probe, "measured": NOON, "who": "Ben", "surface": Surface.SKIN, "covered": None}
    level = level_owed(Surface.SKIN, covered=None, percutaneous=False, internal=False, policy=PREMISES.policy)
    more = {"percutaneous": False, "exam": None, "level": level, "withdrawn": withdrawn}
    return ProbeTouched.model_validate({**told, **more})
