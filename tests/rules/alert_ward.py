"""A ward with one rule on a cord, and what people do about the alert that it raises."""

from rules.alert_commands import (
    AlertCommand,
    Shelve,
)
from rules.alert_words import State
from rules.events import Event
from rules.picture import AlertPicture
from rules.site import Site
from tests.rules.feeder import (
    HOOK_A,
    OFF_HOOK,
    Feeder,
    department,
    instant,
)

HOUR = 3600

RULE = "cord-down"


def off_rule(stands_until: str = "seen", **further: object) -> dict[str, object]:
    """A rule on a cord, without delays."""
    return {
        "id": RULE,
        "watches": "cart",
        "condition": "cords_off > 0",
        "stands_until": stands_until,
        "priority": "high",
        "text": "{cords_off_names} off",
        "source": "ours, for tests",
        **further,
    }


def ward(stands_until: str = "seen", alerts: dict[str, object] | None = None, **further: object) -> Site:
    """The cart's hook speaks on change only; nothing else is told of it."""
    hook = {"thing": "cart-1", "name": "hook-a", "kind": "hook", "report_seconds": 0}
    return department(
        sensor=[hook],
        rule=[off_rule(stands_until, **further)],
        rules={"cord-left-off": {"enabled": False}},
        role=[{"id": "charge", "name": "Charge nurse"}],
        alerts=alerts or {},
    )


def raised(stands_until: str = "seen", alerts: dict[str, object] | None = None, **further: object) -> Feeder:
    """The cord fell at second 0; 'alert-1' tells of it."""
    return Feeder(ward(stands_until, alerts, **further)).say(HOOK_A, OFF_HOOK, 0)


def do(feeder: Feeder, command: AlertCommand) -> list[Event]:
    """What a command brings about."""
    before = len(feeder.events)
    return feeder.feed([command]).events[before:]


def by(at: float, **further: object) -> dict[str, object]:
    return {"arrived": instant(at), "who": "R. Tech", "alert": "alert-1", **further}


def shelve(at: float, minutes: float = 10, *, one_shot: bool = False) -> Shelve:
    return Shelve(**by(at, minutes=minutes, one_shot=one_shot, why="being mended"))


def state(feeder: Feeder) -> State:
    return shown(feeder).state if known(feeder) else State.NORMAL


def known(feeder: Feeder) -> list[AlertPicture]:
    picture = feeder.engine.picture()
    return [alert for alert in (*picture.alerts, *picture.hidden) if alert.rule == RULE]


def shown(feeder: Feeder) -> AlertPicture:
    [alert] = known(feeder)
    return alert
