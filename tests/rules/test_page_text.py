"""What a page says: priority, what and where, since when, how much more; never longer than a pager holds."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.alert_words import Priority
from rules.page_text import GSM, page_words, seven_bits, shortened, summary_words, trial_words
from rules.readings import Micros
from tests.rules.feeder import instant

UTC, LISBON = ZoneInfo("UTC"), ZoneInfo("Europe/Lisbon")

DAY = 86_400
BEGAN = instant(0)


@dataclass(frozen=True)
class Note:
    text: str
    priority: Priority = Priority.HIGH
    advice: str = ""
    raised: Micros = BEGAN
    subject: str = "cart cart-1"
    over: bool = False
    over_since: Micros | None = None


def brief(*notes: Note, gathered: str = "", now: float = 0, zone: ZoneInfo = UTC) -> str:
    return page_words(notes, gathered, instant(now), zone)[0]


def text(*notes: Note, gathered: str = "") -> str:
    return page_words(notes, gathered, instant(0), UTC)[1]


def test_the_priority_comes_first_then_what_then_since_when() -> None:
    assert brief(Note("Basin 1: soak does not count: too cold")) == "HIGH Basin 1: soak does not count: too cold 22:13"


def test_the_time_is_that_of_the_sites_clock() -> None:
    # 14 July 2017, 02:40 UTC is 03:40 in Lisbon.
    told = Note("Basin 1", raised=Micros(1_500_000_000 * 1_000_000))
    assert page_words([told], "", told.raised, LISBON)[0] == "HIGH Basin 1 03:40"


def test_what_has_stood_since_another_day_names_it() -> None:
    assert brief(Note("Basin 1"), now=DAY) == "HIGH Basin 1 Tue 22:13"


def test_what_to_do_follows_where_there_is_room() -> None:
    assert text(Note("Basin 1: too cold", advice="Warm it.")) == "HIGH Basin 1: too cold 22:13. Warm it."


def test_of_what_is_over_it_is_said_since_when_and_not_what_to_do() -> None:
    note = Note("Basin 1: too cold", advice="Warm it.", over=True, over_since=instant(60))
    assert text(note) == brief(note) == "HIGH Basin 1: too cold 22:13, over since 22:14"


def test_of_what_ended_while_it_was_put_aside_no_time_is_claimed() -> None:
    assert text(Note("Basin 1", advice="Warm it.", over=True)) == "HIGH Basin 1 22:13, over"


def test_of_several_together_it_is_said_that_they_are_over_when_the_last_one_is() -> None:
    first, last = (Note("A", over=True, over_since=instant(after)) for after in (60, 120))
    assert brief(first, last, gathered="2 silent") == "HIGH 2 silent 22:13, over since 22:15"
    assert brief(first, Note("B"), gathered="2 silent") == "HIGH 2 silent 22:13"


def test_of_several_the_first_is_told_and_how_many_more() -> None:
    assert brief(Note("A"), Note("B"), Note("C")) == "HIGH A 22:13 +2 more"
    assert (
        brief(Note("A"), Note("B"), gathered="Room: 2 sensors without a signal")
        == "HIGH Room: 2 sensors without a signal 22:13"
    )


def test_of_what_to_do_only_whole_sentences_are_sent() -> None:
    what = "Basin 1: soak too short, 1:40 of 12:00 min"
    told = text(
        Note(what, advice="Put it back at once, e.g. into basin 2. Do not use the probe before. " + "And so on " * 9)
    )
    assert told == f"HIGH {what} 22:13. Put it back at once, e.g. into basin 2. Do not use the probe before."
    assert len(told) <= 160


def test_a_sentence_that_does_not_fit_is_cut_after_a_word_and_says_so() -> None:
    told = text(
        Note("Basin 1: " + "x" * 90, advice="Warm the solution of the basin before anything else is soaked in it.")
    )
    assert told.endswith(" 22:13. Warm the solution of the basin before...")
    assert len(told) <= 160


def test_a_long_text_is_cut_after_a_word() -> None:
    told = brief(Note("The solution in the third basin of the soak room next to the lift is far too cold for any soak"))
    assert told == "HIGH The solution in the third basin of the soak room next to the lift... 22:13"
    assert len(told) <= 80


def test_a_summary_counts_and_names_the_urgent_ones() -> None:
    notes = [Note("Basin 1: too cold"), *[Note("b", Priority.LOW)] * 11]
    assert summary_words(notes, instant(0), UTC)[0] == "HIGH 12 more alerts, 1 urgent: look at the wall"
    assert summary_words(notes[:1], instant(0), UTC)[0] == "HIGH Basin 1: too cold 22:13"
    assert summary_words(notes[1:3], instant(0), UTC)[0] == "LOW 2 more alerts: look at the wall"


def test_a_test_says_that_nothing_has_happened() -> None:
    told = (
        "TEST nothing has happened 22:13",
        "TEST nothing has happened 22:13. Pages from Mill Lane reach you this way.",
    )
    assert trial_words("Mill Lane", instant(0), UTC) == told


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("Söluborð 3, 21 °C", "Sölubord 3, 21 degC"),
        ("“Basin” \u2013 cold…", '"Basin" - cold...'),
        ("Łóżko [2] €5", "Lozko (2) EUR5"),
        ("Кабинет 1", "Kabinet 1"),
        ("two\nlines\tand\x00more", "two lines and more"),
    ],
)
def test_letters_that_a_pager_lacks_are_spelt_by_their_like(written: str, read: str) -> None:
    assert seven_bits(written) == read
    assert set(read) <= GSM


def test_a_name_in_another_script_stays_as_it_is_where_there_is_room() -> None:
    assert page_words([Note("Кабинет 1: холодно")], "", instant(0), UTC)[1] == "HIGH Кабинет 1: холодно 22:13"


def test_the_basic_set_has_the_letters_of_the_standard() -> None:
    # 3GPP TS 23.038, 6.2.1 (from memory): 128 places, of which one is the escape and two are line breaks.
    assert len(GSM) == 125


NOTES = st.builds(
    Note,
    text=st.text(min_size=1, max_size=300),
    priority=st.sampled_from(Priority),
    advice=st.text(max_size=400),
    raised=st.integers(0, 4_000_000_000).map(lambda s: Micros(s * 1_000_000)),
)


@given(st.lists(NOTES, min_size=1, max_size=12), st.text(max_size=200), st.integers(0, 10**9))
def test_no_page_is_longer_than_a_pager_and_an_sms_hold(notes: list[Note], gathered: str, now: int) -> None:
    one, many = page_words(notes, gathered, instant(now), UTC), summary_words(notes, instant(now), UTC)
    for told, most in zip((*one, *many), (80, 160, 80, 160), strict=True):
        assert len(told) <= most
        assert told.startswith(notes[0].priority.upper())
        assert "\n" not in told
    assert set(one[0]) | set(many[0]) <= GSM


@given(st.text(max_size=80))
def test_no_name_makes_a_test_page_too_long(site: str) -> None:
    told = trial_words(site, instant(0), UTC)
    assert [len(words) <= most for words, most in zip(told, (80, 160), strict=True)] == [True, True]


@given(st.text(max_size=200), st.integers(10, 160))
def test_what_is_cut_keeps_its_beginning_and_says_that_it_was_cut(words: str, letters: int) -> None:
    told = shortened(words, letters)
    assert len(told) <= letters
    assert told == words or (told.endswith("...") and words.startswith(told[:-3]))
