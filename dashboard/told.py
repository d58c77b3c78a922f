"""Who was told of an alert, in one line of the wall."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from dashboard.measure import PLAIN, shortened
from dashboard.words import brief, listed
from rules.alert_words import Confirmation, PageEnd
from rules.call_picture import CallPicture, RolePicture, ToldPicture
from rules.readings import Micros

_SURENESS: Mapping[Confirmation | PageEnd | None, int] = {
    PageEnd.REFUSED: 0,
    PageEnd.GIVEN_UP: 0,
    None: 1,
    Confirmation.ACCEPTED: 2,
    Confirmation.DELIVERED: 3,
    Confirmation.READ: 4,
    Confirmation.ANSWERED: 5,
}
_WORDS: Mapping[Confirmation | PageEnd | None, str] = {
    PageEnd.REFUSED: "did not arrive",
    PageEnd.GIVEN_UP: "did not arrive",
    None: "not confirmed",
    Confirmation.ACCEPTED: "sent",
    Confirmation.DELIVERED: "delivered",
    Confirmation.READ: "read",
    Confirmation.ANSWERED: "answered",
}
_CANNOT = "cannot go"


@dataclass(frozen=True, slots=True)
class Told:
    """Who was told; '' where nobody is to be. warns: nobody was, or nobody knows whether it arrived.

    brief: the same in a few words. named: of one role alone, that of which most is known, the fullest words first.
    """

    words: str
    warns: bool
    brief: str = ""
    named: tuple[str, ...] = ()


_UP_TO_YOU = "Nobody else was told: act."
UNTOLD = Told("", warns=False)


def told(
    alert: str,
    calls: Sequence[CallPicture],
    roles: Sequence[RolePicture],
    width_ems: float,
    brief_ems: float,
    now: Micros,
    zone: ZoneInfo,
    *,
    waits: bool = True,
) -> Told:
    """``Told: Charge nurse 21:04, read. Engineer will be told 21:09.``, as much of it as the line holds.

    brief_ems: width in which it is told in short.
    waits: it goes on and nobody has answered; else nobody is named next, and no warning is called for.
    """
    call = next((call for call in calls if alert in call.alerts), None)
    if call is None:
        return UNTOLD
    names = {role.id: role.name for role in roles}
    surest = _surest(call)
    pages = [f"{names.get(p.role, p.role)} {brief(p.at, now, zone)}, {_word(p)}" for p in surest]
    sayings = [
        _unmanned([names.get(role, role) for role in call.unmanned]),
        _UP_TO_YOU if call.unmanned and not surest else "",
        _told_words(pages, width_ems),
        _next(call, [names.get(role, role) for role in call.next_roles], now, zone),
    ]
    if not waits:
        return Told(_joined(sayings[2:3], width_ems), warns=False)
    arrived = [p for p in surest if _SURENESS[p.outcome] >= _SURENESS[Confirmation.ACCEPTED] and not p.cannot]
    words = _joined([saying for saying in sayings if saying], width_ems)
    if arrived:
        role, at = names.get(arrived[0].role, arrived[0].role), brief(arrived[0].at, now, zone)
        in_short = next((s for s in (f"told {role} {at}", f"told {role}") if PLAIN.ems(s) <= brief_ems), "")
        return Told(words, warns=False, brief=in_short, named=(f"Told: {role} {at}.", f"Told: {role}."))
    if surest:
        return Told(words, warns=True, brief=_word(surest[0]), named=(f"Told: {pages[0]}.",))
    if call.unmanned:
        return Told(words, warns=True, brief="nobody told", named=(f"{sayings[0]} {_UP_TO_YOU}", _UP_TO_YOU))
    return Told(words, warns=False)


def _word(page: ToldPicture) -> str:
    return _CANNOT if page.cannot else _WORDS[page.outcome]


def _told_words(pages: Sequence[str], width_ems: float) -> str:
    """As many as the line holds whole, who was told last first."""
    for named in range(len(pages), 0, -1):
        words = f"Told: {'; '.join(pages[:named])}."
        if PLAIN.ems(words) <= width_ems:
            break
    return words if pages else ""


def _surest(call: CallPicture) -> list[ToldPicture]:
    """Of each role the page of which most is known, who was told last first."""
    found: dict[str, ToldPicture] = {}
    for page in call.told:
        known = found.get(page.role)
        if known is None or known.cannot or _SURENESS[page.outcome] >= _SURENESS[known.outcome]:
            found[page.role] = page
    return sorted(found.values(), key=lambda page: page.at, reverse=True)


def _unmanned(roles: list[str]) -> str:
    """``No charge nurse on duty.``: a role is a name, of which only the first letter is made small."""
    if not roles:
        return ""
    small = [role if role[1:2].isupper() else f"{role[:1].lower()}{role[1:]}" for role in roles]
    return f"No {' and no '.join(f'{role},' if ',' in role else role for role in small)} on duty."


def _next(call: CallPicture, roles: list[str], now: Micros, zone: ZoneInfo) -> str:
    if call.next_at is None or not roles:
        return ""
    return f"{listed(roles)} will be told {brief(call.next_at, now, zone)}."


def _joined(sayings: list[str], width_ems: float) -> str:
    """As many as fit, the first in any case, if need be shortened: it ends with what is known of it."""
    while len(sayings) > 1 and PLAIN.ems(" ".join(sayings)) > width_ems:
        sayings = sayings[:-1]
    return shortened(" ".join(sayings), width_ems, 1, PLAIN)
