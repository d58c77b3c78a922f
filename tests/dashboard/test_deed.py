"""What the wall says is to be done about an alert."""

import inspect
import re
import tomllib
from dataclasses import replace
from importlib.resources import files
from zoneinfo import ZoneInfo

import pytest

import dashboard.deed
from dashboard.alerts import Telling, fit
from dashboard.aside import Aside
from dashboard.deed import deed, state_words
from dashboard.free import RINSE_FIRST
from dashboard.measure import glued, lines
from dashboard.quiet import Quiet
from dashboard.view import wall_view
from gateway.hub import Feed
from rules.alert_words import Priority
from rules.picture import AlertPicture, BasinPicture, Picture, SoakPicture
from rules.probe_words import Place, Step
from rules.readings import SensorKind
from rules.verdict import Outcome, Reason
from tests.dashboard.pictures import NOON, alert, basin, cart, ended, later, picture, sensor, soak, solution
from tests.dashboard.probe_pictures import owing, probe, soaking, unclaimed, with_probes

UTC = ZoneInfo("UTC")
STANDARD = tomllib.loads(files("rules").joinpath("standard.toml").read_text("utf-8"))
AGAIN = "Do not use probe from Basin 1: soak it again"
ELSEWHERE = "Soak probe from Basin 1 again, in another basin"
SHORT = replace(
    alert(
        "Basin 1: soak too short, 4:29 of 12:00 min",
        advice="Do not use probe from Basin 1: soak it again. The product label governs.",
        about="soak basin-1.3",
    ),
    rule="soak-too-short",
)


FELL = replace(ended(Outcome.TOO_SHORT), id="basin-1.3")
LEAVE = "Leave the probe in Basin 1 until about 12:07"
WARM = basin("Basin 2")


def order(of: AlertPicture, *basins: BasinPicture) -> str:
    return deed(of, picture(*basins, carts=(cart("Cart 3"),)), UTC).order


@pytest.mark.parametrize(
    ("now", "said"),
    [
        (basin("Basin 1", None, FELL), AGAIN),
        (basin("Basin 1", soak(), FELL), LEAVE),
        (basin("Basin 1", None, FELL, celsius=18.9), ELSEWHERE),
        (basin("Basin 1", soak(None), FELL, celsius=18.9), ELSEWHERE),
        (basin("Basin 1", soak(), FELL, solution=solution(Reason.STRIP_FAILED)), ELSEWHERE),
        (basin("Basin 1", None, FELL, solution=solution(Reason.STRIP_MISSING)), AGAIN),
    ],
)
def test_a_probe_soaks_again_where_it_can_and_stays_where_it_does(now: BasinPicture, said: str) -> None:
    assert order(SHORT, now, WARM) == said


@pytest.mark.parametrize(
    "now",
    [
        pytest.param(replace(soak(), credited_seconds=720, done_at=later(-731)), id="it has its time"),
        pytest.param(replace(soak(), lacking=(Reason.OTHER_SOLUTION,)), id="its solution was changed"),
        pytest.param(replace(soak(), lid_open_since=later(-5)), id="the lid is lifted"),
        pytest.param(replace(soak(), never_because="cooling"), id="it cools too fast"),
        pytest.param(replace(soak(), stretch_start=None), id="its time stands still"),
    ],
)
def test_a_soak_that_does_not_count_is_no_reason_to_leave_a_probe_in(now: SoakPicture) -> None:
    assert order(SHORT, basin("Basin 1", now, FELL)) == AGAIN


def test_a_later_soak_than_the_next_one_may_be_any_probes() -> None:
    between = replace(ended(), id="basin-1.4")
    assert order(SHORT, basin("Basin 1", soak(), between, FELL)) == AGAIN


def test_a_probe_that_was_elsewhere_during_the_soak_that_fell_short_is_not_the_one_to_soak_again() -> None:
    shown = picture(basin("Basin 1", soak(), FELL))
    other = probe("Linear probe 1", soaking("basin-1"))
    assert deed(SHORT, with_probes(other, shown=shown), UTC).order == LEAVE
    away = replace(other, elsewhere={"basin-1.3": (Place.HOOK, "cart-1")})
    assert deed(SHORT, with_probes(away, shown=shown), UTC).order == AGAIN


def test_where_the_probe_of_the_soak_that_fell_short_is_known_only_its_own_soak_is_the_next() -> None:
    """Another one that soaks in that basin now is not it: its own hangs on its hook, and is to be soaked again."""
    shown = picture(basin("Basin 1", soak(), FELL))
    its_own = {"why": "soak basin-1.3: too short", "next_step": Step.SOAKED}
    hangs = probe("Linear probe 1", owing(Step.WASHED, place=Place.HOOK, thing="cart-1", **its_own))
    for others in ((), (probe("Curved probe 1", soaking("basin-1")),)):
        found = deed(SHORT, with_probes(hangs, *others, shown=shown), UTC)
        assert (found.order, found.waits) == (AGAIN.replace("probe from Basin 1", "Linear probe 1 (Basin 1)"), False)
    there = probe("Linear probe 1", owing(Step.WASHED, place=Place.BASIN, thing="basin-1", **its_own))
    assert deed(SHORT, with_probes(there, shown=shown), UTC).order == LEAVE
    assert deed(SHORT, with_probes(replace(there, confirmed=False), shown=shown), UTC).order != LEAVE


def test_nobody_is_sent_to_another_basin_where_none_can_be_used() -> None:
    cold = basin("Basin 1", None, FELL, celsius=18.9)
    found = deed(SHORT, picture(cold, basin("Basin 2", solution=solution(Reason.STRIP_FAILED))), UTC)
    assert found.order == AGAIN
    assert found.then[0] == "Basin 1 is too cold now."


@pytest.mark.parametrize(
    ("rule", "then"),
    [
        ("soak-cold", ("The time starts again then.",)),
        ("soak-never-done", ("Do not wait: no wait is long enough.", "The time starts again then.")),
    ],
)
def test_where_there_is_no_other_basin_a_cold_one_is_to_be_warmed(rule: str, then: tuple[str, ...]) -> None:
    (advice,) = (one["advice"] for one in STANDARD["rule"] if one["id"] == rule)
    said = advice.replace("{name}", "Basin 1")
    cold = replace(alert("Basin 1: too cold", advice=said, about="basin basin-1"), rule=rule)
    alone = basin("Basin 1", soak(None), celsius=18.9)
    moved = deed(cold, picture(alone, WARM), UTC)
    assert (moved.order, moved.then[0]) == ("Move the probe from Basin 1 to another basin", RINSE_FIRST)
    found = deed(cold, picture(alone), UTC)
    assert (found.order, found.then) == ("Warm the solution in Basin 1 as its label allows", then)


@pytest.mark.parametrize("rule", ["soak-cold", "soak-never-done"])
def test_from_a_basin_that_is_warm_again_and_counts_nobody_is_sent_away(rule: str) -> None:
    (advice,) = (one["advice"] for one in STANDARD["rule"] if one["id"] == rule)
    said = advice.replace("{name}", "Basin 1")
    cold = replace(alert("Basin 1: too cold", advice=said, about="basin basin-1"), rule=rule)
    found = deed(cold, picture(basin("Basin 1", soak()), WARM), UTC)
    assert (found.order[:32], found.waits) == ("Leave the probe in Basin 1 until", True)
    assert (found.so, found.then) == ("It was too cold, and is warm enough again.", ("Do not use it before.",))
    for still in (basin("Basin 1", soak(), celsius=18.9), basin("Basin 1", replace(soak(), never_because="cold"))):
        assert deed(cold, picture(still, WARM), UTC).order == "Move the probe from Basin 1 to another basin"


def test_what_is_not_said_of_a_probe_is_that_it_may_be_used() -> None:
    assert deed(SHORT, picture(basin("Basin 1", soak(), FELL)), UTC).then == ("Use no probe from Basin 1 before.",)
    lacking = replace(soak(), lacking=(Reason.STRIP_MISSING,))
    assert deed(SHORT, picture(basin("Basin 1", lacking, FELL)), UTC).then[1:] == (
        "So far the soak does not count: no test strip.",
    )
    cold = picture(basin("Basin 1", None, FELL, celsius=18.9), WARM)
    assert deed(SHORT, cold, UTC).then == ("Do not use it before.", "Basin 1 is too cold now.", RINSE_FIRST)


def test_while_no_sensor_is_heard_nobody_is_told_to_leave_a_probe_in() -> None:
    deaf = replace(picture(basin("Basin 1", soak(), FELL)), hearing=False)
    assert deed(SHORT, deaf, UTC).order == AGAIN


USED = "Do not use Linear probe 1: soak it first."


def used_again(
    rule: str = "probe-used-again", advice: str = "Do not use Linear probe 1: soak it first."
) -> AlertPicture:
    return replace(alert("Linear probe 1: used again", about="probe linear-1", advice=advice), rule=rule)


def test_a_probe_of_an_alert_that_soaks_meanwhile_is_to_be_left_there() -> None:
    shown = picture(basin("Basin 1", soak()))
    there = with_probes(probe("Linear probe 1", soaking("basin-1")), shown=shown)
    away = with_probes(probe("Linear probe 1", owing()), shown=shown)
    assert deed(used_again(), there, UTC).order == "Leave Linear probe 1 in Basin 1 until about 12:07"
    assert deed(used_again(), away, UTC).order == "Do not use Linear probe 1: soak it first"


@pytest.mark.parametrize(
    ("rule", "advice"),
    [
        ("probe-not-allowed", "Take Linear probe 1 out of its basin and rinse it."),
        ("probe-to-inspect", "Check Linear probe 1 (Cart 1) for damage."),
        ("probe-used-uncleaned", "Clean Linear probe 1 (Cart 1) and enter it."),
        ("probe-waits-too-long", "Wash Linear probe 1 (Cart 1) now."),
    ],
)
def test_a_soak_under_way_answers_no_alert_that_asks_for_something_else(rule: str, advice: str) -> None:
    there = with_probes(probe("Linear probe 1", soaking("basin-1")), shown=picture(basin("Basin 1", soak())))
    assert deed(used_again(rule, advice), there, UTC).order == advice.removesuffix(".")


def test_a_probe_is_not_left_in_a_basin_that_is_not_for_it_nor_unwashed_nor_where_it_is_not_known_to_be() -> None:
    stands, shown = soaking("basin-1"), picture(basin("Basin 1", soak()))
    wrong = used_again("probe-not-allowed", "Take it out.")
    for held, hidden in (((wrong,), ()), ((), (wrong,))):
        told = replace(with_probes(probe("Linear probe 1", stands), shown=shown), alerts=held, hidden=hidden)
        assert not deed(used_again(), told, UTC).order.startswith("Leave")
    unwashed = probe("Linear probe 1", replace(stands, done=(), next_step=Step.WASHED))
    unheard = probe("Linear probe 1", stands, confirmed=False)
    for one in (unwashed, unheard):
        assert not deed(used_again(), with_probes(one, shown=shown), UTC).order.startswith("Leave")


def test_what_is_past_and_answered_asks_for_what_was_done() -> None:
    settles = replace(SHORT, acknowledged_by="Ana", settles=True)
    found = deed(settles, picture(basin("Basin 1", None)), UTC)
    assert found.order == "Enter what was done about Basin 1"
    assert (found.how, found.then) == ("On the phone, Alerts.", ("Do not use probe from Basin 1: soak it again.",))
    assert deed(replace(settles, advice=""), picture(basin("Basin 1", None)), UTC).then == ()


@pytest.mark.parametrize(
    ("now", "said"),
    [
        (basin("Basin 1", None, FELL), AGAIN),
        (basin("Basin 1", soak(), FELL), LEAVE),
        (basin("Basin 1", replace(soak(), credited_seconds=720), FELL), "Enter what was done about Basin 1"),
        (basin("Basin 1", None, ended(), FELL), "Enter what was done about Basin 1"),
    ],
)
def test_a_probe_that_somebody_may_still_use_comes_before_what_is_to_be_entered(now: BasinPicture, said: str) -> None:
    assert order(replace(SHORT, acknowledged_by="Ana", settles=True), now, WARM) == said


@pytest.mark.parametrize(
    ("rolling", "said"),
    [
        (True, ("Stop Cart 3: hang up its cord (curved)", "Stop Cart 3 and pull its plug by hand")),
        (None, ("Stop Cart 3: hang up its cord (curved)", "Stop Cart 3 and pull its plug by hand")),
        (
            False,
            (
                "Do not let Cart 3 roll: hang up its cord (curved)",
                "Do not let Cart 3 roll: pull its plug by hand",
            ),
        ),
    ],
)
def test_nobody_is_told_to_stop_a_cart_that_stands(*, rolling: bool | None, said: tuple[str, ...]) -> None:
    shown = picture(carts=(cart("Cart 3", rolling=rolling),))
    plugged = alert("Cart 3: moved", advice="Stop Cart 3 and pull its plug by hand. Check cable and socket.")
    assert tuple(deed(of, shown, UTC).order for of in (alert(), plugged)) == said


def test_a_probe_that_hangs_on_a_cart_that_stands_is_taken_off_and_the_cart_kept_where_it_is() -> None:
    advice = "Take Linear probe 1 off Cart 1 and soak it. Stop the cart. It needs high-level disinfection."
    told = replace(used_again("probe-rolls-away", advice), text="Cart 1: moved")
    for rolling, said in ((True, "Stop the cart."), (False, "Do not let it roll.")):
        shown = with_probes(probe("Linear probe 1", owing()), shown=picture(carts=(cart("Cart 1", rolling=rolling),)))
        assert deed(told, shown, UTC).then[0] == said


@pytest.mark.parametrize(
    ("name", "kind", "said"),
    [
        ("cart-5/hook-linear", SensorKind.HOOK, "Cart 5: look whether linear hangs, no signal"),
        ("cart-5/motion", SensorKind.MOTION, "Cart 5: hang up its cords before it rolls"),
        ("basin-1/lid", SensorKind.LID, "Basin 1: keep time of its soak by a clock"),
        ("basin-1/temperature", SensorKind.TEMPERATURE, "Basin 1: measure its temperature by hand"),
        ("cart-5/battery", SensorKind.BATTERY, "Watch Cart 5 yourself"),
    ],
)
def test_in_place_of_a_sensor_without_signal_it_is_said_what_to_look_at(name: str, kind: SensorKind, said: str) -> None:
    advice = "Watch Cart 5 yourself. Check the sensor's battery, radio and cable."
    silent = replace(alert("No signal", Priority.LOW, about=f"sensor {name}", advice=advice), rule="sensor-silent")
    shown = picture(basin("Basin 1"), carts=(cart("Cart 5"),), sensors=(sensor(name, kind, health="silent"),))
    found = deed(silent, shown, UTC)
    assert (found.order, found.then) == (said, ("Check the sensor's battery, radio and cable.",))


def test_an_order_of_a_sites_own_rule_that_names_nothing_stands_behind_the_name_of_its_thing() -> None:
    assert order(alert("Cart 3: odd", advice="Push it home. Then rest.")) == "Cart 3: Push it home"
    assert order(alert("Cart 3: odd", advice="")) == ""


def test_what_is_so_stands_under_the_order_without_the_name_and_the_cost() -> None:
    risk = ", 12\N{NO-BREAK SPACE}000\N{NO-BREAK SPACE}EUR at risk"
    rolls = alert(f"Cart 3: cart rolls, cord off hook (curved){risk}")
    assert state_words(rolls, "Stop Cart 3: hang up its cord") == "Cart rolls, cord off hook (curved)."
    assert state_words(rolls, "Stop it") == "Cart 3: cart rolls, cord off hook (curved)."


def rows(shown: Picture, *, hearing: bool = True) -> list[tuple[str, bool]]:
    view = wall_view(Feed(replace(shown, hearing=hearing)), "North Hall", NOON, UTC)
    return [(one.text, one.lead) for one in view.needs.shown]


def test_the_first_row_is_the_largest_and_orders_what_is_to_be_done() -> None:
    second = alert("Cart 3: moved", Priority.MEDIUM, name="b", advice="Stop Cart 3 and pull its plug by hand.")
    shown = picture(basin(), carts=(cart("Cart 3", rolling=True),), alerts=(second, alert(name="a")))
    assert rows(shown) == [
        ("Stop Cart 3: hang up its cord (curved)", True), ("Stop Cart 3 and pull its plug by hand", False)
    ]  # fmt: skip
    assert rows(shown, hearing=False) == [
        ("Cart 3: cart rolls, cord off hook (curved)", False), ("Cart 3: moved", False)
    ]  # fmt: skip


def test_only_what_the_first_row_tells_of_is_drawn_as_the_loudest() -> None:
    carts = tuple(cart(f"Cart {n}", rolling=True, hooks=(False,)) for n in (3, 4))
    alerts = (alert(name="a"), alert("Cart 4: cart rolls", about="cart cart-4", name="b"))
    view = wall_view(Feed(picture(basin(), carts=carts, alerts=alerts)), "North Hall", NOON, UTC)
    loud = {place.name.text: place.tied.leads for place in view.carts.places if place.tied}
    assert loud == {"Cart 3": True, "Cart 4": False}
    taken = replace(alerts[0], acknowledged_by="Ana", acknowledged_at=NOON)
    calm = wall_view(Feed(picture(basin(), carts=carts, alerts=(taken,))), "North Hall", NOON, UTC)
    assert not any(place.tied.leads for place in calm.carts.places if place.tied)


def test_an_order_that_has_no_room_leaves_its_place_to_what_is_so() -> None:
    long = alert("Cart 3: odd", advice=f"Stop {'the long, long cart ' * 6}. Rest.")
    telling = Telling(NOON, UTC, deeds={"a-1": deed(long, picture(carts=(cart("Cart 3"),)), UTC)})
    assert fit([long], 300, Quiet(""), Aside(), telling).shown[0].text == "Cart 3: odd"


def test_an_order_with_a_long_name_takes_a_second_line_where_no_urgent_alert_loses_its_place_by_that() -> None:
    told = "Do not soak in Reprocessing room basin 12: pour fresh solution"
    long = alert("Reprocessing room basin 12: strip failed", advice=f"{told}. Rest.", about="basin basin-12")
    telling = Telling(NOON, UTC, deeds={"a-1": deed(long, picture(), UTC)})
    assert lines(told, telling.panel.text_ems) == 2
    assert fit([long], 300, Quiet(""), Aside(), telling).shown[0].text == told
    others = [alert(name=f"b-{n}", at=later(n)) for n in range(3)]
    first = fit([long, *others], 300, Quiet(""), Aside(), telling).shown[0]
    assert (first.text, first.advice.startswith(told)) == (long.text, True)


def test_rules_that_have_orders_of_their_own_are_standard_rules() -> None:
    """One that was called otherwise since would be told by its advice alone, though that is not right any more."""
    named = set(re.findall('"([a-z]+(?:-[a-z]+)+)"', inspect.getsource(dashboard.deed)))
    assert {"soak-too-short", "probe-not-allowed", "soak-cold"} <= named <= {rule["id"] for rule in STANDARD["rule"]}


def test_no_line_breaks_before_a_number() -> None:
    space = "\N{NO-BREAK SPACE}"
    assert glued("Check Curved probe 8 (Cart 8) by 12:00 min") == (
        f"Check Curved probe{space}8 (Cart{space}8) by 12:00{space}min"
    )
    assert lines("ab cd 8)", 3.5) == 2


def test_the_probe_of_a_soak_that_fell_short_is_named_and_where_nobody_knows_it_that_is_said() -> None:
    shown = picture(basin("Basin 1", None, FELL))
    known = probe("Linear probe 1", owing(why="soak basin-1.3: too short"))
    assert deed(SHORT, with_probes(known, shown=shown), UTC).order == (
        "Do not use Linear probe 1 (Basin 1): soak it again"
    )
    unknown = with_probes(shown=shown, soaks=(replace(unclaimed(), soak="basin-1.3"),))
    found = deed(SHORT, unknown, UTC)
    assert (found.order, found.then[0]) == (AGAIN, "Which probe is not known.")


def test_what_is_to_be_left_as_it_is_stands_behind_what_hands_have_to_do() -> None:
    left = replace(SHORT, id="left", raised=later(-300))
    shown = picture(basin("Basin 1", soak(), FELL), carts=(cart("Cart 3", rolling=True),), alerts=(left, alert()))
    assert [text for text, _ in rows(shown)] == ["Stop Cart 3: hang up its cord (curved)", LEAVE]
    view = wall_view(Feed(shown), "North Hall", NOON, UTC)
    assert [place.tied.leads for place in view.carts.places if place.tied] == [True]
