"""How a page asks for something to be written down, and what it is told where that cannot be."""

import asyncio
from collections.abc import Iterable, Sequence
from concurrent.futures import Future

from fastapi import HTTPException, Request
from starlette.responses import JSONResponse

from gateway.hub import Hub
from gateway.pump import StoppedError
from gateway.service import BusyError
from gateway.turn import FaultError
from rules.commands import Command
from rules.events import Event
from rules.picture import Picture
from rules.readings import Micros

ANSWER_SECONDS = 10.0
"""How long an entry may take to reach the disk before the page is told that it has not; ours."""

_MAX_BODY_BYTES = 4096


class NotWrittenError(RuntimeError):
    """Nobody can say that it was written down; the message is for the page."""


async def ask(hub: Hub, command: Command) -> list[Event]:
    """What followed from a command, once it is on disk.

    Raises:
        NotWrittenError: it is not, or not in time.
    """
    return await answered([hub.ask(command)])


async def answered(answers: Iterable[Future[list[Event]]]) -> list[Event]:
    """What followed from commands that were handed to the pump, once all of them are on disk.

    Raises:
        NotWrittenError: one is not, or not in time.
    """
    try:
        async with asyncio.timeout(ANSWER_SECONDS):
            return [event for answer in answers for event in await asyncio.wrap_future(answer)]
    except TimeoutError as error:
        sentence = "The gateway has not written it down yet. Look again before you rely on it."
        raise NotWrittenError(sentence) from error
    except (StoppedError, BusyError, FaultError) as refusal:
        raise NotWrittenError(str(refusal)) from refusal


async def picture_after(hub: Hub, at: Micros) -> Picture:
    """The picture once it knows of what was entered at that time; the newest where none does soon."""
    end = asyncio.get_running_loop().time() + _AFTER_SECONDS
    feed = hub.latest
    while feed.picture.at < at and not hub.closed and (left := end - asyncio.get_running_loop().time()) > 0:
        newer = await asyncio.to_thread(hub.wait_newer, feed.version, left)
        feed = newer or hub.latest
    return feed.picture


_AFTER_SECONDS = 0.5
"""How long an answer waits for the picture that follows; a picture comes within a tenth of that. Ours."""


def refused(status: int, sentence: str, fields: Sequence[str] = ()) -> JSONResponse:
    """One plain sentence; fields: names of those that are to be mended."""
    return JSONResponse({"error": sentence, **({"fields": fields} if fields else {})}, status_code=status)


async def short_body(request: Request) -> None:
    """Nothing long is read."""
    length = request.headers.get("content-length", "")
    if not length.isdecimal() or int(length) > _MAX_BODY_BYTES:
        raise HTTPException(413, f"The message must state its length, at most {_MAX_BODY_BYTES} bytes.")
