from rules.readings import SensorId, Value
from sim_devices.sensing.figures import SENSORS, ReaderFigures
from sim_devices.ward import deeds
from sim_devices.ward.deeds import DEED
from sim_devices.ward.ward import Ward
from tests.sim_devices.sensing.sensed import EPOCH, a_ward, at, senses_of, words


def ails(sensor: str, how: str, by: float = 0, ward: Ward | None = None) -> Ward:
    """A ward in which a sensor ails from 1000 s to 3000 s."""
    ward = ward or a_ward()
    ward.do(at(1000), DEED.validate_python({"do": "defect", "sensor": sensor, "how": how, "by": by}))
    ward.do(at(3000), deeds.Defect(sensor=SensorId(sensor), how="sound"))
    return ward


def filled() -> Ward:
    """A ward with solution in a basin."""
    ward = a_ward()
    for deed in (deeds.OpenLid(basin="basin-1"), deeds.Pour(basin="basin-1"), deeds.CloseLid(basin="basin-1")):
        ward.do(at(10), deed)
    return ward


def told(ward: Ward, sensor: str) -> list[tuple[float, Value]]:
    figures = SENSORS.model_copy(update={"reader": ReaderFigures(missed_share=0)})
    return words(senses_of(ward, figures).samples(sensor.partition("/")[0], EPOCH, at(4000)), sensor)


def ailing(when: float) -> bool:
    return 1000 <= when < 3000


def test_a_silent_sensor_says_nothing_until_it_is_sound() -> None:
    sensor = "basin-1/temperature"
    assert told(ails(sensor, "silent"), sensor) == [t for t in told(a_ward(), sensor) if not ailing(t[0])]


def test_a_stuck_contact_repeats_how_it_was_and_misses_every_change() -> None:
    ward = a_ward()
    ward.do(at(1000), deeds.Defect(sensor=SensorId("basin-1/lid"), how="stuck"))
    ward.do(at(1500), deeds.OpenLid(basin="basin-1"))
    said = told(ward, "basin-1/lid")
    assert {value for when, value in said if when >= 1000} == {True}
    assert len(said) > 100


def test_a_stuck_thermometer_repeats_its_last_value_while_the_solution_cools() -> None:
    ward = filled()
    ward.do(at(500), deeds.Heater(basin="basin-1", works=False))
    ward.do(at(900), deeds.SetCelsius(basin="basin-1", celsius=40))
    said = told(ails("basin-1/temperature", "stuck", ward=ward), "basin-1/temperature")
    assert len({value for when, value in said if ailing(when)}) == 1
    assert len({value for when, value in said if not ailing(when)}) > 5


def test_a_sensor_that_is_off_is_off_by_just_that() -> None:
    sensor = "basin-1/temperature"
    for (when, value), (_, sound) in zip(told(ails(sensor, "off", 1.5), sensor), told(a_ward(), sensor), strict=True):
        assert isinstance(value, float)
        assert isinstance(sound, float)
        assert value == sound + (1.5 if ailing(when) else 0)


def test_a_sensor_that_is_off_stays_within_what_its_kind_can_be() -> None:
    said = told(ails("basin-1/temperature", "off", 1000), "basin-1/temperature")
    assert {value for when, value in said if ailing(when)} == {125.0}


def test_a_reader_that_loses_tags_loses_the_share_that_it_is_said_to() -> None:
    ward = a_ward()
    ward.do(at(10), deeds.OpenLid(basin="basin-1"))
    for probe in ("curved-1", "inner-1"):
        ward.do(at(20), DEED.validate_python({"do": "bring", "probe": probe, "place": "basin", "thing": "basin-1"}))
    said = told(ails("basin-1/tags", "loses", 0.5, ward), "basin-1/tags")
    seen = [len(str(value).split()) for when, value in said if ailing(when)]
    assert set(seen) == {0, 1, 2}
    # Two tags in about 66 reports at one half: 132 trials, 66 seen, standard deviation 5.7; 4.9 of them are 1e-6.
    assert abs(sum(seen) - len(seen)) < 4.9 * (len(seen) / 2) ** 0.5
    sound = [len(str(value).split()) for when, value in said if 30 < when < 1000]
    assert set(sound) == {2}


def test_any_other_sensor_that_loses_misses_whole_reports() -> None:
    sensor = "basin-1/temperature"
    lost, sound = told(ails(sensor, "loses", 0.5), sensor), told(a_ward(), sensor)
    assert set(lost) < set(sound)
    many = sum(ailing(when) for when, _ in sound)
    assert abs(sum(ailing(when) for when, _ in lost) - many / 2) < 4.9 * (many / 4) ** 0.5


def test_what_a_stuck_sensor_repeats_is_not_forgotten_with_the_time_at_which_it_got_stuck() -> None:
    ward = filled()
    ward.do(at(500), deeds.SetCelsius(basin="basin-1", celsius=40))
    ward.do(at(1000), deeds.Defect(sensor=SensorId("basin-1/temperature"), how="stuck"))
    ward.do(at(1500), deeds.SetCelsius(basin="basin-1", celsius=15))
    senses = senses_of(ward)
    before = senses.samples("basin-1", at(1100), at(1400))
    ward.forget(at(2500))
    after = senses.samples("basin-1", at(2600), at(3000))
    assert {v for _, v in words(after, "basin-1/temperature")} == {v for _, v in words(before, "basin-1/temperature")}
