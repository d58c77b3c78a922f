"""What the people of the demo enter, and that each is entered once."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import pytest

from rules.commands import Claim, Contact, Entry, GelOpened, Inspected, Placed, StepsDone, Vouch, WipedDown
from rules.engine import Engine
from rules.picture import Picture, UnclaimedSoak
from rules.probe_words import Step
from rules.readings import SECOND, Micros
from rules.ruleset import load_book
from rules.site import Label, Site
from rules.verdict import Outcome
from sim_devices.department import Department
from sim_devices.entries import Entries
from sim_devices.journeys import Leg
from tests.rules.feeder import LABELS, STANDARD, book_of
from tests.sim_devices.followed import EPOCH, small_site, world

At = Callable[[float], Micros]
DAY = 86_400


@pytest.fixture
def picture(site: Site) -> Picture:
    """Before anything was heard."""
    return Engine(site, load_book(site, STANDARD, LABELS)).picture()


def probes_and_carts(entries: list[Entry]) -> list[Entry]:
    return [entry for entry in entries if not hasattr(entry, "basin")]


def test_what_was_entered_in_parts_is_what_is_entered_at_once(site: Site, living: Department, at: At) -> None:
    entries = Entries(site, living.world, at(0))
    in_parts = [entry for second in range(0, 3600, 60) for entry in entries.told(at(second), at(second + 60))]
    assert len(in_parts) > 100
    assert in_parts == entries.told(at(0), at(3600))


def test_a_day_has_entries_of_every_kind(site: Site, living: Department, at: At) -> None:
    told = Entries(site, living.world, at(0)).told(at(-1800), at(DAY))
    kinds = {type(entry) for entry in told}
    assert kinds == {Contact, StepsDone, Placed, Vouch, Inspected, WipedDown, GelOpened}


def test_nothing_is_entered_before_it_was_done(site: Site, living: Department, at: At) -> None:
    told = Entries(site, living.world, at(0)).told(at(0), at(DAY / 2))
    assert all(entry.arrived >= entry.happened for entry in told)


def test_a_soak_s_steps_are_entered_in_their_order(site: Site, living: Department, at: At) -> None:
    told = Entries(site, living.world, at(0)).told(at(0), at(DAY / 4))
    of_sink = [entry for entry in told if isinstance(entry, StepsDone) and entry.who == "demo technician"]
    assert {entry.steps for entry in of_sink} >= {(Step.COVER_OFF, Step.WASHED, Step.DRIED), (Step.RINSED, Step.DRIED)}


def test_what_a_button_told_before_the_start_is_entered_and_later_it_is_not(
    site: Site, living: Department, at: At
) -> None:
    def contacts(begun: float) -> set[tuple[str, int]]:
        told = Entries(site, living.world, at(begun)).told(at(0), at(7200))
        return {(entry.probe, entry.measured) for entry in told if isinstance(entry, Contact)}

    early, late = contacts(0), contacts(3600)
    presses = [
        sample.measured
        for thing in living.momentary
        for sample in living.samples(thing, at(0), at(3600))
        if sample.sensor.endswith("/contact")
    ]
    assert early < late
    assert sorted(measured for _, measured in late - early) == sorted(presses)


def test_after_a_time_in_which_nobody_watched_somebody_answers_for_the_probes_that_hang_clean(
    site: Site, living: Department, at: At
) -> None:
    entries, now = Entries(site, living.world, at(DAY)), at(DAY)
    vouched = {e.probe for e in entries.within(at(DAY - 600), now) if isinstance(e, Vouch)}
    assert len(vouched) > 5
    assert all(living.world.truth.truth(probe, now).owes is None for probe in vouched)
    assert not [e for e in entries.within(at(DAY - 60), now) if isinstance(e, Vouch)]


# ---- claims -------------------------------------------------------------------------------------------------------


def test_a_soak_without_a_tag_is_claimed_later_for_the_probe_that_was_in_it(labels: Mapping[str, Label]) -> None:
    followed = world(small_site(), labels)
    entries, where = Entries(small_site(), followed, Micros(EPOCH)), followed.whereabouts
    untagged = [
        (journey.probe, journey.basin, leg)
        for probe in where.homes
        for journey in where.journeys(probe, Micros(EPOCH), Micros(EPOCH + 2 * DAY * SECOND))
        for leg in journey.legs
        if not leg.tagged and leg.claimed is not None
    ]
    assert len(untagged) > 3
    empty = Engine(small_site(), book_of(small_site())).picture()
    for probe, basin, leg in untagged:
        assert leg.claimed is not None
        claims = [_claims(entries, empty, basin, leg, at) for at in (leg.claimed - 1, leg.claimed)]
        assert probe not in claims[0]
        assert probe in claims[1]


def _claims(entries: Entries, empty: Picture, basin: str, leg: Leg, now: int) -> list[str]:
    """Whose soak it is said to be by then."""
    soak = UnclaimedSoak("it", basin, leg.dropped, leg.out, Outcome.EXPOSURE_MET, Micros(leg.out + DAY * SECOND))
    shown = replace(empty, unclaimed=(soak,))
    return [entry.probe for entry in entries.lacking(shown, Micros(now)) if isinstance(entry, Claim)]


# ---- carts --------------------------------------------------------------------------------------------------------


def test_most_wipe_downs_are_done_shortly_before_a_shift_or_during_it(site: Site, living: Department, at: At) -> None:
    care = living.world.care["cart-1"]
    wiped = list(care.wipes(at(0), at(30 * DAY)))
    asked = 30 * len(site.shift) * 2
    # 0.89: thoroughness of cleaning after an improvement programme (Van Kalsbeek et al., Ultrasound J 2021;13:43).
    assert 0.8 * asked < len(wiped) < 0.97 * asked


def test_a_gel_bottle_is_opened_before_the_one_before_is_out_of_date(living: Department, at: At) -> None:
    care = living.world.care["cart-2"]
    opened = [e.opened for e in care.entered("P", at(-3600), at(100 * DAY), at(0)) if isinstance(e, GelOpened)]
    assert len(opened) == 6
    # 28 d: CPSBC 2018.
    assert all(b - a < timedelta(days=28) for a, b in pairwise(opened))
