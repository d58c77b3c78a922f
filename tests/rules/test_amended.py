"""An alert on a soak whose verdict is amended: it stands until somebody has settled what is known."""

from rules.alert_words import State
from rules.events import SoakAmended, SoakWithdrawn
from rules.picture import AlertPicture
from rules.verdict import Outcome
from tests.rules.feeder import (
    CLOSED,
    LID,
    LIFTED,
    TEMPERATURE,
    Feeder,
    department,
    late,
    soak,
    without,
)


def outcomes(feeder: Feeder) -> list[Outcome]:
    return [verdict.outcome for verdict in feeder.verdicts]


def only_alert(feeder: Feeder) -> AlertPicture:
    [alert] = [a for a in feeder.engine.picture().alerts if a.rule.startswith("soak-")]
    return alert


def test_late_temperatures_turn_not_proven_into_met_and_the_alert_says_so_until_it_is_settled() -> None:
    # Somebody may have been told, and has to be told again.
    here, lost = without(soak(720, 21), 200, 700)
    feeder = Feeder().feed(here).until(900)
    assert outcomes(feeder) == [Outcome.NOT_PROVEN]
    feeder.feed(late(lost, at=1000)).until(1100)
    [amended] = [e for e in feeder.events if isinstance(e, SoakAmended)]
    assert (amended.before, amended.verdict.outcome, amended.verdict.reasons) == (Outcome.NOT_PROVEN, Outcome.MET, ())
    assert feeder.raised("soak-not-met") == [820.5]
    assert feeder.over("soak-not-met") == []
    alert = only_alert(feeder.restart())
    assert alert.text == "Basin 1: soak does not count: not proven (no longer so)"
    assert alert.advice.startswith("Look again before you act")
    assert feeder.settle(alert.id, 1200).over("soak-not-met") == [(1200, "settled")]


def not_proven_then_too_cold(*, settled: bool) -> Feeder:
    """A soak without temperatures in its middle, which were too cold as is known later."""
    here, lost = without(soak(720, lambda t: 19.0 if 300 <= t <= 600 else 21.0), 200, 700)
    feeder = Feeder().feed(here).until(900)
    if settled:
        feeder.settle(only_alert(feeder).id, 950)
    feeder.feed(late(lost, at=1000)).until(1100)
    assert outcomes(feeder) == [Outcome.NOT_PROVEN, Outcome.TOO_COLD]
    return feeder


def test_a_verdict_amended_to_another_failure_is_told_by_the_alert_that_still_stands() -> None:
    feeder = not_proven_then_too_cold(settled=False)
    assert feeder.raised("soak-not-met") == [820.5]
    assert only_alert(feeder).text == "Basin 1: soak does not count: too cold"


def test_a_verdict_amended_to_another_failure_after_it_was_settled_is_a_new_alert() -> None:
    feeder = not_proven_then_too_cold(settled=True)
    assert feeder.over("soak-not-met") == [(950, "settled")]
    assert len(feeder.raised("soak-not-met")) == 2
    assert only_alert(feeder).text == "Basin 1: soak does not count: too cold"
    assert feeder.settle(only_alert(feeder).id, 1200).over("soak-not-met")[1:] == [(1200, "settled")]


def test_a_verdict_amended_to_met_and_back_to_the_same_failure_after_it_was_settled_is_a_new_alert() -> None:
    here, lost = without(soak(720, 21), 200, 700)
    feeder = Feeder().feed(here).until(900)
    feeder.settle(only_alert(feeder).id, 950).feed(late(lost, at=1000)).until(1100)
    feeder.say(TEMPERATURE, 27.0, at=1200, measured=405).until(1300)
    assert outcomes(feeder) == [Outcome.NOT_PROVEN, Outcome.MET, Outcome.NOT_PROVEN]
    assert len(feeder.raised("soak-not-met")) == 2


def test_the_minutes_of_a_soak_too_short_are_told_anew_and_are_no_new_alert_once_settled() -> None:
    readings = soak(600, 21)
    feeder = Feeder().feed(readings).until(1000)
    assert only_alert(feeder).text == "Basin 1: soak too short, 10:00 of 12:00 min"
    feeder.say(LID, LIFTED, at=1100, measured=605).until(1200)
    assert [verdict.credited_seconds for verdict in feeder.verdicts][-1] < 600
    assert only_alert(feeder).text != "Basin 1: soak too short, 10:00 of 12:00 min"
    feeder.settle(only_alert(feeder).id, 1300).say(LID, LIFTED, at=1400, measured=505).until(1500)
    assert len(feeder.raised("soak-too-short")) == 1


def test_an_alert_on_a_soak_that_is_withdrawn_stands_until_it_is_settled() -> None:
    feeder = Feeder(department(sensor=[])).say(LID, CLOSED, 100).say(LID, LIFTED, 140).say(TEMPERATURE, 21.0, 150)
    alert = only_alert(feeder.until(205))
    feeder.say(LID, LIFTED, at=206, measured=100.1).until(400)
    assert [e.soak for e in feeder.events if isinstance(e, SoakWithdrawn)] == ["basin-1.1"]
    assert only_alert(feeder).text == alert.text
    assert only_alert(feeder).state is State.LATCHED_UNACKNOWLEDGED
    assert feeder.settle(alert.id, 500).over("soak-too-short") == [(500, "settled")]
