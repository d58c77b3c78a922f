"""How long a solution is good, which strip counts, and what both prove of a soak.

Days of change are those of the IANA time zone database: Europe/Lisbon went to summer time on 31 March 2024 and back on
27 October 2024, both at 01:00 UTC; America/Santiago went to summer time on 3 September 2023 at 04:00 UTC, which is
midnight there.
"""

from dataclasses import replace
from datetime import UTC, date, datetime
from itertools import permutations
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.exposure import Span
from rules.readings import SECOND, Micros, StripResult, micros
from rules.solution import (
    DAY,
    Discarded,
    History,
    SolutionLot,
    Strip,
    StripPolicy,
    Terms,
    ToppedUp,
    clocks,
    day_of,
    end_of_day,
    strip_faults,
)
from rules.verdict import Reason
from rules.weighing import weigh

LISBON = ZoneInfo("Europe/Lisbon")
PASS, FAIL, INVALID = StripResult.PASS, StripResult.FAIL, StripResult.INVALID
TERMS = Terms(label="opa", zone=LISBON, reuse_days=14)


def utc(text: str) -> Micros:
    """An instant written in ISO 8601, UTC."""
    return Micros(int(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()) * SECOND)


NOON = utc("2024-03-20T12:00")
LOT = SolutionLot(NOON, "R. Tech", "L1", "opa", date(2024, 12, 31), date(2024, 3, 20), 75)


def later(hours: float, start: Micros = NOON) -> Micros:
    return Micros(start + micros(hours * 3600))


def strip_at(hours: float, result: StripResult = PASS, **changes: object) -> Strip:
    return replace(Strip(later(hours), None, result, "S1", date(2024, 12, 31), "R. Tech"), **changes)  # type: ignore[arg-type]  # its own fields


def soak(hours: float, length: float = 0.2) -> Span:
    return Span(later(hours), later(hours + length))


def history(*entries: SolutionLot | ToppedUp | Discarded | Strip) -> History:
    made = History()
    for entry in entries:
        match entry:
            case SolutionLot():
                made.poured(entry)
            case ToppedUp():
                made.topped_up(entry)
            case Discarded():
                made.discarded(entry)
            case Strip():
                made.tested(entry)
    return made


def lacking(known: History, of: Span, *uses: Micros, terms: Terms = TERMS) -> tuple[Reason, ...]:
    return weigh(known, of, uses, terms)[0]


# ---- entered only after the soak began ------------------------------------------------------------------------------


def entered(strip: Strip, hours: float) -> Strip:
    return replace(strip, entered=later(hours))


@pytest.mark.parametrize(
    ("strips", "said"),
    [
        ([entered(strip_at(1.9), 1.95)], None),
        ([entered(strip_at(1.9), 2)], None),  # in the very instant
        ([entered(strip_at(1.9), 2.05)], 2.05),
        ([entered(strip_at(1.9), 30)], 30),
        ([strip_at(1.9)], None),  # a strip reader's
        ([entered(strip_at(1.9), 2.05), entered(strip_at(1.95), 1.96)], None),  # another covers it
        ([entered(strip_at(1.9, FAIL), 1.95), entered(strip_at(1.95), 2.1)], 2.1),
        ([entered(strip_at(1.9, FAIL), 2.05)], None),  # none that passed
        ([entered(strip_at(2.1), 2.1)], None),  # no strip before it at all
    ],
)
def test_a_strip_that_was_entered_after_the_soak_began_counts_and_is_marked(
    strips: list[Strip], said: float | None
) -> None:
    check = weigh(history(LOT, *strips), soak(2), (), TERMS)[1]
    assert check.check_entered == (None if said is None else later(said))


def test_a_strip_before_an_earlier_soak_covers_no_later_one_however_early_it_was_entered() -> None:
    strips = entered(strip_at(1), 1), entered(strip_at(2.9), 3.1)
    assert weigh(history(LOT, *strips), soak(3), (soak(2).end,), TERMS)[1].check_entered == later(3.1)
    daily = replace(TERMS, policy=StripPolicy(daily=True))
    assert weigh(history(LOT, *strips), soak(3), (soak(2).end,), daily)[1].check_entered is None


def test_the_same_strip_entered_again_is_no_other() -> None:
    known = history(LOT, entered(strip_at(1.9), 1.9), entered(strip_at(1.9), 2.5))
    assert [strip.entered for strip in known.strips] == [later(1.9)]


# ---- days and clocks -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("zone", "day", "over"),
    [
        ("Europe/Lisbon", date(2024, 3, 30), "2024-03-31T00:00"),
        ("Europe/Lisbon", date(2024, 3, 31), "2024-03-31T23:00"),  # 23 h long
        ("Europe/Lisbon", date(2024, 10, 26), "2024-10-26T23:00"),
        ("Europe/Lisbon", date(2024, 10, 27), "2024-10-28T00:00"),  # 25 h long
        ("America/Santiago", date(2023, 9, 2), "2023-09-03T04:00"),  # followed by no midnight
        ("Asia/Tokyo", date(2024, 2, 28), "2024-02-28T15:00"),
        ("UTC", date(2024, 2, 28), "2024-02-29T00:00"),
    ],
)
def test_a_date_means_until_the_end_of_that_day_in_the_site_s_zone(zone: str, day: date, over: str) -> None:
    end = end_of_day(day, ZoneInfo(zone))
    assert end == utc(over)
    assert day_of(Micros(end - 1), ZoneInfo(zone)) == day
    assert day_of(end, ZoneInfo(zone)) > day


@pytest.mark.parametrize(
    ("changes", "over"),
    [
        # Reuse: 14 days of 24 h from the pour, across the day of 23 h.
        ({}, "2024-04-03T12:00"),
        # Printed expiry: the whole day counts.
        ({"printed_expiry": date(2024, 3, 31)}, "2024-03-31T23:00"),
        # Opened on the 20th for 10 days: until the end of the 30th.
        ({"opened_days": 10}, "2024-03-31T00:00"),
        # The bottle was open when it was poured, whatever day was entered.
        ({"opened": date(2024, 5, 1), "opened_days": 10}, "2024-03-31T00:00"),
        ({"opened": date(2024, 3, 1), "opened_days": 30}, "2024-03-31T23:00"),
    ],
)
def test_of_three_clocks_the_earliest_wins(changes: dict[str, object], over: str) -> None:
    lot = replace(LOT, **changes)  # type: ignore[arg-type]  # its own fields
    end = utc(over)
    assert clocks(lot, TERMS).until == end
    known = history(lot, replace(strip_at(0), read=Micros(end - 2 * SECOND)))
    assert lacking(known, Span(Micros(end - SECOND), end)) == ()
    assert lacking(known, Span(Micros(end - SECOND), Micros(end + 1))) == (Reason.SOLUTION_OUT_OF_DATE,)


@pytest.mark.parametrize("missing", ["printed_expiry", "opened", "opened_days"])
def test_a_missing_date_fails(missing: str) -> None:
    lot = replace(LOT, **{missing: None})  # type: ignore[arg-type]  # its own fields
    assert lacking(history(lot, strip_at(1)), soak(2)) == (Reason.SOLUTION_DATE_MISSING,)


def test_a_label_without_reuse_days_fails_too() -> None:
    terms = replace(TERMS, reuse_days=None)
    assert lacking(history(LOT, strip_at(1)), soak(2), terms=terms) == (Reason.SOLUTION_DATE_MISSING,)


def test_a_clock_that_is_over_is_told_beside_a_date_that_is_missing() -> None:
    known = history(replace(LOT, opened=None), strip_at(15 * 24))
    reasons = (Reason.SOLUTION_OUT_OF_DATE, Reason.SOLUTION_DATE_MISSING)
    assert lacking(known, soak(15 * 24)) == reasons


@pytest.mark.parametrize(
    ("entered", "label", "site", "days"),
    [(10, None, None, 10), (None, 20, 5, 20), (None, None, 5, 5), (30, 20, 5, 20), (10, 20, 5, 10)],
)
def test_of_what_pour_and_label_tell_of_an_opened_bottle_the_shorter_counts_and_the_site_s_word_last(
    entered: int | None, label: int | None, site: int | None, days: int
) -> None:
    terms = replace(TERMS, bottle_days=label, default_bottle_days=site)
    opened = clocks(replace(LOT, opened_days=entered), terms).opened
    assert opened == end_of_day(date.fromordinal(date(2024, 3, 20).toordinal() + days), LISBON)


def test_a_single_use_solution_serves_one_soak() -> None:
    terms = replace(TERMS, reuse_days=0)
    known = history(LOT, strip_at(1), strip_at(3))
    assert lacking(known, soak(2), later(-1), terms=terms) == ()
    assert lacking(known, soak(4), later(-1), soak(2).end, terms=terms) == (Reason.SOLUTION_OUT_OF_DATE,)


# ---- what is in the basin --------------------------------------------------------------------------------------------


def test_where_nothing_was_recorded_nothing_is_proven() -> None:
    assert lacking(History(), soak(1)) == (Reason.SOLUTION_NOT_RECORDED, Reason.STRIP_MISSING)


def test_a_discarded_solution_is_none() -> None:
    known = history(LOT, strip_at(1), Discarded(later(2), "R. Tech"))
    assert lacking(known, Span(later(1), later(2))) == ()
    assert lacking(known, soak(2)) == (Reason.SOLUTION_NOT_RECORDED, Reason.STRIP_MISSING)


def test_emptied_and_filled_at_the_same_minute_is_filled() -> None:
    known = history(LOT, Discarded(NOON, "R. Tech"), strip_at(0))
    assert lacking(known, soak(1)) == ()


@pytest.mark.parametrize("change", [replace(LOT, at=later(1.1), lot="L2"), Discarded(later(1.1), "R. Tech")])
def test_a_solution_that_was_changed_during_the_soak_is_none(change: SolutionLot | Discarded) -> None:
    assert lacking(history(LOT, strip_at(0.5), change), soak(1)) == (Reason.SOLUTION_NOT_RECORDED,)


def test_what_is_poured_over_a_soak_and_known_to_be_bad_is_named_before_what_is_only_not_recorded() -> None:
    old = replace(LOT, at=later(1.1), lot="L2", printed_expiry=date(2024, 3, 19))
    told = (Reason.SOLUTION_OUT_OF_DATE, Reason.SOLUTION_NOT_RECORDED)
    assert lacking(history(LOT, strip_at(0.5), old), soak(1)) == told
    assert lacking(history(old, strip_at(0.5)), soak(1))[0] is Reason.SOLUTION_OUT_OF_DATE
    assert lacking(history(LOT, strip_at(0.5), replace(old, at=soak(1).end)), soak(1)) == ()


def test_another_chemistry_than_the_basin_s_is_told() -> None:
    assert lacking(history(replace(LOT, label="peroxide"), strip_at(1)), soak(2)) == (Reason.OTHER_SOLUTION,)


# ---- strips ----------------------------------------------------------------------------------------------------------


def test_a_strip_that_failed_on_day_3_of_14_ends_the_solution_whatever_passes_later() -> None:
    known = history(LOT, strip_at(71), strip_at(72, FAIL), strip_at(73))
    assert lacking(known, soak(71.5)) == ()
    assert lacking(known, soak(74)) == (Reason.STRIP_FAILED,)


def test_a_strip_that_passes_on_day_15_extends_nothing() -> None:
    assert lacking(history(LOT, strip_at(14.5 * 24)), soak(14.5 * 24)) == (Reason.SOLUTION_OUT_OF_DATE,)


def test_a_fresh_pour_starts_without_the_strips_of_the_one_before() -> None:
    known = history(LOT, strip_at(1, FAIL), replace(LOT, at=later(2), lot="L2"))
    assert lacking(known, soak(3)) == (Reason.STRIP_MISSING,)
    known.tested(strip_at(2.5))
    assert lacking(known, soak(3)) == ()


@pytest.mark.parametrize(
    ("strip", "reason"),
    [
        (strip_at(1, INVALID), Reason.STRIP_INVALID),
        (strip_at(1, expiry=date(2024, 3, 19)), Reason.STRIP_OUT_OF_DATE),
        (strip_at(1, expiry=None), Reason.STRIP_DATE_MISSING),
        (strip_at(1, dipped=later(1 + 1)), Reason.STRIP_MISTIMED),
    ],
)
def test_a_strip_that_says_nothing_is_as_good_as_none_and_told(strip: Strip, reason: Reason) -> None:
    assert lacking(history(LOT, strip), soak(2.5)) == (reason,)
    assert lacking(history(LOT, strip, strip_at(2.4)), soak(2.5)) == ()


def test_a_strip_is_out_of_date_from_midnight_on() -> None:
    midnight = utc("2024-03-21T00:00")
    strip = strip_at(0, expiry=date(2024, 3, 20))
    assert strip_faults(replace(strip, read=Micros(midnight - 1)), TERMS) == set()
    assert strip_faults(replace(strip, read=midnight), TERMS) == {Reason.STRIP_OUT_OF_DATE}


def test_a_site_may_do_without_the_expiry_of_its_strips() -> None:
    assert strip_faults(strip_at(1, expiry=None), replace(TERMS, strip_expiry_required=False)) == set()


@pytest.mark.parametrize(("seconds", "good"), [(89, False), (90, True), (120, True), (121, False)])
def test_a_strip_is_read_neither_too_early_nor_too_late(seconds: float, good: bool) -> None:  # noqa: FBT001 - the figure expected
    terms = replace(TERMS, strip_after=micros(90), strip_within=micros(120))
    strip = replace(strip_at(1), dipped=Micros(later(1) - micros(seconds)))
    assert lacking(history(LOT, strip), soak(2), terms=terms) == (() if good else (Reason.STRIP_MISTIMED,))


def test_a_strip_tells_of_its_dip_so_that_it_may_be_read_when_the_soak_has_begun() -> None:
    strip = replace(strip_at(1.01), dipped=later(0.99))
    assert lacking(history(LOT, strip), soak(1)) == ()
    assert lacking(history(LOT, replace(strip, dipped=None)), soak(1)) == (Reason.STRIP_MISSING,)


@pytest.mark.parametrize(
    ("policy", "missing_from"), [(StripPolicy(), 2), (StripPolicy(every=3), 4), (StripPolicy(every=10), 11)]
)
def test_a_strip_is_good_for_as_many_uses_as_the_policy_says(policy: StripPolicy, missing_from: int) -> None:
    known, terms = history(LOT, strip_at(0.5)), replace(TERMS, policy=policy)
    soaks = [soak(number) for number in range(1, 13)]
    for number, one in enumerate(soaks, 1):
        uses = [before.end for before in soaks[: number - 1]]
        assert lacking(known, one, *uses, terms=terms) == (() if number < missing_from else (Reason.STRIP_MISSING,))


@pytest.mark.parametrize(("hours", "missing"), [(11.9, False), (12.1, True), (36, True)])
def test_a_daily_strip_is_good_until_midnight_in_the_site_s_zone(hours: float, missing: bool) -> None:  # noqa: FBT001 - what is expected
    terms = replace(TERMS, policy=StripPolicy(daily=True))
    uses = [soak(h).end for h in (2, 4, 6)]
    reasons = lacking(history(LOT, strip_at(1)), soak(hours), *uses, terms=terms)
    assert reasons == ((Reason.STRIP_MISSING,) if missing else ())


def test_a_daily_strip_is_taken_before_the_soak() -> None:
    terms = replace(TERMS, policy=StripPolicy(daily=True))
    assert lacking(history(LOT, strip_at(3)), soak(1), terms=terms) == (Reason.STRIP_MISSING,)


def test_what_fails_is_told_in_the_order_of_the_reasons() -> None:
    known = history(replace(LOT, opened=None, label="peroxide"), strip_at(15 * 24, FAIL))
    assert lacking(known, soak(16 * 24), soak(15.5 * 24).end) == (
        Reason.STRIP_FAILED,
        Reason.SOLUTION_OUT_OF_DATE,
        Reason.SOLUTION_DATE_MISSING,
        Reason.OTHER_SOLUTION,
        Reason.STRIP_MISSING,
    )


# ---- looking back ----------------------------------------------------------------------------------------------------


def test_a_strip_that_fails_after_the_soak_leaves_it_in_doubt_since_the_last_good_check() -> None:
    reasons, check = weigh(history(LOT, strip_at(1), strip_at(3, FAIL)), soak(2), (), TERMS)
    assert (reasons, check.last_good_check, check.doubted_by) == ((), later(1), later(3))


def test_a_good_strip_in_between_leaves_no_doubt() -> None:
    check = weigh(history(LOT, strip_at(1), strip_at(2.5), strip_at(3, FAIL)), soak(2), (), TERMS)[1]
    assert check.doubted_by is None


def test_a_strip_of_the_next_solution_casts_no_doubt() -> None:
    known = history(LOT, strip_at(1), replace(LOT, at=later(2.5), lot="L2"), strip_at(3, FAIL))
    assert weigh(known, soak(2), (), TERMS)[1].doubted_by is None


def test_a_strip_that_fails_during_the_soak_fails_it() -> None:
    assert lacking(history(LOT, strip_at(1), strip_at(2.1, FAIL)), soak(2)) == (Reason.STRIP_FAILED,)


# ---- laws ------------------------------------------------------------------------------------------------------------

hours = st.integers(0, 200).map(lambda quarter: quarter / 4)
lots = st.builds(
    lambda at, lot, days: replace(LOT, at=later(at), lot=lot, opened_days=days),
    hours,
    st.sampled_from(["L1", "L2"]),
    st.sampled_from([None, 0, 1, 75]),
)
strips = st.builds(
    lambda at, result, expiry: strip_at(at, result, expiry=expiry),
    hours,
    st.sampled_from(StripResult),
    st.sampled_from([None, date(2024, 3, 21), date(2024, 12, 31)]),
)
discards = st.builds(lambda at: Discarded(later(at), "R. Tech"), hours)
entries = st.lists(st.one_of(lots, strips, strips, discards), max_size=8)
soaks = st.builds(soak, hours)
uses = st.lists(hours.map(later), max_size=4).map(sorted)
terms = st.builds(
    lambda policy, reuse: replace(TERMS, policy=policy, reuse_days=reuse),
    st.sampled_from([StripPolicy(), StripPolicy(every=3), StripPolicy(daily=True)]),
    st.sampled_from([0, 1, 14]),
)


@given(entries=entries, of=soaks, used=uses, terms=terms, at=hours)
def test_topping_up_changes_nothing(
    entries: list[SolutionLot | Discarded | Strip], of: Span, used: list[Micros], terms: Terms, at: float
) -> None:
    topped = history(*entries, ToppedUp(later(at), "R. Tech", "L9"))
    assert weigh(topped, of, used, terms) == weigh(history(*entries), of, used, terms)


@given(entries=entries, of=soaks, used=uses, terms=terms, at=hours)
def test_a_strip_that_failed_makes_no_outcome_better(
    entries: list[SolutionLot | Discarded | Strip], of: Span, used: list[Micros], terms: Terms, at: float
) -> None:
    before, check = weigh(history(*entries), of, used, terms)
    after, check_after = weigh(history(*entries, strip_at(at, FAIL)), of, used, terms)
    assert bool(after) >= bool(before)
    assert {*before} - {*after} <= {
        Reason.STRIP_MISSING,
        Reason.STRIP_INVALID,
        Reason.STRIP_OUT_OF_DATE,
        Reason.STRIP_DATE_MISSING,
    }
    assert (check_after.doubted_by is not None) >= (check.doubted_by is not None)


@given(entries=st.lists(st.one_of(lots, strips, discards), max_size=4), of=soaks, used=uses, terms=terms)
def test_the_order_of_arrival_does_not_matter(
    entries: list[SolutionLot | Discarded | Strip], of: Span, used: list[Micros], terms: Terms
) -> None:
    assert len({repr(history(*order)) for order in permutations(entries)}) == 1
    assert weigh(history(*entries, *entries), of, used, terms) == weigh(history(*entries), of, used, terms)


@given(entries=entries, of=soaks, used=uses, terms=terms, before=hours)
def test_what_is_forgotten_makes_no_difference_to_a_soak_that_begins_later(
    entries: list[SolutionLot | Discarded | Strip], of: Span, used: list[Micros], terms: Terms, before: float
) -> None:
    known = history(*entries)
    whole = weigh(known, of, used, terms)
    known.forget(min(later(before), of.start), ())
    assert weigh(known, of, used, terms) == whole


def test_a_solution_in_use_for_weeks_is_remembered_by_a_few_strips_and_its_first_failure() -> None:
    known = history(LOT, *(strip_at(n / 10, FAIL if n == 7 else PASS) for n in range(3000)))
    known.forget(Micros(LOT.at + 13 * DAY), [later(n / 10 + 0.05) for n in range(3000)])
    assert len(known.strips) == 33
    assert len(known.uses) == 100
    assert lacking(known, soak(13 * 24 + 1), *known.uses) == (Reason.STRIP_FAILED, Reason.STRIP_MISSING)
