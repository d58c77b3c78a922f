"""The file in which a record is shared: gzip (RFC 1952) of lines of JSON (RFC 8259), each an object with its ``line``.

    begin     form, version, program; whether all times were moved
    law       site file, standard rules and labels that judge from the next input on; ``at``: the engine's time
    sensors   ids, numbered on from 0 in the order of the lines
    readings  rows of: sensor, microseconds since the input before arrived, how long before its arrival it was measured,
              value, whether the device gave the time
    command   what a person did
    alerts    what was told of alerts, without texts
    truth     of a simulated record: what really went wrong, from when to when
    end       how many inputs, what the engine's time was

Whoever is to share it can read it before: ``zcat FILE | less``.
"""

import gzip
import zlib
from collections.abc import Iterator
from pathlib import Path
from textwrap import shorten
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, FiniteFloat, StringConstraints, TypeAdapter, ValidationError

from gateway.visible import visible
from rules.alert_events import AlertEvent
from rules.commands import Command
from rules.readings import DAY, SECOND, Micros

FORM = "sinkside recording"
VERSION = 1

MOST_LINE_BYTES = 8_000_000
"""Longest line; ours. A site file may have a megabyte, a chunk of readings has less than 100 KB."""

MOST_SENSORS = 1_000_000
"""Most sensors of a file; ours."""

MOST_INPUTS = 2_000_000_000
"""Most inputs of a file; ours, some years of a large hospital."""

MOST_SPAN = Micros(20 * 366 * DAY)
"""From the first input to the end; ours. A file of few lines must not make an engine live through millennia."""

LATEST = Micros(7_258_118_400 * SECOND)
"""1 January 2200, as for days that people enter."""

CHUNK_ROWS = 1000

MOST_SAID = 120
"""Longest word on what is wrong with a line."""

Instant = Annotated[Micros, Field(ge=0, le=1 << 62)]
Span = Annotated[int, Field(ge=-(1 << 62), le=1 << 62)]
Text = Annotated[str, StringConstraints(max_length=2_000_000)]
Value = Annotated[bool | FiniteFloat | Annotated[str, StringConstraints(max_length=65_536)], Field(union_mode="smart")]
SensorText = Annotated[str, StringConstraints(min_length=1, max_length=100)]
Row = tuple[Annotated[int, Field(ge=0)], Span, Span, Value, bool]


ShortText = Annotated[str, StringConstraints(max_length=100)]
TruthRow = tuple[ShortText, ShortText, ShortText, Instant, Instant | None]


class SharedFileError(ValueError):
    """The file cannot be used; one sentence says what is wrong with it, and what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(visible(sentence))


class _Line(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class Begin(_Line):
    """The first line."""

    line: Literal["begin"] = "begin"
    form: str
    version: int
    program: Annotated[str, StringConstraints(max_length=80)]
    moved: bool


class LawLine(_Line):
    """What judges from the next input on."""

    line: Literal["law"] = "law"
    at: Instant
    site: Text
    standard: Text
    labels: Text


class SensorsLine(_Line):
    """Sensors that the readings after it name by their numbers."""

    line: Literal["sensors"] = "sensors"
    ids: Annotated[tuple[SensorText, ...], Field(strict=False, max_length=10_000)]


class ReadingsLine(_Line):
    """Readings in the order of their arrival."""

    line: Literal["readings"] = "readings"
    rows: Annotated[list[Row], Field(max_length=CHUNK_ROWS)]


class CommandLine(_Line):
    """What a person did."""

    model_config = ConfigDict(strict=False)

    line: Literal["command"] = "command"
    command: Command


class AlertsLine(_Line):
    """What was told of alerts."""

    model_config = ConfigDict(strict=False)

    line: Literal["alerts"] = "alerts"
    events: Annotated[list[AlertEvent], Field(max_length=CHUNK_ROWS)]


class TruthLine(_Line):
    """What really went wrong, where a simulator made the record; seed, since and until: of what it was made by.

    episodes: what went wrong in a word, the kind and the id of what it is about, from when to when, None: to the end.
    """

    line: Literal["truth"] = "truth"
    seed: int
    since: Instant
    until: Instant
    episodes: Annotated[list[TruthRow], Field(max_length=CHUNK_ROWS)]


class EndLine(_Line):
    """The last line."""

    line: Literal["end"] = "end"
    inputs: Annotated[int, Field(ge=0)]
    until: Instant


Line = Annotated[
    Begin | LawLine | SensorsLine | ReadingsLine | CommandLine | AlertsLine | TruthLine | EndLine,
    Field(discriminator="line"),
]
_LINE: TypeAdapter[Line] = TypeAdapter(Line)


class SharedFile:
    """Writes a file line by line; what is begun and not ended cannot be read."""

    def __init__(self, path: Path) -> None:
        # Neither the file's name nor the time of writing stand in it.
        self._raw = path.open("xb")
        self._file = gzip.GzipFile(filename="", mode="wb", compresslevel=6, fileobj=self._raw, mtime=0)

    def write(self, line: BaseModel) -> None:
        """One more line."""
        self._file.write(line.model_dump_json().encode() + b"\n")

    def close(self) -> None:
        """All is on its way to disk."""
        self._file.close()
        self._raw.close()


def lines(path: Path) -> Iterator[Line]:
    """Every line of a file, the first and the last included.

    Raises:
        SharedFileError: it is none of ours, of another version, damaged, or ends too early.
    """
    number, last = 0, None
    with gzip.open(path, "rb") as file:
        for number, text in enumerate(_texts(path, file), 1):
            if last is not None and last.line == "end":
                raise SharedFileError(f"{path}, line {number}: nothing comes after the end; {_AGAIN}")
            last = _read(path, number, text)
            yield last
    if last is None or last.line != "end":
        raise SharedFileError(f"{path} ends in the middle, after line {number}; {_AGAIN}")


_AGAIN = "have it sent once more, or written anew with 'sinkside export --anonymise'."


def _texts(path: Path, file: gzip.GzipFile) -> Iterator[bytes]:
    try:
        while text := file.readline(MOST_LINE_BYTES + 1):
            if len(text) > MOST_LINE_BYTES:
                raise SharedFileError(f"{path} has a line of more than {MOST_LINE_BYTES} bytes: it is none of ours.")
            yield text
    except gzip.BadGzipFile as error:
        raise SharedFileError(f"{path} is no gzip file, or is damaged ({error}); {_AGAIN}") from error
    except EOFError as error:
        raise SharedFileError(f"{path} ends in the middle; {_AGAIN}") from error
    except zlib.error as error:
        raise SharedFileError(f"{path} is damaged ({error}); {_AGAIN}") from error


def _read(path: Path, number: int, text: bytes) -> Line:
    try:
        line = _LINE.validate_json(text)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        where = ".".join(map(str, first["loc"])) or "the line"
        what = shorten(first["msg"], MOST_SAID, placeholder=" ...")
        raise SharedFileError(f"{path}, line {number}: {where}: {what}; {_AGAIN}") from error
    if (number == 1) is not (line.line == "begin"):
        raise SharedFileError(f"{path}, line {number}: expected 'begin' there and nowhere else; {_AGAIN}")
    if isinstance(line, Begin) and (line.form != FORM or line.version != VERSION):
        what = f"form '{line.form[:40]}', version {line.version}"
        raise SharedFileError(f"{path} is of {what}; expected '{FORM}', version {VERSION}: install the version for it.")
    return line
