"""A look-back from a thermometer that was off: soaks are judged again with its error taken off."""

from dataclasses import replace
from math import exp, log
from pathlib import Path

import pytest

from gateway.look_back import (
    WrongThermometer,
)
from gateway.look_back_reading import NothingFoundError
from rules.readings import SensorId
from rules.verdict import Outcome
from tests.gateway.books import TRACKED, Book, merged, site_text
from tests.gateway.looked_back import HOUR, LONG, THERMOMETER, ids, soaks, written
from tests.rules.bath import pour, strip
from tests.rules.feeder import instant, soak, without


def test_soaks_are_judged_again_with_the_error_taken_off(tmp_path: Path) -> None:
    # 12:00 at 20.0 C passes and at 19.9 C fails (ready-made assertion 1, after CDC/HICPAC 2008, Table 4).
    book = written(tmp_path, soaks(100, HOUR, celsius=21.0))
    exact = WrongThermometer(THERMOMETER, 1.0, instant(0))
    assert ids(book.look_back(exact)) == []
    found = book.look_back(replace(exact, error_celsius=1.1))
    assert ids(found) == ["basin-1.1", "basin-1.2"]
    verdict = found.soaks[0].suspect.rejudged
    assert verdict is not None
    assert (verdict.outcome, verdict.credited_seconds) == (Outcome.TOO_COLD, 0)
    assert found.soaks[0].suspect.outcome is Outcome.EXPOSURE_MET


def test_only_what_it_judged_since_is_judged_again(tmp_path: Path) -> None:
    book = written(tmp_path, soaks(100, HOUR))
    assert ids(book.look_back(WrongThermometer(THERMOMETER, 2.0, instant(2000)))) == ["basin-1.2"]


def test_a_soak_under_way_as_it_began_to_read_wrongly_is_judged_in_both_parts(tmp_path: Path) -> None:
    book = written(tmp_path, soaks(100))
    (touched,) = book.look_back(WrongThermometer(THERMOMETER, 2.0, instant(400))).soaks
    verdict = touched.suspect.rejudged
    assert verdict is not None
    # Warm from 100 s on; between the samples at 390 s (21 C) and 400 s (19 C) it crosses 20 C half-way, at 395 s.
    assert verdict.credited_seconds == pytest.approx(295, abs=0.001)


def test_a_cooling_basin_is_credited_up_to_where_the_true_temperature_crossed(tmp_path: Path) -> None:
    # Newton: T(t) = 18 + 6 exp(-t/1800 s) truly; read 1 C too high it crossed 20 C at 1800 ln 6, after the soak's end,
    # truly at 1800 ln 3 = 1977.5 s. Closed form, by hand; sampled every 10 s, linear in between.
    start, error = 100.0, 1.0
    cooling = soak(2400, lambda at: 18 + error + 6 * exp(-(at - start) / 1800), start=start)
    text = site_text(more=TRACKED + LONG).replace("opa-0.55-manual", "long")
    said = merged([pour(-500, label="long"), strip(50)], cooling)
    book = Book(tmp_path, text).feed(said).until(4000).closed()
    (touched,) = book.look_back(WrongThermometer(THERMOMETER, error, instant(0))).soaks
    assert touched.suspect.outcome is Outcome.EXPOSURE_MET
    verdict = touched.suspect.rejudged
    assert verdict is not None
    assert verdict.credited_seconds == pytest.approx(1800 * log(3), abs=0.05)


def test_a_thermometer_that_read_low_takes_nothing_away(tmp_path: Path) -> None:
    book = written(tmp_path, soaks(100))
    assert ids(book.look_back(WrongThermometer(THERMOMETER, -3.0, instant(0)))) == []


def test_where_stretches_add_up_the_error_costs_what_it_made_cold(tmp_path: Path) -> None:
    more = TRACKED + "[exposure]\ninterruptions_restart = false\n"
    # 300 s at 22 C, then 900 s at 21 C; with 1.5 C taken off only the first part is warm.
    part = soak(1200, lambda at: 22 if at < 400 else 21)
    book = written(tmp_path, [strip(50)], part, more=more)
    (touched,) = book.look_back(WrongThermometer(THERMOMETER, 1.5, instant(0))).soaks
    verdict = touched.suspect.rejudged
    assert verdict is not None
    assert verdict.outcome is Outcome.TOO_COLD
    # From 390 s (20.5 C) to 400 s (19.5 C) it crosses 20 C half-way: 295 s.
    assert verdict.credited_seconds == pytest.approx(295, abs=0.001)


def test_a_stretch_that_was_not_credited_is_not_credited_now(tmp_path: Path) -> None:
    # Nothing was measured from 500 to 600 s: what counted was the longer part after it, and no more than that.
    heard, _ = without(soak(1440, 21), 501, 599)
    book = written(tmp_path, [strip(50)], heard)
    (line,) = book.soaks().lines
    assert line.outcome is Outcome.EXPOSURE_MET
    (touched,) = book.look_back(WrongThermometer(THERMOMETER, 2.0, instant(900))).soaks
    verdict = touched.suspect.rejudged
    assert verdict is not None
    assert verdict.credited_seconds == pytest.approx(295, abs=0.001)


def test_a_sensor_that_judges_nothing_is_told(tmp_path: Path) -> None:
    with pytest.raises(NothingFoundError, match="expected the thermometer of a basin"):
        written(tmp_path, soaks(100)).look_back(WrongThermometer(SensorId("basin-1/lid"), 1, instant(0)))


def test_a_sensor_that_was_never_heard_is_told_and_not_taken_for_harmless(tmp_path: Path) -> None:
    with pytest.raises(NothingFoundError, match="Nothing of a sensor 'basin-9/temperature' is recorded"):
        written(tmp_path, soaks(100)).look_back(WrongThermometer(SensorId("basin-9/temperature"), 1, instant(0)))
