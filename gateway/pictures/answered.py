"""All pictures of an answered question as files: the operating curve, and days with the truth under the alerts."""

from collections.abc import Iterator
from pathlib import Path

from gateway.pictures.day_line import day_line
from gateway.pictures.operating_curve import is_drawn, operating_curve
from gateway.pictures.sheet import Picture
from gateway.tuned import MOST_DAYS_SHOWN, Answer

CURVE = "curve"


def write_pictures(answer: Answer, folder: Path) -> list[str]:
    """Write every picture as PNG, SVG and CSV; days of an earlier answer that are not there any more go.

    Gives the names of the pictures, without endings. Where no truth is known the curve has its CSV alone.

    Raises:
        OSError: a file cannot be written.
    """
    for number in range(len(answer.days), MOST_DAYS_SHOWN):
        for ending in ("png", "svg", "csv"):
            (folder / f"{_day(number)}.{ending}").unlink(missing_ok=True)
    names = []
    for name, picture, has_marks in _pictures(answer):
        (folder / f"{name}.csv").write_text(picture.csv(), encoding="utf-8", newline="")
        if has_marks:
            (folder / f"{name}.svg").write_text(picture.svg(), encoding="utf-8")
            (folder / f"{name}.png").write_bytes(picture.png())
        names.append(name)
    return names


def _pictures(answer: Answer) -> Iterator[tuple[str, Picture, bool]]:
    yield CURVE, operating_curve(answer), is_drawn(answer)
    for number, day in enumerate(answer.days):
        yield _day(number), day_line(day, {}), True


def _day(number: int) -> str:
    return f"day-{number + 1}"
