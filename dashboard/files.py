"""What is sent to be saved or printed: never kept on the way."""

from urllib.parse import quote

from starlette.responses import Response

FRESH = {"Cache-Control": "no-store"}


def csv_file(text: str, name: str) -> Response:
    """A table after RFC 4180 in UTF-8, for saving."""
    headers = {**FRESH, "Content-Disposition": f"attachment; filename*=UTF-8''{quote(name)}"}
    return Response(text, media_type="text/csv; charset=utf-8; header=present", headers=headers)


def pdf_file(content: bytes, name: str) -> Response:
    """A print, to be looked at first."""
    headers = {**FRESH, "Content-Disposition": f"inline; filename*=UTF-8''{quote(name)}"}
    return Response(content, media_type="application/pdf", headers=headers)


def svg_file(text: str) -> Response:
    """A drawing."""
    return Response(text, media_type="image/svg+xml", headers=FRESH)
