"""The load on people read from a real journal: which stretch, what stood before it, what is refused."""

from collections.abc import Callable
from pathlib import Path
from random import Random

import pytest

from gateway.load_log import LoadQuestion, RecordedLoad
from gateway.load_reading import LoadError
from gateway.logbook import Logbook
from gateway.when import WhenError
from rules.alert_words import Cause, State
from rules.load import Load, Which, load_of
from rules.readings import GATEWAY_LINK
from tests.gateway.books import opened
from tests.gateway.told_journal import BEGUN_SECONDS, journal_of
from tests.rules.feeder import instant, read, seconds
from tests.rules.told_alerts import (
    DAY_SECONDS,
    HOUR_SECONDS,
    AlertTold,
    PageTold,
    acknowledged,
    asked,
    moved,
    over,
    raised,
    reported,
)


def told(folder: Path, *events: AlertTold | PageTold, until: float = DAY_SECONDS, zone: str = "UTC") -> Logbook:
    """A record of these events, which begins 1000 s before second 0."""
    return journal_of(folder, events, until, zone)


def load(book: Logbook, since: float | None = None, until: float | None = None, **which: str) -> RecordedLoad:
    begin, end = (None if at is None else instant(at) for at in (since, until))
    return book.load(LoadQuestion(begin, end, Which(**which)))


def test_what_was_told_in_the_stretch_counts_and_nothing_else(tmp_path: Path) -> None:
    events = [raised(at, f"a-{at}", subject=f"cart {at}") for at in (0, 100, 200, 300)]
    found = load(told(tmp_path / "d", *events), since=100, until=300).load
    assert found.alerts.rates.count == 2
    assert (seconds(found.stretch.since), seconds(found.stretch.until)) == (100, 300)


def test_without_a_time_it_is_the_last_thirty_days_as_far_as_the_record_reaches(tmp_path: Path) -> None:
    found = load(told(tmp_path / "d", raised(0)))
    assert (seconds(found.load.stretch.since), seconds(found.load.stretch.until)) == (-1000, DAY_SECONDS)
    assert found.is_provisional


def test_of_thirty_days_the_figures_are_not_provisional(tmp_path: Path) -> None:
    found = load(told(tmp_path / "d", raised(0), until=31 * DAY_SECONDS))
    assert seconds(found.load.stretch.since) == DAY_SECONDS
    assert not found.is_provisional


def test_an_alert_that_stood_before_the_stretch_is_stale_from_its_true_beginning(tmp_path: Path) -> None:
    begun = [raised(0), acknowledged(60), raised(10, "gone", subject="cart 2"), over(20, "gone")]
    found = load(told(tmp_path / "d", *begun, until=2 * DAY_SECONDS), since=DAY_SECONDS - 60).load
    assert max(found.alerts.stale) == 1
    assert found.alerts.rates.count == 0


def test_what_was_hidden_before_the_stretch_is_hidden_in_it(tmp_path: Path) -> None:
    shelved = moved(60, State.UNACKNOWLEDGED, State.SHELVED, Cause.SHELVED)
    unraised = moved(70, State.NORMAL, State.SUPPRESSED, Cause.SUPPRESSED, alert="", rule="too-warm")
    book = told(tmp_path / "d", raised(0), shelved, unraised, over(5 * HOUR_SECONDS))
    found = load(book, since=2 * HOUR_SECONDS, until=6 * HOUR_SECONDS).load
    assert [(hidden.state, hidden.hours) for hidden in found.alerts.hidden[:2]] == [
        (State.SHELVED, 3),
        (State.SUPPRESSED, 4),
    ]


def _anything(chance: Random) -> list[AlertTold | PageTold]:
    """Alerts and pages without rhyme or reason, in order."""
    events: list[AlertTold | PageTold] = []
    for n in range(60):
        at, alert = chance.uniform(0, DAY_SECONDS), f"a-{n}"
        events += [raised(at, alert, subject=f"cart {n % 7}"), asked(at, f"page-{n}", alert)]
        after = at + chance.expovariate(1 / 4000)
        shelved = moved(after, State.UNACKNOWLEDGED, State.SHELVED, Cause.SHELVED, alert)
        events.append(chance.choice([acknowledged(after, alert), shelved, reported(after, f"page-{n}")]))
        if chance.random() < 0.7:
            events.append(over(after + chance.expovariate(1 / 9000), alert))
    return sorted((event for event in events if seconds(event.at) < DAY_SECONDS), key=lambda event: event.at)


@pytest.mark.parametrize("seed", range(5))
def test_a_stretch_tells_the_same_as_if_everything_before_it_had_been_read(tmp_path: Path, seed: int) -> None:
    events = _anything(Random(seed))  # noqa: S311 - a sample, no secret
    found = load(told(tmp_path / "d", *events), since=0.4 * DAY_SECONDS, until=0.8 * DAY_SECONDS).load
    everything: Load = load_of(events, found.stretch)
    assert found == everything
    assert found.alerts.rates.count > 0


@pytest.mark.parametrize("at", [-1000.5, 0, 50, 100, 150, 1e6])
def test_the_first_event_from_a_time_on_is_found(tmp_path: Path, at: float) -> None:
    told(tmp_path / "d", raised(0), raised(100, "b"), raised(100, "c"), raised(200, "d"))
    with opened(tmp_path / "d" / "journal.db") as view:
        times = [one.event.at for one in view.of_kind("alert raised")]
        first = view.number_at(instant(at))
        after = [one.event.at for one in view.of_kind("alert raised", first - 1)]
    assert after == [time for time in times if time >= instant(at)]


def test_days_are_those_of_the_sites_calendar(tmp_path: Path) -> None:
    # Second 0 is 22:13:20 UTC, 03:43:20 in India: midnight there is 73,000 s later.
    found = load(told(tmp_path / "d", raised(0), zone="Asia/Kolkata", until=2 * DAY_SECONDS), since=0).load
    assert [seconds(day) for day in found.stretch.days] == [0, 73_000, 73_000 + DAY_SECONDS]


def test_the_time_in_which_the_gateway_was_cut_off_is_told(tmp_path: Path) -> None:
    links = [read(GATEWAY_LINK, value=False, measured=0), read(GATEWAY_LINK, value=True, measured=HOUR_SECONDS)]
    found = load(journal_of(tmp_path / "d", [], links=links), since=HOUR_SECONDS / 2)
    assert found.unheard_hours == 0.5


def test_cut_off_at_the_end_of_the_stretch_is_cut_off_until_then(tmp_path: Path) -> None:
    book = journal_of(tmp_path / "d", [], HOUR_SECONDS, links=[read(GATEWAY_LINK, value=False, measured=0)])
    assert load(book, since=-900).unheard_hours == 1


def test_things_and_roles_are_told_by_name(tmp_path: Path) -> None:
    found = load(told(tmp_path / "d"))
    assert (found.name("nurse"), found.name("other")) == ("Charge nurse", "other")
    assert (found.subject("cart cart-1"), found.subject("gateway ")) == ("Cart 1", "gateway")


def test_only_one_rule_or_role_can_be_asked_for(tmp_path: Path) -> None:
    said = [raised(0, "a"), raised(10, "b", "too-warm"), asked(10, "page-1", "b", role="tech")]
    assert load(told(tmp_path / "d", *said), rule="too-warm").load.alerts.rates.count == 1
    assert load(told(tmp_path / "e", *said), role="tech").load.alerts.rates.count == 1
    assert load(told(tmp_path / "f", *said), role="nurse").load.alerts.rates.count == 0


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        (lambda book: load(book, rule="no-such"), "Nothing is known of a rule 'no-such'; expected one of "),
        (lambda book: load(book, role="no-such"), "Nothing is known of a role 'no-such'; expected one of nurse"),
        (lambda book: load(book, since=2 * DAY_SECONDS), "There is no record in the time asked for; it reaches from"),
        (lambda book: load(book, since=10, until=10), "There is no record in the time asked for"),
    ],
)
def test_what_cannot_be_told_gets_one_clear_sentence(
    tmp_path: Path, ask: Callable[[Logbook], RecordedLoad], said: str
) -> None:
    with pytest.raises((LoadError, WhenError), match=said):
        ask(told(tmp_path / "d", raised(0)))


def test_more_than_is_read_for_one_answer_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("gateway.load_reading.MOST_EVENTS", 3)
    events = [raised(at, f"a-{at}", subject=f"cart {at}") for at in range(4)]
    with pytest.raises(LoadError, match="4 things were told of alerts and pages in that time, and at most 3 are read"):
        load(told(tmp_path / "d", *events))


def test_a_record_without_time_in_it_is_told_as_such(tmp_path: Path) -> None:
    with pytest.raises(WhenError, match="The record has no time in it yet"):
        load(told(tmp_path / "d", until=BEGUN_SECONDS))
