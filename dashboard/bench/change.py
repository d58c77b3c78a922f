"""How figures are changed from the bench, and whether that took effect."""

from collections.abc import Mapping

from dashboard import figure_deeds
from dashboard.asking import NotWrittenError, ask, picture_after
from dashboard.bench.shown import Bench
from dashboard.figure_deeds import Deed
from dashboard.forms import DeedError, NotTakenError


async def change(bench: Bench, deed: Deed, fields: Mapping[str, str]) -> tuple[str, int]:
    """Why nothing was changed, and the status of the answer; '' once what was changed is on disk and shown.

    fields: as figure_deeds.entry_of takes them.
    """
    archive = bench.archive
    try:
        command = figure_deeds.entry_of(deed, fields, archive.hub.latest.picture, archive.premises, archive.now())
        events = await ask(archive.hub, command)
        figure_deeds.told(events)
    except DeedError as wrong:
        return str(wrong), 422
    except NotTakenError as why:
        return str(why), 409
    except NotWrittenError as why:
        return str(why), 503
    await picture_after(archive.hub, events[-1].at)
    return "", 200
