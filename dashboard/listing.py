"""Lists that people sort, filter and page through; the address says all of it, so that a link shows the same list.

An address has ``sort`` (a column's key, with a minus for falling), the list's own filters, and where the list is
opened: ``after`` or ``before`` a numbered row of the record, or the ``page`` of a list that is held in memory. What it
does not know it refuses, for a filter that is mistyped and passed over would show more than its reader believes to see.

Several lists of one page each put a word of their own before their parts, and keep in their links what the others are
asked for (``asked_together``).
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from typing import Annotated, Any, Self
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
    ValidationError,
    ValidationInfo,
    field_validator,
)

from dashboard.bounds import EXPECTED, Bound
from dashboard.premises import Named
from gateway.days import ALWAYS
from gateway.when import WhenError
from rules.exposure import Span

MOST_LETTERS = 120
"""Of a text that is searched for (ours); a serial number has 80 at most."""

MOST_PAGE = 10_000
"""Highest number of a page (ours): no list in memory is as long."""

BESIDE, NUMBERED, WHOLE = ("after", "before"), ("page",), ()
"""By what a list is opened further on: beside a row of the record, at a numbered page, not at all."""


class ListError(ValueError):
    """A list cannot be shown as it is asked for; one plain sentence. status: of the answer."""

    def __init__(self, sentence: str, status: int = 422) -> None:
        super().__init__(sentence)
        self.status = status


class Sorting(Enum):
    """How a column is ordered: in words rising and falling, and whether it falls at first."""

    TEXT = ("A to Z", "Z to A", False)
    TIME = ("oldest first", "newest first", True)
    NUMBER = ("least first", "most first", True)
    PLACE = ("as listed there", "from its end", False)
    URGENCY = ("most urgent first", "least urgent first", False)
    WORTH = ("best first", "worst first", False)
    SURENESS = ("least sure first", "surest first", False)

    @property
    def falls_first(self) -> bool:
        """Its direction where nobody chose one."""
        return self.value[2]

    def words(self, *, falls: bool) -> str:
        """A direction in words."""
        rising, falling, _ = self.value
        return falling if falls else rising


class Sort(BaseModel):
    """By which column, and which way."""

    model_config = ConfigDict(frozen=True)

    key: str
    falls: bool = False

    @classmethod
    def read(cls, text: str) -> Self:
        """As it stands in an address."""
        return cls(key=text.removeprefix("-"), falls=text.startswith("-"))

    @property
    def turned(self) -> "Sort":
        """The other way round."""
        return Sort(key=self.key, falls=not self.falls)

    def __str__(self) -> str:
        return f"-{self.key}" if self.falls else self.key


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a list.

    sorting: None where nobody can sort by it. minor: it is left out on a narrow screen; what it says is in the row's
    own page too.
    """

    key: str
    heading: str
    sorting: Sorting | None = None
    minor: bool = False

    @property
    def at_first(self) -> Sort:
        """How it is sorted by when it is chosen."""
        return Sort(key=self.key, falls=self.sorting is not None and self.sorting.falls_first)


@dataclass(frozen=True, slots=True)
class Choice:
    """A filter that is one of these; ``wrong``: what is said of anything else."""

    key: str
    label: str
    options: tuple[Named, ...]
    wrong: str = ""

    def name(self, option: str) -> str:
        """How an option is called."""
        return next((named.name for named in self.options if named.id == option), option)


@dataclass(frozen=True, slots=True)
class Listing:
    """A list as it is stated.

    path: of its page. what: one of its rows; many: several, '' where that is the same with an s.
    columns: in their order. at_first: how it is sorted where nobody chose.
    search: what a text is looked for in, '' where it cannot be searched. choices: filters of one value each.
    period: what lies between two times of the site, or days of its calendar; '' where nothing does.
    kept: what the address of the page says besides, which no filter changes. paging: by what it is opened further on.
    text_key: what the address calls the text that is searched for.
    prefix: stands before each of its parts in an address, as of one list of several on a page. anchor: id of the
        element on the page where it begins, '' for the page's head. beside: what the page's other lists are asked for.
    """

    path: str
    what: str
    columns: tuple[Column, ...]
    at_first: Sort
    search: str = ""
    choices: tuple[Choice, ...] = ()
    period: str = ""
    kept: tuple[tuple[str, str], ...] = ()
    paging: tuple[str, ...] = BESIDE
    text_key: str = "text"
    prefix: str = ""
    anchor: str = ""
    beside: tuple[tuple[str, str], ...] = ()
    many: str = ""

    @property
    def plural(self) -> str:
        """What several of its rows are called."""
        return self.many or f"{self.what}s"

    def counted(self, number: int) -> str:
        """``1 entry``, ``2 entries``."""
        return f"{number} {self.what if number == 1 else self.plural}"

    def sortable(self) -> Iterator[Column]:
        """Columns that it can be sorted by."""
        return (column for column in self.columns if column.sorting is not None)

    def filter_keys(self) -> tuple[str, ...]:
        """Names of its filters in an address."""
        text = (self.text_key,) if self.search else ()
        return (*text, *(choice.key for choice in self.choices), *(("from", "to") if self.period else ()))

    def asked(self, params: Iterable[tuple[str, str]]) -> "Asked":
        """What an address asks for; parts without a value ask nothing, as a form sends them.

        Raises:
            ListError: it is not understood; a sentence for each part that is wrong.
        """
        given = [(name, value) for name, value in params if value.strip()]
        self._refuse_unknown(given)
        said = _timed((name.removeprefix(self.prefix), value) for name, value in given if name in self.names())
        choices = {choice.key for choice in self.choices}
        own = {self._field(name): value for name, value in said if name not in choices}
        chosen = {name: value for name, value in said if name in choices}
        try:
            return Asked.model_validate({**own, "chosen": chosen}, context=self)
        except ValidationError as error:
            wrong = dict.fromkeys(_sentence(self, item) for item in error.errors())
            raise ListError(" ".join(wrong)) from error

    def _field(self, name: str) -> str:
        return "text" if name == self.text_key else name

    def names(self) -> frozenset[str]:
        """What an address calls whatever it can ask of this list."""
        times = CLOCKS.values() if self.period else ()
        return frozenset(self.prefix + key for key in (*self.filter_keys(), *times, "sort", *self.paging))

    def takes(self) -> tuple[str, ...]:
        """The same as people are told of it, without where the list is opened."""
        return tuple(self.prefix + key for key in (*self.filter_keys(), "sort"))

    def _refuse_unknown(self, given: Iterable[tuple[str, str]]) -> None:
        known = {*self.names(), *(name for name, _ in self.kept)}
        times = Counter(name for name, _ in given)
        if unknown := [name for name in times if name not in known]:
            raise ListError(
                f"This list cannot be asked for '{_short(unknown[0])}'; it takes {', '.join(self.takes())}."
            )
        if twice := [name for name, many in times.items() if many > 1]:
            raise ListError(f"The address has '{twice[0]}' more than once; give it once.")
        if times["after"] and times["before"]:
            raise ListError("The address has both 'after' and 'before'; give one of them.")

    def address(self, asked: "Asked", path: str = "") -> str:
        """Where the list is found as it is asked for; path: of another form of it, as a file, which has it alone."""
        said = [*self.kept, *(() if path else self.beside), *self.said(asked)]
        anchor = f"#{self.anchor}" if self.anchor and not path else ""
        return (path or self.path) + (f"?{urlencode(said)}" if said else "") + anchor

    def said(self, asked: "Asked") -> Iterator[tuple[str, str]]:
        """What is asked of this list, as parts of an address."""
        return ((self.prefix + name, value) for name, value in asked.parts(self))


def asked_together(
    listings: Sequence[Listing], params: Iterable[tuple[str, str]]
) -> tuple[tuple[Listing, "Asked"], ...]:
    """What an address asks of the lists of one page, whose prefixes differ: each with what the others are asked for.

    Raises:
        ListError: some of it is not understood.
    """
    given = [(name, value) for name, value in params if value.strip()]
    known = {*(name for one in listings for name in one.names()), *(name for one in listings for name, _ in one.kept)}
    if unknown := [name for name, _ in given if name not in known]:
        takes = ", ".join(name for one in listings for name in one.takes())
        raise ListError(f"This page cannot be asked for '{_short(unknown[0])}'; it takes {takes}.")
    asked = [one.asked((name, value) for name, value in given if name in one.names()) for one in listings]
    said = [tuple(one.said(order)) for one, order in zip(listings, asked, strict=True)]
    return tuple(
        (replace(one, beside=tuple(part for other in said if other is not said[place] for part in other)), order)
        for place, (one, order) in enumerate(zip(listings, asked, strict=True))
    )


CLOCKS: Mapping[str, str] = {"from": "from-time", "to": "to-time"}
"""What a form sends a time of day as, beside its day; an address has both as one."""


def _timed(said: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    """With each time of day put to its day.

    Raises:
        ListError: its day is missing.
    """
    known = dict(said)
    for day, clock in CLOCKS.items():
        if (at := known.pop(clock, None)) is not None:
            if day not in known:
                raise ListError(f"A time of day needs its day; give '{day}' beside '{clock}'.")
            known[day] = f"{known[day]} {at.strip()}"
    return list(known.items())


_UNSET: Mapping[str, tuple[str, object]] = {"from": ("since", None), "to": ("until", None)}
Number = Annotated[int, Field(ge=0, lt=1 << 53)]


class Asked(BaseModel):
    """What an address asks of a list.

    text: searched for. since, until: a day with all of it, or a time, the second without it. chosen: a value for each
    choice that was made.
    after, before: number of a row of the record beside which the list is opened. page: of a list in memory, from 1.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True)

    sort: Sort = Field(default=Sort(key=""), validate_default=True)
    text: Annotated[str, StringConstraints(strip_whitespace=True, max_length=MOST_LETTERS)] = ""
    since: Annotated[Bound | None, BeforeValidator(Bound.read), Field(alias="from")] = None
    until: Annotated[Bound | None, BeforeValidator(Bound.read), Field(alias="to")] = None
    chosen: Mapping[str, str] = Field(default_factory=dict)
    after: Number | None = None
    before: Number | None = None
    page: Annotated[int, Field(ge=1, le=MOST_PAGE)] = 1

    @field_validator("sort", mode="before")
    @classmethod
    def _known_column(cls, value: object, info: ValidationInfo) -> object:
        listing = _listing_of(info)
        if not isinstance(value, str):
            return listing.at_first
        sort = Sort.read(value)
        if sort.key not in {column.key for column in listing.sortable()}:
            raise ValueError(value)
        return sort

    @field_validator("chosen")
    @classmethod
    def _known_options(cls, value: Mapping[str, str], info: ValidationInfo) -> Mapping[str, str]:
        for choice in _listing_of(info).choices:
            if choice.key in value and value[choice.key] not in {named.id for named in choice.options}:
                raise ValueError(choice.key)
        return value

    def parts(self, listing: Listing) -> Iterator[tuple[str, str]]:
        """As parts of an address, in the order of the list's filters; what is as it is at first is left out."""
        yield from self.filters(listing)
        if self.sort != listing.at_first:
            yield "sort", str(self.sort)
        yield from ((name, str(at)) for name, at in (("after", self.after), ("before", self.before)) if at is not None)
        if self.page > 1:
            yield "page", str(self.page)

    def filters(self, listing: Listing) -> Iterator[tuple[str, str]]:
        """Those that were set, as parts of an address."""
        bounds = {"from": self.since, "to": self.until}
        said = {
            listing.text_key: self.text,
            **self.chosen,
            **{name: str(bound) for name, bound in bounds.items() if bound},
        }
        yield from ((key, said[key]) for key in listing.filter_keys() if said.get(key))

    def at(self, **where: Any) -> "Asked":
        """The same list opened elsewhere; without anything, at its head."""
        return self.model_copy(update={"after": None, "before": None, "page": 1, **where})

    def sorted_by(self, sort: Sort) -> "Asked":
        """The same rows in another order, from its head."""
        return self.at(sort=sort)

    def without(self, listing: Listing, key: str) -> "Asked":
        """The list with one filter less, from its head."""
        if key == listing.text_key:
            return self.at(text="")
        if key in _UNSET:
            name, value = _UNSET[key]
            return self.at(**{name: value})
        return self.at(chosen={name: value for name, value in self.chosen.items() if name != key})

    @property
    def is_timed(self) -> bool:
        """Whether it is asked for by time."""
        return self.since is not None or self.until is not None

    def during(self, zone: ZoneInfo) -> Span:
        """The stretch of time in which something lies, in a zone.

        Raises:
            ListError: it has no length, or the clocks there showed a time of it twice, or never.
        """
        try:
            start = ALWAYS.start if self.since is None else self.since.begin(zone)
            end = ALWAYS.end if self.until is None else self.until.end(zone)
        except WhenError as why:
            raise ListError(str(why)) from why
        if self.since is not None and self.until is not None and start >= end:
            raise ListError(f"From {self.since.words} to {self.until.words} is no time; turn the two round.")
        return Span(start, end)


def _listing_of(info: ValidationInfo) -> Listing:
    if not isinstance(info.context, Listing):
        raise TypeError("an address is read for a list")
    return info.context


def _short(name: str) -> str:
    return name if len(name) <= MOST_LETTERS else f"{name[:MOST_LETTERS]}..."


_SENTENCES = {
    "text": f"Search for at most {MOST_LETTERS} letters.",
    "from": EXPECTED,
    "to": EXPECTED,
    "after": "The address is wrong after 'after='; begin again at the first rows.",
    "before": "The address is wrong after 'before='; begin again at the first rows.",
    "page": f"A page is a whole number from 1 to {MOST_PAGE}.",
}


def _sentence(listing: Listing, wrong: Mapping[str, Any]) -> str:
    name = str(wrong["loc"][0])
    if name == "sort":
        keys = ", ".join(column.key for column in listing.sortable())
        return f"This list cannot be sorted so; it can by {keys}, with a minus before it for the other way round."
    if name == "chosen":
        (choice,) = (choice for choice in listing.choices if choice.key == str(wrong["ctx"]["error"]))
        return choice.wrong or f"There is no such {choice.label.lower()}; choose one from the list."
    return _SENTENCES.get(name, f"'{name}' is not understood.")
