"""All pictures of an answered question as files: the operating curve, and days with the truth under the alerts."""

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from gateway.pictures.day_line import day_line
from gateway.pictures.operating_curve import is_drawn, operating_curve
from gateway.pictures.sheet import Picture
from gateway.tuned import MOST_DAYS_SHOWN, Answer

CURVE = "curve"


class Written(NamedTuple):
    """Names of files, without endings. drawn: there as PNG, SVG and CSV; tables: as CSV alone."""

    drawn: tuple[str, ...]
    tables: tuple[str, ...]


def write_pictures(answer: Answer, folder: Path) -> Written:
    """Write every picture as PNG, SVG and CSV; what an earlier answer left that is not there any more goes.

    Where no truth is known, or nothing went wrong, the curve has its CSV alone.

    Raises:
        OSError: a file cannot be written.
    """
    for name in (CURVE, *map(_day, range(MOST_DAYS_SHOWN))):
        for ending in ("png", "svg", "csv"):
            (folder / f"{name}.{ending}").unlink(missing_ok=True)
    drawn: list[str] = []
    tables: list[str] = []
    for name, picture, has_marks in _pictures(answer):
        (folder / f"{name}.csv").write_text(picture.csv(), encoding="utf-8", newline="")
        if has_marks:
            (folder / f"{name}.svg").write_text(picture.svg(), encoding="utf-8")
            (folder / f"{name}.png").write_bytes(picture.png())
        (drawn if has_marks else tables).append(name)
    return Written(tuple(drawn), tuple(tables))


def _pictures(answer: Answer) -> Iterator[tuple[str, Picture, bool]]:
    yield CURVE, operating_curve(answer), is_drawn(answer)
    for number, day in enumerate(answer.days):
        yield _day(number), day_line(day, {}), True


def _day(number: int) -> str:
    return f"day-{number + 1}"
