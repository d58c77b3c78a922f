from collections.abc import Mapping
from math import exp, log

import pytest

from rules.site import Label
from sim_devices.troubles.episode import Trouble
from tests.sim_devices.small_ward import HOUR, SmallWard, site_of

Labels = Mapping[str, Label]


@pytest.mark.parametrize(("how", "by", "trouble"), [
    ("silent", 0, Trouble.SENSOR_SILENT),
    ("spoilt", 1, Trouble.SENSOR_SILENT),
    ("spoilt", 0.3, Trouble.SENSOR_WRONG),
    ("stuck", 0, Trouble.SENSOR_WRONG),
    ("off", 2, Trouble.SENSOR_WRONG),
    ("loses", 0.5, Trouble.SENSOR_WRONG),
])  # fmt: skip
def test_a_broken_sensor_is_silent_or_wrong_until_it_is_sound(
    labels: Labels, how: str, by: float, trouble: Trouble
) -> None:
    ward = SmallWard(labels).do(10, "defect", sensor="cart-1/hook-a", how=how, by=by)
    ward.do(60, "defect", sensor="cart-1/hook-a", how="sound")
    assert ward.found(trouble, HOUR) == [("cart-1/hook-a", 10, 60)]
    assert len(ward.all(HOUR)) == 1


def test_of_a_device_that_cannot_be_heard_no_sensor_is_called_silent(labels: Labels) -> None:
    ward = SmallWard(labels).do(10, "defect", sensor="cart-1/motion", how="silent")
    ward.do(20, "power", thing="cart-1", on=False).do(30, "network", thing="cart-1", up=False)
    ward.do(40, "power", thing="cart-1", on=True).do(90, "network", thing="cart-1", up=True)
    assert ward.found(Trouble.DEVICE_OFFLINE, HOUR) == [("cart-1/link", 20, 90)]
    assert ward.found(Trouble.SENSOR_SILENT, HOUR) == [("cart-1/motion", 10, 20), ("cart-1/motion", 90, None)]


@pytest.mark.parametrize(("ahead", "wrong"), [(61, True), (-61, True), (59, False)])
def test_a_clock_is_wrong_by_more_than_a_minute_for_each_sensor_that_reports(
    labels: Labels, ahead: float, *, wrong: bool
) -> None:
    ward = SmallWard(labels, site_of(sensor=[{"thing": "basin-1", "name": "strip", "kind": "strip"}]))
    ward.do(10, "set-clock", thing="basin-1", ahead_seconds=ahead).do(60, "set-clock", thing="basin-1", ahead_seconds=0)
    told = [("basin-1/lid", 10, 60), ("basin-1/temperature", 10, 60)] if wrong else []
    assert ward.found(Trouble.CLOCK_WRONG, HOUR) == told


def test_vapour_of_a_spill_is_above_the_strictest_ceiling_until_the_air_was_changed_often_enough(
    labels: Labels,
) -> None:
    ward = SmallWard(labels, site_of(care={"air_changes_per_hour": 10})).do(600, "spill", station="room", ppm=1)
    ((room, start, end),) = ward.found(Trouble.VAPOUR, 2 * HOUR)
    # C(t) = exp(-ACH t) falls to 0.05 ppm (ACGIH, by CDC 2008 Table 4) after ln 20 / 10 h, looked at each minute.
    clears = 600 + log(1 / 0.05) / 10 * HOUR
    assert exp(-10 * (clears - 600) / HOUR) == pytest.approx(0.05)
    assert (room, start) == ("room", 600)
    assert end == pytest.approx(clears, abs=60)
