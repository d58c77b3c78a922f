"""Lists as an address asks for them: what it says comes back, and each page is what a plain reference says it is."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from urllib.parse import parse_qsl, urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.grid import cell
from dashboard.listing import BESIDE, NUMBERED, Asked, Choice, Column, ListError, Listing, Sort, Sorting
from dashboard.listing_view import arranged, leaf, list_view, natural, of_memory
from dashboard.premises import Named
from tests.dashboard.conftest import LISBON

COLUMNS = (
    Column("name", "Name", Sorting.TEXT),
    Column("size", "Size", Sorting.NUMBER),
    Column("told", "Told", Sorting.TIME),
    Column("note", "Note"),
)
KINDS = (Named("a&b", "A and B"), Named("c", "C"))
LISTING = Listing(
    path="/things",
    what="thing",
    columns=COLUMNS,
    at_first=COLUMNS[0].at_first,
    search="Search",
    choices=(Choice("kind", "Kind", KINDS),),
    period="Told",
    paging=NUMBERED,
)


def asked(address: str, listing: Listing = LISTING) -> Asked:
    return listing.asked(parse_qsl(urlsplit(address).query, keep_blank_values=True))


DAYS = st.dates(date(2000, 1, 1), date(2199, 12, 31))
TEXTS = st.text(max_size=40).map(str.strip)
ASKED = st.builds(
    lambda sort, text, since, until, kind, page: Asked.model_construct(
        sort=sort, text=text, since=since, until=until, chosen=kind, page=page, after=None, before=None
    ),
    st.builds(Sort, key=st.sampled_from(["name", "size", "told"]), falls=st.booleans()),
    TEXTS,
    st.none() | DAYS,
    st.none() | DAYS,
    st.sampled_from([{}, {"kind": "a&b"}, {"kind": "c"}]),
    st.integers(1, 50),
)


@given(ASKED)
def test_an_address_says_all_of_it(wanted: Asked) -> None:
    assert asked(LISTING.address(wanted)) == wanted


@given(ASKED)
def test_each_filter_can_be_taken_off_and_nothing_else_goes_with_it(wanted: Asked) -> None:
    for key, _ in wanted.filters(LISTING):
        left = asked(LISTING.address(wanted.without(LISTING, key)))
        assert dict(left.filters(LISTING)) == {k: v for k, v in wanted.filters(LISTING) if k != key}
        assert (left.sort, left.page) == (wanted.sort, 1)


# ---- nonsense --------------------------------------------------------------------------------------------------------

INJECTED = ["1; DROP TABLE event", "name' OR '1'='1", "(SELECT body FROM event)", "name,size", "--", "seq", "\x00"]


@pytest.mark.parametrize("text", INJECTED)
@pytest.mark.parametrize("key", ["sort", "kind", "from", "to", "page", "after"])
def test_whatever_is_not_of_the_list_is_refused_in_a_sentence(key: str, text: str) -> None:
    listing = replace(LISTING, paging=BESIDE) if key == "after" else LISTING
    with pytest.raises(ListError) as refused:
        listing.asked([(key, text)])
    assert str(refused.value).endswith(".")
    assert text not in str(refused.value)


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("?colour=red", "This list cannot be asked for 'colour'; it takes text, kind, from, to, sort."),
        ("?sort=note", "This list cannot be sorted so; it can by name, size, told, with a minus before it"),
        ("?kind=d", "There is no such kind; choose one from the list."),
        ("?from=31.12.2026", "A day is written as 2026-11-25, from the year 2000 to 2199."),
        ("?page=0", "A page is a whole number from 1 to 10000."),
        ("?page=9" + "9" * 400, "A page is a whole number from 1 to 10000."),
        (f"?text={'x' * 121}", "Search for at most 120 letters."),
        ("?page=2&page=3", "The address has 'page' more than once; give it once."),
        ("?after=3", "This list cannot be asked for 'after'"),
        (f"?{'x' * 5000}=1", "This list cannot be asked for 'xxx"),
    ],
)
def test_nonsense_is_answered_in_plain_words(address: str, said: str) -> None:
    with pytest.raises(ListError, match=said.replace("(", r"\(").replace("?", r"\?")) as refused:
        asked(address)
    assert len(str(refused.value)) < 400


def test_what_a_form_sends_empty_asks_for_nothing() -> None:
    assert asked("?text=&kind=&from=&to=&sort=") == asked("")


# ---- rows in memory --------------------------------------------------------------------------------------------------

ROWS = st.lists(st.tuples(st.text("abAB12", max_size=3), st.none() | st.integers(-3, 3)), max_size=30)
Thing = tuple[str, int | None]
BY: dict[str, Callable[[Thing], object]] = {"name": lambda row: natural(row[0]), "size": lambda row: row[1]}


@given(ROWS, st.sampled_from(["name", "-name", "size", "-size"]), st.integers(1, 7))
def test_pages_one_after_the_other_are_the_whole_list_in_order(rows: list[Thing], sort: str, most: int) -> None:
    def wanted() -> list[Thing]:
        """By insertion, the plainest way to sort that keeps those alike in the order given."""
        key, falls, placed = sort.removeprefix("-"), sort.startswith("-"), list[Thing]()
        for row in rows:
            mine, place = BY[key](row), len(placed)
            while place and _is_before(mine, BY[key](placed[place - 1]), falls=falls):
                place -= 1
            placed.insert(place, row)
        return placed

    whole = arranged(rows, asked(f"?sort={sort}"), BY)
    pages = [leaf(whole, asked(f"?page={n}"), most) for n in range(1, max(1, -(-len(rows) // most)) + 1)]
    assert [row for page in pages for row in page.rows] == wanted()
    assert all(page.total == len(rows) for page in pages)
    with pytest.raises(ListError, match="there is no page"):
        leaf(whole, asked(f"?page={len(pages) + 1}"), most)


def _is_before(mine: object, other: object, *, falls: bool) -> bool:
    if mine is None or other is None:
        return mine is not None and other is None
    return mine > other if falls else mine < other  # type: ignore[operator, no-any-return]


def test_a_list_says_which_rows_it_shows_in_which_order_and_zone() -> None:
    wanted = asked("?page=2&sort=-size&text=x")
    shown = of_memory(LISTING, wanted, leaf(list(range(7)), wanted, 3), lambda row: (cell(str(row)),))
    view = list_view(LISTING, wanted, shown, LISBON, empty="Nothing is here yet.", csv="/things.csv")
    assert view.said == "Rows 4 to 6 of 7 things. Sorted by size, most first. Times are those of Europe/Lisbon."
    assert (view.previous, view.next) == ("/things?text=x&sort=-size", "/things?text=x&sort=-size&page=3")
    assert view.csv == "/things.csv?text=x&sort=-size"
    assert [(heading.sorted, heading.href) for heading in view.headings] == [
        ("", "/things?text=x"),
        ("descending", "/things?text=x&sort=size"),
        ("", "/things?text=x&sort=-told"),
        ("", ""),
    ]


def test_a_list_that_is_empty_by_its_filters_says_so_and_one_that_has_nothing_says_that() -> None:
    for address, said in (
        ("?kind=c&from=2026-11-01", "No thing fits: kind C, told from 1 Nov 2026. Take a filter off."),
        ("", "Nothing is here yet."),
    ):
        wanted = asked(address)
        shown = of_memory(LISTING, wanted, leaf([], wanted), lambda _: ())
        assert list_view(LISTING, wanted, shown, LISBON, empty="Nothing is here yet.").none == said
