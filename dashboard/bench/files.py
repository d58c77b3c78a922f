"""Tables and texts of the bench as files."""

from io import StringIO
from typing import Literal, get_args
from urllib.parse import quote
from zoneinfo import ZoneInfo

from starlette.responses import Response

from dashboard.archive import NotShownError
from dashboard.files import FRESH
from gateway.csv_text import write_table
from gateway.tuned import Change
from gateway.when import written_whole
from rules.readings import Micros

Form = Literal["svg", "png", "csv"]


def form_of(ending: str) -> Form:
    """The form of a picture by the ending of its address; a plain 404 where there is none."""
    for form in get_args(Form):
        if ending == form:
            return form  # type: ignore[no-any-return]
    raise NotShownError("A picture is there as svg, png and csv.")


def json_file(text: str, name: str) -> Response:
    """JSON, for saving."""
    return saved(text.encode(), "application/json", name)


def toml_file(text: str, name: str) -> Response:
    """A piece of a site file, for saving."""
    return saved(text.encode(), "text/plain; charset=utf-8", name)


def saved(content: bytes, kind: str, name: str) -> Response:
    """Something of a media type, for saving."""
    headers = {**FRESH, "Content-Disposition": f"attachment; filename*=UTF-8''{quote(name)}"}
    return Response(content, media_type=kind, headers=headers)


def changes_csv(changes: tuple[Change, ...], zone: ZoneInfo) -> str:
    """A row for each alert that would change."""

    def when(at: Micros | None) -> str | None:
        return None if at is None else written_whole(at, zone)

    out = StringIO(newline="")
    columns = ("on", "kind", "rule", "subject", "was", "would_be", "real")
    rows = ((c.on, c.kind, c.rule, c.subject, when(c.was), when(c.would_be), c.real) for c in changes)
    write_table(out, columns, rows)
    return out.getvalue()
