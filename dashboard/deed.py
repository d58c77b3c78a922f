"""What is to be done about an alert, as one short order that names the thing: the largest words on the wall."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from dashboard.alert_standing import Standing, standing
from dashboard.solution import is_fit
from dashboard.words import hour
from rules.board import SubjectKind
from rules.cost import without_risk
from rules.picture import AlertPicture, BasinPicture, CartPicture, Picture, ProbePicture
from rules.probe_words import Place
from rules.readings import Micros

_VERDICTS = frozenset({"soak-too-short", "soak-not-met"})
"""Rules of the standard set that tell of a soak that has ended, and whose probe has to soak again."""

_SENTENCE = re.compile(r"(?<=[.!?]) ")


def sentences(advice: str) -> list[str]:
    """An advice, sentence by sentence."""
    return _SENTENCE.split(advice) if advice else []


@dataclass(frozen=True, slots=True)
class Deed:
    """What is to be done: order: the first thing, without its stop, '' where nothing is known; then: sentences."""

    order: str
    then: tuple[str, ...] = ()


def deeds(picture: Picture, zone: ZoneInfo) -> Mapping[str, Deed]:
    """By the ids of alerts."""
    return {alert.id: deed(alert, picture, zone) for alert in picture.alerts}


def deed(alert: AlertPicture, picture: Picture, zone: ZoneInfo) -> Deed:
    """What to do now.

    It is the first sentence of the advice, behind the name of the thing where it does not name it, unless a probe that
    has to soak again soaks already, or cannot where it was. Of what somebody has answered for, and which is past, it
    is to say what was done.
    """
    now = _now_to_do(alert, picture, zone)
    if standing(alert) is not Standing.UNSETTLED:
        return now
    name = thing_name(alert, picture)
    return Deed(f"Enter what was done about {name}" if name else "Enter what was done", (f"{now.order}.",))


def _now_to_do(alert: AlertPicture, picture: Picture, zone: ZoneInfo) -> Deed:
    if (there := _soaking(alert, picture)) is not None:
        basin, done_at, whose = there
        return Deed(f"Leave {whose} in {basin.name} until about {hour(done_at, zone)}", ("Do not use it before.",))
    first, *then = sentences(alert.advice) or [""]
    order = first.rstrip(".")
    used = _basin(alert, picture) if alert.rule in _VERDICTS else None
    if used is not None and not _serves(used):
        why = "is too cold now" if used.warm_enough is False else "needs fresh solution"
        return Deed(f"Soak probe from {used.name} again, in another basin", (f"{used.name} {why}.",))
    name = thing_name(alert, picture)
    return Deed(f"{name}: {order}" if order and name and name not in order else order, tuple(then))


def thing_name(alert: AlertPicture, picture: Picture) -> str:
    """What an alert is about, as people call it; '' of the gateway's own, and where it is not known."""
    kind, _, subject = alert.subject.partition(" ")
    thing = subject.rpartition(".")[0] if kind == SubjectKind.SOAK else subject.partition("/")[0]
    named: tuple[BasinPicture | CartPicture | ProbePicture, ...] = (*picture.basins, *picture.carts, *picture.probes)
    return next((one.name for one in named if one.id == thing), "")


def state_words(alert: AlertPicture, deed: str) -> str:
    """What is so, as a sentence, without the name where the order has it already and without what it may cost."""
    text = without_risk(alert.text)
    name, colon, rest = text.partition(": ")
    said = f"{rest[:1].upper()}{rest[1:]}" if colon and name in deed else text
    return said if said.endswith((".", "?", "!")) else f"{said}."


def _basin(alert: AlertPicture, picture: Picture) -> BasinPicture | None:
    return next((basin for basin in picture.basins if basin.name == thing_name(alert, picture)), None)


def _soaking(alert: AlertPicture, picture: Picture) -> tuple[BasinPicture, Micros, str] | None:
    """Where the probe, or one that may be it, soaks, when that is done; and what may be called it."""
    kind, _, subject = alert.subject.partition(" ")
    probe = next((one for one in picture.probes if kind == SubjectKind.PROBE and one.id == subject), None)
    if probe is None:
        basin, whose = _basin(alert, picture) if alert.rule in _VERDICTS else None, "the probe"
    elif probe.standing.place is Place.BASIN:
        basin, whose = next((one for one in picture.basins if one.id == probe.standing.thing), None), probe.name
    else:
        return None
    if not picture.hearing or basin is None or basin.soak is None or basin.soak.done_at is None or not _serves(basin):
        return None
    return basin, basin.soak.done_at, whose


def _serves(basin: BasinPicture) -> bool:
    """Whether a probe may soak there, as far as is known."""
    return basin.warm_enough is not False and is_fit(basin.solution)
