from rules.readings import SensorId
from sim_devices.sensing.figures import SENSORS, ReaderFigures, SensorFigures
from sim_devices.ward.deeds import DEED
from sim_devices.ward.ward import Ward
from tests.sim_devices.sensing.sensed import EPOCH, a_ward, at, senses_of, words


def bring(ward: Ward, seconds: float, probe: str, **where: object) -> None:
    ward.do(at(seconds), DEED.validate_python({"do": "bring", "probe": probe, **where}))


def a_week(missed_share: float) -> list[str]:
    """What the reader of a cabinet says in a week in which two probes lie in it."""
    ward = a_ward()
    for probe in ("curved-1", "inner-1"):
        bring(ward, 0, probe, place="cabinet", thing="cabinet-1")
    samples = senses_of(ward, missing(missed_share)).samples("cabinet-1", at(1), at(7 * 86_400))
    return [str(value) for _, value in words(samples, "cabinet-1/tags")]


def missing(share: float) -> SensorFigures:
    return SENSORS.model_copy(update={"reader": ReaderFigures(missed_share=share)})


def test_a_reader_tells_at_once_who_came_and_who_went() -> None:
    ward = a_ward()
    bring(ward, 100, "curved-1", place="cabinet", thing="cabinet-1")
    bring(ward, 200, "inner-1", place="cabinet", thing="cabinet-1")
    bring(ward, 300, "linear-1", place="cabinet", thing="cabinet-1")
    bring(ward, 400, "curved-1", place="hook")
    samples = [s for s in senses_of(ward, missing(0)).samples("cabinet-1", EPOCH, at(1000)) if s.change]
    # The third has no tag.
    assert words(samples, "cabinet-1/tags") == [(100.0, "E1"), (200.0, "E1 E2"), (400.0, "E2")]


def test_a_probe_whose_tag_is_covered_is_not_seen() -> None:
    ward = a_ward()
    bring(ward, 100, "curved-1", place="cabinet", thing="cabinet-1", read=False)
    samples = senses_of(ward, missing(0)).samples("cabinet-1", EPOCH, at(1000))
    assert {value for _, value in words(samples, SensorId("cabinet-1/tags"))} == {""}


def test_a_reader_misses_as_many_tags_as_its_figure_says() -> None:
    said = a_week(0.01)
    # Binomial: two tags in each of n reports, each missed with 0.01; 4.9 standard deviations are 1e-6.
    trials = 2 * len(said)
    missed = trials - sum(len(text.split()) for text in said)
    assert abs(missed - 0.01 * trials) < 4.9 * (trials * 0.01 * 0.99) ** 0.5
    assert len(said) > 20_000


def test_a_reader_that_misses_nothing_says_the_same_all_week() -> None:
    assert set(a_week(0)) == {"E1 E2"}
