"""What shows that something comes from a page of ours: what the browser says, and a token that no other can read."""

import re
import secrets
from urllib.parse import parse_qsl

from starlette.requests import HTTPConnection

MOST_FIELDS = 1500
"""Of any form; the longest is that of the bench (ours)."""

SCRIPT_HEADER = "X-Sinkside"
"""In it our scripts show the token; whoever sends it is answered in JSON."""

FORGED = "This form is not ours, or whoever opened it has signed out since: open the page again and enter it anew."
ELSEWHERE = "This was sent from a page elsewhere, and is not taken."
UNREADABLE = "The form cannot be read: expected URL-encoded UTF-8, as a browser sends it."


_OWN_PATH = re.compile(r"/(?:[!#-\[\]-~][!#-\[\]-~]*)?")
"""A path of this host in visible ASCII without quotes and backslashes, which browsers read as slashes."""


def own_path(path: str) -> str:
    """A path of ours that may be led to; '' for whatever else was asked."""
    return path if _OWN_PATH.fullmatch(path) and not path.startswith("//") else ""


def is_from_here(request: HTTPConnection) -> bool:
    """Whether the browser says that a page of ours sent it."""
    own = f"{request.url.scheme}://{request.headers.get('host', '')}"
    is_said = request.headers.get("sec-fetch-site") == "same-origin" or own == request.headers.get("origin")
    return is_said and not is_from_elsewhere(request)


def is_from_elsewhere(request: HTTPConnection) -> bool:
    """Whether the browser says that another site's page sent it.

    Sec-Fetch-Site after the W3C's Fetch Metadata, Origin after the Fetch standard, section 3.2. A program that is no
    browser says neither; what it sends is told by its token alone.
    """
    site, origin = request.headers.get("sec-fetch-site"), request.headers.get("origin")
    own = f"{request.url.scheme}://{request.headers.get('host', '')}"
    return site not in {None, "same-origin"} or origin not in {None, own}


def shows(request: HTTPConnection, body: bytes, token: str) -> bool:
    """Whether a form, or the script that sent it, shows the token; raises ValueError where it cannot be read."""
    shown = request.headers.get(SCRIPT_HEADER) or dict(pairs_in(body)).get("token", "")
    return bool(token) and secrets.compare_digest(shown.encode(), token.encode())


def pairs_in(body: bytes) -> list[tuple[str, str]]:
    """What a form holds, in order; raises ValueError where it cannot be read."""
    return parse_qsl(body.decode(), max_num_fields=MOST_FIELDS, keep_blank_values=True)
