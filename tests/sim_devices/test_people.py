import threading

from rules.alert_words import Priority
from rules.commands import Discard, Entry
from rules.picture import AlertPicture
from rules.readings import SECOND, Micros
from sim_devices.chance import Chance
from sim_devices.crew import NURSE, TECH
from sim_devices.people import ATTENTION, People, ripe

RAISED = Micros(1_790_000_000_000_000)


def alert(name: str, acknowledged_by: str | None = None) -> AlertPicture:
    return AlertPicture(
        name, "soak-cold", "basin-3", Priority.MEDIUM, "too cold", "warm it", RAISED, acknowledged_by, None
    )


def ripe_after(seconds: float, *alerts: AlertPicture) -> list[str]:
    now = Micros(RAISED + round(seconds * SECOND))
    return [found.id for found in ripe(alerts, now, Chance(7), ATTENTION)]


def test_nobody_answers_within_the_first_minute_and_somebody_does_within_one_and_a_half() -> None:
    alerts = [alert(str(number)) for number in range(50)]
    assert ripe_after(59.9, *alerts) == []
    assert ripe_after(90.1, *alerts) == [str(number) for number in range(50)]
    assert 5 < len(ripe_after(75, *alerts)) < 45


def test_an_answered_alert_is_left_alone() -> None:
    assert ripe_after(600, alert("1", acknowledged_by="somebody else")) == []


def test_the_nurse_acknowledges_in_her_own_name() -> None:
    answered: list[tuple[str, str]] = []
    done = threading.Event()

    def acknowledge(found: AlertPicture, who: str) -> None:
        answered.append((found.id, who))
        done.set()

    people = People(lambda: [alert("1")], acknowledge, list, str, lambda: Micros(RAISED + 100 * SECOND), seed=7)
    people.start()
    assert done.wait(10)
    people.stop()
    assert answered[0] == ("1", NURSE)


def test_what_was_done_at_a_basin_is_entered() -> None:
    entered: list[Entry] = []
    done = Discard(arrived=RAISED, who=TECH, basin="basin-1", measured=RAISED)
    People(list, lambda _alert, _who: None, lambda: [done], entered.append, lambda: RAISED, seed=7).look()
    assert entered == [done]


def test_people_who_never_came_can_go_home() -> None:
    People(list, lambda _alert, _who: None, list, str, lambda: RAISED, seed=7).stop()
