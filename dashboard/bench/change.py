"""How figures are changed from the bench: who, as what and why, and whether it took effect."""

from collections.abc import Mapping
from typing import Annotated

from pydantic import StringConstraints

from dashboard.asking import NotWrittenError, ask, picture_after
from dashboard.bench.shown import Bench
from dashboard.forms import Signed
from rules.figure_commands import FigureCommand
from rules.figure_events import FiguresChanged, FiguresRefused


class SignedChange(Signed):
    """Who changes figures, as what, and why."""

    role: Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80)]
    why: Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)]


SIGNED_EXPECTED: Mapping[str, str] = {
    "role": "Say as what you decide it: choose a role.",
    "why": "Say why, in at most 200 characters: it is kept with the change.",
}


async def changed_by(bench: Bench, command: FigureCommand) -> tuple[str, int]:
    """Why a command changed nothing, and the status of the answer; '' once what it changed is on disk and shown."""
    hub = bench.archive.hub
    try:
        events = await ask(hub, command)
    except NotWrittenError as why:
        return str(why), 503
    for event in events:
        if isinstance(event, FiguresRefused):
            return event.problem, 409
        if isinstance(event, FiguresChanged):
            await picture_after(hub, event.at)
            return "", 200
    return "Nothing changed: it is so already.", 409
