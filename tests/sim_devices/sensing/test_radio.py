from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from rules.readings import SECOND, Micros, SensorId
from sim_devices.sensing.delivery import Sent
from sim_devices.sensing.radio_figures import RADIO, RadioFigures
from sim_devices.ward import deeds
from sim_devices.ward.deeds import Deed
from sim_devices.ward.ward import Ward
from tests.sim_devices.sensing.sensed import EPOCH, a_ward, at, radio_of, senses_of

HOUR = 3600

DAY = 24 * HOUR

PLAIN = RadioFigures(lost_share=0, doubled_share=0, late_share=0, dropout_every_hours=0, clock_ppm=0)
"""Nothing befalls a message but the time that it takes."""

BUSY = RadioFigures(lost_share=0.05, doubled_share=0.05, late_share=0.05, dropout_every_hours=0.2, spoilt_share=0.05)

EVENTS: tuple[tuple[float, Deed], ...] = (
    (100, deeds.Network(thing="basin-1", up=False)),
    (110, deeds.Network(thing="cart-1", up=False)),
    (400, deeds.Network(thing="basin-1", up=True)),
    (402, deeds.Network(thing="basin-1", up=False)),
    (404, deeds.Network(thing="basin-1", up=True)),
    (900, deeds.Network(thing="cart-1", up=True)),
    (1000, deeds.Power(thing="", on=False)),
    (1003, deeds.Power(thing="", on=True)),
    (1500, deeds.SetClock(thing="basin-1", ahead_seconds=120)),
    (1800, deeds.SetClock(thing="basin-1", ahead_seconds=0)),
    (2000, deeds.Network(thing="", up=False)),
    (2050, deeds.Power(thing="basin-1", on=False)),
    (2060, deeds.Power(thing="basin-1", on=True)),
    (2500, deeds.Network(thing="", up=True)),
)


def lived(events: tuple[tuple[float, Deed], ...] = EVENTS) -> Ward:
    ward = a_ward()
    for seconds, deed in events:
        ward.do(at(seconds), deed)
    return ward


class Whole:
    """All that reaches the broker within the hour, by thing, taken in one go."""

    of: dict[str, list[Sent]]

    def __init__(self, ward: Ward, figures: RadioFigures) -> None:
        radio = radio_of(ward, figures)
        self.of = {thing: radio.sent(thing, EPOCH, at(HOUR)) for thing in radio.things}

    def __repr__(self) -> str:
        return "Whole"


@pytest.fixture(scope="module")
def ward() -> Ward:
    return lived()


@pytest.fixture(scope="module")
def whole(ward: Ward) -> Whole:
    return Whole(ward, BUSY)


@given(st.lists(st.integers(0, HOUR * 1000), max_size=8), st.sampled_from(EVENTS), st.sampled_from((1, -1)))
@settings(max_examples=12, deadline=None, derandomize=True)
def test_what_arrives_is_the_same_however_the_time_is_cut(
    ward: Ward, whole: Whole, cuts: list[int], event: tuple[float, Deed], order: int
) -> None:
    # Cuts around an event, and around what follows from it, are the ones at risk.
    near = (event[0] + seconds for seconds in (0, 0.5, 5, 22.5, 30))
    seconds = sorted({0, HOUR, *(cut / 1000 for cut in cuts), *near})
    radio = radio_of(ward, BUSY)
    for thing in radio.things:
        steps = list(pairwise(seconds))
        # Each call goes on from the one before it, or none does.
        pieces = {step: radio.sent(thing, at(step[0]), at(step[1])) for step in steps[::order]}
        assert [sent for step in steps for sent in pieces[step]] == whole.of[thing]


def test_what_happens_later_does_not_change_what_has_arrived(whole: Whole) -> None:
    ward = a_ward()
    radio = radio_of(ward, BUSY)
    told: dict[str, list[Sent]] = {thing: [] for thing in radio.things}
    since = 0.0
    for seconds, deed in EVENTS:
        ward.do(at(seconds), deed)
        for thing in radio.things:
            told[thing] += radio.sent(thing, at(since), at(seconds))
        since = seconds
    for thing in radio.things:
        assert told[thing] + radio.sent(thing, at(since), at(HOUR)) == whole.of[thing]


# ---- shares ------------------------------------------------------------------------------------------------------


def sent_in(days: float, figures: RadioFigures, thing: str = "basin-1") -> list[Sent]:
    return radio_of(a_ward(), figures).sent(thing, EPOCH, at(days * DAY))


def within_binomial(found: int, trials: int, share: float) -> bool:
    """Whether so many of so many may be that share; refused beyond 1e-6 (scipy's exact binomial test)."""
    return bool(stats.binomtest(found, trials, share).pvalue > 1e-6)


def measured_in(days: float) -> int:
    return len(senses_of(a_ward()).samples("basin-1", EPOCH, at(days * DAY)))


def test_as_many_messages_are_lost_and_doubled_as_the_figures_say() -> None:
    figures = PLAIN.model_copy(update={"lost_share": 0.02, "doubled_share": 0.03})
    readings = Counter(sent.samples[0] for sent in sent_in(2, figures) if sent.samples[0].sensor != "basin-1/link")
    said, twice = len(readings), sum(count == 2 for count in readings.values())
    trials = measured_in(2)
    assert trials > 25_000
    assert within_binomial(trials - said, trials, 0.02)
    assert within_binomial(twice, said, 0.03)
    assert max(readings.values()) == 2


def test_as_many_messages_are_late_as_the_figures_say_and_by_no_more() -> None:
    figures = PLAIN.model_copy(update={"late_share": 0.02})
    delays = [
        (s.at - s.samples[0].measured) / SECOND for s in sent_in(2, figures) if s.samples[0].sensor[-4:] != "link"
    ]
    late = [delay for delay in delays if delay > 1]
    assert within_binomial(len(late), len(delays), 0.02)
    assert 5 < min(late) < 7
    assert 85 < max(late) < 90.5


def test_as_many_messages_are_spoilt_as_an_ailment_says() -> None:
    ward = a_ward()
    ward.do(EPOCH, deeds.Defect(sensor=SensorId("basin-1/temperature"), how="spoilt", by=0.25))
    sent = radio_of(ward, PLAIN).sent("basin-1", EPOCH, at(DAY))
    told = [s.spoilt is not None for s in sent if s.samples[0].sensor == "basin-1/temperature"]
    assert within_binomial(sum(told), len(told), 0.25)
    assert not any(s.spoilt for s in sent if s.samples[0].sensor != "basin-1/temperature")
    assert len({s.spoilt for s in sent}) == 6


# ---- order and latency -------------------------------------------------------------------------------------------


def test_a_connection_keeps_messages_in_order_and_takes_as_long_as_it_may() -> None:
    live = [s for s in sent_in(1, PLAIN) if s.samples[0].sensor != "basin-1/link"]
    measured = [s.samples[0].measured for s in live]
    assert measured == sorted(measured)
    took = [(s.at - s.samples[0].measured) / SECOND for s in live]
    assert 0.02 <= min(took) < 0.03
    assert 0.39 < max(took) <= 0.4
    assert 0 <= measured_in(1) - len(live) <= 3, "all but those that are on their way yet"


# ---- out of reach ------------------------------------------------------------------------------------------------


def links(sent: list[Sent], thing: str = "basin-1") -> list[tuple[float, object]]:
    return [
        ((s.at - EPOCH) / SECOND, s.samples[0].value) for s in sent if s.samples[0].sensor == SensorId(f"{thing}/link")
    ]


def unreachable(start: float, end: float, thing: str = "basin-1") -> Ward:
    return lived(((start, deeds.Network(thing=thing, up=False)), (end, deeds.Network(thing=thing, up=True))))


def test_a_silent_device_is_called_offline_after_one_and_a_half_keepalives_and_online_when_it_is_back() -> None:
    # MQTT 3.1.1, section 3.1.2.10: one and a half times the keepalive.
    told = links(radio_of(unreachable(1000, 2000), PLAIN).sent("basin-1", at(100), at(3000)))
    assert [value for _, value in told] == [False, True]
    assert told[0][0] == 1000 + 1.5 * RADIO.keepalive_seconds
    assert 2001 <= told[1][0] <= 2008


def test_a_gap_shorter_than_that_is_not_called_offline() -> None:
    told = links(radio_of(unreachable(1000, 1010), PLAIN).sent("basin-1", at(100), at(3000)))
    assert [value for _, value in told] == [True]


def test_what_a_basin_could_not_say_comes_in_packs_when_it_is_back_all_of_it_and_in_order() -> None:
    radio = radio_of(unreachable(1000, 2000), PLAIN)
    sent = radio.sent("basin-1", at(500), at(3000))
    packs = [s for s in sent if s.buffered]
    kept = [sample for pack in packs for sample in pack.samples]
    [(_, _), (back, _)] = links(sent)
    measured = senses_of(unreachable(1000, 2000)).samples("basin-1", Micros(at(1000) - 1), at(back))
    assert kept == measured
    assert {len(pack.samples) for pack in packs[:-1]} == {50}
    assert {b.at - a.at for a, b in pairwise(packs)} == {round(0.2 * SECOND)}
    assert packs[0].at == at(back + 0.2)


def test_no_device_remembers_more_or_longer_than_its_memory() -> None:
    few = PLAIN.model_copy(update={"memory_samples": 60})
    kept = [
        s
        for p in radio_of(unreachable(1000, 2000), few).sent("basin-1", at(500), at(3000))
        if p.buffered
        for s in p.samples
    ]
    assert len(kept) == 60
    # Six temperatures and four other reports a minute: sixty of them are six minutes.
    assert min(s.measured for s in kept) > at(2000 - 6 * 60 - 30)
    sent = radio_of(unreachable(1000, 20_000), PLAIN).sent("basin-1", at(500), at(21_000))
    back = links(sent)[-1][0]
    oldest = min(s.measured for p in sent if p.buffered for s in p.samples)
    assert at(back - 1800) <= oldest < at(back - 1780)


def test_a_cart_tells_how_things_are_and_not_how_they_were() -> None:
    ward = lived(
        (
            (1000, deeds.Network(thing="cart-2", up=False)),
            (1100, deeds.TakeDown(cart="cart-2", cord="a")),
            (1200, deeds.HangUp(cart="cart-2", cord="a")),
            (1500, deeds.Network(thing="cart-2", up=True)),
        )
    )
    sent = radio_of(ward, PLAIN).sent("cart-2", at(500), at(2000))
    [pack] = [s for s in sent if s.buffered]
    assert sorted(s.sensor for s in pack.samples) == ["cart-2/hook-a", "cart-2/motion"]
    assert {s.sensor: s.value for s in pack.samples}[SensorId("cart-2/hook-a")] is True


def test_what_was_kept_is_lost_with_the_power() -> None:
    ward = lived(
        (
            (1000, deeds.Network(thing="basin-1", up=False)),
            (1500, deeds.Power(thing="basin-1", on=False)),
            (1510, deeds.Power(thing="basin-1", on=True)),
            (2000, deeds.Network(thing="basin-1", up=True)),
        )
    )
    kept = [s for p in radio_of(ward, PLAIN).sent("basin-1", at(500), at(3000)) if p.buffered for s in p.samples]
    assert min(s.measured for s in kept) == at(1512)


def test_bad_luck_takes_a_device_off_the_air_about_once_in_so_long() -> None:
    lucky = PLAIN.model_copy(update={"dropout_every_hours": 1, "least_dropout_seconds": 60})
    told = links(sent_in(2, lucky))
    # One in each of 48 hours, of which a few may fall together; the first word is that it is there.
    assert 45 <= sum(value is False for _, value in told) <= 48
    assert 46 <= sum(value is True for _, value in told) <= 49


# ---- clocks ------------------------------------------------------------------------------------------------------


def test_a_clock_that_is_set_wrong_stamps_so_and_one_that_is_set_right_does_not() -> None:
    ward = lived(
        (
            (1000, deeds.SetClock(thing="basin-1", ahead_seconds=90)),
            (2000, deeds.SetClock(thing="basin-1", ahead_seconds=0)),
        )
    )
    stamped = [s.samples[0].measured for s in radio_of(ward, PLAIN).sent("basin-1", at(100), at(3000))]
    true = [s.samples[0].measured for s in radio_of(a_ward(), PLAIN).sent("basin-1", at(100), at(3000))]
    aheads = {(t, (s - t) // SECOND) for s, t in zip(stamped, true, strict=True)}
    assert {ahead for t, ahead in aheads if at(1000) <= t < at(2000)} == {90}
    assert {ahead for t, ahead in aheads if not at(1000) <= t < at(2000)} == {0}


def test_a_clock_drifts_by_its_parts_per_million_and_is_set_right_in_time() -> None:
    # 100 ppm over 6 h are 2.16 s.
    figures = PLAIN.model_copy(update={"clock_ppm": 100.0})
    errors = []
    for thing in ("basin-1", "basin-2", "cart-1", "cart-2", "soak-room"):
        radio, plain = (radio_of(a_ward(), f) for f in (figures, PLAIN))
        drifted, true = ([s.samples[0].measured for s in r.sent(thing, at(100), at(DAY))] for r in (radio, plain))
        off = [(a - b) / SECOND for a, b in zip(drifted, true, strict=True)]
        errors.append(max(off, key=abs))
        assert min(map(abs, off)) < 0.05
        assert len([1 for a, b in pairwise(off) if abs(b - a) > 0.02]) <= 8
    assert all(abs(error) <= 2.16 for error in errors)
    assert max(map(abs, errors)) > 0.7
    assert {error > 0 for error in errors} == {True, False}


def test_messages_close_to_each_other_wait_for_each_other_wherever_the_time_is_cut() -> None:
    # Bounces follow each other within two milliseconds, and a message takes up to 0.4 s.
    events = tuple(
        (20 + n, deeds.CloseLid(basin="basin-1") if n % 2 else deeds.OpenLid(basin="basin-1")) for n in range(40)
    )
    ward = lived(events)
    whole = radio_of(ward, PLAIN).sent("basin-1", at(10), at(100))
    for n in range(40):
        for late in (0.0004, 0.0012, 0.1):
            cut, radio = at(20 + n + late), radio_of(ward, PLAIN)
            assert radio.sent("basin-1", at(10), cut) + radio.sent("basin-1", cut, at(100)) == whole
