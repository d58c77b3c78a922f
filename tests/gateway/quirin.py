"""A record that is rich in names, none of which is a word of the program: what sharing it must not give away."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

from gateway.law import Law
from gateway.recording import Writer, gateway_heard
from gateway.sitefile import parse
from rules.acts import Access, Act, Acted
from rules.alert_commands import (
    Acknowledge,
    Decline,
    HandOver,
    PageTold,
    PauseSound,
    PutBack,
    Settle,
    Shelve,
    TakeOut,
    TakeOver,
    TryPages,
    Unshelve,
)
from rules.alert_events import AlertRaised, PageAsked
from rules.alert_words import Confirmation
from rules.commands import (
    Claim,
    Command,
    Contact,
    Discard,
    GelDiscarded,
    GelOpened,
    Input,
    Inspected,
    Placed,
    Pour,
    SensorFoundOff,
    StepsDone,
    Strike,
    StripRead,
    TopUp,
    Vouch,
    WipedDown,
)
from rules.figure_commands import SetFigures, WithdrawFigures
from rules.probe_words import Place, Step, Surface
from rules.readings import SECOND, Micros, Reading, SensorId, StripResult, Value

START = 1_772_000_000 * SECOND
"""25 February 2026, 06:13:20 UTC."""

SITE = """
[site]
id = "quirinhaus"
name = "Quirinhaus Sankt Alban"
timezone = "Europe/Vienna"
[broker]
url = "mqtts://zwingli.quirinhaus.example:8883"
username = "mqttalban"
password_env = "QUIRIN_SECRET"
[solution]
recorded = true
[reprocessing]
tracked = true
claim_roles = ["hygienelotse"]
vouch_roles = ["hygienelotse", "engineer"]
[care]
wipes = true
[alerts]
maintenance_roles = ["engineer", "gerätewart"]
[[shift]]
name = "Frühmette"
start = 06:00:00
end = 14:00:00
[[shift]]
name = "Vesper"
start = 14:00:00
end = 06:00:00
[[station]]
id = "zellerbad"
name = "Zellerbad Nord"
shifts = ["Frühmette"]
[[basin]]
id = "wanne-rosalia"
name = "Wanne Rosalia"
station = "zellerbad"
label = "quirinsud"
[[cabinet]]
id = "schrank-ottilie"
name = "Schrank Ottilie"
[[cart]]
id = "wagen-kunigund"
name = "Wagen Kunigund"
cords = ["konvexa", "lineara"]
[[cart]]
id = "wagen-afra"
name = "Wagen Afra"
cords = ["lineara"]
[[probe]]
id = "schallkopf-gallus"
name = "Schallkopf Gallus"
cart = "wagen-kunigund"
cord = "konvexa"
serial = "SERQ4711"
tag = "TAGQ0815"
price = 9000
[[probe]]
id = "schallkopf-beda"
name = "Schallkopf Beda"
cart = "wagen-afra"
cord = "lineara"
serial = "SERQ4712"
tag = "TAGQ0816"
chemistries = ["Quirinol glutaraldehyde"]
[[label]]
id = "quirinsud"
chemistry = "Quirinol glutaraldehyde"
min_minutes = 1
min_celsius = 20
reuse_days = 14
source = "Beipackzettel Quirinol"
[[sensor]]
thing = "wanne-rosalia"
name = "tag"
kind = "tag"
[[sensor]]
thing = "wanne-rosalia"
name = "badfuehler-zwei"
kind = "temperature"
topic = "haus/alban/fuehler"
value = "/messwert"
unit = "degF"
[[sensor]]
thing = "wagen-kunigund"
name = "contact"
kind = "contact"
[[sensor]]
thing = "luftfleck"
name = "vapour"
kind = "vapour"
[[role]]
id = "hygienelotse"
name = "Hygienelotse Dienst"
[[channel]]
id = "piepser"
kind = "snpp"
host = "pager.quirinhaus.example"
tls = "none"
username = "snppalban"
password_env = "PIEPSER_SECRET"
[[contact]]
id = "funk-walburga"
name = "Funk Walburga"
ways = [{ channel = "piepser", address = "5550199" }]
[[duty]]
role = "hygienelotse"
contacts = ["funk-walburga"]
start = 00:00:00
end = 00:00:00
[[duty_change]]
role = "hygienelotse"
start = 2026-02-27T08:00:00
end = 2026-02-27T09:00:00
contacts = []
[[route]]
name = "Weg der Walburga"
rules = ["soak-too-short", "kaltwacht-rosalia"]
places = ["wanne-rosalia"]
shifts = ["Frühmette"]
tiers = [{ roles = ["hygienelotse"] }]
[rules.cord-left-off]
suppressed_when = "name == 'Wagen Afra'"
[thresholds]
reclose_seconds = 20
[[rule]]
id = "kaltwacht-rosalia"
watches = "basin"
condition = "name == 'Wanne Rosalia' && temperature_known && solution_celsius < min_celsius - kaltgrad"
limits = { kaltgrad = { value = 0.5, low = 0, high = 5, unit = "Cel", text = "Kaltgrad", source = "Bruder Notker" } }
on_delay_seconds = { value = 5, low = 0, high = 60, source = "Bruder Notker" }
stands_until = "settled"
priority = "medium"
text = "{name}: Kaltwacht {solution_celsius:.1f}"
advice = "Frag Bruder Notker"
source = "Bruder Notker"
"""

SECRET_WORDS = (
    "quirin",
    "alban",
    "zwingli",
    "mqttalban",
    "hygienelotse",
    "wart",
    "mette",
    "vesper",
    "zeller",
    "wanne",
    "rosalia",
    "schrank",
    "ottilie",
    "wagen",
    "kunigund",
    "afra",
    "konvexa",
    "lineara",
    "schallkopf",
    "gallus",
    "beda",
    "SERQ",
    "TAGQ",
    "beipack",
    "badf",
    "luftfleck",
    "piepser",
    "pager.",
    "5550199",
    "funk",
    "walburga",
    "weg",
    "kaltwacht",
    "kaltgrad",
    "notker",
    "notkera",
    "ekkehard",
    "tuotilo",
    "LOSQ",
    "UNTQ",
    "geschrieben",
    "gesagt",
    "messwert",
    "haus/",
    "SECRET",
)
"""Parts of every name and text in it, whatever their case."""

WATER, LID = SensorId("wanne-rosalia/temperature"), SensorId("wanne-rosalia/lid")
WHO = "Notkera Ekkehard"
BASIN, PROBE, CART = "wanne-rosalia", "schallkopf-gallus", "wagen-kunigund"


def at(seconds: float) -> Micros:
    return Micros(START + round(seconds * SECOND))


def law() -> Law:
    return Law.of(parse(SITE, Path("quirin.toml")))


def said(sensor: str, seconds: float, value: Value) -> Reading:
    return Reading(SensorId(sensor), at(seconds - 0.25), at(seconds), value)


def soak(begin: float, length: float, celsius: float = 22.0, tag: str = "TAGQ0815") -> list[Input]:
    """A soak with a tag beside it, and its end."""
    inputs: list[Input] = []
    for second in range(0, round(length) + 60, 5):
        now = begin + second
        inputs += [said(WATER, now, celsius), said(LID, now, second < length)]
        if second % 20 == 0:
            inputs.append(said(f"{BASIN}/tag", now, f"{tag} TAGQ9999" if second < length else ""))
            inputs.append(said("luftfleck/vapour", now, 0.4))
    return inputs


def entries(begin: float) -> Iterator[Command]:
    """Every entry that people make at a basin, with a probe and at a cart, and each way to correct one."""
    done = {"who": WHO, "arrived": at(begin), "measured": at(begin - 60)}
    yield Pour(
        basin=BASIN, lot="LOSQ77", label="quirinsud", printed_expiry=date(2027, 1, 1), opened=date(2026, 2, 1), **done
    )
    yield TopUp(basin=BASIN, lot="LOSQ78", **done)
    yield StripRead(
        basin=BASIN, result=StripResult.PASS, lot="LOSQ79", expiry=date(2027, 1, 1), dipped=at(begin - 90), **done
    )
    yield Contact(probe=PROBE, surface=Surface.MUCOSA, exam="UNTQ12", covered=True, **done)
    yield StepsDone(probe=PROBE, steps=(Step.COVER_OFF, Step.WASHED, Step.DRIED), **done)
    yield Placed(probe=PROBE, place=Place.CABINET, thing="schrank-ottilie", **done)
    yield Inspected(probe=PROBE, sound=True, remark="geschrieben von Tuotilo", **done)
    yield Vouch(probe="schallkopf-beda", role="hygienelotse", why="gesagt hat es Tuotilo", **done)
    yield WipedDown(cart=CART, **done)
    yield GelOpened(cart=CART, opened=date(2026, 2, 20), lot="LOSQ80", **done)
    wrong = GelDiscarded(cart="wagen-afra", **done)
    yield wrong
    yield Strike(who="Tuotilo", arrived=at(begin), entry=wrong, why="gesagt, nicht getan")


def day(seconds: float) -> list[Input]:
    """What happens on one day: soaks, rolling carts, cold water, and what people do."""
    roll = [said(f"{cart}/motion", seconds + 400 + n, n < 20) for n in range(25) for cart in (CART, "wagen-afra")]
    hooks = [
        said(f"{CART}/hook-konvexa", seconds + 390, value=False),
        said("wagen-afra/hook-lineara", seconds + 390, value=False),
    ]
    late = Discard(who="Tuotilo", arrived=at(seconds + 1500), measured=at(seconds + 1490), basin=BASIN)
    off = SensorFoundOff(
        who=WHO, arrived=at(seconds + 1510), sensor=WATER, since=at(seconds), error_celsius=1.5, why="geschrieben"
    )
    claim = Claim(
        who=WHO,
        arrived=at(seconds + 800),
        measured=at(seconds + 210),
        probe=PROBE,
        soak=f"{BASIN}.2",
        role="hygienelotse",
    )
    return [
        *entries(seconds),
        *soak(seconds + 20, 90),
        *soak(seconds + 200, 30, tag=""),
        said(f"{CART}/contact", seconds + 350, "mucosa"),
        *hooks,
        *sorted(roll, key=lambda reading: reading.arrived),
        *soak(seconds + 600, 90, celsius=18.5),
        claim,
        late,
        off,
    ]


def answers(raised: list[str], pages: list[str], now: Micros) -> Iterator[Command]:
    """Every way to answer alerts and pages, to put aside, to take out of service, and to change figures."""
    by = {"who": WHO, "arrived": now}
    yield TryPages(**by)
    for page in pages:
        yield PageTold(
            who="gateway", arrived=now, page=page, outcome=Confirmation.ACCEPTED, detail="gesagt von zwingli"
        )
    names = iter(raised * 8)
    yield Acknowledge(alert=next(names), **by)
    yield Decline(alert=next(names), **by)
    yield HandOver(alert=next(names), role="hygienelotse", **by)
    taken = next(names)
    yield Acknowledge(alert=taken, **by)
    yield TakeOver(alert=taken, holder=WHO, **{**by, "who": "Tuotilo"})
    yield Settle(alert=next(names), why="gesagt, getan", **by)
    yield Shelve(alert=next(names), minutes=5, why="geschrieben", **by)
    yield Unshelve(alert=next(names), **by)
    yield TakeOut(thing=CART, rule="cord-left-off", role="gerätewart", why="geschrieben", **by)
    yield PutBack(thing=CART, rule="cord-left-off", role="gerätewart", **by)
    yield TakeOut(thing=WATER, role="engineer", why="geschrieben", **by)
    yield PauseSound(minutes=5, **by)
    values = {
        "rule.kaltwacht-rosalia.limits.kaltgrad": 0.75,
        "rule.soak-cold.on_delay_seconds": 10,
        "threshold.jump_celsius": 4,
    }
    yield SetFigures(role="engineer", values=values, why="geschrieben", **by)
    yield Acted(
        key="0123456789abcdef",
        measured=now,
        access=Access.ENGINEER,
        act=Act.PERSON_ADDED,
        about="Quirin Alban, responder",
        **by,
    )
    yield WithdrawFigures(role="engineer", names=("threshold.jump_celsius",), why="gesagt", **by)


def record(folder: Path) -> None:
    """Two days; on the second another site file takes over, in which a cart has another name."""
    with Writer.new(folder, law()) as writer:
        events = writer.take([*gateway_heard(at(-100)), *day(0)])
        raised = [event.alert for _, event in events if isinstance(event, AlertRaised)]
        pages = [event.page for _, event in events if isinstance(event, PageAsked)]
        writer.take(list(answers(raised, pages, writer.now)))
        other = SITE.replace("Wagen Afra", "Wagen Tuotilo").replace('"wagen-afra"', '"wagen-tuotilo"')
        writer.advance(at(86_000))
        writer.hand_over(Law.of(parse(other, Path("quirin.toml"))))
        writer.take(day(86_400))
        writer.advance(at(90_000))
