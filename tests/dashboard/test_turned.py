"""Characters that turn the direction of writing: none is taken, and what has one turns nothing."""

from dataclasses import replace

import pytest
from httpx import Client
from markupsafe import Markup

from dashboard.turned import unturned
from gateway.hub import Feed, Hub
from rules.alert_words import State
from tests.dashboard.alert_pictures import alerted, standing
from tests.dashboard.pictures import basin, picture
from tests.dashboard.serving import Desk
from tests.dashboard.visitors import script

TURNING = [chr(number) for number in (*range(0x202A, 0x202F), *range(0x2066, 0x206A))]
"""Explicit embeddings, overrides and isolates: Unicode Standard Annex 9, table 4 (from memory)."""


@pytest.mark.parametrize("letter", TURNING)
def test_nothing_that_turns_the_words_after_it_is_taken(client: Client, desk: Desk, letter: str) -> None:
    answer = client.post("/basin/basin-1/top-up", data={"top_lot": f"L-8{letter}9"}, headers=script(client))
    assert (answer.status_code, desk.entered) == (422, [])
    assert f"U+{ord(letter):04X}" in answer.json()["error"]


def test_names_in_letters_from_right_to_left_are_taken(client: Client, desk: Desk, hub: Hub) -> None:
    hub.publish(Feed(picture(basin())))
    answer = client.post("/basin/basin-1/top-up", data={"top_lot": "\u0645\u0646 8"}, headers=script(client))
    assert (answer.status_code, len(desk.entered)) == (200, 1)


@pytest.mark.parametrize("letter", TURNING)
def test_what_was_taken_in_before_stands_on_phone_and_wall_by_its_number(client: Client, hub: Hub, letter: str) -> None:
    name = f"Basin {letter}1"
    hub.publish(Feed(picture(replace(basin(), name=name))))
    for path in ("/basins", "/basin/basin-1", "/wall"):
        page = client.get(path).text
        assert (letter in page, f"[U+{ord(letter):04X}]1" in page) == (False, True)


def test_a_reason_in_own_words_turns_nothing_on_the_list_of_alerts(client: Client, hub: Hub) -> None:
    hub.publish(alerted(replace(standing(State.SHELVED), aside_why="x\u202ey")))
    page = client.get("/alerts").text
    assert ("\u202e" in page, "x[U+202E]y" in page) == (False, True)


def test_what_is_marked_up_stays_so() -> None:
    assert unturned(Markup("<b>\u202e</b>")) == Markup("<b>[U+202E]</b>")
    assert isinstance(unturned(Markup("<b>\u202e</b>")), Markup)
    assert unturned("20 \u00b0C") == "20 \u00b0C"
