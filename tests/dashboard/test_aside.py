"""The quiet line at the end of the alerts: what is hidden, and what may be heard."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from dashboard.aside import REST_LEAST_EMS, SoundView, aside
from dashboard.panel import LYING
from rules.alert_words import HIDDEN, Priority, State
from rules.picture import AlertPicture, OutPicture
from tests.dashboard.pictures import NOON, alert, later, picture

UTC = ZoneInfo("UTC")


def hidden(*states: State, out: int = 0) -> str:
    taken = tuple(OutPicture(f"cart-{n}", None, NOON, "Ana", "repair") for n in range(out))
    aside_alerts = tuple(replace(alert(), state=state) for state in states)
    return aside(replace(picture(), hidden=aside_alerts, out=taken), UTC, sounds=False).hidden


def test_what_is_hidden_is_counted_by_what_hides_it() -> None:
    assert hidden() == ""
    assert hidden(State.SHELVED, State.SHELVED, out=1) == "Not shown: 2 put aside, 1 out of service"
    assert hidden(State.SUPPRESSED) == "Not shown: 1 held back"


@pytest.mark.parametrize(
    ("text", "others", "said"),
    [
        ("Cart 1: knocked", 0, "Not shown: Cart 1: knocked, put aside until 13:00"),
        ("Curved probe 8: used again (Cart 8)", 0, "Not shown: Curved probe 8, put aside until 13:00"),
        ("Curved probe 8: used again (Cart 8)", 1, "Not shown: Curved probe 8 until 13:00; 1 more put aside"),
        ("Donaudampfschifffahrtsbecken of the trauma bay: too cold", 1, "Not shown: 2 put aside"),
    ],
)
def test_an_urgent_one_that_is_put_aside_is_named_where_there_is_room(text: str, others: int, said: str) -> None:
    urgent = replace(alert(text), state=State.SHELVED, aside_until=later(3600))
    other = replace(alert(priority=Priority.MEDIUM), state=State.SHELVED, aside_until=later(60))
    assert aside(replace(picture(), hidden=(*[other] * others, urgent)), UTC, sounds=False).hidden == said


def test_where_the_line_is_short_what_is_hidden_is_counted_together() -> None:
    shown = replace(picture(), hidden=(replace(alert(), state=State.SHELVED),) * 2)
    assert aside(shown, UTC, sounds=False).shorter.hidden == "2 not shown: phone, Alerts"


def test_every_state_that_hides_is_counted() -> None:
    assert all(hidden(state, out=state is State.OUT_OF_SERVICE) for state in HIDDEN)


def sound(*alerts: AlertPicture, paused: float | None = None) -> SoundView:
    until = None if paused is None else later(paused)
    found = aside(replace(picture(alerts=alerts), sound_paused_until=until), UTC, sounds=True).sound
    assert found is not None
    return found


def test_a_silent_wall_says_nothing_of_sound() -> None:
    assert aside(picture(alerts=(alert(),)), UTC, sounds=False).sound is None


def test_the_most_urgent_alert_that_nobody_answers_for_is_heard() -> None:
    low, medium = alert(priority=Priority.LOW), alert(priority=Priority.MEDIUM)
    assert [sound(*a).priority for a in ((), (low,), (low, medium), (low, alert()))] == ["", "low", "medium", "high"]


def test_an_acknowledged_alert_is_silent() -> None:
    # IEC 60601-1-8 (secondary): acknowledged ends the sound of that condition.
    assert sound(alert(by="Ana")).priority == ""


@pytest.mark.parametrize(
    ("state", "heard"),
    [(State.UNACKNOWLEDGED, "high"), (State.LATCHED_UNACKNOWLEDGED, "high"), (State.RETURNED, "")],
)
def test_what_is_over_is_seen_and_not_heard(state: State, heard: str) -> None:
    assert sound(replace(alert(), state=state)).priority == heard


def test_a_pause_says_when_it_ends_by_itself() -> None:
    paused = sound(alert(), paused=120)
    assert (paused.words, paused.paused_until_ms) == ("Sound paused until 12:02", (NOON + 120_000_000) // 1000)
    assert (sound().words, sound().paused_until_ms) == ("Sound on", 0)


def test_however_much_is_hidden_alerts_without_a_place_have_room_to_be_counted() -> None:
    states = (State.SHELVED, State.SUPPRESSED) * 60
    out = tuple(OutPicture(f"cart-{n}", None, NOON, "Ana", "repair") for n in range(60))
    shown = replace(
        picture(), hidden=tuple(replace(alert(), state=s) for s in states), out=out, sound_paused_until=NOON
    )
    assert aside(shown, UTC, sounds=True).ems <= LYING.line_ems - REST_LEAST_EMS
    assert aside(shown, UTC, sounds=True).hidden == "180 not shown: phone, Alerts"
