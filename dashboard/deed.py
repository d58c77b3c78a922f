"""What is to be done about an alert, as one short order that names the thing: the largest words on the wall."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from dashboard.alert_standing import Standing, standing
from dashboard.basins import counts_until
from dashboard.free import ANOTHER, RINSE_FIRST, elsewhere, serves
from dashboard.solution import in_short
from dashboard.tied import thing_of
from dashboard.words import PHONE_ALERTS, hour, listed
from rules.board import SubjectKind
from rules.cost import without_risk
from rules.picture import AlertPicture, BasinPicture, CartPicture, Picture, ProbePicture
from rules.probe_words import Place, Step
from rules.readings import SensorKind

_VERDICTS = frozenset({"soak-too-short", "soak-not-met"})
"""Rules of the standard set that tell of a soak that has ended, and whose probe has to soak again."""

_TO_SOAK = frozenset({"probe-used-again", "probe-rolls-away"})
"""Rules of the standard set that ask for a probe's soak, and for nothing that a soak under way puts off."""

_NEVER_DONE = "soak-never-done"
_COLD = frozenset({"soak-cold", _NEVER_DONE})
"""Rules of the standard set that ask to move a probe to another basin, where there is one."""

_WRONG_BASIN = "probe-not-allowed"

_SENTENCE = re.compile(r"(?<=[.!?]) ")


def sentences(advice: str) -> list[str]:
    """An advice, sentence by sentence."""
    return _SENTENCE.split(advice) if advice else []


@dataclass(frozen=True, slots=True)
class Deed:
    """What is to be done: order: the first thing, without its stop, '' where nothing is known; then: sentences.

    how: a sentence without which the order cannot be followed, said before all others. waits: whether all that is to
    be done is to leave a thing as it is. so: what is so by now, where the alert's text is not true any more.
    """

    order: str
    then: tuple[str, ...] = ()
    how: str = ""
    waits: bool = False
    so: str = ""

    @property
    def words(self) -> str:
        """Order and what follows it, as sentences."""
        return " ".join(filter(None, (self.order and _stopped(self.order), *self.then)))


def _stopped(words: str) -> str:
    return words if words.endswith((".", "?", "!")) else f"{words}."


def deeds(picture: Picture, zone: ZoneInfo) -> Mapping[str, Deed]:
    """By the ids of alerts."""
    return {alert.id: deed(alert, picture, zone) for alert in picture.alerts}


def deed(alert: AlertPicture, picture: Picture, zone: ZoneInfo) -> Deed:
    """What a wall says first: what to do, behind the name of the thing where the order does not name it.

    Of what somebody has answered for, and which is past and endangers nobody any more, it is to say what was done.
    """
    now, name = to_do(alert, picture, zone), thing_name(alert, picture)
    if now.order and name and name not in now.order:
        now = replace(now, order=f"{name}: {now.order}")
    if standing(alert) is not Standing.UNSETTLED or _may_still_harm(alert, picture):
        return now
    then = (_stopped(now.order),) if now.order else ()
    order = f"Enter what was done about {name}" if name else "Enter what was done"
    return Deed(order, then, f"{PHONE_ALERTS[0].upper()}{PHONE_ALERTS[1:]}.")


def to_do(alert: AlertPicture, picture: Picture, zone: ZoneInfo) -> Deed:
    """What to do now: the advice, but for what is known to be otherwise.

    A probe that has to soak again soaks already, or cannot where it was; no other basin can be used; a cart stands; a
    sensor is silent of what people can see.
    """
    return _where_it_stands(_now_to_do(alert, picture, zone), alert, picture)


def _may_still_harm(alert: AlertPicture, picture: Picture) -> bool:
    """Whether a probe whose soak fell short may still be used: that was the last soak of its basin, as far as known."""
    basin = _basin(alert, picture) if alert.rule in _VERDICTS else None
    if basin is None or not basin.ended or basin.ended[0].id != alert.subject.partition(" ")[2]:
        return False
    soak = basin.soak
    return soak is None or bool(soak.lacking) or soak.credited_seconds < soak.needed_seconds


def _where_it_stands(deed: Deed, alert: AlertPicture, picture: Picture) -> Deed:
    """Nobody is told to stop a cart that stands: it is to be kept from rolling."""
    cart = _cart(alert, picture)
    if cart is None or not picture.hearing or cart.rolling is not False:
        return deed
    kept = f"Do not let {cart.name} roll: "
    stop = f"Stop {cart.name}"
    order = deed.order
    for joint in (": ", " and "):
        order = order.replace(f"{stop}{joint}", kept) if order.startswith(f"{stop}{joint}") else order
    then = tuple("Do not let it roll." if sentence == _STOP_IT else sentence for sentence in deed.then)
    return replace(deed, order=order, then=then)


_STOP_IT = "Stop the cart."


def _cart(alert: AlertPicture, picture: Picture) -> CartPicture | None:
    """The cart that an alert tells of, or on which its probe hangs."""
    kind, _, subject = alert.subject.partition(" ")
    on = next((probe.cart for probe in picture.probes if kind == SubjectKind.PROBE and probe.id == subject), subject)
    return next((cart for cart in picture.carts if cart.id == on.partition("/")[0]), None)


def _now_to_do(alert: AlertPicture, picture: Picture, zone: ZoneInfo) -> Deed:
    if (left := _left_to_soak(alert, picture, zone)) is not None:
        return left
    if (warmed := _warm_again(alert, picture, zone)) is not None:
        return warmed
    if (watched := _watched(alert, picture)) is not None:
        return watched
    first, *then = sentences(alert.advice) or [""]
    order, used = first.rstrip("."), _basin(alert, picture)
    others = [basin for basin in picture.basins if basin is not used and serves(basin)]
    whose = _whose(alert, picture) if alert.rule in _VERDICTS else ""
    if whose == _NOT_TOLD:
        then = [f"{_NOT_TOLD}.", *then]
    elif whose and used is not None:
        order = order.replace(f"probe from {used.name}", f"{whose} ({used.name})")
    if alert.rule in _VERDICTS and used is not None and not serves(used):
        why = f"{used.name} {'is too cold now' if used.warm_enough is False else 'needs fresh solution'}."
        if others:
            which = f"{whose} ({used.name})" if whose not in ("", _NOT_TOLD) else f"probe from {used.name}"
            where = elsewhere(used, picture)
            return Deed(f"Soak {which} again, in {where}", ("Do not use it before.", why, *_before_it_goes(where)))
        then = [why, *then]
    if alert.rule in _COLD and used is not None and not others:
        wait = ("Do not wait: no wait is long enough.",) if alert.rule == _NEVER_DONE else ()
        return Deed(f"Warm the solution in {used.name} as its label allows", (*wait, "The time starts again then."))
    if alert.rule in _COLD and used is not None:
        where = elsewhere(used, picture)
        order, then = order.replace(ANOTHER, where), [*_before_it_goes(where), *then]
    return Deed(order, tuple(then))


def _before_it_goes(where: str) -> tuple[str, ...]:
    """What is to be done before a probe goes to a basin that is not named, and may hold another solution."""
    return (RINSE_FIRST,) if where == ANOTHER else ()


def thing_name(alert: AlertPicture, picture: Picture) -> str:
    """What an alert is about, as people call it; '' of the gateway's own, and where it is not known."""
    thing = thing_of(alert.subject)
    named: tuple[BasinPicture | CartPicture | ProbePicture, ...] = (*picture.basins, *picture.carts, *picture.probes)
    return next((one.name for one in named if one.id == thing), "")


def state_words(alert: AlertPicture, deed: str) -> str:
    """What is so, as a sentence, without the name where the order has it already and without what it may cost."""
    text = without_risk(alert.text)
    name, colon, rest = text.partition(": ")
    said = f"{rest[:1].upper()}{rest[1:]}" if colon and name in deed else text
    return _stopped(said)


def _watched(alert: AlertPicture, picture: Picture) -> Deed | None:
    """What to do with one's own eyes and hands for a sensor that cannot be relied upon; None where none is meant."""
    _, _, subject = alert.subject.partition(" ")
    sensor = next((one for one in picture.sensors if alert.rule in _UNHEARD and one.id == subject), None)
    name = thing_name(alert, picture)
    if sensor is None or not name or sensor.kind not in _BY_HAND:
        return None
    which = str(sensor.id).partition("/")[2].removeprefix(f"{sensor.kind.value}-")
    _, *then = sentences(alert.advice)
    return Deed(_BY_HAND[sensor.kind].format(name=name, which=which), tuple(then))


_UNHEARD = frozenset({"sensor-silent", "clock-behind"})
"""Rules of the standard set that ask people to watch what one sensor should."""

_BY_HAND = {
    SensorKind.HOOK: "{name}: look whether {which} hangs, no signal",
    SensorKind.MOTION: "{name}: hang up its cords before it rolls",
    SensorKind.LID: "{name}: keep time of its soak by a clock",
    SensorKind.TEMPERATURE: "{name}: measure its temperature by hand",
}


def _basin(alert: AlertPicture, picture: Picture) -> BasinPicture | None:
    return next((basin for basin in picture.basins if basin.name == thing_name(alert, picture)), None)


def _left_to_soak(alert: AlertPicture, picture: Picture, zone: ZoneInfo) -> Deed | None:
    """To leave a probe where it soaks, for what asks for its soak; None where none that counts is under way."""
    if not picture.hearing:
        return None
    probe = _soaking_probe(alert, picture) if alert.rule in _TO_SOAK else None
    basin = _soaking_again(alert, picture) if probe is None else _where(probe, picture)
    if basin is None or basin.soak is None or not serves(basin) or (done_at := counts_until(basin.soak)) is None:
        return None
    whose = "the probe" if probe is None else probe.name
    order = f"Leave {whose} in {basin.name} until about {hour(done_at, zone)}"
    use = f"Use no probe from {basin.name} before." if probe is None else "Do not use it before."
    lacks = basin.soak.lacking
    then = (use, f"So far the soak does not count: {in_short(lacks[0].value)}.") if lacks else (use,)
    return Deed(order, then, waits=True)


def _warm_again(alert: AlertPicture, picture: Picture, zone: ZoneInfo) -> Deed | None:
    """To leave a probe where it was too cold, once that is over and its soak counts; None where it does not."""
    basin = _basin(alert, picture) if alert.rule in _COLD and picture.hearing else None
    if basin is None or basin.soak is None or not basin.warm_enough or not serves(basin):
        return None
    done_at = counts_until(basin.soak)
    if done_at is None:
        return None
    order = f"Leave the probe in {basin.name} until about {hour(done_at, zone)}"
    return Deed(order, ("Do not use it before.",), waits=True, so="It was too cold, and is warm enough again.")


def _soaking_probe(alert: AlertPicture, picture: Picture) -> ProbePicture | None:
    """The probe of an alert, where it is in a basin for sure, may be there, and owes nothing but that soak first."""
    kind, _, subject = alert.subject.partition(" ")
    probe = next((one for one in picture.probes if kind == SubjectKind.PROBE and one.id == subject), None)
    if probe is None or not probe.confirmed or probe.standing.next_step is not Step.SOAKED:
        return None
    told = (*picture.alerts, *picture.hidden)
    is_wrong = any(one.rule == _WRONG_BASIN and one.subject == alert.subject and one.holds for one in told)
    return None if is_wrong or probe.standing.place is not Place.BASIN else probe


def _where(probe: ProbePicture, picture: Picture) -> BasinPicture | None:
    return next((basin for basin in picture.basins if basin.id == probe.standing.thing), None)


def _soaking_again(alert: AlertPicture, picture: Picture) -> BasinPicture | None:
    """The basin of a verdict, where the soak under way is the next one, and no other probe's as far as is known."""
    basin = _basin(alert, picture) if alert.rule in _VERDICTS else None
    soak = alert.subject.partition(" ")[2]
    if basin is None or not basin.ended or basin.ended[0].id != soak:
        return None
    inside = [probe for probe in picture.probes if _where(probe, picture) is basin]
    owing = [probe for probe in picture.probes if _owes_for(probe, soak)]
    if owing:  # the soak under way is theirs only where they are known to be in it, all of them
        return basin if all(probe.confirmed and probe in inside for probe in owing) else None
    return None if inside and all(soak in probe.elsewhere for probe in inside) else basin


def _owes_for(probe: ProbePicture, soak: str) -> bool:
    """Whether a probe is known to have been in a soak that does not count for it."""
    return probe.standing.why.startswith(f"soak {soak}: ")


def _whose(alert: AlertPicture, picture: Picture) -> str:
    """The probe of a soak that has ended by name, that nobody knows it, or '' where the site follows none."""
    soak = alert.subject.partition(" ")[2]
    known = [probe.name for probe in picture.probes if _owes_for(probe, soak)]
    if known:
        return listed(known)
    return _NOT_TOLD if soak in {one.soak for one in picture.unclaimed} else ""


_NOT_TOLD = "Which probe is not known"
