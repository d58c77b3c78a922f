"""Times of a scenario: since it began, as a stop-watch shows them."""

import re
from typing import Annotated

from pydantic import BeforeValidator, Field

_STOP_WATCH = re.compile(r"(?:(?P<hours>\d{1,4}):(?=\d\d:\d\d))?(?P<minutes>\d{1,2}):(?P<seconds>\d\d(?:\.\d{1,3})?)")
_MOST = 60


def seconds_of(text: object) -> object:
    """Seconds of a stop-watch's time; what is no text is left to the model.

    Raises:
        ValueError: it is not written so.
    """
    if not isinstance(text, str):
        raise ValueError("expected a time since the start as text, such as '5:00' or '1:05:00'")  # noqa: TRY004 - as the models want it
    match = _STOP_WATCH.fullmatch(text)
    if match is None or float(match["seconds"]) >= _MOST or (match["hours"] and int(match["minutes"]) >= _MOST):
        raise ValueError("expected a time since the start, such as '5:00' or '1:05:00'")
    return int(match["hours"] or 0) * 3600 + int(match["minutes"]) * 60 + float(match["seconds"])


def stop_watch(seconds: float) -> str:
    """Seconds as they are written in a scenario: '5:00', '1:05:00', '0:12.5'."""
    if seconds < 0:
        return f"{stop_watch(-seconds)} before"
    whole, tenths = divmod(round(seconds * 10), 10)
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    tail = f"{left:02d}" + (f".{tenths}" if tenths else "")
    return f"{hours}:{minutes:02d}:{tail}" if hours else f"{minutes}:{tail}"


Since = Annotated[float, BeforeValidator(seconds_of), Field(ge=0, le=31 * 86_400)]
"""Seconds since the scenario began."""

Between = Annotated[tuple[Since, Since], Field(strict=False)]
"""No earlier than the first, no later than the second."""
