"""The bench's pictures as answers to a browser. Loads matplotlib: imported only once something is drawn."""

from starlette.responses import Response

from dashboard.bench.files import Form, saved
from dashboard.files import csv_file, svg_file
from gateway.pictures.sheet import Picture
from gateway.pictures.size import PHONE, SCREEN


def drawn(picture: Picture, form: Form, name: str, *, phone: bool) -> Response:
    """The picture in a form; name: of the file, without its ending."""
    size = PHONE if phone else SCREEN
    match form:
        case "svg":
            return svg_file(picture.svg(size))
        case "png":
            return saved(picture.png(size), "image/png", f"{name}.png")
        case "csv":
            return csv_file(picture.csv(), f"{name}.csv")
