"""The cookies of the screens: whose session it is, which display, and which visit before anybody has signed in.

Names and flags after RFC 6265 and the draft that follows it (6265bis), section 4.1.3.2: over TLS a cookie is called
``__Host-...``, which browsers take from this host alone, for all of its pages, and never without TLS.
"""

from enum import StrEnum

from starlette.requests import HTTPConnection
from starlette.responses import Response

LONGEST_SECONDS = 400 * 86_400
"""How long a display stays let in by itself, and a device is known.

Longer than 400 days browsers keep nothing (6265bis, section 5.5).
"""


class Cookie(StrEnum):
    """SESSION: somebody is signed in. DISPLAY: a wall display is let in. VISIT: nobody is yet, but a form is open.

    DEVICE: somebody has signed in here before; it lets nobody in.
    """

    SESSION = "sinkside"
    DISPLAY = "sinkside-display"
    VISIT = "sinkside-visit"
    DEVICE = "sinkside-device"


def is_secure(request: HTTPConnection) -> bool:
    """Whether it came over TLS, by itself or as a proxy that is named says."""
    return request.url.scheme == "https"


def cookie_in(request: HTTPConnection, cookie: Cookie) -> str:
    """What a browser sent back; '' where it sent none."""
    return request.cookies.get(_name(request, cookie), "")


def set_cookie(
    answer: Response, request: HTTPConnection, cookie: Cookie, value: str, seconds: int | None = None
) -> None:
    """Let the browser keep it for so long; without ``seconds`` until it is closed."""
    answer.set_cookie(
        _name(request, cookie),
        value,
        max_age=seconds,
        secure=is_secure(request),
        httponly=True,
        samesite="lax",
    )


def drop_cookie(answer: Response, request: HTTPConnection, cookie: Cookie) -> None:
    """Let the browser forget it."""
    answer.delete_cookie(_name(request, cookie), secure=is_secure(request), httponly=True, samesite="lax")


def _name(request: HTTPConnection, cookie: Cookie) -> str:
    return f"__Host-{cookie}" if is_secure(request) else cookie.value
