"""While a sensor of a basin says nothing, nothing is credited, on the wall or in the verdict."""

from rules.picture import SoakPicture
from rules.verdict import Outcome
from tests.rules.feeder import CLOSED, LID, LIFTED, TEMPERATURE, Feeder, closed, in_order, instant, read, warm

# The lid says every 30 s that it is closed, but nothing from 280 to 520 s; silent means nothing for 90 s.
GAP = [r for r in closed(100, 900) if not instant(280) < r.measured < instant(520)]


def shown(feeder: Feeder) -> SoakPicture:
    soak = feeder.engine.picture().basins[0].soak
    assert soak is not None
    return soak


def test_a_lid_that_falls_silent_stops_the_countdown() -> None:
    feeder = Feeder().feed(r for r in in_order(warm(21, 90, 450), GAP) if r.arrived < instant(450))
    soak = shown(feeder.until(450))
    assert (soak.stretch_start, soak.done_at) == (None, None)
    assert soak.credited_seconds == 180  # from 100 s to its last word at 280 s


def test_a_lid_that_speaks_again_starts_the_time_anew() -> None:
    soak = shown(Feeder().feed(r for r in in_order(warm(21, 90, 700), GAP) if r.arrived < instant(700)).until(705))
    assert soak.stretch_start == instant(520)
    assert soak.done_at == instant(520 + 720)


def test_the_moment_a_lid_speaks_again_its_silence_is_not_counted() -> None:
    feeder = Feeder().feed(r for r in in_order(warm(21, 90, 700), GAP) if r.arrived <= instant(520))
    assert shown(feeder).credited_seconds == 180
    assert shown(feeder.say(TEMPERATURE, 21.0, 520.5)).credited_seconds <= 180


def test_the_verdict_says_what_the_wall_said() -> None:
    lifted = [read(LID, LIFTED, 900)]
    feeder = Feeder().feed(in_order(warm(21, 90, 1000), GAP, lifted)).until(1200)
    verdict = feeder.verdicts[-1]
    assert verdict.outcome is Outcome.NOT_PROVEN
    assert verdict.credited_seconds == 380  # from 520 s to 900 s


def test_a_thermometer_that_falls_silent_stops_the_countdown() -> None:
    soak = shown(Feeder().feed(in_order(warm(21, 90, 300), closed(100, 400)[:10])).until(390))
    assert (soak.stretch_start, soak.done_at) == (None, None)


def test_a_lid_that_flaps_is_not_taken_for_closed() -> None:
    # Open for three quarters of the time, each opening shorter than a bounce of 0.5 s.
    flapping = [
        read(LID, state, 100 + 0.4 * n + after) for n in range(1850) for state, after in ((CLOSED, 0), (LIFTED, 0.1))
    ]
    verdicts = Feeder().feed(in_order(warm(21, 90, 1000), flapping)).until(1200).verdicts
    assert verdicts
    assert all(verdict.outcome is not Outcome.MET for verdict in verdicts)
