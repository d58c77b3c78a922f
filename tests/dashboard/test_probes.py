"""What the phone pages say of probes."""

from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from dashboard.live_listings import probe_sieve
from dashboard.premises import Premises
from dashboard.probes import (
    ProbeListView,
    ProbeView,
    claim_view,
    due_form,
    exactly,
    places_doubt,
    places_view,
    probe_list_view,
    probe_view,
    steps_view,
)
from gateway.hub import Feed
from rules.owing import UNMARKED
from rules.picture import Picture, ProbePicture
from rules.policy import ReprocessingPolicy
from rules.probe_words import Fitness, Level, Place, Step, Surface
from rules.residue import Residue
from rules.standing import Standing
from tests.dashboard.pictures import NOON, basin, cart, ended, later, picture
from tests.dashboard.probe_pictures import (
    PREMISES,
    damaged,
    not_proven,
    owing,
    probe,
    soaking,
    standing,
    touch,
    unclaimed,
    with_probes,
)
from tests.rules.feeder import book_of, department

UTC = ZoneInfo("UTC")
SHOWN = picture(basin(), basin("Basin 2"), carts=(cart("Cart 1"), cart("Cart 2")))


def seen(stands: Standing, shown: Picture = SHOWN, **other: Any) -> ProbeView:
    one = probe("Linear probe 1", stands, **other)
    return probe_view(one, with_probes(one, shown=shown), NOON, UTC, PREMISES)


def listed(*probes: ProbePicture, shown: Picture = SHOWN, **asked: str) -> ProbeListView:
    sieve = probe_sieve(asked.items())
    return probe_list_view(Feed(with_probes(*probes, shown=shown)), "North Hall", NOON, UTC, PREMISES, sieve)


# ---- one probe ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("stands", "said", "next_step"),
    [
        (standing(), "Ready for use", "nothing is owed"),
        (standing(Fitness.IN_USE), "In use", "enter what it touched once the exam is over"),
        (owing(), "To be reprocessed", "take off cover and gel"),
        (owing(Step.COVER_OFF, next_step=Step.WASHED), "Being reprocessed", "wash it"),
        (soaking(), "Being reprocessed", "let it soak until the wall says that its basin is done"),
        (replace(soaking(), place=Place.SINK), "Being reprocessed", "soak it for high-level disinfection"),
        (not_proven(), "Not proven", "wash it"),
        (damaged(), "To be inspected", "look it over for damage, and enter what you found"),
    ],
)
def test_it_says_how_the_probe_stands_and_what_comes_next(stands: Standing, said: str, next_step: str) -> None:
    view = seen(stands)
    assert (view.said, view.next_step) == (said, next_step)


IN_USE: dict[str, Any] = {"fitness": Fitness.IN_USE, "place": Place.IN_HANDS, "thing": None}


@pytest.mark.parametrize(
    ("stands", "form"),
    [
        (standing(), "contact"),
        (standing(Fitness.IN_USE), "contact"),
        (replace(owing(), **IN_USE), "steps"),
        (replace(owing(), **IN_USE, why="its contact is not marked"), "contact"),
        (not_proven(), "contact"),
        (owing(), "steps"),
        (soaking(), "placed"),
        (damaged(), "inspected"),
    ],
)
def test_the_form_that_is_due_is_open(stands: Standing, form: str) -> None:
    assert due_form(stands) == form


def test_while_it_is_in_use_its_contact_is_asked_for_until_it_is_marked() -> None:
    asked = "enter what it touched once the exam is over"
    assert seen(replace(owing(), **IN_USE, why="its contact is not marked")).next_step == asked
    assert seen(replace(owing(), **IN_USE)).next_step == "take off cover and gel"


def test_it_says_what_is_owed_and_why() -> None:
    view = seen(owing(Step.COVER_OFF, next_step=Step.WASHED))
    assert view.why == (
        "It needs high-level disinfection.",
        "Last contact marked: mucosa, with a cover, 11:40 by Ana.",
        "Done so far: cover off.",
    )
    assert view.place == "At the sink, Dirty utility, since 11:50."


def test_a_contact_tells_its_exam_and_that_a_cover_was_not_told() -> None:
    marked = touch(Surface.BLOOD, exam="U-17", covered=None, who=None)
    assert (
        "Last contact marked: blood or body fluid, cover not told, 11:40 (exam U-17)."
        in seen(owing(contact=marked)).why
    )


def test_an_internal_probe_is_said_to_owe_at_least_high_level_disinfection() -> None:
    # Spaulding as applied to transducers (CDC 2008; AIUM 2022): an intracavity probe is at least semi-critical.
    said = "An internal probe needs at least high-level disinfection, whatever it touched."
    assert said in seen(owing(), internal=True).why
    assert said not in seen(owing()).why


def test_what_makes_it_ready_is_told() -> None:
    shown = replace(SHOWN, basins=(basin("Basin 1", None, ended()),))
    view = seen(standing(soak="soak-6", ready_until=later(7 * 86_400)), shown)
    assert view.why == (
        "Disinfected in Basin 1, ended 11:10 (soak soak-6).",
        "In storage it stays ready until 2 Dec 12:00.",
    )
    assert seen(standing(vouched_by="Ben")).why == ("Ben answers for it.",)
    sterilised = "Ben says that it was sterilised elsewhere, and answers for it."
    assert seen(standing(vouched_by="Ben", sterilised=True)).why == (sterilised,)
    (said,) = seen(standing(contact=touch())).why
    assert said.startswith("What it needed is done, by what people entered. Last contact marked: mucosa")


def test_why_nobody_can_tell_stands_first() -> None:
    assert seen(not_proven()).why[0] == "Nobody entered what it touched."


def test_a_probe_used_again_while_it_owed_is_warned_of() -> None:
    view = seen(owing(reused=later(-300)))
    assert view.warning == "Used again since 11:55, though what it owed from an earlier use was not done."


def test_while_no_sensor_is_heard_no_probe_is_called_ready() -> None:
    view = seen(standing(), replace(SHOWN, hearing=False))
    assert (view.said, view.style) == ("Not confirmed", "not-proven")
    assert view.warning == "No sensor is heard: it was ready for use when last heard, and may have been used since."


# ---- forms ----------------------------------------------------------------------------------------------------------


def said_due(stands: Standing, premises: Premises = PREMISES) -> list[str]:
    return [box.words for box in steps_view(probe("Linear probe 1", stands), premises).boxes if box.due]


@pytest.mark.parametrize(
    ("stands", "due"),
    [
        # Order of the steps after facts.md, CDC 2008: cover off, wash, dry, soak, rinse, dry.
        (owing(), ["cover off", "washed", "dried"]),
        (owing(Step.COVER_OFF, next_step=Step.WASHED), ["washed", "dried"]),
        (soaking(), []),
        (
            owing(Step.COVER_OFF, Step.WASHED, Step.DRIED, Step.SOAKED, next_step=Step.RINSED),
            ["rinsed", "dried"],
        ),
        (
            owing(Step.COVER_OFF, Step.WASHED, Step.DRIED, Step.SOAKED, Step.RINSED, next_step=Step.DRIED),
            ["dried"],
        ),
        (owing(next_step=Step.WASHED, owes=Level.LOW), ["washed", "dried"]),
        (
            owing(Step.WASHED, Step.DRIED, next_step=Step.LOW_LEVEL, owes=Level.LOW),
            ["wiped with low-level disinfectant"],
        ),
        (owing(Step.WASHED, Step.DRIED, next_step=Step.STERILISED, owes=Level.STERILISATION), []),
        (standing(), []),
    ],
)
def test_the_steps_that_are_due_are_told_up_to_the_next_decisive_one(stands: Standing, due: list[str]) -> None:
    assert said_due(stands) == due


def test_a_step_that_the_site_does_not_ask_for_is_not_called_due() -> None:
    short = replace(PREMISES, policy=ReprocessingPolicy(tracked=True, asked=(Step.WASHED, Step.RINSED)))
    assert said_due(owing(next_step=Step.WASHED), short) == ["washed"]


@pytest.mark.parametrize(("basin_id", "times"), [("basin-1", "3"), ("basin-2", "1")])
def test_it_is_rinsed_as_often_as_the_label_of_its_basin_says(basin_id: str, times: str) -> None:
    # Three rinses after ortho-phthalaldehyde (facts: from memory).
    assert steps_view(probe("Linear probe 1", soaking(basin_id)), PREMISES).rinses == times


def test_where_its_basin_is_not_known_any_more_nothing_is_taken_for_rinsed() -> None:
    rinsing = owing(Step.WASHED, Step.DRIED, Step.SOAKED, next_step=Step.RINSED)
    assert steps_view(probe("Linear probe 1", rinsing), PREMISES).rinses == ""
    assert seen(rinsing).next_step == "rinse it as often as the label of its solution says"
    alike = replace(PREMISES, rinses={"basin-1": 3, "basin-2": 3})
    assert steps_view(probe("Linear probe 1", rinsing), alike).rinses == "3"


@pytest.mark.parametrize(("done", "times", "said"), [(0, "3", "rinse it 3 times"), (2, "1", "rinse it once more")])
def test_where_its_last_soak_is_known_its_label_says_how_often_it_is_rinsed(done: int, times: str, said: str) -> None:
    # Three rinses after ortho-phthalaldehyde (facts: from memory).
    left = Residue("basin-1.4", 3, done)
    rinsing = owing(Step.WASHED, Step.DRIED, Step.SOAKED, next_step=Step.RINSED, residue=left)
    assert steps_view(probe("Linear probe 1", rinsing), PREMISES).rinses == times
    assert seen(rinsing).next_step == said


def test_what_is_disinfected_and_lies_in_the_basin_is_to_be_taken_out() -> None:
    there = {"place": Place.BASIN, "thing": "basin-1"}
    assert seen(standing(Fitness.IN_PROCESS, soak="basin-1.4", **there)).next_step == "take it out of the basin"
    rinsing = standing(Fitness.IN_PROCESS, next_step=Step.RINSED, **there)
    assert seen(rinsing).next_step == "take it out of the basin, and rinse it 3 times"


def test_a_probe_that_a_failed_strip_holds_says_so_and_leads_to_the_look_back() -> None:
    view = seen(not_proven(held="basin-1.4", why="soak basin-1.4 is in doubt: a strip failed after it"))
    assert (view.said, view.why[0]) == ("Not proven", "Soak basin-1.4 is in doubt: a strip failed after it.")
    assert view.next_step == "do not use it before a sound soak: wash it"
    assert view.look_back == "/logbook/look-back?what=strip&basin=basin-1"


@pytest.mark.parametrize(
    ("why", "unproven", "said"),
    [
        (UNMARKED, UNMARKED, "It was used since, or may have been, and nobody said what it touched."),
        ("", "stored for more than 7 d", "Why it needs that: stored for more than 7 d."),
        ("nothing is known of it", "nothing is known of it", ""),
        ("", "", "It was used, and nobody said what it touched."),
    ],
)
def test_what_is_owed_without_a_marked_contact_is_owed_for_a_reason(why: str, unproven: str, said: str) -> None:
    assert f"No contact is marked. {said}".strip() in seen(not_proven(why=why, unproven=unproven)).why


def test_every_place_but_the_present_one_can_be_chosen() -> None:
    words = [place.words for place in places_view(probe("Linear probe 1", soaking()), SHOWN, PREMISES)]
    assert words == [
        "Out of the basin",
        "On its hook at Cart 1",
        "Into Basin 2",
        "At the sink, Dirty utility",
        "Into Cabinet by the door",
    ]


def test_a_sensor_that_says_where_it_is_is_told_before_another_place_is_entered() -> None:
    doubts = [places_doubt(probe(sensed=sensed), SHOWN, NOON, UTC, PREMISES) for sensed in (True, False)]
    assert doubts == ["Its hook says that it hangs at Cart 1, since 11:50", ""]


def test_a_soak_during_which_a_sensor_named_the_probe_elsewhere_is_marked_with_the_reason() -> None:
    shown = with_probes(probe(), shown=SHOWN, soaks=(unclaimed("basin-2"),))
    hung = probe(elsewhere={"basin-2-7": (Place.HOOK, "cart-1")})
    (soak,) = claim_view(hung, shown, NOON, UTC, PREMISES).soaks
    assert soak.doubt == "a sensor says that it was on its hook at Cart 1 meanwhile"


def test_a_basin_that_a_probe_does_not_stand_is_marked_with_the_reason() -> None:
    own = {"id": "linear-1", "name": "Linear probe 1", "cart": "cart-1", "cord": "a", "max_soak_minutes": 10.0}
    site = department(probe=[own])
    premises = Premises.of(site, book_of(site))
    doubts = [place.doubt for place in places_view(probe(), SHOWN, premises) if place.value == "basin:basin-1"]
    # facts.md, exposure.csv: ortho-phthalaldehyde 0.55 % by hand needs 12 min.
    assert doubts == ["'opa-0.55-manual' needs 12 min, the probe stands 10 min"]


def test_a_soak_to_be_claimed_tells_its_basin_its_time_and_its_limit() -> None:
    shown = with_probes(probe(), shown=SHOWN, soaks=(unclaimed("basin-2"),))
    view = claim_view(probe(), shown, NOON, UTC, PREMISES)
    assert [(soak.said, soak.limit) for soak in view.soaks] == [
        ("Basin 2, 11:00 to 11:13: exposure met", "to be said by 22:00")
    ]
    assert view.roles == ("technician", "charge nurse")


# ---- the list -------------------------------------------------------------------------------------------------------


def test_probes_that_wait_for_somebody_come_first() -> None:
    states = (standing(), soaking(), owing(), damaged(), not_proven(), standing(Fitness.IN_USE, place=Place.IN_HANDS))
    view = listed(*(probe("Linear probe", stands, cart=n) for n, stands in enumerate(states, 1)))
    assert [row.said for row in view.sifted.rows] == [
        "not proven",
        "to be inspected",
        "to be reprocessed",
        "being reprocessed",
        "in use",
        "ready for use",
    ]
    assert view.tally == (
        "1 of 6 probes ready: 1 not proven, 1 to be inspected, 1 to be reprocessed, 1 being reprocessed, 1 in use"
    )


@pytest.mark.parametrize("text", ["linear-1", " LINEAR-1 ", "sn-linear-1", "TAGLINEAR1", "taglinear1\n"])
def test_what_a_scanner_gives_finds_the_one_probe(text: str) -> None:
    shown = with_probes(probe(), probe("Convex probe 1"), probe("Linear probe 10", cart=10))
    assert [found.id for found in exactly(shown, text)] == ["linear-1"]


@pytest.mark.parametrize("text", ["", "  ", "linear", "SN-", "elsewhere"])
def test_nothing_else_is_taken_for_a_probe(text: str) -> None:
    assert exactly(with_probes(probe(), probe("Convex probe 1")), text) == []


def test_a_search_that_finds_nothing_says_so() -> None:
    view = listed(probe(), find="elsewhere").sifted
    assert (view.rows, view.none) == ((), 'No probe fits: "elsewhere". Take a filter off.')
    view = listed(probe(), probe("Convex probe 1"), find="conv").sifted
    assert view.said.startswith("1 of 2 probes fits.")
    assert [row.name for row in view.rows] == ["Convex probe 1"]


def test_nothing_is_found_as_ready_that_is_not_heard_now() -> None:
    unheard, heard = replace(probe(), confirmed=False), probe("Convex probe 1")
    assert [row.name for row in listed(unheard, heard, stands="ready for use").sifted.rows] == ["Convex probe 1"]
    assert [row.name for row in listed(unheard, heard, stands="not proven").sifted.rows] == ["Linear probe 1"]
    assert listed(heard, shown=replace(SHOWN, hearing=False), stands="ready for use").sifted.rows == ()


def test_names_with_numbers_are_sorted_as_people_count() -> None:
    names = [f"Linear probe {n}" for n in (10, 9, 1)]
    view = listed(*(probe(name, cart=n) for n, name in enumerate(names)), sort="name")
    assert [row.name for row in view.sifted.rows] == ["Linear probe 1", "Linear probe 9", "Linear probe 10"]


def test_while_no_sensor_is_heard_the_list_counts_nothing_as_ready() -> None:
    view = listed(probe(), shown=replace(SHOWN, hearing=False))
    assert (view.tally, [row.said for row in view.sifted.rows]) == ("", ["not confirmed"])


def test_a_probe_of_which_nothing_is_heard_yet_was_ready_and_is_not_confirmed() -> None:
    unheard = replace(probe(), confirmed=False)
    view = listed(unheard, replace(probe("Convex probe 1", owing()), confirmed=False))
    assert view.tally == "0 of 2 probes ready: 1 to be reprocessed, 1 not confirmed"
    last = ("not-proven", "ready for use when last heard; not confirmed now", "last heard on its hook at Cart 1")
    assert last in [(row.style, row.said, row.place) for row in view.sifted.rows]
    page = probe_view(unheard, SHOWN, NOON, UTC, PREMISES)
    assert (page.style, page.said) == ("not-proven", "Ready for use when last heard; not confirmed now")
    assert page.place == "Last heard on its hook at Cart 1, since 11:50."
    assert page.next_step == "make sure that it has not been used since it was last heard"
