"""A lid that is closed over a basin in which nothing can lie is no soak that anybody has to be told of.

What can lie there is judged on the safe side: that a tag is not read must never hide a soak.
"""

from collections.abc import Sequence

import pytest

from rules.commands import Input
from rules.probe_words import Place
from rules.readings import Reading
from rules.site import Site
from tests.rules.bath import pour, strip
from tests.rules.feeder import HOOK_A, OFF_HOOK, Feeder, closed, in_order, instant, read, soak, steps, warm
from tests.rules.followed import SINK_TAG, T1, TAG, claim, followed, hung, merged, placed, tagged, two_probes

ABOUT_SOAKS = ("soak-too-short", "soak-not-met", "soak-unclaimed", "soak-cold", "soak-never-done", "lid-open-over-soak")
SHORT = ["soak-too-short", "soak-unclaimed", "lid-open-over-soak"]
COLD = ["soak-not-met", "soak-unclaimed", "soak-cold", "soak-never-done"]


def alerts(feeder: Feeder) -> list[str]:
    return [rule for rule in ABOUT_SOAKS if feeder.raised(rule)]


def empty(start: float, end: float) -> list[Reading]:
    """The basin's reader is heard and names no probe."""
    return [read(TAG, "", at) for at in steps(start, end, 30)]


def off(start: float, end: float) -> list[Reading]:
    """Its hook says again and again that it does not hang there."""
    return [read(HOOK_A, OFF_HOOK, at) for at in steps(start, end, 60)]


def strips(how: str) -> Site:
    """Strips are to be read so often."""
    site = followed()
    return site.model_copy(update={"solution": site.solution.model_copy(update={"strips": how})})


def lived(*groups: Sequence[Input], until: float = 1600, site: Site | None = None) -> Feeder:
    """Where a strip a day is enough, none tells that a soak was begun; only where each probe is does."""
    return Feeder(site or strips("daily")).feed(merged(*groups)).until(until)


EACH_USE = strips("each use")


def test_where_a_strip_is_read_before_each_soak_one_without_is_told_of_softly() -> None:
    # A probe that hangs nowhere: not sure to be elsewhere, and no sign of a soak. Lifted early is told at once all the
    # same, and after 10 min that nobody said what it was.
    feeder = lived(empty(60, 1600), off(0, 1600), soak(300, 21), site=EACH_USE)
    assert alerts(feeder) == ["soak-unclaimed", "lid-open-over-soak"]
    cold = lived(empty(60, 1600), off(0, 1600), soak(730, 19), site=EACH_USE)
    assert alerts(cold) == ["soak-unclaimed"]


@pytest.mark.parametrize(("length", "celsius", "told"), [(300, 21, SHORT), (730, 19, COLD)])
def test_one_for_which_a_strip_was_read_is_told_of_as_any_other(length: float, celsius: float, told: list[str]) -> None:
    ready: list[Input] = [pour(20), strip(70)]
    assert alerts(lived(ready, empty(60, 1600), off(0, 1600), soak(length, celsius), site=EACH_USE)) == told


@pytest.mark.parametrize("entered", [110, 300])
def test_a_strip_that_is_entered_late_counts_from_when_it_was_read(entered: float) -> None:
    ready: list[Input] = [pour(20), strip(70).model_copy(update={"arrived": instant(entered)})]
    feeder = lived(ready, empty(60, 1600), off(0, 1600), soak(730, 19), site=EACH_USE)
    (told,) = feeder.raised("soak-cold")
    assert entered + 30 <= told <= entered + 62


@pytest.mark.parametrize(("length", "celsius"), [(300, 21), (730, 21), (730, 19)])
def test_a_lid_over_an_empty_basin_is_told_to_nobody(length: float, celsius: float) -> None:
    assert alerts(lived(empty(60, 1600), hung(0, 1600), soak(length, celsius))) == []


def test_a_probe_that_is_named_makes_it_a_soak() -> None:
    feeder = lived(tagged(T1, 95, 405), hung(0, 1600), soak(300, 21))
    assert alerts(feeder) == ["soak-too-short", "lid-open-over-soak"]


@pytest.mark.parametrize(("length", "celsius", "told"), [(300, 21, SHORT), (730, 19, COLD)])
def test_a_probe_whose_tag_is_not_read_may_be_in_it_where_nobody_saw_it_elsewhere(
    length: float, celsius: float, told: list[str]
) -> None:
    assert alerts(lived(empty(60, 1600), hung(0, 40), off(60, 1600), soak(length, celsius))) == told


def test_a_cold_soak_of_a_probe_whose_tag_is_not_read_is_told_of_while_it_runs() -> None:
    feeder = lived(empty(60, 1600), hung(0, 40), off(60, 1600), soak(730, 19))
    assert feeder.raised("soak-cold") == [130.5]  # 30 s after the lid was closed, which takes half a second to be sure


def test_a_probe_that_is_seen_elsewhere_only_before_the_lid_is_closed_may_be_in_it() -> None:
    there = [read(SINK_TAG, T1, at) for at in steps(60, 95, 30)]
    gone = [read(SINK_TAG, "", at) for at in steps(96, 1600, 30)]
    feeder = lived(empty(60, 1600), hung(0, 40), off(50, 1600), there, gone, soak(300, 21))
    assert alerts(feeder) == SHORT


def test_a_probe_that_is_hung_up_while_the_lid_is_closed_was_not_in_it() -> None:
    feeder = lived(empty(60, 1600), off(0, 200), hung(201, 1600), soak(300, 21))
    assert alerts(feeder) == []


def test_a_probe_that_is_hung_up_once_the_lid_was_lifted_may_have_been_in_it() -> None:
    feeder = lived(empty(60, 1600), off(0, 401), hung(402, 1600), soak(300, 21))
    assert alerts(feeder) == SHORT


def test_a_probe_put_in_while_the_lid_was_lifted_for_a_moment_may_be_in_it() -> None:
    # Closed again after 20 s, so that it is one soak with the time before.
    lids = [*closed(100, 200), *closed(220, 520)]
    feeder = lived(empty(60, 1600), hung(0, 190), off(205, 1600), warm(21, 80, 540), lids)
    assert alerts(feeder) == SHORT


def test_a_hook_that_fell_silent_names_no_probe_elsewhere() -> None:
    assert alerts(lived(empty(200, 1600), hung(0, 40), soak(300, 21, start=280), until=1700)) == SHORT


def test_a_hook_that_fell_silent_just_before_is_believed_only_until_it_should_have_spoken() -> None:
    # A hook reports every 60 s, and three of these without a word are silence; then 30 s until a cold soak is told of.
    feeder = lived(empty(60, 1600), hung(0, 95, every=19), soak(730, 19))
    assert feeder.raised("soak-cold") == [pytest.approx(95 + 180 + 30, abs=30)]


def test_a_second_probe_that_may_be_in_it_is_enough() -> None:
    # The second one's hook is not heard.
    site = strips("daily").model_copy(update={"probe": two_probes().site.probe})
    assert alerts(lived(empty(60, 1600), hung(0, 1600), soak(300, 21), site=site)) == SHORT


def test_a_tag_that_the_site_file_does_not_know_is_no_empty_basin() -> None:
    feeder = lived(tagged("T-OF-ANOTHER-WARD", 95, 405), hung(0, 1600), soak(300, 21))
    assert alerts(feeder) == SHORT


def test_a_probe_of_which_a_person_says_that_it_is_in_it_is_in_it() -> None:
    told = [placed(110, Place.BASIN, "basin-1")]
    feeder = lived(empty(60, 1600), hung(0, 1600), told, soak(730, 19))
    assert "soak-cold" in alerts(feeder)


def test_a_strip_read_just_before_tells_of_a_soak_if_only_of_a_probe_that_nobody_follows() -> None:
    ready: list[Input] = [pour(20), strip(70)]
    assert alerts(lived(ready, empty(60, 1600), hung(0, 1600), soak(300, 21))) == SHORT


def test_a_strip_read_for_the_soak_before_tells_nothing_of_an_empty_basin_after_it() -> None:
    ready: list[Input] = [pour(20), strip(70)]
    there, lids = tagged(T1, 95, 840), [*closed(100, 830), *closed(850, 1150)]
    feeder = lived(ready, there, empty(841, 2100), hung(860, 2100), warm(21, 80, 1200), lids, until=2100)
    assert alerts(feeder) == []


def test_a_reader_that_was_not_heard_proves_no_empty_basin() -> None:
    feeder = lived(empty(60, 150), hung(0, 1600), soak(300, 21))
    assert alerts(feeder) == SHORT


def test_a_reader_that_is_first_heard_after_the_lid_was_closed_proves_it_for_all_of_it() -> None:
    # Nothing gets out from under a closed lid.
    assert alerts(lived(empty(130, 1600), hung(0, 1600), soak(730, 19))) == []


def test_a_soak_that_is_claimed_was_of_something() -> None:
    feeder = lived(empty(60, 1600), off(0, 1600), soak(300, 21), site=EACH_USE).feed([claim(1700)])
    assert feeder.raised("soak-too-short") == [1700]


def test_a_claim_for_a_probe_that_hung_meanwhile_makes_no_soak_of_an_empty_basin() -> None:
    feeder = lived(empty(60, 1600), hung(0, 1600), soak(300, 21)).feed([claim(1700)])
    assert feeder.raised("soak-too-short") == []


def test_it_is_known_after_a_restart_too() -> None:
    before, after = closed(100, 700)[:3], [*closed(100, 700)[3:]]
    feeder = Feeder(followed()).feed(in_order(empty(60, 150), hung(0, 150), warm(19, 80, 160), before)).restart()
    feeder.feed(in_order(empty(180, 1600), hung(180, 1600), warm(19, 170, 900), after)).until(1600)
    assert alerts(feeder) == []


def test_what_is_forgotten_of_an_empty_basin_does_not_make_it_a_soak_a_day_later() -> None:
    end = 92_000  # 25.5 h; what was said is kept for little more than a day
    lids = [*closed(100, 400), *closed(500, end, 80)]
    # Taken down while the lid was closed for the second time, and again a day later.
    hooks = [*hung(0, 590), *off(600, 700), *hung(720, 91_000), *off(91_020, 91_100), *hung(91_120, end)]
    feeder = lived(empty(60, end), hooks, warm(21, 80, end, 60), lids, until=end)
    assert alerts(feeder) == []
