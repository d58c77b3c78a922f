"""The thread of the demo's people."""

import threading
from dataclasses import replace

from rules.alert_commands import Acknowledge
from rules.commands import Command, Discard
from rules.readings import SECOND, Micros
from sim_devices.answering.crew import NURSE, TECH
from sim_devices.answering.people import People
from tests.sim_devices.answering.test_answers import RAISED, alert, picture

LATER = Micros(RAISED + 1000 * SECOND)


def test_the_nurse_acknowledges_in_her_own_name() -> None:
    asked: list[Command] = []
    done = threading.Event()

    def ask(command: Command) -> None:
        asked.append(command)
        done.set()

    people = People(lambda: picture(alert("1")), list, lambda: None, ask, lambda: LATER, seed=7)
    people.start()
    assert done.wait(10)
    people.stop()
    assert asked[0] == Acknowledge(arrived=LATER, who=NURSE, alert="1")


def test_pages_are_answered_before_the_wall_is_looked_at() -> None:
    """Whoever was paged has answered by then, and the wall shows it."""
    shown = [picture(alert("1"))]

    def carry() -> None:
        shown[0] = replace(shown[0], alerts=())

    asked: list[Command] = []
    People(lambda: shown[0], list, carry, asked.append, lambda: LATER, seed=7).look()
    assert asked == []


def test_what_was_done_at_a_basin_is_entered() -> None:
    asked: list[Command] = []
    done = Discard(arrived=RAISED, who=TECH, basin="basin-1", measured=RAISED)
    People(picture, lambda: [done], lambda: None, asked.append, lambda: RAISED, seed=7).look()
    assert asked == [done]


def test_people_who_never_came_can_go_home() -> None:
    People(picture, list, lambda: None, lambda _: None, lambda: RAISED, seed=7).stop()
