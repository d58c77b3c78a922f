"""What the wall says of probes: which may be used, and which are in a basin."""

from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from dashboard.fitness import to_do_with
from dashboard.quiet import CALM, Quiet
from dashboard.readiness import Mark, cart_probes, inside, inside_row, ready_line, wanted_rows
from dashboard.view import WallView, wall_view
from gateway.hub import Feed, RecordHead
from rules.picture import Picture, ProbePicture
from rules.probe_words import Fitness, Level, Place, Step
from rules.standing import Standing
from rules.verdict import Outcome
from tests.dashboard.pictures import NOON, basin, calm, cart, ended, four_alerts, later, picture, soak
from tests.dashboard.probe_pictures import (
    damaged,
    not_proven,
    owing,
    probe,
    soaking,
    standing,
    unclaimed,
    with_probes,
)

UTC = ZoneInfo("UTC")
TILE = 347.5
IN_USE = standing(Fitness.IN_USE, place=Place.IN_HANDS, thing=None)
KINDS = ("Linear", "Curved", "Phased", "Endocavity")


def hung(*states: Standing) -> tuple[ProbePicture, ...]:
    return tuple(probe(f"{kind} probe 1", stands) for kind, stands in zip(KINDS, states, strict=False))


def rows(*states: Standing, room: int = 4, width: float = TILE, hearing: bool = True) -> list[tuple[str, str]]:
    return [(m.style, m.words) for m in cart_probes(hung(*states), room, width, hearing=hearing).marks]


def wall(shown: Picture, head: RecordHead | None = None) -> WallView:
    return wall_view(Feed(shown, head=head), "North Hall", NOON, UTC)


# ---- beside a cart ---------------------------------------------------------------------------------------------------


def test_where_all_are_ready_one_row_says_so() -> None:
    assert rows(standing(), standing(), standing()) == [("ready", "3 probes ready")]


def test_each_probe_that_is_not_ready_has_a_row_the_most_urgent_first() -> None:
    assert rows(owing(), damaged(), standing(), IN_USE) == [
        ("inspect", "check curved"),
        ("owes", "soak linear"),
        ("in-use", "1 in use"),
        ("", "1 of 4 ready"),
    ]


@pytest.mark.parametrize(
    ("room", "said"),
    [
        (3, [("inspect", "check curved"), ("owes", "soak linear"), ("", "1 of 4 ready")]),
        (2, [("inspect", "check curved"), ("", "1 of 4 ready")]),
        (1, [("inspect", "check curved")]),
        (0, []),
    ],
)
def test_with_less_room_the_count_tells_that_there_are_more(room: int, said: list[tuple[str, str]]) -> None:
    assert rows(owing(), damaged(), standing(), IN_USE, room=room) == said


def test_in_one_row_what_hangs_there_and_must_not_be_used_is_told_before_any_count() -> None:
    """Which probes may be used, and which not, is what a cart's tile is for: somebody at the cart could take it."""
    hangs = damaged()
    assert rows(hangs, standing(), standing(), room=1) == [("inspect", "check linear")]
    assert rows(hangs, replace(hangs), standing(), room=1) == [("inspect", "2 not ready")]
    away = replace(hangs, place=Place.SINK, thing="station-1")
    assert rows(away, standing(), standing(), room=1) == [("", "2 of 3 ready")]


def test_probes_that_wait_for_somebody_want_a_row_each() -> None:
    assert wanted_rows(hung(owing(), not_proven(), IN_USE), hearing=True) == 3
    assert wanted_rows(hung(standing(), IN_USE), hearing=True) == 1
    assert wanted_rows(hung(owing(), not_proven(), damaged(), owing()), hearing=True) == 4
    assert wanted_rows(hung(owing(), not_proven()), hearing=False) == 1


def test_while_no_sensor_is_heard_none_is_called_ready() -> None:
    assert rows(standing(), owing(), hearing=False) == [("not-proven", "not confirmed")]
    assert cart_probes(hung(standing()), 1, TILE, hearing=False).ready == 0


def test_a_probe_last_heard_of_before_now_is_not_called_ready() -> None:
    heard, unheard = probe("Linear probe 1"), replace(probe("Curved probe 1"), confirmed=False)
    found = cart_probes((heard, unheard), 2, TILE, hearing=True)
    assert (found.marks, found.ready) == ((Mark("not-proven", "1 no signal"), Mark("", "1 of 2 ready")), 1)
    assert cart_probes((heard, unheard), 1, TILE, hearing=True).marks == (Mark("not-proven", "1 no signal"),)
    assert cart_probes((unheard,), 2, TILE, hearing=True).marks == (Mark("not-proven", "not confirmed"),)
    assert ready_line(with_probes(heard, unheard)) == "1 of 2 probes ready"


def test_a_cord_that_has_no_room_for_its_name_is_counted() -> None:
    assert rows(standing(), not_proven())[0] == ("not-proven", "curved in doubt")
    twins = tuple(replace(probe("Curved probe 1", not_proven()), cord=f"curvilinear-{side}") for side in "ab")
    said = [mark.words for mark in cart_probes(twins, 3, TILE, hearing=True).marks]
    assert said == ["1 in doubt", "1 in doubt", "0 of 2 ready"]


def test_a_site_that_follows_no_probes_has_no_rows() -> None:
    assert cart_probes((), 3, TILE, hearing=True).marks == ()


# ---- in a basin ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shown", "said"),
    [
        (with_probes(probe("Linear probe 1", soaking()), shown=picture(basin(soaking=soak()))), ("Linear probe 1",)),
        (with_probes(probe(), shown=picture(basin(soaking=soak()))), ("probe not known",)),
        (with_probes(probe("Linear probe 1", soaking("basin-2")), shown=picture(basin())), ()),
        (with_probes(probe(), shown=picture(basin("Basin 1", None, ended()))), ()),
        (picture(basin(soaking=soak())), ()),
    ],
)
def test_a_basin_names_the_probe_in_it_or_that_none_is_known(shown: Picture, said: tuple[str, ...]) -> None:
    assert inside(shown.basins[0], shown) == said


def test_an_ended_verdict_is_laid_to_no_probe_that_came_into_the_basin_afterwards() -> None:
    failed = basin("Basin 1", None, replace(ended(Outcome.STRIP_FAILED), id="basin-1-7"))
    newcomer = probe("Phased probe 8", replace(soaking(), since=later(-60)))
    assert inside(failed, with_probes(newcomer, shown=picture(failed))) == ()
    assert inside(failed, with_probes(newcomer, shown=picture(failed), soaks=(unclaimed(),))) == ("probe not known",)


def test_an_ended_verdict_names_the_probe_of_its_soak() -> None:
    over = basin("Basin 1", None, replace(ended(), id="basin-1-7"))
    left_in = probe("Phased probe 8", replace(soaking(), since=later(-3500)))
    rinsed = probe("Linear probe 1", standing(soak="basin-1-7"))
    assert inside(over, with_probes(left_in, rinsed, shown=picture(over))) == ("Phased probe 8", "Linear probe 1")


def test_an_ended_soak_has_no_tag_until_it_is_claimed() -> None:
    shown = with_probes(probe(), shown=picture(basin("Basin 1", None, replace(ended(), id="basin-1-7"))))
    assert inside(shown.basins[0], replace(shown, unclaimed=(unclaimed(),))) == ("probe not known",)
    assert inside(shown.basins[0], replace(shown, unclaimed=(replace(unclaimed(), soak="basin-1-6"),))) == ()


def test_several_probes_in_a_basin_are_named_or_counted() -> None:
    assert inside_row(("Linear probe 1", "Curved probe 1"), 700) == "Linear probe 1, Curved probe 1"
    assert inside_row(("Linear probe 1", "Curved probe 1", "Phased probe 1"), 370) == "Linear probe 1 +2"
    assert inside_row((), 370) == ""


# ---- the wall as a whole ---------------------------------------------------------------------------------------------


def test_the_head_counts_the_probes_that_are_ready() -> None:
    shown = with_probes(*hung(standing(), owing(), standing()))
    assert wall(shown).state.probes == "2 of 3 probes ready"
    assert ready_line(replace(shown, hearing=False)) == ready_line(picture()) == ""


def test_carts_without_a_place_have_their_probes_counted() -> None:
    carts = tuple(cart(f"Cart {n}") for n in range(1, 21))
    probes = [probe("Linear probe", standing() if n % 2 else owing(), cart=n) for n in range(1, 21)]
    view = wall(with_probes(*probes, shown=picture(carts=carts))).carts
    shown = sum(c.probes.ready for c in view.places)
    assert view.probes.startswith(f"{10 - shown} of {view.more} probes ready,")


def test_carts_with_a_probe_that_waits_have_a_place_before_others_alike() -> None:
    carts = tuple(cart(f"Cart {n}") for n in range(1, 9))
    probes = [probe("Linear probe", owing() if n > 6 else standing(), cart=n) for n in range(1, 9)]
    places = [c.name.text for c in wall(with_probes(*probes, shown=picture(carts=carts))).carts.places]
    assert {"Cart 7", "Cart 8"} < set(places)


def test_the_wall_is_not_calm_while_a_probe_or_an_unclaimed_soak_waits() -> None:
    well = with_probes(*hung(standing(), IN_USE, soaking()), shown=calm().picture)
    assert wall(well).needs.quiet.first == CALM
    waits = with_probes(*hung(owing(), not_proven(), damaged()), shown=calm().picture, soaks=(unclaimed(),))
    assert wall(waits).needs.quiet == Quiet(
        "Do not use Curved probe 1 (Cart 1): wash it and soak it",
        "Then: check Phased probe 1 (Cart 1) for damage; 1 more probe and 1 more soak (below).",
        forbids=True,
    )


def test_what_is_to_be_looked_at_stays_on_a_line_below_the_first() -> None:
    waits = with_probes(*hung(owing()) * 40, shown=calm().picture, soaks=(unclaimed(),) * 30)
    ill = tuple(replace(s, health="silent") for s in waits.sensors[1:] * 3)
    basins = tuple(replace(b, celsius=None) for b in waits.basins)
    shown = replace(waits, basins=basins, sensors=(waits.sensors[0], *ill), carts=(cart(rolling=True, hooks=(None,)),))
    assert wall(shown).needs.quiet == Quiet(
        "Look at Cart 1: rolls, cords not known",
        "Then: 1 basin, 40 probes, 30 soaks and 15 sensors (on the phone, Sensors).",
    )


def test_the_marks_get_the_room_that_basins_and_alerts_leave() -> None:
    few = wall(with_probes(*hung(owing(), damaged(), not_proven()), shown=calm().picture))
    assert few.carts.rows == 3
    crowd = replace(calm().picture, basins=calm().picture.basins * 2)
    assert wall(with_probes(*hung(owing(), damaged(), not_proven()), shown=crowd)).carts.rows < 4


def test_where_only_one_row_of_basins_has_a_place_the_marks_get_what_is_left() -> None:
    held = basin("Basin 1", soak(None, never="cold"), ended(Outcome.INTERRUPTED), celsius=18.9)
    basins = [replace(held, id=f"basin-{n}") for n in range(8)]
    crowd = picture(*basins, carts=calm().picture.carts, alerts=four_alerts()[:1])
    view = wall(with_probes(*hung(owing(), damaged(), not_proven()), shown=replace(crowd, storing=False)))
    assert (len(view.basins.cells), view.carts.rows) == (4, 4)


def test_the_head_of_the_record_is_on_the_wall() -> None:
    # NotedHead.parse: at least 16 digits of the root.
    record = wall(picture(), RecordHead(12_345, bytes.fromhex("0123456789abcdef") * 4, NOON)).record
    assert record is not None
    assert record.head == "12345:0123-4567-89ab-cdef"
    assert wall(picture()).record is None


def test_a_mark_is_a_word_beside_its_sign() -> None:
    found = cart_probes(hung(owing(), standing()), 4, TILE, hearing=True).marks
    assert found == (Mark("owes", "soak linear"), Mark("", "1 of 2 ready"))


def test_what_is_owed_is_said_by_what_is_to_be_done() -> None:
    cleaned = owing(owes=Level.CLEANING)
    assert [rows(stands)[0][1] for stands in (owing(), cleaned)] == ["soak linear", "clean linear"]


@pytest.mark.parametrize(
    ("other", "said"),
    [
        ({}, "wash it and soak it"),
        ({"next_step": Step.SOAKED}, "soak it"),
        ({"owes": Level.LOW}, "wash it and wipe it with disinfectant"),
        ({"owes": Level.CLEANING}, "clean it"),
        ({"held": "basin-1.4"}, "soak it again"),
        ({"owes": None}, "reprocess it"),
    ],
)
def test_of_a_probe_that_nobody_can_tell_of_it_is_said_what_makes_it_ready(other: dict[str, Any], said: str) -> None:
    assert to_do_with("P", replace(not_proven(), **other)) == f"do not use P: {said}"
