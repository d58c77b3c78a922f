from itertools import pairwise

from rules.readings import Micros, SensorId, micros
from sim_devices.chance import Chance
from sim_devices.faults import POWER_UP_CELSIUS
from sim_devices.sampling import Beat, Gated, Gauge, Grain, OneWire, Switch
from sim_devices.spans import Slots, SlottedState, Span

EPOCH = Micros(1_790_000_000_000_000)
HOUR = Micros(EPOCH + micros(3600))
SENSOR = SensorId("basin-1/temperature")


def beat(seconds: float = 10) -> Beat:
    return Beat(SENSOR, EPOCH, seconds, Chance(7))


def once(start: float, end: float, *, during: bool = True) -> SlottedState:
    span = Span(Micros(EPOCH + micros(start)), Micros(EPOCH + micros(end)))
    return SlottedState(Slots(EPOCH, micros(3600)), lambda slot: (span,) if slot == 0 else (), during)


def test_reports_keep_their_interval_within_the_jitter() -> None:
    instants = beat().instants(EPOCH, HOUR)
    assert len(instants) in {359, 360, 361}
    assert all(9.5e6 <= b - a <= 10.5e6 for a, b in pairwise(instants))


def test_a_report_that_jitter_carries_over_an_edge_is_not_lost() -> None:
    # Phases near 0 and 1 are the ones at risk: among 400 sensors there are some.
    edges = [Micros(EPOCH + micros(9.5 + part / 20)) for part in range(21)]
    for number in range(400):
        one = Beat(SensorId(f"cart-{number}/motion"), EPOCH, 10, Chance(7))
        parts = [instant for a, b in pairwise(edges) for instant in one.instants(a, b)]
        assert parts == one.instants(edges[0], edges[-1])


def test_a_sensor_without_an_interval_never_reports_unasked() -> None:
    assert beat(0).instants(EPOCH, HOUR) == []


def test_a_contact_bounces_once_and_settles() -> None:
    change = EPOCH + micros(100)
    told = Switch(beat(0), once(100, 200)).samples(EPOCH, Micros(change + 5_000))
    assert [(s.measured - change, s.value) for s in told] == [(0, True), (1000, False), (2000, True)]


def test_the_bounce_of_a_change_before_the_window_is_not_lost() -> None:
    change = Micros(EPOCH + micros(100))
    told = Switch(beat(0), once(100, 200)).samples(change, Micros(change + 5_000))
    assert [(s.measured - change, s.value) for s in told] == [(1000, False), (2000, True)]


def test_a_gauge_rounds_to_its_step_and_stays_on_its_scale() -> None:
    told = Gauge(beat(), lambda _: 0.01, Grain(0.0625, 0.2, low=0)).samples(EPOCH, HOUR)
    assert all(isinstance(s.value, float) and s.value % 0.0625 == 0 and s.value >= 0 for s in told)
    assert len({s.value for s in told}) > 3


def test_nothing_is_heard_while_the_gate_is_shut() -> None:
    gauge = Gauge(beat(), lambda _: 22.0, Grain(0.0625, 0))
    told = Gated(gauge, once(100, 200, during=False)).samples(EPOCH, HOUR)
    shut, opened = EPOCH + micros(100), EPOCH + micros(200)
    assert told == [s for s in gauge.samples(EPOCH, HOUR) if not shut <= s.measured < opened]


def test_a_1_wire_thermometer_says_85_once_after_power_up() -> None:
    # Power-up value of the 1-Wire class: data sheet (secondary), as in rules/health.py.
    told = OneWire(Gauge(beat(), lambda _: 22.0, Grain(0.0625, 0)), once(100, 104, during=False)).samples(EPOCH, HOUR)
    odd = [s.measured for s in told if s.value == POWER_UP_CELSIUS]
    assert odd == [min(s.measured for s in told if s.measured >= EPOCH + micros(104))]
