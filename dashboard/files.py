"""What is sent to be saved or printed: never kept on the way."""

from collections.abc import AsyncIterator
from urllib.parse import quote

from starlette.responses import Response, StreamingResponse

FRESH = {"Cache-Control": "no-store"}


_CSV = "text/csv; charset=utf-8; header=present"


def csv_file(text: str, name: str) -> Response:
    """A table after RFC 4180 in UTF-8, for saving."""
    return Response(text, media_type=_CSV, headers=_for_saving(name))


def csv_stream(texts: AsyncIterator[str], name: str) -> Response:
    """The same, sent as it is read; where reading fails on the way the transfer is broken off, never a short file."""
    return StreamingResponse(texts, media_type=_CSV, headers=_for_saving(name))


def _for_saving(name: str) -> dict[str, str]:
    return {**FRESH, "Content-Disposition": f"attachment; filename*=UTF-8''{quote(name)}"}


def pdf_file(content: bytes, name: str) -> Response:
    """A print, to be looked at first."""
    headers = {**FRESH, "Content-Disposition": f"inline; filename*=UTF-8''{quote(name)}"}
    return Response(content, media_type="application/pdf", headers=headers)


def svg_file(text: str) -> Response:
    """A drawing."""
    return Response(text, media_type="image/svg+xml", headers=FRESH)
