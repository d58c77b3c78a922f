"""A cart's care and a room's air over random days: the same live, replayed, and over restarts."""

from datetime import date

from hypothesis import given, settings
from hypothesis import strategies as st

from rules.alert_events import AlertRaised
from rules.commands import CartEntry, Input
from rules.events import CartWiped, EntryStruck, GelChanged
from rules.readings import GATEWAY_LINK, Micros, SensorId, Value
from tests.rules.cared import (
    CONTACT,
    MAINS,
    SENSORS,
    WIPED,
    cared_for,
    gel_discarded,
    gel_opened,
    strike,
    wiped_down,
)
from tests.rules.feeder import HOOK_A, HOOK_B, MOTION, Feeder, read, seconds
from tests.rules.sniffed import SENSOR, VAPOUR

SITE = cared_for(
    sensor=[*SENSORS, {**SENSOR, "report_seconds": 3600}],
    probe=[{"id": "curved-1", "name": "Curved 1", "cart": "cart-1", "cord": "a", "price": 9000}],
    thresholds={"left_off_seconds": 300},
)

SAYS: dict[SensorId, list[Value]] = {
    WIPED: [True, True, False],
    MAINS: [True, False],
    CONTACT: ["skin"],
    MOTION: [True, False],
    HOOK_A: [True, False, False],
    HOOK_B: [True, False, False],
    VAPOUR: [0.1, 1.0, 2.0],
    GATEWAY_LINK: [True, True, False],
}

WAITS = st.sampled_from([0.5, 2, 30, 60, 60, 170, 400, 3600])

READING = st.sampled_from(list(SAYS)).flatmap(
    lambda sensor: st.tuples(
        WAITS, st.sampled_from([0, 0, 0, 100, 150, 7200]), st.just(sensor), st.sampled_from(SAYS[sensor])
    )
)
ENTRY = st.tuples(WAITS, st.sampled_from(["wiped", "old gel", "fresh gel", "no gel", "strike"]))
TOWED = st.just([(2.0, 0, MAINS, True), (2.0, 0, MOTION, True), (30.0, 0, MOTION, False)])
BED = st.just([(60.0, 0, HOOK_A, False)] * 8)
SPILL = st.just([(225.0, 0, VAPOUR, ppm) for ppm in (1.0, 1.5, 2.0, 2.5, 3.0, 3.5)])

DAY = st.lists(
    st.one_of(READING.map(lambda step: [step]), ENTRY.map(lambda step: [step]), BED, SPILL, TOWED), max_size=40
)


def inputs(parts: list[list[tuple[object, ...]]]) -> list[Input]:
    """Readings, entries, and strikes of the newest entry."""
    said: list[Input] = [read(MOTION, False, 0)]  # noqa: FBT003 - what it says
    newest: CartEntry = wiped_down(0)
    at = 0.0
    for step in (step for part in parts for step in part):
        at += float(step[0])  # type: ignore[arg-type] - the wait comes first
        if len(step) > 2:
            _, late, sensor, value = step
            said.append(read(sensor, value, at - late, at))  # type: ignore[arg-type, operator] - as in ``READING``
        elif step[1] == "strike":
            said.append(strike(newest, at))
        else:
            newest = entry(str(step[1]), at)
            said.append(newest)
    return said


def entry(what: str, at: float) -> CartEntry:
    gels = {"old gel": date(2023, 10, 17), "fresh gel": date(2023, 11, 14)}
    if what in gels:
        return gel_opened(at, gels[what])
    return gel_discarded(at) if what == "no gel" else wiped_down(at - 60, at)


DAYS = DAY.map(inputs)


def end(day: list[Input]) -> float:
    return seconds(day[-1].arrived) + 10_000


def replayed(day: list[Input]) -> Feeder:
    return Feeder(SITE).feed(day).until(end(day))


@given(day=DAYS, data=st.data())
@settings(max_examples=60, deadline=None)
def test_live_ticks_and_a_replay_without_them_say_the_same(day: list[Input], data: st.DataObject) -> None:
    live = Feeder(SITE).until(-50).feed(day[:1])
    for item in day[1:]:
        now = live.engine.now
        live.until(seconds(Micros(now + int((item.arrived - now) * data.draw(st.floats(0, 1))))))
        live.feed([item])
    live.until(seconds(live.engine.now) + 5000)
    assert live.until(end(day)).lines == replayed(day).lines


@given(day=DAYS, data=st.data())
@settings(max_examples=60, deadline=None)
def test_restarts_at_any_point_change_nothing(day: list[Input], data: st.DataObject) -> None:
    restarts = data.draw(st.sets(st.integers(0, len(day) - 1), max_size=4))
    restarted = Feeder(SITE)
    for number, item in enumerate(day):
        restarted.feed([item])
        if number in restarts:
            before, written = restarted.engine.picture(), restarted.engine.snapshot()
            restarted.restart()
            assert restarted.engine.picture() == before
            assert restarted.engine.snapshot() == written
    assert restarted.until(end(day)).lines == replayed(day).lines


@given(day=DAYS)
@settings(max_examples=60, deadline=None)
def test_what_comes_twice_says_the_same_as_once(day: list[Input]) -> None:
    twice = Feeder(SITE).feed(item for item in day for _ in range(2)).until(end(day))
    assert twice.lines == replayed(day).lines


def test_these_days_reach_every_rule_and_every_event_of_care() -> None:
    reached: set[str] = set()

    @given(day=DAYS)
    @settings(max_examples=200, deadline=None, derandomize=True, database=None)
    def look(day: list[Input]) -> None:
        for event in replayed(day).events:
            if isinstance(event, AlertRaised):
                reached.add(event.rule)
            elif isinstance(event, CartWiped | GelChanged | EntryStruck):
                reached.add(event.kind)

    look()
    assert reached >= {
        "wipe-down-due", "gel-out-of-date", "cord-left-off", "moved-plugged-in", "vapour-rising", "cord-down-rolling",
        "cart wiped", "gel changed", "entry struck",
    }  # fmt: skip
