"""What was sent in a form after its session had ended: it is shown to whoever signs in then, and sent if they say so.

It is kept nowhere but in the page on which one signs in, and never where a password or another secret was typed. Nor
is a form kept that makes or changes accounts and displays: somebody else could have left it there for an administrator
to send. Others are shown to those alone who may send them.
"""

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self
from urllib.parse import parse_qsl, urlencode, urlsplit

from starlette.requests import Request
from starlette.responses import HTMLResponse

from dashboard.door_table import door_to
from dashboard.own_forms import MOST_FIELDS, is_from_here, own_path, pairs_in
from dashboard.pages import rendered
from dashboard.visiting import VISITING
from dashboard.words import for_minutes
from gateway.people import Visitor
from rules.acts import Access
from rules.readings import SECOND, Micros

MOST_OCTETS = 16_384
"""Of a form that is kept (ours): what people type on a phone is a tenth of that."""

SECRET = frozenset({"password", "old", "again", "invitation", "display"})
"""Names of fields that hold one; of a form with any of them nothing is kept."""

_KEPT_FOR = frozenset({Access.RESPONDER, Access.ENGINEER})
_OWN_ACCOUNT = ("/me/", "/sign-out")
_TAP = "tap"
_NOT_TYPED = frozenset({"token", "who"})
_AGO = "ago"
_MINUTE = 60 * SECOND
_LONGEST_NUMBER, _LONGEST_TIME = 9, 18
"""Digits of minutes and of microseconds that are worked with; what is longer nobody has typed."""


@dataclass(frozen=True, slots=True)
class Unsent:
    """A form that was not taken.

    to: the address to which it was sent. page: that on which it stood, '' where no browser said it. at: when it came.
    fields: what was typed and chosen, in its order.
    """

    to: str
    page: str
    at: Micros
    fields: tuple[tuple[str, str], ...]

    @classmethod
    def of(cls, request: Request, body: bytes, now: Micros) -> Self | None:
        """What a request sent; None where it is no form of ours, too long, or not to be kept.

        It gets the id of a tap where its page gave it none, so that it is taken once, however often it is sent.
        """
        if len(body) > MOST_OCTETS or not is_from_here(request):
            return None
        try:
            sent = pairs_in(body)
            to, page = _own(str(request.url)), _own(request.headers.get("referer", ""))
        except ValueError:
            return None
        if all(name in _NOT_TYPED or name == _TAP for name, _ in sent):
            return None
        tap = () if any(name == _TAP and value for name, value in sent) else ((_TAP, secrets.token_hex(16)),)
        return cls._kept(to, page, now, (*sent, *tap))

    @classmethod
    def unpacked(cls, packed: str) -> Self | None:
        """What ``packed`` gave; None for anything else."""
        try:
            (_, to), (_, page), (_, at), *fields = parse_qsl(
                packed, max_num_fields=MOST_FIELDS, keep_blank_values=True, strict_parsing=True
            )
            return cls._kept(own_path(to), own_path(page), Micros(int(at[:_LONGEST_TIME])), fields)
        except ValueError:
            return None

    @classmethod
    def _kept(cls, to: str, page: str, at: Micros, sent: Sequence[tuple[str, str]]) -> Self | None:
        path = urlsplit(to).path
        is_kept = door_to(path) in _KEPT_FOR and not path.startswith(_OWN_ACCOUNT)
        if not is_kept or SECRET & {name for name, _ in sent}:
            return None
        return cls(to, page, at, tuple((name, value) for name, value in sent if name not in _NOT_TYPED))

    def packed(self) -> str:
        """All of it, as a field of the form in which one signs in."""
        return urlencode([("to", self.to), ("page", self.page), ("at", str(int(self.at))), *self.fields])

    def is_for(self, visitor: Visitor) -> bool:
        """Whether somebody may send it."""
        door = door_to(self._path)
        return isinstance(door, Access) and visitor.access.covers(door)

    def fields_at(self, now: Micros) -> Sequence[tuple[str, str]]:
        """As they are sent then: what was done so many minutes ago is longer ago by now."""
        return [(name, self._ago(value, now) if name == _AGO else value) for name, value in self.fields]

    def _ago(self, value: str, now: Micros) -> str:
        typed = value.strip() or "0"
        return str(int(typed) + self._minutes(now)) if typed.isdecimal() and len(typed) <= _LONGEST_NUMBER else value

    def _minutes(self, now: Micros) -> int:
        return max(0, now - self.at) // _MINUTE

    @property
    def _path(self) -> str:
        return urlsplit(self.to).path

    @property
    def _about(self) -> str:
        """Of what it tells: ``basin basin-1, strip``."""
        *thing, deed = self._path.strip("/").split("/")
        return f"{' '.join(thing)}, {deed}"

    def page_for(self, visitor: Visitor, site_name: str, now: Micros, status: int = 200) -> HTMLResponse:
        """Asks whoever has signed in whether it is to be sent, in their name; all that would be sent stands there."""
        fields = self.fields_at(now)
        shown = [(name.replace("_", " "), value) for name, value in fields if value.strip() and name != _TAP]
        around = {"site": site_name, "name": "unsent", "to": self.to, "page": self.page or "/"}
        around |= {"about": self._about, "since": for_minutes(self._minutes(now))}
        reset = VISITING.set(visitor)
        try:
            return HTMLResponse(rendered("unsent.html", **around, fields=fields, shown=shown), status_code=status)
        finally:
            VISITING.reset(reset)


def _own(address: str) -> str:
    parts = urlsplit(address)
    return own_path(parts.path + (f"?{parts.query}" if parts.query else ""))
