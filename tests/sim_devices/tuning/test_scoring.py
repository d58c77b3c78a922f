"""Alerts held against what really went wrong."""

from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.agenda import NEVER
from rules.board import Subject, SubjectKind
from rules.exposure import Span
from rules.readings import SECOND, Micros, micros
from sim_devices.troubles.episode import Episode, Trouble
from sim_devices.tuning.cases import Cases, Terms
from sim_devices.tuning.days import Days
from sim_devices.tuning.evaluate import Occurrence, Occurrences
from sim_devices.tuning.scoring import MISSED, Scores, score

CART, OTHER = Subject(SubjectKind.CART, "cart-1"), Subject(SubjectKind.CART, "cart-2")
RULE = "cord-down-rolling"
BEGIN = Micros(1_790_035_200 * SECOND)  # a midnight, UTC
HOUR = 3600


def at(seconds: float) -> Micros:
    return Micros(BEGIN + micros(seconds))


def record(seconds: float = HOUR) -> Days:
    return Days.of(Span(BEGIN, at(seconds)), ZoneInfo("UTC"), 1)


def alert(raised: float, over: float | None = None, subject: Subject = CART) -> Occurrence:
    return Occurrence(RULE, subject, at(raised), None if over is None else at(over))


def episode(
    start: float, end: float | None, subject: Subject = CART, trouble: Trouble = Trouble.CORD_DOWN_ROLLING
) -> Episode:
    return Episode(trouble, subject, at(start), None if end is None else at(end))


def as_arrays(settings: list[list[Occurrence]]) -> Occurrences:
    """As they are evaluated: by setting and subject, in the order of time."""
    rows = [
        (number, [CART, OTHER].index(one.subject), one.raised, NEVER if one.over is None else one.over)
        for number, alerts in enumerate(settings)
        for one in alerts
    ]
    setting, subject, raised, over = np.array(sorted(rows), np.int64).reshape(-1, 4).T
    return Occurrences(RULE, (CART, OTHER), setting.astype(np.int32), subject.astype(np.int32), raised, over)


def scored(
    alerts: list[Occurrence],
    episodes: list[Episode],
    *,
    days: Days | None = None,
    least: float = 3,
    grace: float = 10,
    patience: float = 40,
) -> Scores:
    days = days or record()
    terms = Terms(micros(least), micros(grace), micros(patience))
    troubles = {Trouble.CORD_DOWN_ROLLING, Trouble.PLUGGED_IN_ROLLING}
    return score(as_arrays([alerts]), 1, Cases.of(episodes, troubles, days.record, terms), days)


def told(found: Scores, setting: int = 0) -> list[float | None]:
    return [None if delay == MISSED else delay / SECOND for delay in found.delays[setting].tolist()]


def test_an_alert_within_an_episode_detects_it_as_late_as_it_was_raised() -> None:
    found = scored([alert(104, 130)], [episode(100, 120)])
    assert told(found) == [4]
    assert found.false_alerts.sum() == 0


def test_an_alert_before_an_episode_that_is_over_by_then_is_false() -> None:
    found = scored([alert(90, 99)], [episode(100, 120)])
    assert told(found) == [None]
    assert found.false_alerts.sum() == 1


@pytest.mark.parametrize(("raised", "delay", "false"), [(130, 30, 0), (130.000001, None, 1)])
def test_an_alert_detects_what_was_over_no_longer_ago_than_the_grace(
    raised: float, delay: float | None, false: int
) -> None:
    found = scored([alert(raised)], [episode(100, 120)])
    assert told(found) == [delay]
    assert found.false_alerts.sum() == false


def test_an_episode_told_of_twice_is_detected_once_at_the_first() -> None:
    found = scored([alert(103, 105), alert(110, 125)], [episode(100, 120)])
    assert told(found) == [3]
    assert (found.alerts.sum(), found.false_alerts.sum()) == (2, 0)


def test_an_alert_within_an_episode_does_not_detect_the_one_before_it_late() -> None:
    assert told(scored([alert(125, 135)], [episode(100, 120), episode(122, 140)])) == [None, 3]


def test_an_alert_just_after_two_episodes_detects_the_one_that_ended_last() -> None:
    assert told(scored([alert(129, 135)], [episode(100, 120), episode(121, 127)])) == [None, 8]


def test_what_begins_while_an_alert_stands_is_told_of_at_once() -> None:
    found = scored([alert(105, 145)], [episode(100, 120), episode(130, 160)])
    assert told(found) == [5, 0]


@pytest.mark.parametrize(("raised", "false"), [(90, 0), (89.999999, 1)])
def test_an_alert_that_was_raised_long_before_anything_went_wrong_is_false_though_it_stands(
    raised: float, false: int
) -> None:
    found = scored([alert(raised, 130)], [episode(100, 120)])
    assert told(found) == [0]
    assert found.false_alerts.sum() == false


def test_an_alert_of_something_else_detects_nothing() -> None:
    found = scored([alert(104, 130, OTHER)], [episode(100, 120)])
    assert told(found) == [None]
    assert found.false_alerts.sum() == 1


def test_what_the_rule_is_not_for_is_no_case_of_it() -> None:
    found = scored([alert(104, 130)], [episode(100, 120, trouble=Trouble.VAPOUR)])
    assert told(found) == []
    assert found.false_alerts.sum() == 1


def test_what_is_too_short_to_matter_is_neither_missed_nor_falsely_told() -> None:
    found = scored([alert(101)], [episode(100, 102.9)])
    assert told(found) == []
    assert (found.alerts.sum(), found.false_alerts.sum()) == (1, 0)


def test_an_alert_that_was_raised_before_the_record_counts_nowhere_and_yet_tells() -> None:
    found = scored([alert(-50, 200)], [episode(100, 120)])
    assert told(found) == [0]
    assert (found.alerts.sum(), found.false_alerts.sum()) == (0, 0)


def test_what_went_on_before_the_record_began_is_neither_missed_nor_falsely_told() -> None:
    found = scored([alert(4)], [episode(-20, 30)])
    assert told(found) == []
    assert found.false_alerts.sum() == 0


@pytest.mark.parametrize(("start", "expected"), [(HOUR - 40, [None]), (HOUR - 39, [])])
def test_what_still_went_on_at_the_end_counts_once_every_setting_had_its_chance(
    start: float, expected: list[None]
) -> None:
    assert told(scored([], [episode(start, None)])) == expected


def test_what_ends_after_the_record_is_like_what_went_on_at_its_end() -> None:
    assert told(scored([], [episode(HOUR - 39, HOUR + 5)])) == []


def test_what_began_after_the_record_is_no_case() -> None:
    assert told(scored([], [episode(HOUR, HOUR + 500)])) == []


def test_a_false_alert_counts_on_the_day_on_which_it_is_raised() -> None:
    days = record(3 * 24 * HOUR)
    found = scored([alert(24 * HOUR), alert(49 * HOUR, 71 * HOUR)], [], days=days)
    assert found.false_alerts.tolist() == [[0, 1, 1]]


# ---- against the definition, without sorting and searching ----------------------------------------------------------

TIMES = st.integers(-20, 200)
SUBJECTS = st.sampled_from([CART, OTHER])
TROUBLES = st.sampled_from([Trouble.CORD_DOWN_ROLLING, Trouble.PLUGGED_IN_ROLLING, Trouble.VAPOUR])


@st.composite
def episodes(draw: st.DrawFn) -> Episode:
    start = draw(TIMES)
    end = draw(st.none() | st.integers(start, 220))
    return episode(start, end, draw(SUBJECTS), draw(TROUBLES))


@st.composite
def alerts(draw: st.DrawFn) -> Occurrence:
    raised = draw(TIMES.filter(lambda time: time < 180))
    return alert(raised, draw(st.none() | st.integers(raised + 1, 220)), draw(SUBJECTS))


def by_definition(every: list[Occurrence], episodes: list[Episode], end: int) -> tuple[list[float | None], int]:
    """Delays of what counts, in seconds, and false alerts: each sentence of the definition as a loop over all pairs."""
    least, grace, patience = 3, 10, 40

    def seconds(instant: Micros) -> float:
        return (instant - BEGIN) / SECOND

    cases = []
    for one in episodes:
        start = seconds(one.start)
        if one.trouble is Trouble.VAPOUR or start >= end:
            continue
        stop = end if one.end is None else seconds(one.end)
        is_open = one.end is None or stop > end
        counts = start >= 0 and (end - start >= patience if is_open else stop - start >= least)
        cases.append((start, one.subject, one.trouble, stop, counts))
    cases.sort(key=lambda case: case[:3])
    delays: dict[int, float] = {}
    false = 0
    for raising in every:
        raised, over = seconds(raising.raised), end if raising.over is None else seconds(raising.over)
        mine = [(n, case) for n, case in enumerate(cases) if case[1] == raising.subject]
        now = {n: raised for n, (start, _, _, stop, _) in mine if start <= raised < stop}
        if not now:
            past = [(stop, n) for n, (start, _, _, stop, _) in mine if start <= raised]
            ended = [(stop, n) for stop, n in past if 0 <= raised - stop <= grace]
            now = {max(ended)[1]: raised} if ended else {}
        later = {n: start for n, (start, *_) in mine if raised < start < over}
        for n, instant in (now | later).items():
            delays[n] = min(delays.get(n, instant), instant)
        soon = [start for start in later.values() if start - raised <= grace]
        false += raised >= 0 and not now and not soon
    told = [delays[n] - case[0] if n in delays else None for n, case in enumerate(cases) if case[4]]
    return told, false


@given(st.lists(alerts(), max_size=12), st.lists(episodes(), max_size=12))
def test_alerts_are_judged_as_defined(every: list[Occurrence], found: list[Episode]) -> None:
    # A trouble of a thing does not begin twice at one instant
    distinct = list({(one.start, one.subject, one.trouble): one for one in found}.values())
    result = scored(every, distinct, days=record(180))
    delays, false = by_definition(every, distinct, 180)
    assert (told(result), int(result.false_alerts.sum())) == (delays, false)


@given(st.lists(st.lists(alerts(), max_size=5), min_size=1, max_size=5), st.lists(episodes(), max_size=8))
def test_many_settings_at_once_are_each_judged_as_if_alone(every: list[list[Occurrence]], found: list[Episode]) -> None:
    days = record(180)
    cases = Cases.of(found, {Trouble.CORD_DOWN_ROLLING}, days.record, Terms(micros(3), micros(10), micros(40)))
    together = score(as_arrays(every), len(every), cases, days)
    for number, alone in enumerate(score(as_arrays([one]), 1, cases, days) for one in every):
        np.testing.assert_array_equal(together.delays[number], alone.delays[0])
        np.testing.assert_array_equal(together.alerts[number], alone.alerts[0])
        np.testing.assert_array_equal(together.false_alerts[number], alone.false_alerts[0])


def test_an_alert_of_a_soak_tells_of_no_later_soak_in_its_basin_however_long_it_stands() -> None:
    basin = Subject(SubjectKind.BASIN, "basin-1")
    soak = Subject(SubjectKind.SOAK, "basin-1.7")
    found = [episode(100, 120, basin), episode(500, 520, basin)]
    days, terms = record(), Terms(micros(3), micros(10), micros(40))
    cases = Cases.of(found, {Trouble.CORD_DOWN_ROLLING}, days.record, terms)
    at_once = np.array([at(104)], np.int64)
    told_of = Occurrences(RULE, (soak,), np.zeros(1, np.int32), np.zeros(1, np.int32), at_once, np.array([int(NEVER)]))
    assert told(score(told_of, 1, cases, days)) == [4, None]


@given(st.lists(alerts(), max_size=12), st.lists(episodes(), max_size=12))
def test_no_more_is_detected_than_went_wrong_and_no_more_is_false_than_was_raised(
    every: list[Occurrence], found: list[Episode]
) -> None:
    result = scored(every, found, days=record(180))
    assert np.count_nonzero(result.delays != MISSED) <= len(found)
    assert result.false_alerts.sum() <= result.alerts.sum() <= len(every)
    assert all(delay is None or delay >= 0 for delay in told(result))


def test_days_begin_at_local_midnight_and_may_be_an_hour_short() -> None:
    # Clocks in Lisbon go from 01:00 to 02:00 on 2026-03-29 (IANA tzdata): that day lasts 23 h
    zone = ZoneInfo("Europe/Lisbon")
    begin = Micros(1_774_699_200 * SECOND)  # 2026-03-28 12:00 UTC
    days = Days.of(Span(begin, Micros(begin + 59 * HOUR * SECOND)), zone, 4)
    assert [days.span(number).micros / SECOND / HOUR for number in range(days.count)] == [12, 23, 24]
    assert days.cart_days([0, 2]) == 4 * 1.5
    assert (days.number(days.starts[1]), days.number(Micros(days.starts[1] - 1))) == (1, 0)
