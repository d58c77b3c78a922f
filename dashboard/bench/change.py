"""How figures are changed from the bench, and whether that took effect."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from dashboard import figure_deeds
from dashboard.asking import NotWrittenError, ask, picture_after
from dashboard.bench.shown import Bench
from dashboard.figure_deeds import Deed
from dashboard.forms import DeedError, NotTakenError


@dataclass(frozen=True, slots=True)
class Refused:
    """Why nothing was changed, and the status of the answer; wrong: sentences by the names of fields."""

    said: str
    status: int
    wrong: Mapping[str, str] = field(default_factory=dict)


async def change(bench: Bench, deed: Deed, fields: Mapping[str, str]) -> Refused | None:
    """None once what was changed is on disk and shown.

    fields: as figure_deeds.entry_of takes them.
    """
    archive = bench.archive
    try:
        command = figure_deeds.entry_of(deed, fields, archive.hub.latest.picture, archive.premises, archive.now())
        events = await ask(archive.hub, command)
        figure_deeds.told(events)
    except DeedError as wrong:
        return Refused(str(wrong), 422, wrong.fields)
    except NotTakenError as why:
        return Refused(str(why), 409)
    except NotWrittenError as why:
        return Refused(str(why), 503)
    await picture_after(archive.hub, events[-1].at)
    return None
