"""Where probes were by readers and hooks: what is remembered of it, and what words that waited at the broker prove."""

from typing import TYPE_CHECKING

from rules.evidence import evidence_of
from rules.probe_words import Fitness, Place, Step
from rules.readers import MOST_RUNS
from rules.readings import GATEWAY_LINK, Reading
from rules.verdict import Outcome
from tests.rules.feeder import HOOK_A, OFF_HOOK, OFFLINE, ON_HOOK, ONLINE, Feeder, instant, read, seconds, steps
from tests.rules.followed import (
    PROBE,
    T1,
    TAG,
    contact,
    did,
    followed,
    good_soak,
    hung,
    merged,
    now_stands,
    of_probe,
    placed,
    shares,
    strike,
    tagged,
    two_probes,
    untimed,
    used_and_washed,
    vouch,
)

if TYPE_CHECKING:
    from rules.commands import Input

DAY = 86_400

# ---- what is remembered ----------------------------------------------------------------------------------------------


def test_a_soak_that_a_reader_proved_stands_though_the_probe_has_no_tag_any_more() -> None:
    told = [*hung(0, 60), vouch(1), read(HOOK_A, OFF_HOOK, 70), contact(75), did(80, Step.WASHED, Step.DRIED)]
    feeder = Feeder(followed()).feed(merged(told, good_soak(100), tagged(T1, 100, 825))).until(900)
    feeder.restart(followed(tag=None)).feed(hung(950, 1010)).until(1020)
    assert [(share.withdrawn, share.verdict.outcome) for share in shares(feeder)] == [(False, Outcome.EXPOSURE_MET)]


def test_a_use_is_not_forgotten_because_readers_need_not_remember_it() -> None:
    # Off its hook for five minutes with no contact marked; more than a day later somebody puts it right on its hook.
    hooks = [*hung(0, 600), read(HOOK_A, OFF_HOOK, 601), *hung(901, 1.3 * DAY)]
    end = seconds(hooks[-1].arrived)
    put_right = [read(HOOK_A, OFF_HOOK, end + 5), read(HOOK_A, ON_HOOK, end + 9)]
    found = now_stands(Feeder(followed()).feed(merged(hooks, [vouch(500)], put_right)))
    assert (found.fitness, found.why) == (Fitness.NOT_PROVEN, "its contact is not marked")


def test_a_reader_that_flaps_is_remembered_within_bounds() -> None:
    feeder = Feeder(followed())
    for n in range(MOST_RUNS + 500):
        feeder.say(TAG, T1 if n % 2 else "", n / 10)
    states = feeder.engine._probes.whereabouts.states  # type: ignore[union-attr]
    assert len(states[TAG].runs) <= MOST_RUNS + 1


def test_places_entered_again_and_again_are_remembered_within_bounds() -> None:
    feeder = Feeder(followed()).feed(placed(hour * 3600, Place.CABINET) for hour in range(100))
    assert len(feeder.engine._probes.trackers[PROBE].state.entered) <= 26  # type: ignore[union-attr]


def test_a_place_that_was_entered_twice_over_can_be_struck() -> None:
    again = placed(20, Place.CABINET)
    feeder = Feeder(followed()).feed([placed(10, Place.CABINET), again, strike(again, 30)])
    assert [event.kind for event in feeder.events][-1] == "entry struck"


def test_a_late_word_that_the_probe_was_not_there_ends_its_presence_also_at_the_instant_of_a_word_that_it_was() -> None:
    words = [read(TAG, T1, at) for at in steps(100, 220, 30)]
    seen = evidence_of(of_probe(Feeder(followed()).feed([*words, read(TAG, "", 100, 230)]).events)).sightings
    assert [(seconds(s.at), s.place) for s in seen] == [(220, Place.BASIN)]


def test_of_two_words_measured_at_one_instant_the_one_that_came_later_counts() -> None:
    feeder = Feeder(followed()).feed([read(TAG, T1, 100), read(TAG, "", 100, 100.5)])
    assert now_stands(feeder).place is not Place.BASIN


def test_what_a_clock_that_is_ahead_told_comes_to_bear_once_it_is_so() -> None:
    # A device's clock may be 5 s ahead (our default); off its hook for more than 15 s it is in use.
    feeder = Feeder(followed()).feed(merged([vouch(0.5)], hung(0, 600), [read(HOOK_A, OFF_HOOK, 605, 601)]))
    assert now_stands(feeder.until(604)).fitness is Fitness.READY
    assert now_stands(feeder.until(625)).fitness is Fitness.IN_USE


# ---- what waited at the broker ---------------------------------------------------------------------------------------


def soaked_in_an_outage(*waited: Reading) -> Feeder:
    """A soak of 730 s; the gateway hears nothing from 660 s of it until it is over, then what waited."""
    words = [untimed(TAG, T1, at) for at in steps(95, 755, 30)]
    link = [read(GATEWAY_LINK, ONLINE, 0), read(GATEWAY_LINK, OFFLINE, 760), read(GATEWAY_LINK, ONLINE, 831)]
    return Feeder(followed()).feed(merged(used_and_washed(), good_soak(), words, link, waited)).until(950)


def test_a_tag_word_that_waited_does_not_prove_that_the_probe_was_in_the_basin_until_it_came() -> None:
    # It was taken out at a time that nobody knows: 655 s are proven, and 12 min are asked for.
    feeder = soaked_in_an_outage(untimed(TAG, T1, 832), untimed(TAG, "", 832.5))
    assert (seconds(shares(feeder)[-1].end), shares(feeder)[-1].verdict.outcome) == (755, Outcome.TOO_SHORT)


def test_a_tag_word_that_waited_joins_nothing_to_what_is_heard_afterwards() -> None:
    feeder = soaked_in_an_outage(untimed(TAG, T1, 832), untimed(TAG, T1, 845))
    assert shares(feeder)[-1].verdict.outcome is Outcome.TOO_SHORT


def test_a_reader_with_a_clock_proves_across_an_outage_what_it_tells() -> None:
    feeder = soaked_in_an_outage(*(read(TAG, T1, at, 832) for at in (785, 815)), read(TAG, "", 831.5, 832))
    assert shares(feeder)[-1].verdict.outcome is Outcome.EXPOSURE_MET


def hung_untimed_across_an_outage(*waited: Reading) -> Feeder:
    """Its hook, which sends no time, is heard every minute; the gateway hears nothing for 70 s."""
    hooks = [untimed(HOOK_A, ON_HOOK, at) for at in steps(0, 600, 60)]
    link = [read(GATEWAY_LINK, ONLINE, 0), read(GATEWAY_LINK, OFFLINE, 610), read(GATEWAY_LINK, ONLINE, 680)]
    return Feeder(followed()).feed(merged([vouch(0.5)], hooks, link, waited))


def test_a_use_of_which_the_words_waited_is_a_use_though_they_come_together() -> None:
    words = [untimed(HOOK_A, OFF_HOOK, 681), untimed(HOOK_A, ON_HOOK, 681.2), untimed(HOOK_A, ON_HOOK, 720)]
    assert now_stands(hung_untimed_across_an_outage(*words)).fitness is Fitness.NOT_PROVEN


def test_a_probe_that_is_lifted_after_what_waited_has_come_is_in_use() -> None:
    # Its only word before is one that came right after the gateway began to hear.
    hooks = [untimed(HOOK_A, ON_HOOK, 2), untimed(HOOK_A, OFF_HOOK, 45), untimed(HOOK_A, ON_HOOK, 220)]
    feeder = Feeder(followed()).feed(merged([read(GATEWAY_LINK, ONLINE, 0), vouch(1)], hooks))
    assert now_stands(feeder).fitness is Fitness.NOT_PROVEN


def test_a_probe_that_hung_before_and_after_a_short_outage_was_not_used() -> None:
    feeder = hung_untimed_across_an_outage(untimed(HOOK_A, ON_HOOK, 681), untimed(HOOK_A, ON_HOOK, 720))
    assert (now_stands(feeder).fitness, now_stands(feeder).place) == (Fitness.READY, Place.HOOK)


def test_a_contact_that_waited_may_be_of_any_probe_of_its_cart() -> None:
    link = [read(GATEWAY_LINK, ONLINE, 0), read(GATEWAY_LINK, OFFLINE, 20), read(GATEWAY_LINK, ONLINE, 60)]
    hooks = [read("cart-1/hook-a", ON_HOOK, 5), read("cart-1/hook-b", OFF_HOOK, 10)]
    feeder = two_probes().feed(merged(link, hooks, [untimed("cart-1/contact", "blood", 61)]))
    assert {event.probe for event in feeder.events if event.kind == "probe touched"} == {PROBE, "linear-1"}


def test_a_restart_amid_what_waited_changes_nothing() -> None:
    words = [untimed(HOOK_A, OFF_HOOK, 681), untimed(HOOK_A, ON_HOOK, 681.2)]
    after = [untimed(HOOK_A, OFF_HOOK, 682), untimed(HOOK_A, ON_HOOK, 720)]
    whole = hung_untimed_across_an_outage(*words).feed(after).until(900)
    assert hung_untimed_across_an_outage(*words).restart().feed(after).until(900).lines[-3:] == whole.lines[-3:]
    assert instant(720) == after[-1].arrived


# ---- whether its place is known of now -------------------------------------------------------------------------------


def _confirmed(feeder: Feeder) -> bool:
    return next(p.confirmed for p in feeder.engine.picture().probes if p.id == PROBE)


def _after_a_restart(*before: "Input") -> Feeder:
    """All this was heard, then the gateway heard nothing for a minute, and hears again."""
    feeder = Feeder(followed()).feed(before).restart()
    return feeder.say(GATEWAY_LINK, OFFLINE, 610).say(GATEWAY_LINK, ONLINE, 670)


def test_after_a_restart_a_place_is_confirmed_once_the_sensor_that_told_it_speaks_again() -> None:
    feeder = _after_a_restart(*hung(0, 600))
    assert not _confirmed(feeder)
    assert not _confirmed(feeder.say(TAG, "", 680))
    assert _confirmed(feeder.say(HOOK_A, ON_HOOK, 690))


def test_in_hands_is_confirmed_while_the_hook_that_told_it_is_heard() -> None:
    lifted = (*hung(0, 300), read(HOOK_A, OFF_HOOK, 600))
    assert _confirmed(Feeder(followed()).feed(lifted))
    feeder = _after_a_restart(*lifted)
    assert not _confirmed(feeder)
    assert _confirmed(feeder.say(HOOK_A, OFF_HOOK, 680))


def test_a_place_that_a_person_told_after_all_sensors_is_confirmed() -> None:
    assert _confirmed(_after_a_restart(*hung(0, 300), placed(600, Place.CABINET)))
    assert _confirmed(Feeder(followed()).feed([placed(600, Place.CABINET)]))


def test_of_two_readers_the_one_that_named_it_last_has_to_be_heard() -> None:
    at_the_basin = (*hung(0, 300), read(HOOK_A, OFF_HOOK, 310), read(TAG, T1, 600))
    feeder = _after_a_restart(*at_the_basin).say(HOOK_A, OFF_HOOK, 680)
    assert not _confirmed(feeder)
    assert _confirmed(feeder.say(TAG, T1, 690))
