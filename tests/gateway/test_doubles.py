"""What comes twice is counted once."""

from hypothesis import given
from hypothesis import strategies as st

from gateway.doubles import MOMENTARY_WINDOW, Doubles
from rules.readings import SECOND, Micros, Reading, SensorId, SensorKind, Value

TEMPERATURE = SensorId("basin-1/temperature")
CONTACT = SensorId("cart-1/contact")
KINDS_HERE = {TEMPERATURE: SensorKind.TEMPERATURE, CONTACT: SensorKind.CONTACT}


class Remembered:
    """What a journal that holds these readings answers."""

    def __init__(self, *readings: Reading) -> None:
        self.readings = list(readings)
        self.asked = 0

    def newest_measured(self, sensor: SensorId) -> Micros | None:
        self.asked += 1
        return max((r.measured for r in self.readings if r.sensor == sensor and r.timed), default=None)

    def newest_untimed(self, sensor: SensorId, value: Value) -> Micros | None:
        self.asked += 1
        mine = (r for r in self.readings if r.sensor == sensor and r.value == value and not r.timed)
        return max((r.arrived for r in mine), default=None)

    def recorded(self, sensor: SensorId, measured: Micros, value: Value) -> bool:
        self.asked += 1
        return any((r.sensor, r.measured, r.value) == (sensor, measured, value) and r.timed for r in self.readings)


def warm(at: int, value: float = 20.0) -> Reading:
    return Reading(TEMPERATURE, Micros(at), Micros(at), value)


def touched(at: float, value: str = "skin") -> Reading:
    instant = Micros(round(at * SECOND))
    return Reading(CONTACT, instant, instant, value, timed=False)


def taken(past: Remembered, *readings: Reading) -> list[Reading]:
    doubles = Doubles(KINDS_HERE, past)
    return [reading for reading in readings if not doubles.seen(reading)]


def test_the_same_value_at_the_same_time_is_taken_once() -> None:
    assert taken(Remembered(), warm(1), warm(2), warm(1), warm(2)) == [warm(1), warm(2)]


def test_another_value_at_the_same_time_is_taken() -> None:
    assert taken(Remembered(), warm(1, 20.0), warm(1, 21.0)) == [warm(1, 20.0), warm(1, 21.0)]


def test_a_late_reading_not_heard_before_is_taken() -> None:
    assert taken(Remembered(), warm(5), warm(3)) == [warm(5), warm(3)]


def test_what_the_journal_has_from_before_a_restart_is_not_taken_again() -> None:
    assert taken(Remembered(warm(5), warm(3)), warm(3), warm(5), warm(4), warm(6)) == [warm(4), warm(6)]


def test_news_does_not_ask_the_journal() -> None:
    past = Remembered()
    taken(past, *(warm(at) for at in range(100)))
    assert past.asked == 1


def test_a_state_without_time_is_taken_as_it_comes() -> None:
    untimed = warm(1)._replace(timed=False)
    assert taken(Remembered(), untimed, untimed) == [untimed, untimed]


def test_a_happening_without_time_is_taken_once_a_window() -> None:
    window = MOMENTARY_WINDOW / SECOND
    heard = [touched(0), touched(window - 0.1), touched(window), touched(2 * window - 0.1), touched(2 * window)]
    assert taken(Remembered(), *heard) == [touched(0), touched(window), touched(2 * window)]


def test_another_happening_within_the_window_is_taken() -> None:
    assert taken(Remembered(), touched(0, "skin"), touched(1, "blood")) == [touched(0, "skin"), touched(1, "blood")]


def test_a_happening_just_before_a_restart_is_not_taken_again() -> None:
    assert taken(Remembered(touched(10)), touched(12)) == []


def test_happenings_long_past_are_forgotten() -> None:
    doubles = Doubles(KINDS_HERE, Remembered())
    for n in range(1000):
        doubles.seen(touched(n, f"value {n}"))
    assert len(doubles._happened) <= MOMENTARY_WINDOW / SECOND + 1


@given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 2), st.booleans()), max_size=40))
def test_every_distinct_reading_is_taken_exactly_once_whatever_the_order(heard: list[tuple[int, int, bool]]) -> None:
    past = Remembered()
    doubles = Doubles(KINDS_HERE, past)
    kept: list[Reading] = []
    for at, value, commit_after in heard:
        reading = warm(at, float(value))
        if not doubles.seen(reading):
            kept.append(reading)
        if commit_after:
            past.readings[:] = kept
            doubles.committed()
    assert len(set(kept)) == len(kept)
    assert set(kept) == {warm(at, float(value)) for at, value, _ in heard}
