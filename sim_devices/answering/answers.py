"""What the demo's people do about the alerts on the wall: a function of the picture, the time and a seed."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from rules.alert_commands import Acknowledge, AlertDeed, HandOver, Settle, Shelve
from rules.alert_words import WAITING, PageWhy, Priority, State
from rules.picture import AlertPicture, Picture
from rules.readings import Micros, micros
from sim_devices.answering.crew import ENGINEER_ROLE, NURSE, TECH
from sim_devices.chance import Chance


@dataclass(frozen=True, slots=True)
class Attention:
    """How people deal with alerts; seconds are the least and the most, shares of the alerts concerned (all ours).

    notice_seconds: from when an alert begins to ask, or asks anew, to somebody who sees it on the wall, where no page
        was answered before.
    settle_seconds: from an answer to the word of what was done.
    handed_over_share: of alerts about devices, to the engineer. shelved_share: of others of low priority.
    shelf_minutes: for how long.
    """

    notice_seconds: tuple[float, float] = (110, 170)
    settle_seconds: tuple[float, float] = (45, 120)
    handed_over_share: float = 0.3
    shelved_share: float = 0.25
    shelf_minutes: float = 20


ATTENTION = Attention()

_DONE: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "soak-too-short": ("put back for the whole time", "probe held, soaked anew in the other basin"),
        "soak-not-met": ("probe held and soaked anew", "soaked anew after a strip that passed"),
    }
)
_DONE_OTHERWISE = ("looked at, probe held and soaked anew",)
_ASIDE = ("seen to at the end of the shift", "waits for a quiet minute", "known, somebody is on the way")


def answers(picture: Picture, now: Micros, chance: Chance, attention: Attention = ATTENTION) -> Iterator[AlertDeed]:
    """What is due by now. Whatever the record does not show yet is given again the next time."""
    for alert in picture.alerts:
        deed: AlertDeed | None = _settled(alert, now, chance, attention)
        if deed is None and alert.state in WAITING and now >= _noticed(alert, chance, attention):
            deed = _answered(alert, picture, now, chance, attention)
        if deed is not None:
            yield deed


def _noticed(alert: AlertPicture, chance: Chance, attention: Attention) -> Micros:
    asks_since = alert.raised if alert.waits_since is None else alert.waits_since
    return Micros(asks_since + micros(chance.between(*attention.notice_seconds, "attention", alert.id)))


def _settled(alert: AlertPicture, now: Micros, chance: Chance, attention: Attention) -> Settle | None:
    if not alert.settles or alert.acknowledged_at is None or not _is_past(alert):
        return None
    after = micros(chance.between(*attention.settle_seconds, "settling", alert.id))
    if now < alert.acknowledged_at + after:
        return None
    words = _DONE.get(alert.rule, _DONE_OTHERWISE)
    return Settle(arrived=now, who=TECH, alert=alert.id, why=words[chance.below(len(words), "done", alert.id)])


def _answered(alert: AlertPicture, picture: Picture, now: Micros, chance: Chance, attention: Attention) -> AlertDeed:
    share = chance.share("answer", alert.id)
    if _is_of_a_device(alert):
        if share < attention.handed_over_share and _can_be_handed_over(alert, picture):
            return HandOver(arrived=now, who=NURSE, alert=alert.id, role=ENGINEER_ROLE)
    elif share < attention.shelved_share and alert.priority is Priority.LOW and alert.state is State.UNACKNOWLEDGED:
        why = _ASIDE[chance.below(len(_ASIDE), "aside", alert.id)]
        return Shelve(arrived=now, who=NURSE, alert=alert.id, minutes=attention.shelf_minutes, one_shot=True, why=why)
    return Acknowledge(arrived=now, who=NURSE, alert=alert.id)


def _is_past(alert: AlertPicture) -> bool:
    """What became of a soak stays so; of anything else nothing is settled while it goes on."""
    return alert.subject.startswith("soak ") or not alert.holds


def _is_of_a_device(alert: AlertPicture) -> bool:
    return alert.subject.startswith("sensor ")


def _can_be_handed_over(alert: AlertPicture, picture: Picture) -> bool:
    """Once, and to somebody who is there: who was handed it answers by pager, or it is seen on the wall again."""
    call = next((call for call in picture.calls if alert.id in call.alerts), None)
    return (
        call is not None
        and any(role.id == ENGINEER_ROLE and role.contacts for role in picture.roles)
        and all(page.why is not PageWhy.HANDED_OVER for page in call.told)
    )
