"""What was sent in a form after its session had ended: it is shown to whoever signs in then, and sent if they say so.

It is kept nowhere but in the page on which one signs in, and never where a password or another secret was typed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self
from urllib.parse import parse_qsl, urlencode, urlsplit

from starlette.requests import Request
from starlette.responses import HTMLResponse

from dashboard.own_forms import MOST_FIELDS, is_from_here, own_path, pairs_in
from dashboard.pages import rendered
from dashboard.visiting import VISITING
from gateway.people import Visitor
from rules.readings import SECOND, Micros

MOST_OCTETS = 16_384
"""Of a form that is kept (ours): what people type on a phone is a tenth of that."""

SECRET = frozenset({"password", "old", "again", "invitation", "display"})
"""Names of fields that hold one; of a form with any of them nothing is kept."""

_NOT_TYPED = frozenset({"token", "tap", "who"})
_AGO = "ago"
_MINUTE = 60 * SECOND
_SHOWN_LETTERS = 200


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
        """What a request sent; None where it is no form of ours, too long, or holds a secret, and so is not kept."""
        if len(body) > MOST_OCTETS or not is_from_here(request):
            return None
        try:
            sent = pairs_in(body)
        except ValueError:
            return None
        if SECRET & {name for name, _ in sent}:
            return None
        typed = tuple((name, value) for name, value in sent if name not in _NOT_TYPED)
        to, page = _own(str(request.url)), _own(request.headers.get("referer", ""))
        return cls(to, page, now, typed) if to and typed else None

    @classmethod
    def unpacked(cls, packed: str) -> Self | None:
        """What ``packed`` gave; None for anything else."""
        try:
            (_, to), (_, page), (_, at), *fields = parse_qsl(
                packed, max_num_fields=MOST_FIELDS, keep_blank_values=True, strict_parsing=True
            )
            return cls(own_path(to), own_path(page), Micros(int(at)), tuple(fields)) if own_path(to) else None
        except ValueError:
            return None

    def packed(self) -> str:
        """All of it, as a field of the form in which one signs in."""
        return urlencode([("to", self.to), ("page", self.page), ("at", str(int(self.at))), *self.fields])

    def fields_at(self, now: Micros) -> Sequence[tuple[str, str]]:
        """As they are sent then: what was done so many minutes ago is longer ago by now."""
        return [(name, self._ago(value, now) if name == _AGO else value) for name, value in self.fields]

    def _ago(self, value: str, now: Micros) -> str:
        minutes = value.strip() or "0"
        return str(int(minutes) + max(0, now - self.at) // _MINUTE) if minutes.isdecimal() else value

    def page_for(self, visitor: Visitor, site_name: str, now: Micros, status: int = 200) -> HTMLResponse:
        """Asks whoever has signed in whether it is to be sent, in their name."""
        fields = self.fields_at(now)
        shown = [(name.replace("_", " "), value[:_SHOWN_LETTERS]) for name, value in fields if value.strip()]
        around = {"site": site_name, "name": "unsent", "to": self.to, "page": self.page or "/"}
        reset = VISITING.set(visitor)
        try:
            return HTMLResponse(rendered("unsent.html", **around, fields=fields, shown=shown), status_code=status)
        finally:
            VISITING.reset(reset)


def _own(address: str) -> str:
    parts = urlsplit(address)
    return own_path(parts.path + (f"?{parts.query}" if parts.query else ""))
