from collections.abc import Callable, Mapping
from datetime import datetime, time, timedelta
from math import pi

import pytest

from rules.commands import (
    Claim,
    Contact,
    Discard,
    GelOpened,
    Inspected,
    Placed,
    Pour,
    StepsDone,
    StripRead,
    Vouch,
    WipedDown,
)
from rules.picture import UnclaimedSoak
from rules.probe_words import Place, Step, Surface
from rules.readings import Micros, SensorId, StripResult
from rules.site import Label, Site
from rules.verdict import Outcome
from sim_devices.chance import Chance
from sim_devices.physics.fall import FALL
from sim_devices.ward import deeds
from sim_devices.ward.deeds import DEED, Deed
from sim_devices.ward.first_deeds import first_deeds
from sim_devices.ward.refusal import DeedError
from sim_devices.ward.state import Ailment, Jolt, Knock, Stay, Treatment
from sim_devices.ward.state import Contact as Touched
from sim_devices.ward.things import NoSuchLabelError
from sim_devices.ward.ward import _DOES, Ward

At = Callable[[float], Micros]


@pytest.fixture
def ward(site: Site, labels: Mapping[str, Label], epoch: Micros) -> Ward:
    return Ward(site, labels, epoch, Chance(1))


@pytest.fixture
def ready(ward: Ward, epoch: Micros) -> Ward:
    for deed in first_deeds(ward):
        ward.do(epoch, deed)
    return ward


def refusal(ward: Ward, at: Micros, deed: Deed) -> str:
    """What is said of a deed that cannot be; nothing of it was done."""
    with pytest.raises(DeedError) as refused:
        ward.do(at, deed)
    assert (at, deed) not in ward.log
    return str(refused.value)


# ---- basins ---------------------------------------------------------------------------------------------------------


def test_a_new_ward_has_its_probes_on_their_hooks_its_lids_closed_and_its_basins_empty(ward: Ward) -> None:
    assert ward.probes["linear-1"].stay.newest == Stay(Place.HOOK, "cart-1")
    assert all(basin.lid_closed.newest and basin.liquid.newest is None for basin in ward.basins.values())
    assert "gateway" not in ward.devices
    assert {"basin-1", "cart-1", "reprocessing-room"} <= set(ward.devices)


def test_a_basin_whose_label_is_not_there_is_refused(site: Site, epoch: Micros) -> None:
    with pytest.raises(
        NoSuchLabelError, match=r"basin 'basin-1', key 'label': no label '\S+'; add a \[\[label\]\] for it"
    ):
        Ward(site, {}, epoch, Chance(1))


def test_a_basin_is_poured_under_an_open_lid_only_and_the_old_solution_is_discarded(ready: Ward, at: At) -> None:
    said = refusal(ready, at(1), deeds.Pour(basin="basin-1"))
    assert said == "the lid of basin 'basin-1' is closed; do 'open-lid' first"
    ready.do(at(2), deeds.OpenLid(basin="basin-1"))
    ready.do(at(3), deeds.Pour(basin="basin-1", celsius=35, lot="B7", told_after_seconds=60))
    liquid = ready.basins["basin-1"].liquid.newest
    assert liquid is not None
    assert (liquid.lot, liquid.label, liquid.poured, liquid.strong) == ("B7", "hydrogen-peroxide-2.0", at(3), True)
    assert ready.basins["basin-1"].heat.celsius(at(3)) == pytest.approx(35)
    discard, pour = ready.told_between(at(3), at(63))
    assert isinstance(discard, Discard)
    assert isinstance(pour, Pour)
    assert discard.measured < pour.measured == at(3)
    assert (pour.lot, pour.arrived) == ("B7", at(63))
    assert ready.told_between(at(3), Micros(at(63) - 1)) == []


def test_a_strip_tells_the_truth_unless_it_is_misread(ready: Ward, at: At) -> None:
    ready.do(at(1), deeds.ReadStrip(basin="basin-1"))
    ready.do(at(2), deeds.Spend(basin="basin-1"))
    ready.do(at(3), deeds.ReadStrip(basin="basin-1", told_after_seconds=None))
    ready.do(at(4), deeds.ReadStrip(basin="basin-1", result=StripResult.PASS))
    assert ready.basins["basin-1"].strips == [(at(1), "pass"), (at(3), "fail"), (at(4), "pass")]
    told = [entry for entry in ready.told_between(at(0), at(60)) if isinstance(entry, StripRead)]
    assert [entry.measured for entry in told] == [at(1), at(4)]


def test_only_open_basins_with_solution_give_off_vapour(ready: Ward, at: At, monkeypatch: pytest.MonkeyPatch) -> None:
    counts: list[int] = []
    monkeypatch.setattr(ready.rooms["reprocessing-room"].vapour, "open_lids", lambda _, count: counts.append(count))
    ready.do(at(1), deeds.OpenLid(basin="basin-1"))
    ready.do(at(2), deeds.OpenLid(basin="basin-2"))
    ready.do(at(3), deeds.OpenLid(basin="basin-3"))
    ready.do(at(4), deeds.CloseLid(basin="basin-1"))
    assert counts == [1, 2, 1]


# ---- probes ---------------------------------------------------------------------------------------------------------


def test_a_probe_is_in_one_place_and_cord_and_basin_agree(ready: Ward, at: At) -> None:
    probe, hook = ready.probes["linear-1"], ready.carts["cart-1"].on_hook["linear"]
    ready.do(at(1), deeds.TakeDown(cart="cart-1", cord="linear"))
    assert (probe.stay.newest.place, hook.newest) == (Place.IN_HANDS, False)
    ready.do(at(2), deeds.Bring(probe="linear-1", place=Place.SINK, thing="reprocessing-room", read=False))
    assert probe.stay.newest == Stay(Place.SINK, "reprocessing-room", read=False)
    into = deeds.Bring(probe="linear-1", place=Place.BASIN, thing="basin-1", told_after_seconds=7)
    assert "the lid of basin 'basin-1' is closed" in refusal(ready, at(3), into)
    assert probe.stay.newest.place is Place.SINK
    ready.do(at(4), deeds.OpenLid(basin="basin-1"))
    ready.do(at(5), into)
    ready.do(at(6), deeds.CloseLid(basin="basin-1"))
    assert ready.basins["basin-1"].inside.newest == ("linear-1",)
    assert "is closed" in refusal(ready, at(7), deeds.HangUp(cart="cart-1", cord="linear"))
    ready.do(at(8), deeds.OpenLid(basin="basin-1"))
    ready.do(at(9), deeds.HangUp(cart="cart-1", cord="linear"))
    assert not ready.basins["basin-1"].inside.newest
    assert (probe.stay.newest, hook.newest) == (Stay(Place.HOOK, "cart-1"), True)
    placed = [entry for entry in ready.told if isinstance(entry, Placed)]
    assert [(e.probe, e.place, e.thing, e.measured, e.arrived) for e in placed] == [
        ("linear-1", Place.BASIN, "basin-1", at(5), at(12))
    ]


def test_only_a_probe_in_hands_touches_a_patient(ready: Ward, at: At) -> None:
    touch = deeds.Touch(probe="linear-1", surface=Surface.BLOOD, marked="entry")
    assert refusal(ready, at(1), touch) == (
        "probe 'linear-1' is not in hands but at: hook; do 'take-down' or 'bring' first"
    )
    ready.do(at(2), deeds.TakeDown(cart="cart-1", cord="linear"))
    ready.do(at(3), touch)
    ready.do(at(4), deeds.Touch(probe="linear-1", surface=Surface.SKIN, marked="not"))
    ready.do(at(5), deeds.Touch(probe="linear-1", surface=Surface.SKIN, marked="button", told_after_seconds=2))
    assert ready.probes["linear-1"].contacts == [
        Touched(at(3), Surface.BLOOD),
        Touched(at(4), Surface.SKIN),
        Touched(at(5), Surface.SKIN),
    ]
    assert [(e.surface, e.measured) for e in ready.told if isinstance(e, Contact)] == [(Surface.BLOOD, at(3))]
    assert ready.pressed[SensorId("cart-1/contact")] == [(at(7), "skin")]


def test_steps_are_done_and_told_but_a_soak_is_lived(ready: Ward, at: At) -> None:
    assert "leave 'soaked' out" in refusal(ready, at(1), deeds.Treat(probe="linear-1", steps=(Step.SOAKED,)))
    ready.do(at(2), deeds.Treat(probe="linear-1", steps=(Step.RINSED, Step.DRIED), times=3, told_after_seconds=1))
    assert ready.probes["linear-1"].treatments == [Treatment(at(2), Step.RINSED, 3), Treatment(at(2), Step.DRIED, 3)]
    told = [entry for entry in ready.told if isinstance(entry, StepsDone)]
    assert [(e.steps, e.times, e.arrived) for e in told] == [((Step.RINSED, Step.DRIED), 3, at(3))]


def test_a_knock_is_felt_by_the_shock_sensor_of_its_holder(ready: Ward, at: At) -> None:
    # Free fall: 1.0 m gives 4.429 m/s (standards, section 8.3); half a sine wave of length T that turns v into
    # -r v peaks at pi v (1 + r) / (2 T) (textbook of mechanics; from memory).
    ready.do(at(1), deeds.Drop(probe="linear-6", height_m=1))
    ready.do(at(2), deeds.Drop(probe="linear-1", height_m=1))
    ((when, peak),) = ready.pressed[SensorId("cart-6/shock-linear")]
    assert when == at(1)
    assert isinstance(peak, float)
    assert peak == pytest.approx(pi * 4.429 * (1 + FALL.rebound_share) / (2 * FALL.impact_seconds), rel=1e-3)
    ready.do(at(3), deeds.Inspect(probe="linear-6"))
    assert ready.probes["linear-6"].knocks == [Knock(at(1), 1)]
    assert [e.probe for e in ready.told if isinstance(e, Inspected)] == ["linear-6"]


def test_a_claim_waits_for_the_soak_that_the_engine_tells_of_and_is_made_once(ready: Ward, at: At) -> None:
    ready.do(at(1), deeds.OpenLid(basin="basin-1"))
    ready.do(
        at(2),
        deeds.Bring(probe="linear-1", place=Place.BASIN, thing="basin-1", read=False, claimed_after_seconds=100),
    )
    ready.do(at(3), deeds.CloseLid(basin="basin-1"))
    ready.do(at(500), deeds.OpenLid(basin="basin-1"))
    ready.do(at(510), deeds.Bring(probe="linear-1", place=Place.IN_HANDS))
    other = UnclaimedSoak("s1", "basin-2", at(3), at(500), Outcome.EXPOSURE_MET, at(9000))
    earlier = UnclaimedSoak("s2", "basin-1", at(-900), at(0), Outcome.EXPOSURE_MET, at(9000))
    soak = UnclaimedSoak("s3", "basin-1", at(3), at(500), Outcome.EXPOSURE_MET, at(9000))
    assert ready.claims.made([other, earlier, soak], "technician", at(609)) == []
    assert ready.claims.made([other, earlier], "technician", at(611)) == []
    (claim,) = ready.claims.made([other, earlier, soak], "technician", at(612))
    assert isinstance(claim, Claim)
    assert (claim.probe, claim.soak, claim.measured, claim.arrived) == ("linear-1", "s3", at(3), at(612))
    assert ready.claims.made([soak], "technician", at(613)) == []


# ---- carts, devices -------------------------------------------------------------------------------------------------


def test_a_wipe_down_is_told_with_the_button_or_entered_where_there_is_none(ready: Ward, at: At) -> None:
    ready.do(at(1), deeds.WipeDown(cart="cart-1"))
    ready.do(at(2), deeds.WipeDown(cart="cart-8", told_after_seconds=3))
    assert ready.pressed[SensorId("cart-1/wiped")][-1] == (at(1), True)
    assert [(e.cart, e.arrived) for e in ready.told if isinstance(e, WipedDown)][-1] == ("cart-8", at(5))
    assert ready.carts["cart-8"].wiped[-1] == at(2)


def test_a_cart_rolls_halts_is_bumped_and_plugged(ready: Ward, at: At) -> None:
    cart = ready.carts["cart-1"]
    ready.do(at(1), deeds.Mains(cart="cart-1", plugged_in=False))
    ready.do(at(2), deeds.Roll(cart="cart-1"))
    ready.do(at(9), deeds.Halt(cart="cart-1"))
    ready.do(at(10), deeds.Bump(cart="cart-1", mps2=4))
    assert [s.value for s in cart.rolling.stretches(at(0), at(20))] == [False, True, False]
    assert (cart.plugged_in.newest, cart.jolts) == (False, [Jolt(at(10), 4, ready.figures.bump_seconds)])


def test_power_and_network_of_one_device_or_of_all(ready: Ward, at: At) -> None:
    ready.do(at(1), deeds.Power(thing="cart-1", on=False))
    assert [name for name, device in ready.devices.items() if not device.powered.newest] == ["cart-1"]
    ready.do(at(2), deeds.Network(thing="", up=False))
    assert not any(device.network.newest for device in ready.devices.values())
    ready.do(at(3), deeds.Defect(sensor=SensorId("cart-1/hook-linear"), how="stuck"))
    assert ready.ailments[SensorId("cart-1/hook-linear")].newest == Ailment("stuck", 0)
    ready.do(at(4), deeds.Defect(sensor=SensorId("cart-1/hook-linear"), how="sound"))
    assert ready.ailments[SensorId("cart-1/hook-linear")].newest is None


@pytest.mark.parametrize(
    ("deed", "said"),
    [
        (deeds.OpenLid(basin="basin-9"), "there is no basin 'basin-9'; perhaps"),
        (deeds.Roll(cart="kart-1"), "there is no cart 'kart-1'; perhaps"),
        (deeds.TakeDown(cart="cart-1", cord="lineal"), "there is no cord of cart 'cart-1' 'lineal'; perhaps 'linear'"),
        (deeds.Inspect(probe="x"), "there is no probe 'x'; expected one of curved-1"),
        (deeds.Spill(station="trauma"), "there is no station 'trauma'; perhaps 'trauma-bay-sink' is meant"),
        (deeds.Power(thing="gateway", on=False), "there is no device 'gateway'"),
        (deeds.Defect(sensor=SensorId("basin-1/lit"), how="stuck"), "there is no sensor 'basin-1/lit'; perhaps"),
        (deeds.Bring(probe="linear-1", place=Place.CABINET, thing="x"), "there is no cabinet 'x'"),
    ],
)
def test_what_is_not_there_is_named_with_what_may_be_meant(ready: Ward, at: At, deed: Deed, said: str) -> None:
    assert said in refusal(ready, at(1), deed)


def test_a_button_that_a_cart_does_not_have_cannot_be_pressed(
    site: Site, labels: Mapping[str, Label], epoch: Micros, at: At
) -> None:
    ward = Ward(site.model_copy(update={"sensor": ()}), labels, epoch, Chance(1))
    ward.do(at(1), deeds.TakeDown(cart="cart-1", cord="linear"))
    said = refusal(ward, at(2), deeds.Touch(probe="linear-1", surface=Surface.SKIN, marked="button"))
    assert said == "cart 'cart-1' has no button for contacts; expected marked = 'entry' or 'not'"
    assert ward.probes["linear-1"].contacts == []


def test_an_empty_basin_has_nothing_to_dip_a_strip_into(ward: Ward, at: At) -> None:
    assert refusal(ward, at(1), deeds.ReadStrip(basin="basin-1")) == "basin 'basin-1' is empty; do 'pour' first"


def test_what_was_cannot_be_changed(ready: Ward, at: At) -> None:
    ready.do(at(10), deeds.Roll(cart="cart-1"))
    said = refusal(ready, at(9.5), deeds.Halt(cart="cart-1"))
    assert said == "'halt' comes 0.5 s before what was done last; expected: not before it"


def test_a_deed_that_changes_nothing_is_kept(ready: Ward, at: At) -> None:
    deed = deeds.CloseLid(basin="basin-1")
    ready.do(at(1), deed)
    assert ready.log[-1] == (at(1), deed)
    assert ready.basins["basin-1"].lid_closed.changes(at(0), at(2)) == []


def test_what_a_probe_is_vouched_for_at_first_is_entered(ready: Ward, epoch: Micros) -> None:
    assert {e.probe for e in ready.told if isinstance(e, Vouch) and e.arrived == epoch} == set(ready.probes)


def test_a_ward_forgets_what_was_and_knows_how_things_are(ready: Ward, at: At) -> None:
    ready.do(at(1), deeds.OpenLid(basin="basin-1"))
    ready.do(at(2), deeds.Pour(basin="basin-1", celsius=30))
    for second in range(3, 1000):
        ready.do(at(second), deeds.Bump(cart="cart-1"))
    before = ready.basins["basin-1"].heat.celsius(at(998))
    ready.forget(at(998))
    assert [jolt.at for jolt in ready.carts["cart-1"].jolts] == [at(997), at(998), at(999)]
    assert [when for when, _ in ready.log] == [at(998), at(999)]
    assert ready.told == []
    assert not ready.basins["basin-1"].lid_closed.at(at(998))
    assert ready.basins["basin-1"].heat.celsius(at(998)) == pytest.approx(before)


def test_every_kind_of_deed_can_be_done() -> None:
    named = DEED.json_schema()["discriminator"]["mapping"]
    assert {kind.model_fields["do"].default for kind in _DOES} == set(named)


def test_a_probe_is_laid_down_only_from_hands(ready: Ward, at: At) -> None:
    said = refusal(ready, at(1), deeds.LayDown(probe="linear-1"))
    assert said == "probe 'linear-1' is not in hands but at: hook; do 'take-down' or 'bring' first"
    ready.do(at(2), deeds.TakeDown(cart="cart-1", cord="linear"))
    ready.do(at(3), deeds.LayDown(probe="linear-1"))
    assert ready.probes["linear-1"].laid_down == [at(3)]


def test_a_gel_bottle_is_entered_with_the_day_on_which_it_was_opened(ready: Ward, at: At) -> None:
    ready.do(at(1), deeds.OpenGel(cart="cart-1", days_ago=30, told_after_seconds=9))
    told = ready.told_between(at(1), at(10))
    assert [entry.kind for entry in told] == ["gel opened"]
    assert isinstance(told[0], GelOpened)
    assert told[0].opened == datetime.fromtimestamp(at(1) / 1e6, ready.site.site.zone).date() - timedelta(days=30)
    assert ready.carts["cart-1"].gel_opened.newest == at(1 - 30 * 86_400)


def test_a_solution_is_good_to_the_end_of_the_day_that_is_printed_on_its_bottle(ready: Ward, at: At) -> None:
    ready.do(at(1), deeds.OpenLid(basin="basin-1"))
    ready.do(at(2), deeds.Pour(basin="basin-1", expired_days=0))
    liquid = ready.basins["basin-1"].liquid.newest
    assert liquid is not None
    today = datetime.fromtimestamp(at(2) / 1e6, ready.site.site.zone)
    midnight = datetime.combine(today.date() + timedelta(days=1), time(), today.tzinfo)
    assert liquid.expires == midnight.timestamp() * 1e6
