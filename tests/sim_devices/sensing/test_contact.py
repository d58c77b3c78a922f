from itertools import groupby

import numpy as np
import pytest

from rules.readings import Micros, SensorId
from sim_devices.chance import Chance
from sim_devices.sensing.contact import Contact
from sim_devices.sensing.figures import ContactFigures
from sim_devices.sensing.sense import Told
from sim_devices.ward.tracks import Track
from tests.sim_devices.sensing.sensed import EPOCH, at

LID = SensorId("basin-1/lid")
CHANGES = 400


def lid(*changes: float, figures: ContactFigures | None = None) -> Contact:
    """A lid that is open at first, and changes at these seconds."""
    closed = False
    state = Track(closed)
    for seconds in changes:
        closed = not closed
        state.set(at(seconds), closed)
    return Contact(LID, state, Chance(7), figures or ContactFigures())


def often() -> Contact:
    return lid(*range(1, CHANGES + 1))


def bouncing(contact: Contact) -> list[list[Told]]:
    """What is told of each change, with the bouncing after it."""
    told = contact.told(EPOCH, at(CHANGES + 0.9))
    return [list(of_change) for _, of_change in groupby(told, key=lambda t: (t.at - EPOCH) // 1_000_000)]


def test_a_reed_switch_bounces_for_half_a_millisecond_to_two() -> None:
    # 0.5 to 1 ms is typical, dynamic noise lasts to about 2 ms (data sheets of reed switches, secondary).
    lasts = [(of[-1].at - of[0].at) / 1000 for of in bouncing(often()) if len(of) > 1]
    assert len(lasts) > CHANGES / 2
    assert 0.5 <= min(lasts) < 0.6
    assert 1.9 < max(lasts) <= 2


def test_every_change_is_told_at_once_springs_back_and_settles() -> None:
    contact = often()
    edges = bouncing(contact)
    assert len(edges) == CHANGES
    for number, told in enumerate(edges, start=1):
        closed = number % 2 == 1
        assert told[0] == Told(at(number), closed)
        assert [t.value for t in told] == [closed if n % 2 == 0 else not closed for n in range(len(told))]
        assert told[-1].value is closed
    # From no bounce to three.
    assert {len(told) for told in edges} == {1, 3, 5, 7}


def test_a_device_that_waits_for_a_contact_to_settle_tells_each_change_once_and_later() -> None:
    # 5 to 20 ms of waiting cover what a reed switch bounces (data sheets, secondary).
    contact = lid(1, 2, 2.004, 3, figures=ContactFigures(debounce_ms=10))
    assert contact.told(EPOCH, at(10)) == [
        Told(at(1.01), value=True),
        Told(at(2.014), value=True),
        Told(at(3.01), value=False),
    ]


def test_a_contact_that_changes_again_before_it_settled_bounces_no_longer() -> None:
    contact = lid(1, 1.0006)
    told = contact.told(EPOCH, at(2))
    assert [t.at for t in told] == sorted(t.at for t in told)
    assert told[-1].value is False
    assert {t.at: t.value for t in told}[at(1)] is True


def test_a_contact_that_is_asked_says_how_it_is() -> None:
    instants = np.array([at(0.5), at(1), at(1.5), at(2.5)], dtype=np.int64)
    assert lid(1, 2).asked(instants) == [False, True, True, False]


@pytest.mark.parametrize("cut_us", [1, 400, 700, 1500, 2000])
def test_a_bounce_is_found_wherever_the_time_is_cut(cut_us: int) -> None:
    contact = often()
    for second in (1, 2, 3, 4, 5, 6):
        begin, cut, end = at(second - 0.5), Micros(at(second) + cut_us), at(second + 0.4)
        assert contact.told(begin, cut) + contact.told(cut, end) == contact.told(begin, end)
