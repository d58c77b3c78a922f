"""gateway/wording.py: which of a page's texts goes out, and in which letters."""

import pytest

from gateway.channel import Message
from gateway.wording import in_ascii, in_ascii_message, one_line, worded
from rules.alert_words import PageWhy, Priority
from rules.readings import Micros

LINK = "https://s.example/p/abcdef"
BRIEF = "Basin 1 too cold"
TEXT = "Basin 1, soak room: 18.2 °C, its label asks for 20 °C. Warm it."


def message(brief: str = BRIEF, text: str = TEXT, link: str | None = LINK) -> Message:
    return Message(
        page="p7",
        address="5551212",
        brief=brief,
        text=text,
        link=link,
        priority=Priority.HIGH,
        why=PageWhy.FIRST,
        alerts=("a1",),
        asked=Micros(1_767_225_600_000_000),
        expires=Micros(1_767_226_200_000_000),
    )


@pytest.mark.parametrize(
    ("most", "says"),
    [
        (None, f"{TEXT} {LINK}"),
        (len(f"{TEXT} {LINK}"), f"{TEXT} {LINK}"),
        (len(f"{TEXT} {LINK}") - 1, f"{BRIEF} {LINK}"),
    ],
)
def test_the_longer_text_goes_out_if_it_fits_with_the_link(most: int | None, says: str) -> None:
    assert worded(message(), most) == says


def test_a_link_that_leaves_no_room_is_left_out_whole() -> None:
    assert worded(message(link=f"https://s.example/{'x' * 70}"), 80) == TEXT
    assert worded(message(text=TEXT * 2, link=f"https://s.example/{'x' * 70}"), 80) == BRIEF


def test_without_a_link_there_is_only_the_text() -> None:
    assert worded(message(link=None), 160) == TEXT


def test_a_text_is_one_line_whatever_is_in_it() -> None:
    assert one_line("Basin\r\nQUIT\x00\x1b[2J\u2028\u0085.\n") == "Basin QUIT [2J ."


def test_other_letters_are_spelled_in_ascii_and_measured_so() -> None:
    assert in_ascii("Müller, ≥ 21 °C: „ja“") == 'Muller, >= 21 degC: "ja"'
    worn = in_ascii_message(message(text="°" * 40))
    assert worded(worn, 110) == f"{BRIEF} {LINK}"  # 40 signs became 120 letters
