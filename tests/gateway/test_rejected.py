"""Input that could not be used stays small, however much of it there is."""

from gateway.rejected import HEAD_BYTES, REASON_CHARACTERS, RejectedTally
from rules.readings import Micros


def test_the_same_fault_is_counted_in_one_row_with_its_newest_head() -> None:
    tally = RejectedTally()
    tally.add("a", "no", b"first", Micros(1))
    tally.add("a", "no", b"second", Micros(5))
    (row,) = tally.newest(10)
    assert (row.head, row.count, row.first, row.last) == (b"second", 2, 1, 5)


def test_the_fault_seen_longest_ago_goes_first() -> None:
    tally = RejectedTally(distinct_rows=2)
    for at, topic in enumerate(("a", "b", "a", "c")):
        tally.add(topic, "no", b"", Micros(at))
    assert [row.topic for row in tally.newest(10)] == ["c", "a"]
    assert {row.topic for row in tally.unwritten()} == {"a", "c"}


def test_what_is_written_need_not_be_written_again() -> None:
    tally = RejectedTally()
    tally.add("a", "no", b"", Micros(1))
    tally.written()
    assert tally.unwritten() == ()
    tally.add("a", "no", b"", Micros(2))
    assert [row.count for row in tally.unwritten()] == [2]


def test_counting_goes_on_from_what_was_written() -> None:
    before = RejectedTally()
    before.add("a", "no", b"", Micros(1))
    after = RejectedTally(before.newest(10))
    after.add("a", "no", b"", Micros(2))
    assert [(row.count, row.first) for row in after.newest(10)] == [(2, 1)]


def test_nothing_of_it_is_long() -> None:
    tally = RejectedTally()
    tally.add("a", "x" * 10_000, b"y" * 10_000, Micros(1))
    (row,) = tally.newest(1)
    assert (len(row.reason), len(row.head)) == (REASON_CHARACTERS, HEAD_BYTES)
