"""Lists as an address asks for them: what it says comes back, and each page is what a plain reference says it is."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from urllib.parse import parse_qsl, urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.bounds import Bound
from dashboard.grid import cell
from dashboard.held import arranged, leaf, natural, of_memory
from dashboard.listing import BESIDE, NUMBERED, Asked, Choice, Column, ListError, Listing, Sort, Sorting
from dashboard.listing_view import list_view
from dashboard.premises import Named
from rules.readings import SECOND, Micros
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
OFFSETS = st.none() | st.integers(-14 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))
CLOCKS = st.builds(lambda at, zone: at.replace(microsecond=0, tzinfo=zone), st.times(), OFFSETS)
BOUNDS = st.builds(Bound, DAYS, st.none() | CLOCKS)
TEXTS = st.text(max_size=40).map(str.strip)
ASKED = st.builds(
    lambda sort, text, since, until, kind, page: Asked.model_construct(
        sort=sort, text=text, since=since, until=until, chosen=kind, page=page, after=None, before=None
    ),
    st.builds(Sort, key=st.sampled_from(["name", "size", "told"]), falls=st.booleans()),
    TEXTS,
    st.none() | BOUNDS,
    st.none() | BOUNDS,
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

WHEN = "A time is written as 2026-11-25 06:00, or as its day alone, 2026-11-25"

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
        ("?from=31.12.2026", f"{WHEN}, from the year 2000 to 2199."),
        ("?from=2026-11-25+6", WHEN),
        ("?from=2026-11-25+06:00+pm", WHEN),
        ("?from=2026-11-25+25:00", WHEN),
        ("?to=2026-02-29", WHEN),
        ("?to=1999-12-31+06:00", WHEN),
        ("?to=2026-11-25+06:00&to-time=07:00", WHEN),
        ("?from-time=06:00", "A time of day needs its day; give 'from' beside 'from-time'."),
        ("?page=0", "A page is a whole number from 1 to 10000."),
        ("?page=9" + "9" * 400, "A page is a whole number from 1 to 10000."),
        (f"?text={'x' * 121}", "Search for at most 120 letters."),
        ("?page=2&page=3", "The address has 'page' more than once; give it once."),
        ("?after=3", "This list cannot be asked for 'after'"),
        (f"?{'x' * 5000}=1", "This list cannot be asked for 'xxx"),
    ],
)
def test_nonsense_is_answered_in_plain_words(address: str, said: str) -> None:
    with pytest.raises(ListError, match=re.escape(said)) as refused:
        asked(address)
    assert len(str(refused.value)) < 400


def test_what_a_form_sends_empty_asks_for_nothing() -> None:
    assert asked("?text=&kind=&from=&to=&sort=") == asked("")


# ---- times -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("address", "begin", "end"),
    [
        # Europe/Lisbon went to summer time on 31 March 2024, 01:00, and back on 27 October 2024, 02:00 (IANA time zone
        # database, file europe, rule EU); it is at UTC in winter and an hour before it in summer.
        ("?from=2024-11-25+06:00&to=2024-11-25+07:00", "2024-11-25T06:00Z", "2024-11-25T07:00Z"),
        (
            "?from=2024-11-25&from-time=06:00&to=2024-11-25&to-time=07:30:15",
            "2024-11-25T06:00Z",
            "2024-11-25T07:30:15Z",
        ),
        ("?from=2024-07-01T06:00&to=2024-07-01", "2024-07-01T05:00Z", "2024-07-01T23:00Z"),
        ("?from=2024-10-27&to=2024-10-27", "2024-10-26T23:00Z", "2024-10-28T00:00Z"),  # a day of 25 hours
        ("?from=2024-03-31&to=2024-03-31", "2024-03-31T00:00Z", "2024-03-31T23:00Z"),  # and one of 23
        ("?from=2024-10-27+01:30%2B01:00&to=2024-10-27+01:30%2B0000", "2024-10-27T00:30Z", "2024-10-27T01:30Z"),
        ("?from=2024-10-27+00:59&to=2024-10-27+02:00", "2024-10-26T23:59Z", "2024-10-27T02:00Z"),
        ("?from=2024-03-31+00:30&to=2024-03-31+02:30", "2024-03-31T00:30Z", "2024-03-31T01:30Z"),  # one hour long
        ("?from=2024-11-25+06:00Z&to=2024-11-25+08:00%2B02:00", None, "From 25 Nov 2024 06:00+00:00 to"),
        ("?from=2024-11-26&to=2024-11-25", None, "From 26 Nov 2024 to 25 Nov 2024 is no time; turn the two round."),
        ("?from=2024-10-27+01:30", None, "showed '2024-10-27 01:30' twice, as they were changed; add the offset meant"),
        ("?to=2024-03-31+01:30", None, "showed '2024-03-31 01:30' never, as they were changed"),
    ],
)
def test_times_are_those_of_the_sites_clocks(address: str, begin: str | None, end: str) -> None:
    if begin is None:
        with pytest.raises(ListError, match=re.escape(end)):
            asked(address).during(LISBON)
        return
    micros = [int(datetime.fromisoformat(at).astimezone(UTC).timestamp()) * 1_000_000 for at in (begin, end)]
    assert list(asked(address).during(LISBON)) == micros


@given(st.datetimes(datetime(2000, 1, 2), datetime(2199, 12, 30), timezones=st.just(LISBON), allow_imaginary=False))  # noqa: DTZ001 - hypothesis puts the zone to them
def test_a_second_of_the_record_is_found_again_by_how_it_is_written(then: datetime) -> None:
    instant = Micros(int(then.timestamp()) * SECOND)
    bound = Bound.read(str(Bound.of(instant, LISBON)))
    assert (bound.begin(LISBON), bound.end(LISBON)) == (instant, instant)


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
        (
            "?kind=c&from=2026-11-01",
            "No thing fits: kind C, told from 1 Nov 2026. Take a filter off. Times are those of Europe/Lisbon.",
        ),
        ("", "Nothing is here yet."),
    ):
        wanted = asked(address)
        shown = of_memory(LISTING, wanted, leaf([], wanted), lambda _: ())
        assert list_view(LISTING, wanted, shown, LISBON, empty="Nothing is here yet.").none == said
