"""Who was told of an alert, what is known of it, and who comes next: as the phone pages say it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from dashboard.words import listed, moment
from rules.alert_words import Confirmation, PageEnd, PageWhy
from rules.call_picture import CallPicture, RolePicture, ToldPicture
from rules.readings import Micros

OUTCOMES: Mapping[Confirmation | PageEnd | None, str] = {
    None: "not confirmed yet",
    Confirmation.ACCEPTED: "sent, which does not say that it was seen",
    Confirmation.DELIVERED: "delivered to the device",
    Confirmation.READ: "opened there",
    Confirmation.ANSWERED: "answered",
    PageEnd.REFUSED: "did not arrive: refused",
    PageEnd.GIVEN_UP: "did not arrive: given up",
}

_CANNOT = "answered that they cannot go"

WHYS: Mapping[PageWhy, str] = {
    PageWhy.FIRST: "first told",
    PageWhy.ESCALATION: "nobody before had answered",
    PageWhy.REPEAT: "told again",
    PageWhy.AGAIN: "asked anew",
    PageWhy.FALLBACK: "another way, as the one before was not confirmed",
    PageWhy.HANDED_OVER: "handed over",
    PageWhy.TAKEN_OVER: "taken over from them",
    PageWhy.PASSED_ON: "not theirs any more: handed over",
    PageWhy.PUT_ASIDE: "not theirs any more: put aside",
    PageWhy.SUMMARY: "summary of what was held back",
    PageWhy.TEST: "test",
}


def detail_words(outcome: Confirmation | PageEnd | None, detail: str) -> str:
    """What else is known of a page: of one that was taken the answer of its service, which is not in our words."""
    return f"its service said: {detail}" if detail and isinstance(outcome, Confirmation) else detail


@dataclass(frozen=True, slots=True)
class ToldRow:
    """Somebody who was told; lost: it did not arrive."""

    at: str
    who: str
    how: str
    why: str
    outcome: str
    lost: bool


@dataclass(frozen=True, slots=True)
class CallView:
    """Who was told, the newest first; coming: who is told next, and when; '' where nobody is.

    unmanned: in which roles nobody was on duty; '' where there was somebody in each, or somebody has answered.
    """

    told: tuple[ToldRow, ...] = ()
    coming: str = ""
    unmanned: str = ""


@dataclass(frozen=True, slots=True)
class Names:
    """Roles, contacts and things by their names; an id stands for a name that is not known."""

    roles: Mapping[str, str]
    others: Mapping[str, str]

    @classmethod
    def of(cls, roles: Sequence[RolePicture], others: Mapping[str, str]) -> "Names":
        """Roles as a picture names them."""
        return cls({role.id: role.name for role in roles}, others)

    def role(self, name: str) -> str:
        """A role."""
        return self.roles.get(name, name)

    def other(self, name: str) -> str:
        """Anything else."""
        return self.others.get(name, name)


def call_of(alert: str, calls: Sequence[CallPicture]) -> CallPicture | None:
    """The call that an alert is part of."""
    return next((call for call in calls if alert in call.alerts), None)


def call_view(call: CallPicture | None, names: Names, now: Micros, zone: ZoneInfo, *, waits: bool) -> CallView:
    """A call at an instant, for one of its alerts; waits: somebody has still to answer it."""
    if call is None:
        return CallView()
    return CallView(
        told=tuple(_told(page, names, now, zone) for page in reversed(call.told)),
        coming=_coming(call, names, now, zone) if waits else "",
        unmanned=_unmanned([names.role(role) for role in call.unmanned]) if waits else "",
    )


def told_last(call: CallPicture | None, names: Names, now: Micros, zone: ZoneInfo) -> str:
    """``Told last: Charge nurse, Phone 2, 12:04.``; '' where nobody was."""
    if call is None or not call.told:
        return ""
    page = call.told[-1]
    return f"Told last: {names.role(page.role)}, {names.other(page.contact)}, {moment(page.at, now, zone)}."


def _told(page: ToldPicture, names: Names, now: Micros, zone: ZoneInfo) -> ToldRow:
    return ToldRow(
        at=moment(page.at, now, zone),
        who=f"{names.role(page.role)}, {names.other(page.contact)}",
        how=names.other(page.channel),
        why=WHYS[page.why],
        outcome=_CANNOT if page.cannot else OUTCOMES[page.outcome],
        lost=isinstance(page.outcome, PageEnd),
    )


def _coming(call: CallPicture, names: Names, now: Micros, zone: ZoneInfo) -> str:
    if call.next_at is None or not call.next_roles:
        return ""
    roles = [names.role(role) for role in call.next_roles]
    verb = "is" if len(roles) == 1 else "are"
    again = " again" if {page.role for page in call.told}.issuperset(call.next_roles) else ""
    return f"If nobody answers, {listed(roles)} {verb} told{again} at {moment(call.next_at, now, zone)}."


def _unmanned(roles: list[str]) -> str:
    return f"Nobody was on duty as {listed(roles)}." if roles else ""
