"""What a page of the logbook and its print are made of: sections with facts, tables and sentences, in plain words."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TypeVar
from zoneinfo import ZoneInfo

from dashboard.words import stamp
from gateway.hub import RecordHead
from rules.readings import Micros

T = TypeVar("T")

NOT_ENTERED = "not entered"
NOT_MEASURED = "not measured"
NONE_RECORDED = "none recorded"

CAUTION = (
    "An aid, not a medical device and not proof of disinfection: a record of time and temperature proves neither"
    " cleaning nor concentration nor sterility. Of solutions, strips and steps it knows what people entered. Product"
    " label, transducer instructions, local policy and licensed staff govern."
)


@dataclass(frozen=True, slots=True)
class Fact:
    """A name and what is known of it, a line each; is_missing: nothing is, which is what the line says."""

    name: str
    lines: tuple[str, ...]
    is_missing: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under headings.

    shares: how wide the columns are in print, in relation to each other. links: on the screen, where each row leads;
    '' for nowhere, and none at all where none does. linked: the words of those links.
    """

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    shares: tuple[float, ...]
    links: tuple[str, ...] = ()
    linked: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    """A part of a sheet; id: what a link leads to. sentences: said before its facts and tables."""

    id: str
    title: str
    sentences: tuple[str, ...] = ()
    facts: tuple[Fact, ...] = ()
    table: Table | None = None


@dataclass(frozen=True, slots=True)
class Footing:
    """What stands under each sheet: when it was made, and the head of the record, None before the first is known."""

    head: RecordHead | None
    made: Micros

    def words(self, zone: ZoneInfo) -> tuple[str, str]:
        """When it was made, and the head of the record, a sentence each."""
        made = f"Made {stamp(self.made, zone)}, times in {zone.key}."
        if self.head is None:
            return made, "The head of the record is not known yet."
        return made, f"Head of the record at {stamp(self.head.at, zone)}: {self.head.short}"


def fact(name: str, *lines: str | None, missing: str = NOT_ENTERED) -> Fact:
    """A fact; lines that are None or empty are left out, and where none is left it is said to be missing."""
    said = tuple(line for line in lines if line)
    return Fact(name, said) if said else Fact(name, (missing,), is_missing=True)


def facts(*items: Fact | None) -> tuple[Fact, ...]:
    """Those that are there."""
    return tuple(item for item in items if item is not None)


def known(value: T | None, words: Callable[[T], str]) -> str | None:
    """A value in words; None where there is none."""
    return None if value is None else words(value)


def joined(words: Iterable[str]) -> str | None:
    """``a, b``; None where there is none."""
    return ", ".join(words) or None
