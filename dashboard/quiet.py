"""What is said where there is no alert: calm only where nothing on the same screen says otherwise."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from operator import itemgetter

from dashboard.basins import ALARMS, NEEDS_NOBODY, BasinView, Tone
from dashboard.carts import NEEDS_A_LOOK, Care, CartView
from dashboard.fitness import URGENCY, WAITS, to_do_with
from dashboard.free import elsewhere, serves
from dashboard.measure import PLAIN, lines
from dashboard.panel import LYING, Panel
from dashboard.readiness import NO_TAG
from dashboard.solution import ENTER_STRIP, Standing
from dashboard.words import NOT_KNOWN, PHONE_SENSORS, counted, listed
from rules.picture import BasinPicture, Picture, SensorPicture
from rules.probe_words import Fitness
from rules.readings import GATEWAY_LINK, GATEWAY_STORE, SensorKind

DEAF = "Watch every basin and cart yourself, tell the engineer"
NEW_SITE = "No sensor has spoken yet: /set-up says what to publish"
ENGINEER = "Call the engineer"
CALM = "Nothing to do now"
MEASURED = "As far as sensors and entries tell."
MOST_NAMED = 3
"""Of what is told behind the first; more names than these have no room in so many lines."""


@dataclass(frozen=True, slots=True)
class Quiet:
    """What stands where no alert does: first: what is to be done first; also: what next, in smaller letters.

    forbids: whether it forbids a use that endangers a patient, for which nobody is called.
    """

    first: str
    also: str = ""
    forbids: bool = False

    @property
    def words(self) -> str:
        """Both as sentences."""
        return f"{self.first}. {self.also}".strip()


def quiet(
    picture: Picture, basins: Sequence[BasinView], carts: Sequence[CartView], panel: Panel = LYING, *, troubled: bool
) -> Quiet:
    """Calm where every sensor is well and no basin or cart waits for anybody; else what to do first.

    troubled: whether the head of the page tells of trouble.
    """
    outside = [sensor for sensor in picture.sensors if not is_own(sensor)]
    if picture.hearing and outside and not any(sensor.value is not None for sensor in outside):
        return Quiet(NEW_SITE)
    if not picture.hearing or not any(sensor.health == "ok" for sensor in outside):
        return Quiet(DEAF, "No sensor is heard: what stands below is how it was, not how it is.")
    look = sorted(_waiting(picture, basins, carts, outside), key=lambda one: one.turn)
    if look:
        return _look_at(look, panel)
    return Quiet(ENGINEER, "The line above says why.") if troubled else Quiet(CALM, _next(basins))


def _next(basins: Sequence[BasinView]) -> str:
    """Which soak is done first, where one runs."""
    counting = [(basin.countdown.until_ms, basin) for basin in basins if basin.countdown]
    if not counting:
        return MEASURED
    _, first = min(counting, key=itemgetter(0))
    return f"Next: take {_whose(first)} out of {first.name}, {first.say.rows[0]}."


@dataclass(frozen=True, slots=True)
class _Waiting:
    """Something to be done: turn: lower ones sooner; kind, number: as it is counted; said: what, of which, and why."""

    turn: int
    kind: str
    said: str
    number: int = 1

    @property
    def forbids(self) -> bool:
        """Whether it forbids a use."""
        return self.said.startswith(_DO_NOT_USE)


_DO_NOT_USE = "do not use"


def _waiting(
    picture: Picture, basins: Sequence[BasinView], carts: Sequence[CartView], sensors: Sequence[SensorPicture]
) -> Iterator[_Waiting]:
    """What is amiss now comes first; then by what it is."""
    for basin, of in zip(basins, picture.basins, strict=True):
        if _waits(basin):
            yield _Waiting(0 if basin.say.tone in ALARMS else 2, "basin", _to_do(basin, of, picture))
    for cart in carts:
        if cart.care in NEEDS_A_LOOK:
            yield _Waiting(1, "cart", _CART_DEEDS[cart.care].format(cart.name.text))
    probes = (probe for probe in picture.probes if probe.standing.fitness in WAITS)
    for probe in sorted(probes, key=lambda probe: URGENCY.index(probe.standing.fitness)):
        turn = 1 if probe.standing.fitness is Fitness.NOT_PROVEN else 3
        yield _Waiting(turn, "probe", to_do_with(f"{probe.name} ({probe.cart_name})", probe.standing))
    names = {basin.id: basin.name for basin in picture.basins}
    for soak in picture.unclaimed:
        yield _Waiting(4, "soak", f"enter which probe soaked in {names.get(soak.basin, soak.basin)}")
    unwell = [sensor for sensor in sensors if is_unwell(sensor)]
    if unwell:
        said = f"look at {counted(len(unwell), 'sensor')} without a signal ({_where(unwell, picture)})"
        yield _Waiting(5, "sensor", said, len(unwell))


def _to_do(basin: BasinView, of: BasinPicture, picture: Picture) -> str:
    """What to do about a basin that waits for somebody, and why, as an order."""
    say, name = basin.say, basin.name
    said = " ".join(say.brief or say.big).replace(":", ",")
    words = f"{said[:1].lower()}{said[1:]}"
    whose = _whose(basin)
    if say.tone in _LOOKED_AT:
        is_cold = of.soak is not None and of.warm_enough is False and say.tone in (Tone.COLD, Tone.NEVER)
        return f"{_out_of_the_cold(of, whose, picture)}{_TOO_COLD}" if is_cold else f"look at {name}: {words}"
    if say.tone is Tone.MET:
        return f"take {whose} out of {name}"
    if basin.countdown and basin.held:
        return f"leave {whose} in {name} until {say.rows[0].removeprefix('done ')}"
    if say.tone is Tone.FELL_SHORT or basin.held:
        why = words if say.tone is Tone.FELL_SHORT else basin.held
        return f"{_DO_NOT_USE} {whose} from {name}, soak it again: {why}"
    if basin.solution.first == ENTER_STRIP:
        return f"enter the test strip of {name}"
    return f"{'look at' if basin.countdown else 'do not soak in'} {name}: {basin.solution.first}"


_TOO_COLD = ": too cold"
_LOOKED_AT = frozenset({Tone.COLD, Tone.NEVER, Tone.LIFTED, Tone.UNKNOWN})


def _out_of_the_cold(basin: BasinPicture, whose: str, picture: Picture) -> str:
    """As the alert about it orders, which comes once it has lasted."""
    if any(serves(other) for other in picture.basins if other is not basin):
        return f"move {whose} from {basin.name} to {elsewhere(basin, picture)}"
    return f"warm the solution in {basin.name} as its label allows"


def _whose(basin: BasinView) -> str:
    return basin.inside[0] if len(basin.inside) == 1 and basin.inside[0] != NO_TAG else "the probe"


_CART_DEEDS = {
    Care.ROLLS_CORD_OFF: "stop {}: hang up its cord",
    Care.ROLLS_NOT_KNOWN: f"look at {{}}: rolls, cords {NOT_KNOWN}",
}


def _where(sensors: Sequence[SensorPicture], picture: Picture) -> str:
    """``Cart 1``; of several things ``6 carts and 1 basin``."""
    things = {sensor.id.partition("/")[0]: sensor.thing_name for sensor in sensors}
    if len(things) == 1:
        return next(iter(things.values()))
    kinds = {
        **dict.fromkeys((c.id for c in picture.carts), "cart"),
        **dict.fromkeys((b.id for b in picture.basins), "basin"),
    }
    counts = Counter(kinds.get(thing, "place") for thing in things)
    return listed([counted(number, kind) for kind, number in counts.items()])


def _look_at(waiting: Sequence[_Waiting], panel: Panel) -> Quiet:
    """The first as an order; of the others as many by name as there is room for, the rest counted."""
    said, forbids = waiting[0].said, waiting[0].forbids
    first, rest = f"{said[:1].upper()}{said[1:]}", waiting[1:]
    if lines(first, panel.key_ems) > 1:
        first = first.removesuffix(_TOO_COLD)  # its basin says so, too
    if not rest:
        return Quiet(first, forbids=forbids)
    for named in range(min(len(rest), MOST_NAMED), -1, -1):
        words = f"Then: {_listed(rest, named)}."
        if lines(words, panel.line_ems, PLAIN) <= panel.also_lines:
            break
    return Quiet(first, words, forbids)


def _listed(rest: Sequence[_Waiting], named: int) -> str:
    kinds = Counter[str]()
    for one in rest[named:]:
        kinds[one.kind] += one.number
    said = [one.said for one in rest[:named]]
    if kinds:
        counts = listed([counted(number, f"more {kind}" if named else kind) for kind, number in kinds.items()])
        said.append(f"{counts} ({PHONE_SENSORS if 'sensor' in kinds else 'below'})")
    return "; ".join(said)


def _waits(basin: BasinView) -> bool:
    """A strip that is due waits for whoever soaks next, and for nobody now."""
    return basin.say.tone not in NEEDS_NOBODY or basin.held != "" or basin.solution.standing is Standing.BAD


def is_own(sensor: SensorPicture) -> bool:
    """Whether it is one of the gateway's own two."""
    return sensor.id in {GATEWAY_LINK, GATEWAY_STORE}


def is_unwell(sensor: SensorPicture) -> bool:
    """Whether nothing can be known by it now; a device need not say whether it is connected."""
    return sensor.health != "ok" and not (sensor.kind is SensorKind.LINK and sensor.health == "never heard")
