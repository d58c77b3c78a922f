"""Sensors as people call them."""

import pytest

from rules.readings import SensorKind
from rules.sensor_words import sensor_called


@pytest.mark.parametrize(
    ("kind", "name", "called"),
    [
        (SensorKind.TEMPERATURE, "temperature", "thermometer"),
        (SensorKind.TEMPERATURE, "temperature-2", "thermometer (2)"),
        (SensorKind.TEMPERATURE, "bath", "thermometer (bath)"),
        (SensorKind.HOOK, "hook-hockey-stick", "hook of the hockey-stick cord"),
        (SensorKind.HOOK, "hook", "hook sensor"),
        (SensorKind.HOOK, "holder", "hook sensor (holder)"),
        (SensorKind.SHOCK, "shock-linear", "knock sensor (linear)"),
    ],
)
def test_a_sensor_is_called_by_what_it_is_and_by_its_name_where_that_says_more(
    kind: SensorKind, name: str, called: str
) -> None:
    assert sensor_called(kind, name) == called


def test_each_kind_is_called_something_of_its_own() -> None:
    called = {sensor_called(kind, kind.value) for kind in SensorKind}
    assert len(called) == len(SensorKind)
