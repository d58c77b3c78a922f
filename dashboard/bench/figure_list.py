"""The list of the figures of rules and trackers: which are in force, what each may be, and by whom it was changed."""

from collections.abc import Sequence
from typing import NamedTuple
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from dashboard.bench.figures import full_name, range_words, rule_of, short_name, with_unit
from dashboard.grid import Cell, cell
from dashboard.held import Held, natural
from dashboard.listing import NUMBERED, Asked, Choice, Column, ListError, Listing, Sort, Sorting
from dashboard.listing_view import ListView, list_view
from dashboard.live_listings import Params
from dashboard.premises import Named
from dashboard.words import stamp
from rules.figure_picture import FigurePicture

_TRACKERS = Named("trackers", "the trackers, which many rules build on")
_CHANGED, _AS_GIVEN = Named("yes", "changed by command"), Named("no", "as the site file has it")
_IN_FORCE = "What is in force was changed by command, 'yes', or is as the site file has it, 'no'."

_COLUMNS = (
    Column("rule", "Rule", Sorting.TEXT),
    Column("name", "Figure", Sorting.TEXT),
    Column("value", "In force"),
    Column("given", "Site file"),
    Column("range", "May be"),
    Column("text", "What it is for"),
    Column("source", "Source of the default"),
    Column("changed", "Changed by", Sorting.TIME),
)


class _Row(NamedTuple):
    """A figure, and its place among all."""

    figure: FigurePicture
    place: int

    @property
    def rule(self) -> str:
        """'' for one of the trackers."""
        return rule_of(self.figure.name)

    @property
    def by(self) -> tuple[str, ...]:
        """Who changed it, and why; empty where nobody did."""
        ordered = self.figure.ordered
        return (ordered.who, ordered.why) if ordered else ()


_FIGURES = Held[_Row](
    by={
        "rule": lambda row: (natural(row.rule), row.place) if row.rule else None,
        "name": lambda row: natural(short_name(row.figure.name)),
        "changed": lambda row: row.figure.ordered and row.figure.ordered.since,
    },
    words=lambda row: (full_name(row.figure.name), row.figure.name, row.figure.text, row.figure.source, *row.by),
    options={
        "of": lambda row: row.rule or _TRACKERS.id,
        "changed": lambda row: (_CHANGED if row.figure.ordered else _AS_GIVEN).id,
    },
)


def figures_listing(figures: Sequence[FigurePicture], chosen: str) -> Listing:
    """All figures, rule by rule at first, the trackers' last; chosen: the one that is to be changed, or ''."""
    rules = dict.fromkeys(rule_of(figure.name) for figure in figures)
    return Listing(
        path="/bench/figures",
        what="figure",
        columns=_COLUMNS,
        at_first=Sort(key="rule"),
        search="Search figure, rule, what it is for, source",
        choices=(
            Choice("of", "Rule", (*(Named(rule, rule) for rule in rules if rule), _TRACKERS)),
            Choice("changed", "In force", (_CHANGED, _AS_GIVEN), _IN_FORCE),
        ),
        kept=(("figure", chosen),) if chosen else (),
        paging=NUMBERED,
        anchor="every",
    )


def figures_list(figures: Sequence[FigurePicture], zone: ZoneInfo, params: Params) -> ListView:
    """The figures that an address asks for.

    Raises:
        ListError: it is not understood.
    """
    given = list(params)
    chosen = next((value for name, value in given if name == "figure"), "")
    if chosen and chosen not in {figure.name for figure in figures}:
        raise ListError("There is no such figure; choose one from the list at /bench/figures.", 404)
    listing = figures_listing(figures, chosen)
    asked = listing.asked(given)
    rows = (_Row(figure, place) for place, figure in enumerate(figures))
    shown = _FIGURES.page(rows, listing, asked, lambda row: _cells(row, listing, asked, zone))
    return list_view(listing, asked, shown, zone, empty="No figures are known yet.")


def _cells(row: _Row, listing: Listing, asked: Asked, zone: ZoneInfo) -> tuple[Cell, ...]:
    figure, ordered = row.figure, row.figure.ordered
    by = (f"{ordered.who}, {ordered.role}", stamp(ordered.since, zone), ordered.why) if ordered else ()
    choosing = urlencode([("figure", figure.name), *listing.said(asked)])
    return (
        cell(row.rule or None, missing="trackers"),
        cell(short_name(figure.name), href=f"{listing.path}?{choosing}#change"),
        cell(with_unit(figure.value, figure.unit), sign="open" if ordered else ""),
        cell(with_unit(figure.given, figure.unit)),
        cell(range_words(figure)),
        cell(figure.text, missing="as its rule says"),
        cell(figure.source),
        cell(*by, missing="nobody"),
    )
