"""What is said where there is no alert: calm only where nothing on the same screen says otherwise."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from dashboard.basins import ALARMS, NEEDS_NOBODY, BasinView, why
from dashboard.carts import LOOK_WORDS, NEEDS_A_LOOK, Care, CartView
from dashboard.fitness import URGENCY, WAITS
from dashboard.measure import PLAIN, lines
from dashboard.panel import LYING, Panel
from dashboard.solution import Standing
from dashboard.words import counted, listed
from rules.picture import Picture, SensorPicture
from rules.readings import GATEWAY_LINK, GATEWAY_STORE, SensorKind

CALM = "Nothing needs a person now, as far as measured."
DEAF = "No sensor is heard: look at every basin and cart yourself."
NEW_SITE = "No sensor has spoken yet: /set-up says what to publish."
MOST_LINES, MOST_NAMED = 2, 4
"""More names than these have no room in so many lines."""
ENGINEER = "The engineer is needed: see above."


def quiet(
    picture: Picture, basins: Sequence[BasinView], carts: Sequence[CartView], panel: Panel = LYING, *, troubled: bool
) -> str:
    """Calm where every sensor is well and no basin or cart waits for anybody; else what to look at, or do first.

    troubled: whether the head of the page tells of trouble.
    """
    outside = [sensor for sensor in picture.sensors if not is_own(sensor)]
    if picture.hearing and outside and not any(sensor.value is not None for sensor in outside):
        return NEW_SITE
    if not picture.hearing or not any(sensor.health == "ok" for sensor in outside):
        return DEAF
    look = sorted(_waiting(picture, basins, carts, outside), key=lambda one: one.turn)
    if not look:
        return ENGINEER if troubled else CALM
    is_red = any(basin.say.tone in ALARMS for basin in basins) or any(
        cart.care is Care.ROLLS_CORD_OFF for cart in carts
    )
    begin = "Look also at" if troubled else "Look at" if is_red else "No alert. Look at"
    return _look_at(look, begin, panel)


@dataclass(frozen=True, slots=True)
class _Waiting:
    """Something to be looked at: turn: lower ones sooner; kind, number: as it is counted; said: which, and why."""

    turn: int
    kind: str
    said: str
    number: int = 1


def _waiting(
    picture: Picture, basins: Sequence[BasinView], carts: Sequence[CartView], sensors: Sequence[SensorPicture]
) -> Iterator[_Waiting]:
    """What is red comes first; then by what it is."""
    for basin in basins:
        if _waits(basin):
            yield _Waiting(0 if basin.say.tone in ALARMS else 2, "basin", f"{basin.name}: {why(basin)}")
    for cart in carts:
        if cart.care in NEEDS_A_LOOK:
            yield _Waiting(1, "cart", f"{cart.name.text}: {LOOK_WORDS[cart.care]}")
    probes = (probe for probe in picture.probes if probe.standing.fitness in WAITS)
    for probe in sorted(probes, key=lambda probe: URGENCY.index(probe.standing.fitness)):
        yield _Waiting(3, "probe", f"{probe.name} ({probe.cart_name}): {probe.standing.fitness.value}")
    names = {basin.id: basin.name for basin in picture.basins}
    for soak in picture.unclaimed:
        yield _Waiting(4, "unknown soak", f"{names.get(soak.basin, soak.basin)}: which probe was soaked?")
    unwell = [sensor for sensor in sensors if is_unwell(sensor)]
    if unwell:
        yield _Waiting(5, "sensor", f"{counted(len(unwell), 'sensor')} ({_where(unwell, picture)})", len(unwell))


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


def _look_at(waiting: Sequence[_Waiting], begin: str, panel: Panel) -> str:
    """As many by name as there is room for, the rest counted."""
    for named in range(min(len(waiting), MOST_NAMED), -1, -1):
        kinds = Counter[str]()
        for one in waiting[named:]:
            kinds[one.kind] += one.number
        rest = [
            counted(number, f"more {kind}" if named and n == 0 else kind)
            for n, (kind, number) in enumerate(kinds.items())
        ]
        for parts in (rest, [counted(kinds.total(), "more thing" if named else "thing")] if rest else []):
            said = "; ".join([*(one.said for one in waiting[:named]), *([listed(parts)] if parts else [])])
            words = said if said.endswith("?") else f"{said}."
            words = f"{begin} {words}"
            if lines(words, panel.key_ems, PLAIN) <= MOST_LINES:
                return words
    return words


def _waits(basin: BasinView) -> bool:
    """A strip that is due waits for whoever soaks next, and for nobody now."""
    return basin.say.tone not in NEEDS_NOBODY or basin.held != "" or basin.solution.standing is Standing.BAD


def is_own(sensor: SensorPicture) -> bool:
    """Whether it is one of the gateway's own two."""
    return sensor.id in {GATEWAY_LINK, GATEWAY_STORE}


def is_unwell(sensor: SensorPicture) -> bool:
    """Whether nothing can be known by it now; a device need not say whether it is connected."""
    return sensor.health != "ok" and not (sensor.kind is SensorKind.LINK and sensor.health == "never heard")
