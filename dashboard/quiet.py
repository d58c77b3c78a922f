"""What is said where there is no alert: calm only where nothing on the same screen says otherwise."""

from collections.abc import Sequence

from dashboard.basins import NEEDS_NOBODY, BasinView
from dashboard.carts import NEEDS_A_LOOK, CartView
from dashboard.fitness import WAITS
from dashboard.measure import PLAIN, lines
from dashboard.panel import LYING, Panel
from dashboard.solution import Standing
from dashboard.words import counted, listed
from rules.picture import Picture, SensorPicture
from rules.readings import GATEWAY_LINK, GATEWAY_STORE, SensorKind

CALM = "Nothing needs a person now, as far as measured."
DEAF = "No sensor is heard: nothing is known of what needs a person."
NEW_SITE = "No sensor has spoken yet: /set-up says what to publish."
ENGINEER = "The engineer is needed: see above."


def quiet(
    picture: Picture, basins: list[BasinView], carts: list[CartView], panel: Panel = LYING, *, troubled: bool
) -> str:
    """Calm where every sensor is well and no basin or cart waits for anybody; else what to look at, or do first.

    troubled: whether the head of the page tells of trouble.
    """
    outside = [sensor for sensor in picture.sensors if not is_own(sensor)]
    if picture.hearing and outside and not any(sensor.value is not None for sensor in outside):
        return NEW_SITE
    if not picture.hearing or not any(sensor.health == "ok" for sensor in outside):
        return DEAF
    waiting = [
        (sum(map(_waits, basins)), "basin"),
        (sum(cart.care in NEEDS_A_LOOK for cart in carts), "cart"),
        (sum(is_unwell(sensor) for sensor in outside), "sensor"),
        (sum(probe.standing.fitness in WAITS for probe in picture.probes), "probe"),
        (len(picture.unclaimed), "unclaimed soak"),
    ]
    look = [(number, what) for number, what in waiting if number]
    if look:
        return _look_at(look, "Look also at" if troubled else "No alert now, but look at", panel)
    return ENGINEER if troubled else CALM


def _look_at(waiting: Sequence[tuple[int, str]], begin: str, panel: Panel) -> str:
    """In one line of a lying wall, two of an upright one; what has no room there is counted together."""
    for named in range(len(waiting), 0, -1):
        others = sum(number for number, _ in waiting[named:])
        parts = [counted(number, what) for number, what in waiting[:named]]
        words = f"{begin} {listed([*parts, *([counted(others, 'other')] if others else [])])}."
        if lines(words, panel.key_ems, PLAIN) <= panel.under_lines:
            break
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
