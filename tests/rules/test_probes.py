"""Whose contact, whose soak, where each probe is: identity, claims, strikes, late words, restarts."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.commands import Input
from rules.events import EntryStruck
from rules.evidence import evidence_of
from rules.probe_events import ProbeSeen, ProbeStands, ProbeTouched
from rules.probe_words import Fitness, Level, Place, Step
from rules.readings import Reading, SensorId, StripResult, micros
from rules.ruleset import RuleError
from rules.standing import standing
from rules.verdict import Outcome, Reason
from tests.rules.bath import pour, strip
from tests.rules.feeder import (
    HOOK_A,
    HOOK_B,
    LID,
    MOTION,
    OFF_HOOK,
    ON_HOOK,
    ROLLS,
    Feeder,
    book_of,
    closed,
    in_order,
    instant,
    read,
    retold,
    seconds,
    steps,
    warm,
)
from tests.rules.followed import (
    CONTACT,
    PROBE,
    SINK_TAG,
    T1,
    TAG,
    claim,
    contact,
    did,
    followed,
    good_soak,
    hung,
    inspected,
    merged,
    now_stands,
    of_probe,
    placed,
    shares,
    strike,
    tagged,
    two_probes,
    used_and_washed,
    vouch,
    whole_way,
)

# ---- from an exam to the next patient --------------------------------------------------------------------------------


def test_a_probe_is_ready_once_all_that_its_contact_demands_is_shown() -> None:
    feeder = Feeder(followed()).feed(whole_way())
    found = now_stands(feeder)
    assert (found.fitness, found.owes, found.soak, found.place) == (Fitness.READY, None, "basin-1.1", Place.HOOK)
    told = [(e.fitness, e.place) for e in of_probe(feeder.events) if isinstance(e, ProbeStands)]
    assert told == [
        (Fitness.NOT_PROVEN, Place.HOOK),
        (Fitness.READY, Place.HOOK),
        (Fitness.READY, Place.IN_HANDS),
        (Fitness.IN_USE, Place.IN_HANDS),  # after 15 s, our default, its contact not told
        (Fitness.IN_USE, Place.IN_HANDS),
        (Fitness.OWES, Place.HOOK),
        (Fitness.OWES, Place.IN_HANDS),
        (Fitness.OWES, Place.SINK),
        (Fitness.IN_PROCESS, Place.SINK),
        (Fitness.IN_PROCESS, Place.IN_HANDS),
        (Fitness.IN_PROCESS, Place.BASIN),
        (Fitness.IN_PROCESS, Place.IN_HANDS),
        (Fitness.READY, Place.IN_HANDS),
        (Fitness.READY, Place.HOOK),
    ]


@pytest.mark.parametrize("gone", range(5))
def test_without_any_one_of_the_steps_it_is_not_ready(gone: int) -> None:
    # Wash, dry, soak, rinse, dry: the order of facts for high-level disinfection (CDC 2008).
    inputs = [item for item in whole_way() if not (gone == 2 and isinstance(item, Reading) and item.sensor == LID)]
    taken = {0: (1090, Step.WASHED), 1: (1090, Step.DRIED), 3: (1950, Step.RINSED), 4: (1950, Step.DRIED)}.get(gone)
    if taken is not None:
        at, step = taken
        inputs = [without_step(item, step) if item.arrived == instant(at) else item for item in inputs]
    assert now_stands(Feeder(followed()).feed(i for i in inputs if i is not None)).fitness is not Fitness.READY


def without_step(item: Input, step: Step) -> Input | None:
    kept = tuple(s for s in getattr(item, "steps", ()) if s is not step)
    return item.model_copy(update={"steps": kept}) if kept else None


def test_two_rinses_after_ortho_phthalaldehyde_are_too_few() -> None:
    # Three separate rinses of fresh water (from memory, as in rules/labels.csv).
    inputs = [item.model_copy(update={"times": 2}) if item.arrived == instant(1950) else item for item in whole_way()]
    assert now_stands(Feeder(followed()).feed(inputs)).next_step is Step.RINSED


# ---- whose contact it is ---------------------------------------------------------------------------------------------


def touched(feeder: Feeder) -> set[str]:
    return {event.probe for event in feeder.events if isinstance(event, ProbeTouched)}


def test_the_cart_s_button_means_the_probe_that_is_off_its_hook() -> None:
    feeder = two_probes().feed([read(HOOK_A, ON_HOOK, 0), read(HOOK_B, ON_HOOK, 0), read(HOOK_B, OFF_HOOK, 10)])
    assert touched(feeder.say(CONTACT, "blood", 30)) == {"linear-1"}


def test_pressed_just_after_hanging_back_it_means_the_probe_that_was_off_its_hook() -> None:
    hooks = [read(HOOK_A, ON_HOOK, 0), read(HOOK_B, ON_HOOK, 0), read(HOOK_B, OFF_HOOK, 10), read(HOOK_B, ON_HOOK, 60)]
    assert touched(two_probes().feed(hooks).say(CONTACT, "blood", 80)) == {"linear-1"}


def test_a_contact_that_can_be_of_any_probe_counts_for_each() -> None:
    hooks = [read(HOOK_A, ON_HOOK, 0), read(HOOK_B, ON_HOOK, 0)]
    assert touched(two_probes().feed(hooks).say(CONTACT, "blood", 80)) == {PROBE, "linear-1"}


def test_a_contact_with_two_probes_in_hand_counts_for_both() -> None:
    hooks = [read(HOOK_A, ON_HOOK, 0), read(HOOK_B, ON_HOOK, 0), read(HOOK_A, OFF_HOOK, 9), read(HOOK_B, OFF_HOOK, 10)]
    assert touched(two_probes().feed(hooks).say(CONTACT, "blood", 20)) == {PROBE, "linear-1"}


# ---- whose soak it is ------------------------------------------------------------------------------------------------


def test_several_probes_in_one_basin_have_their_own_times_and_verdicts() -> None:
    # The second one is dropped in 200 s later; the lid is closed for 730 s: 530 s are too few for 12 min.
    tags = [*tagged("T1", 95, 300, "T1 T2"), *tagged("T1 T2", 330, 835)]
    feeder = two_probes().feed(merged(good_soak(), tags)).until(900)
    first, second = shares(feeder)[-1], shares(feeder, "linear-1")[-1]
    assert (seconds(first.measured), first.verdict.outcome) == (100, Outcome.EXPOSURE_MET)
    assert (seconds(second.measured), second.verdict.outcome) == (300, Outcome.TOO_SHORT)
    assert second.verdict.credited_seconds == pytest.approx(530, abs=0.01)


def test_a_tag_that_is_not_of_this_site_releases_nobody() -> None:
    feeder = two_probes().feed(merged(good_soak(), tagged("T9", 95, 835))).until(900)
    assert shares(feeder) == []
    assert [soak.soak for soak in feeder.engine.picture().unclaimed] == ["basin-1.1"]


def test_a_soak_without_a_tag_releases_no_probe_until_it_is_claimed() -> None:
    feeder = Feeder(followed())
    feeder.feed([*used_and_washed(), *good_soak()]).until(900)
    feeder.feed([did(950, Step.RINSED, Step.DRIED, times=3)])
    assert now_stands(feeder).fitness is Fitness.IN_PROCESS
    assert [soak.soak for soak in feeder.engine.picture().unclaimed] == ["basin-1.1"]
    feeder.feed([claim(1000)])
    assert (now_stands(feeder).fitness, now_stands(feeder).soak) == (Fitness.READY, "basin-1.1")
    assert (shares(feeder)[-1].who, shares(feeder)[-1].role) == ("R. Tech", "technician")
    assert feeder.engine.picture().unclaimed == ()


def test_a_claim_is_refused_after_its_time_from_others_and_of_no_soak() -> None:
    hours = 3600
    feeder = Feeder(followed({"claim_within_hours": 2})).feed(good_soak()).until(900)
    feeder.feed([claim(1000, role="visitor"), claim(1001, soak="basin-1.9"), claim(1002, since=830)])
    feeder.feed([claim(830 + 2 * hours + 1)])
    assert shares(feeder) == []
    assert len(Feeder(followed({"claim_within_hours": 2})).feed([*good_soak(), claim(830 + 2 * hours)]).events) > 0


def test_a_claim_in_its_last_second_is_taken() -> None:
    feeder = Feeder(followed({"claim_within_hours": 2})).feed(good_soak()).until(900).feed([claim(830 + 7200)])
    assert len(shares(feeder)) == 1


def test_a_claim_that_says_it_was_put_in_later_earns_from_then_on() -> None:
    feeder = Feeder(followed()).feed(good_soak()).until(900).feed([claim(1000, since=200)])
    assert shares(feeder)[-1].verdict.outcome is Outcome.TOO_SHORT


def test_a_probe_entered_by_hand_into_a_basin_has_its_share() -> None:
    entries = [placed(95, Place.BASIN, "basin-1"), placed(840, Place.SINK, "station-1")]
    feeder = Feeder(followed()).feed(merged(good_soak(), entries)).until(900)
    assert shares(feeder)[-1].verdict.outcome is Outcome.EXPOSURE_MET


def test_a_reader_that_falls_silent_proves_no_longer_presence() -> None:
    # The reader's last word is at 395; it repeats every 30 s.
    words = tagged(T1, 95, 1000)[:11]
    feeder = Feeder(followed()).feed(merged(good_soak(), words)).until(1300)
    assert seconds(shares(feeder)[-1].end) == 395
    assert shares(feeder)[-1].verdict.outcome is Outcome.TOO_SHORT


def test_words_that_a_reader_kept_prove_what_they_tell_when_they_come() -> None:
    words = tagged(T1, 95, 835)
    feeder = Feeder(followed()).feed(merged(good_soak(), words[:11])).until(1300)
    late = [read(TAG, r.value, seconds(r.measured), 1400 + n) for n, r in enumerate(words[11:])]
    assert shares(feeder.feed(late))[-1].verdict.outcome is Outcome.EXPOSURE_MET
    assert now_stands(feeder).place is Place.IN_HANDS


def test_a_probe_that_its_maker_keeps_out_of_the_solution_is_not_released_by_it() -> None:
    site = followed(max_soak_minutes=10)
    feeder = Feeder(site).feed(merged(good_soak(), tagged(T1, 95, 835))).until(900)
    assert Reason.NOT_ALLOWED in shares(feeder)[-1].verdict.reasons


# ---- late words and changed verdicts ---------------------------------------------------------------------------------


def test_a_strip_that_is_entered_late_as_failed_takes_the_probe_back() -> None:
    feeder = Feeder(followed()).feed(whole_way())
    assert now_stands(feeder).fitness is Fitness.READY
    feeder.feed([strip(1060, StripResult.FAIL, arrived=2100)]).until(2110)
    assert now_stands(feeder).fitness is not Fitness.READY
    assert "strip failed" in now_stands(feeder).why


def test_a_contact_that_is_entered_late_counts_at_its_time() -> None:
    feeder = Feeder(followed()).feed([vouch(0), *hung(0, 60), read(HOOK_A, OFF_HOOK, 61), read(HOOK_A, ON_HOOK, 120)])
    assert (now_stands(feeder).fitness, now_stands(feeder).why) == (Fitness.NOT_PROVEN, "its contact is not marked")
    feeder.feed([contact(90, "skin", arrived=400)])
    assert (now_stands(feeder).fitness, now_stands(feeder).owes) == (Fitness.OWES, Level.CLEANING)


# ---- what was wrong --------------------------------------------------------------------------------------------------


def off_its_hook() -> list[Reading]:
    return [*hung(0, 0), read(HOOK_A, OFF_HOOK, 10)]


@pytest.mark.parametrize(
    "entry", [contact(20), did(30, Step.WASHED), vouch(30), inspected(30, sound=False), placed(30, Place.CABINET)]
)
def test_a_struck_entry_counts_no_more_and_stays_in_the_record(entry: Input) -> None:
    untouched, feeder = Feeder(followed()).feed(off_its_hook()), Feeder(followed()).feed(off_its_hook())
    feeder.feed([entry, strike(entry, 70)])
    assert [e.entry for e in feeder.events if isinstance(e, EntryStruck)] == [entry]
    wanted, found = now_stands(untouched), now_stands(feeder)
    assert (found.fitness, found.owes, found.done, found.place) == (
        wanted.fitness, wanted.owes, wanted.done, wanted.place
    )  # fmt: skip
    assert len(of_probe(feeder.events)) > len(of_probe(untouched.events))


# ---- the cart --------------------------------------------------------------------------------------------------------


def test_a_cord_whose_probe_is_in_a_basin_or_on_its_way_from_there_lies_on_no_floor() -> None:
    feeder = Feeder(followed()).feed([*hung(0, 5), read(HOOK_A, OFF_HOOK, 10), read(TAG, T1, 40)])
    feeder.feed([read(TAG, T1, 60)])
    feeder.say(MOTION, ROLLS, 61).until(70)
    feeder.say(TAG, "", 75)
    feeder.feed([read(item, value, at) for at in steps(100, 660, 60) for item, value in _ROLLS_ON]).until(675)
    assert feeder.raised("cord-down-rolling") == []


def test_a_probe_that_came_back_to_its_cart_from_a_basin_can_lie_on_the_floor() -> None:
    trip = [*hung(0, 5), read(HOOK_A, OFF_HOOK, 10), read(TAG, T1, 40), read(TAG, "", 50), *hung(60, 60)]
    feeder = Feeder(followed()).feed([*trip, read(HOOK_A, OFF_HOOK, 80), read(MOTION, ROLLS, 90)]).until(100)
    assert feeder.raised("cord-down-rolling") == [91]


def test_a_probe_that_is_seen_nowhere_for_long_can_lie_on_the_floor() -> None:
    # Ten minutes (our default) after it was last seen away from its cart.
    feeder = Feeder(followed()).feed([*hung(0, 5), read(HOOK_A, OFF_HOOK, 10), read(TAG, T1, 40), read(TAG, "", 50)])
    feeder.feed([read(item, value, at) for at in steps(60, 720, 60) for item, value in _ROLLS_ON])
    assert feeder.raised("cord-down-rolling") == [pytest.approx(650, abs=0.01)]


_ROLLS_ON = ((MOTION, ROLLS), (HOOK_A, OFF_HOOK))

# ---- laws ------------------------------------------------------------------------------------------------------------

_words = st.one_of(
    st.builds(lambda at, v: read(HOOK_A, v, at), st.integers(0, 3000), st.booleans()),
    st.builds(lambda at, v: read(TAG, v, at), st.integers(0, 3000), st.sampled_from(["", T1, "T9"])),
    st.builds(lambda at, v: read(SINK_TAG, v, at), st.integers(0, 3000), st.sampled_from(["", T1])),
    st.builds(lambda at, v: read(CONTACT, v, at), st.integers(0, 3000), st.sampled_from(["skin", "mucosa", "sterile"])),
    st.builds(lambda at, ago: did(max(0, at - ago), Step.WASHED, Step.DRIED, arrived=at), *[st.integers(0, 3000)] * 2),
    st.builds(lambda at: did(at, Step.RINSED, Step.DRIED, times=3), st.integers(0, 3000)),
    st.builds(lambda at, ago: contact(max(0, at - ago), arrived=at), *[st.integers(0, 3000)] * 2),
    st.builds(vouch, st.integers(0, 3000)),
    st.builds(claim, st.integers(0, 3000)),
)


def lived(words: list[Input]) -> list[Input]:
    """A random life beside one soak; some readings come late."""
    late = [
        item._replace(arrived=item.arrived + micros(400)) if isinstance(item, Reading) and n % 5 == 0 else item
        for n, item in enumerate(words)
    ]
    return merged(late, good_soak(500))


@given(st.lists(_words, max_size=25))
@settings(max_examples=150, deadline=None)
def test_what_the_record_tells_is_what_the_engine_knows(words: list[Input]) -> None:
    """Folded from the events alone, a probe stands as the engine says that it does."""
    feeder = Feeder(followed()).feed(lived(words)).until(4000)
    terms = feeder.engine._probes.trackers[PROBE].setup.terms  # type: ignore[union-attr]
    again = standing(evidence_of(of_probe(feeder.events)), terms, feeder.engine.now)
    assert again == now_stands(feeder)


@given(st.lists(_words, max_size=20), st.integers(0, 40))
@settings(max_examples=80, deadline=None)
def test_a_restart_anywhere_changes_nothing(words: list[Input], place: int) -> None:
    inputs = lived(words)
    whole, cut = Feeder(followed()).feed(inputs).until(4000), Feeder(followed()).feed(inputs[:place]).restart()
    assert cut.feed(inputs[place:]).until(4000).lines == whole.lines


@given(st.lists(_words, max_size=20))
@settings(max_examples=80, deadline=None)
def test_what_was_last_told_of_a_standing_is_how_it_stands(words: list[Input]) -> None:
    feeder = Feeder(followed()).feed(lived(words)).until(4000)
    told = [event for event in of_probe(feeder.events) if isinstance(event, ProbeStands)]
    found = now_stands(feeder)
    if told:
        assert (told[-1].fitness, told[-1].owes, told[-1].place) == (found.fitness, found.owes, found.place)


def test_lifting_the_lid_for_a_probe_that_is_added_starts_the_time_of_all_anew() -> None:
    # A probe added restarts the time: policy, inferred, on by default (ours).
    lids = in_order(closed(100, 400), closed(420, 830))
    inputs = [pour(40), strip(50), *in_order(warm(21, 80, 850), lids)]
    tags = [*tagged("T1", 95, 410, "T1 T2"), *tagged("T1 T2", 440, 835)]
    feeder = two_probes().feed(merged(inputs, tags)).until(900)
    assert {share.verdict.outcome for share in (shares(feeder)[-1], shares(feeder, "linear-1")[-1])} == {
        Outcome.TOO_SHORT
    }


def test_what_is_forgotten_after_days_changes_nothing_and_memory_stays_bounded() -> None:
    hour, feeder = 3600, Feeder(followed())
    for day in range(3):
        for turn in range(12):
            shift = (day * 24 + turn * 2) * hour
            feeder.feed(sorted((_moved(item, shift) for item in whole_way()), key=lambda item: item.arrived))
            feeder.until(shift + 2100)
    tracker = feeder.engine._probes.trackers[PROBE]  # type: ignore[union-attr]
    assert tracker.state.evidence.settled is not None
    assert tracker.state.evidence.size < 0.7 * evidence_of(of_probe(feeder.events)).size
    for at in (2_099, 2_200, 5_000, 7_000):
        end = instant((2 * 24 + 11 * 2) * hour + at)
        feeder.events += feeder.engine.advance(end)
        assert standing(evidence_of(of_probe(feeder.events)), tracker.setup.terms, end) == now_stands(feeder)


def _moved(item: Input, shift: float) -> Input:
    return retold(item, seconds(item.measured) + shift, seconds(item.arrived) + shift)


def test_where_a_probe_was_stays_in_the_record_though_it_owes_for_more_than_a_day() -> None:
    day = 24 * 3600
    feeder = Feeder(followed()).feed([*hung(0, 60), contact(90)])
    for start in (3600, 2 * 3600, day + 2 * 3600, day + 4 * 3600):
        at_sink = (read(SINK_TAG, T1, at) for at in steps(start, start + 600, 30))
        feeder.feed([*at_sink, read(SINK_TAG, "", start + 610)])
    told = [event for event in feeder.events if isinstance(event, ProbeSeen)]
    assert [event for event in told if event.withdrawn] == []
    assert [seconds(event.measured) for event in told if event.place is Place.SINK][:2] == [3600, 2 * 3600]


def test_a_reader_that_does_not_repeat_is_refused_where_probes_are_followed() -> None:
    site = followed()
    mute = tuple(s.model_copy(update={"report_seconds": 0.0}) if s.id == TAG else s for s in site.sensor)
    with pytest.raises(RuleError, match="'basin-1/tag', key 'report_seconds' is 0: it reports on change only"):
        book_of(site.model_copy(update={"sensor": mute}))


@pytest.mark.parametrize(
    ("touched", "missing", "needs", "deed"),
    [
        ("mucosa", "disinfection", "high-level disinfection", "soak it"),
        ("sterile", "sterilisation", "sterilisation", "have it sterilised"),
    ],
)
def test_the_alert_on_a_probe_used_again_names_probe_cart_and_what_is_missing(
    touched: str, missing: str, needs: str, deed: str
) -> None:
    exam = [*hung(0, 5), read(HOOK_A, OFF_HOOK, 10), read(CONTACT, touched, 20), read(HOOK_A, ON_HOOK, 40)]
    feeder = Feeder(followed()).feed([*exam, read(HOOK_A, OFF_HOOK, 60), read(HOOK_A, ON_HOOK, 80)]).until(125)
    (used,) = feeder.engine.picture().alerts
    assert used.text == f"Curved 1: used again, {missing} not known (Cart 1)"
    assert used.advice.startswith(f"Do not use Curved 1 (Cart 1): {deed} first. It needs {needs}. ")
    feeder.say(SensorId("cart-1/motion"), True, 130).until(140)  # noqa: FBT003 - the reading
    (moved,) = [alert for alert in feeder.engine.picture().alerts if alert.rule == "probe-rolls-away"]
    assert moved.text == f"Cart 1: moved, {missing} not known (Curved 1)"
    assert moved.advice.endswith(f" The probe needs {needs} before the next patient.")
    assert moved.advice.startswith(f"Take Curved 1 off Cart 1 and {deed}. ")
