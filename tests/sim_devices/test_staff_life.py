import os
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from random import Random

import pytest

from rules.commands import Claim, Contact, Entry, GelOpened, Placed, Pour, StepsDone, StripRead
from rules.part import MistakesError
from rules.probe_words import Place, Step, Surface
from rules.readings import Micros
from rules.site import Label, Site
from sim_devices.chance import Chance
from sim_devices.staff.arrival_habits import ARRIVALS
from sim_devices.staff.exam_habits import EXAMS
from sim_devices.staff.habits import USUAL, Department, Habits, demo_pace, shared_out
from sim_devices.staff.life import Life
from sim_devices.troubles.episode import Trouble
from sim_devices.troubles.found import episodes
from sim_devices.ward import deeds
from sim_devices.ward.state import Stay
from sim_devices.ward.ward import Ward

At = Callable[[float], Micros]

DAY_SECONDS = 86_400
SIX_HOURS = """
import tomllib
from hashlib import sha256
from pathlib import Path
import rules
from rules.labels import read_labels
from rules.readings import Micros
from rules.site import Site
from sim_devices.chance import Chance
from sim_devices.running.hospital import hospital_text
from sim_devices.staff.habits import demo_pace
from sim_devices.staff.life import Life
from sim_devices.ward.deeds import DEED
from sim_devices.ward.ward import Ward
site = Site.model_validate(tomllib.loads(hospital_text(8, 4)))
labels = read_labels((Path(rules.__file__).parent / "labels.csv").read_text(encoding="utf-8"))
epoch = Micros(1_790_000_000_000_000)
for seed in (3, 4):
    ward = Ward(site, labels, epoch, Chance(1))
    Life(ward, demo_pace(site), Chance(seed)).live(Micros(epoch + 21_600_000_000))
    lines = b"".join(b"%d %s\\n" % (at, DEED.dump_json(deed)) for at, deed in ward.log)
    print(len(ward.log), sha256(lines).hexdigest())
"""


@pytest.fixture(scope="module")
def busy(site: Site, labels: Mapping[str, Label], epoch: Micros) -> tuple[Ward, Life]:
    """A ward that was lived in for a day at the pace of the demo."""
    ward = Ward(site, labels, epoch, Chance(1))
    life = Life(ward, demo_pace(site), Chance(5))
    life.live(Micros(epoch + DAY_SECONDS * 1_000_000))
    return ward, life


def test_nobody_does_two_things_at_once_at_a_cart(busy: tuple[Ward, Life]) -> None:
    # A button pressed in the very instant in which a hook closes and bounces could not be told which use it is of.
    ward = busy[0]
    hung = {(at, deed.cart) for at, deed in ward.log if isinstance(deed, deeds.HangUp)}
    laid = {(at, ward.homes[deed.probe].cart) for at, deed in ward.log if isinstance(deed, deeds.LayDown)}
    taken = {(at, deed.cart) for at, deed in ward.log if isinstance(deed, deeds.TakeDown | deeds.Roll)}
    assert len(hung) > 50
    assert hung & laid == set()
    assert hung & taken == set()


def test_a_cart_that_halted_is_settled_before_a_cord_is_taken_down_or_the_plug_put_in(
    busy: tuple[Ward, Life], site: Site
) -> None:
    # Brakes come first: a sensor that holds a roll for some seconds would tell of a cord down on a rolling cart.
    ward, ways, halted, waits = busy[0], demo_pace(site).ways, dict[str, Micros](), list[float]()
    for at, deed in ward.log:
        if isinstance(deed, deeds.Halt):
            halted[deed.cart] = at
        elif isinstance(deed, deeds.TakeDown | deeds.Mains) and (since := halted.pop(deed.cart, None)) is not None:
            waits.append((at - since) / 1_000_000)
    assert len(waits) > 500
    assert min(waits) >= ways.least_settle_seconds
    longest = ways.most_settle_seconds + ways.plug_seconds
    assert sum(wait <= longest for wait in waits) > 0.9 * len(waits)  # at some beds nobody plugs it in


def living(hash_seed: str) -> "subprocess.Popen[str]":
    """A new process that tells how many deeds six hours at the demo's pace have, and their digest, by seed."""
    root = Path(__file__).parents[2]
    env = {**os.environ, "PYTHONHASHSEED": hash_seed, "PYTHONPATH": str(root)}
    command = [sys.executable, "-c", SIX_HOURS]
    return subprocess.Popen(command, env=env, stdout=subprocess.PIPE, text=True, cwd=root)  # noqa: S603 - our own


def test_the_same_seed_gives_the_same_list_of_deeds_byte_for_byte_in_any_process() -> None:
    with living("1") as one, living("2") as other:
        first, again = (process.communicate(timeout=100)[0].splitlines() for process in (one, other))
    assert first == again
    assert first[0] != first[1]
    assert int(first[0].split()[0]) > 1000


def test_a_life_lived_in_pieces_is_the_same_life(site: Site, labels: Mapping[str, Label], epoch: Micros) -> None:
    logs, entries = [], []
    for pieces in (1, 77):
        ward = Ward(site, labels, epoch, Chance(1))
        life = Life(ward, demo_pace(site), Chance(5))
        told, after = list[Entry](), Micros(epoch - 1)
        for piece in range(1, pieces + 1):
            until = Micros(epoch + 7_200_000_000 * piece // pieces)
            life.live(Micros(until + 1))
            told += ward.told_between(after, until)
            after = until
        logs.append(ward.log)
        entries.append(told)
    assert logs[0] == logs[1]
    assert entries[0] == entries[1]
    assert len(entries[0]) > 50


def test_people_left_to_themselves_never_try_what_cannot_be_done(busy: tuple[Ward, Life]) -> None:
    assert busy[1].refused == 0
    assert len(busy[1].visits()) > 500


def test_every_kind_of_work_is_done_and_told(busy: tuple[Ward, Life]) -> None:
    ward, _ = busy
    done = Counter(type(deed) for _, deed in ward.log)
    for kind in (deeds.Roll, deeds.Mains, deeds.Touch, deeds.Treat, deeds.OpenLid, deeds.ReadStrip, deeds.WipeDown):
        assert done[kind] > 10, kind
    told = Counter(type(entry) for entry in ward.told)
    for entry in (Contact, StepsDone, StripRead, Pour, Placed):
        assert told[entry] > 3, entry
    assert told[GelOpened] >= len(ward.carts)


def test_nothing_is_entered_before_it_was_done(busy: tuple[Ward, Life]) -> None:
    ward, _ = busy
    assert len(ward.told) > 500
    assert all(entry.arrived >= entry.happened for entry in ward.told)


def test_hooks_and_basins_hold_just_the_probes_that_are_there(busy: tuple[Ward, Life]) -> None:
    ward, _ = busy
    chance = Random(1)  # noqa: S311 - a sample, no secret
    for _ in range(300):
        at = Micros(ward.epoch + chance.randrange(DAY_SECONDS * 1_000_000))
        stays = {probe: state.stay.at(at) for probe, state in ward.probes.items()}
        for probe, home in ward.homes.items():
            on_hook = ward.carts[home.cart].on_hook[home.cord].at(at)
            assert on_hook is (stays[probe] == Stay(Place.HOOK, home.cart)), probe
        for name, basin in ward.basins.items():
            assert sorted(basin.inside.at(at)) == sorted(p for p, s in stays.items() if s.thing == name)


def test_the_button_is_pressed_only_where_it_is_plain_which_probe_is_meant(busy: tuple[Ward, Life]) -> None:
    # Nobody can tell which one a button means while two cords are off their hooks (README.md, "Following the probes").
    ward, _ = busy
    marked = [(at, deed) for at, deed in ward.log if isinstance(deed, deeds.Touch) and deed.marked == "button"]
    assert len(marked) > 200
    for at, deed in marked:
        home = ward.homes[deed.probe]
        off = [cord for cord, hook in ward.carts[home.cart].on_hook.items() if not hook.at(at)]
        assert off == [home.cord]


def test_people_who_heed_every_contact_and_are_never_hasty_use_no_soiled_probe(
    site: Site, labels: Mapping[str, Label], epoch: Micros, at: At
) -> None:
    (department,) = demo_pace(site).departments
    careful = department.examines.model_copy(update={"unheeded_share": 0.0, "hasty_weight": 0.0})
    departments = (department.model_copy(update={"exams": careful}),)
    ward = Ward(site, labels, epoch, Chance(1))
    Life(ward, demo_pace(site).model_copy(update={"departments": departments}), Chance(5)).live(at(DAY_SECONDS))
    soiled: set[str] = set()
    soaked = 0
    for _, deed in ward.log:
        if isinstance(deed, deeds.Touch):
            assert deed.probe not in soiled
            if deed.surface is not Surface.SKIN:
                soiled.add(deed.probe)
        elif isinstance(deed, deeds.Bring) and deed.place is Place.BASIN:
            soaked += deed.probe in soiled
            soiled.discard(deed.probe)
    assert soaked > 30


def test_a_soaked_probe_was_put_into_an_open_basin_and_stays_the_time_of_the_label_with_few_exceptions(
    busy: tuple[Ward, Life],
) -> None:
    ward, _ = busy
    put_in: dict[str, tuple[Micros, str]] = {}
    short = whole = 0
    for at, deed in ward.log:
        if not isinstance(deed, deeds.Bring):
            continue
        if deed.place is Place.BASIN:
            put_in[deed.probe] = (at, deed.thing)
        elif deed.probe in put_in:
            since, basin = put_in.pop(deed.probe)
            is_whole = at - since >= ward.labels[basin].min_minutes * 60_000_000
            whole, short = whole + is_whole, short + (not is_whole)
    assert whole > 30
    assert short < whole / 5


def test_few_cords_hang_down_while_a_cart_rolls_as_probes_on_their_way_are_none(busy: tuple[Ward, Life]) -> None:
    ward, _ = busy
    found = episodes(ward, ward.epoch, Micros(ward.epoch + DAY_SECONDS * 1_000_000))
    rolls = sum(isinstance(deed, deeds.Roll) for _, deed in ward.log)
    down = sum(episode.trouble is Trouble.CORD_DOWN_ROLLING for episode in found)
    # Each contact leaves a cord down in 0.8 % of all cases, and each contact has a way back: of 1200 some 10.
    assert 0 < down < rolls / 40


def test_hand_work_in_between_stops_nobody(site: Site, labels: Mapping[str, Label], epoch: Micros, at: At) -> None:
    ward = Ward(site, labels, epoch, Chance(1))
    life = Life(ward, demo_pace(site), Chance(5))
    for hour in range(1, 9):
        life.live(at(3600 * hour))
        for basin in ward.basins:
            ward.do(at(3600 * hour), deeds.CloseLid(basin=basin))
        for probe, state in ward.probes.items():
            if state.stay.newest.place is Place.IN_HANDS:
                ward.do(at(3600 * hour), deeds.Bring(probe=probe, place=Place.HOOK))
    assert life.refused > 0
    last = [when for when, deed in ward.log if isinstance(deed, deeds.Touch)][-1]
    assert last > at(3600 * 7.9)


# ---- who belongs where ----------------------------------------------------------------------------------------------


def test_a_site_of_which_nobody_tells_the_departments_is_shared_out(site: Site) -> None:
    departments = shared_out(site)
    assert [cart for department in departments for cart in department.carts] == [cart.id for cart in site.cart]
    assert [department.kind for department in departments] == ["emergency", "ward"]
    assert [department.stations for department in departments] == [("reprocessing-room",), ("trauma-bay-sink",)]
    assert USUAL.departments_of(site) == departments


def test_a_department_with_a_cart_that_is_not_there_is_refused(site: Site) -> None:
    habits = Habits(departments=(Department(id="all", carts=("cart-1", "cart-l")),))
    with pytest.raises(MistakesError) as refused:
        habits.departments_of(site)
    assert refused.value.problems[0].startswith("department 'all', key 'carts': the site has no 'cart-l'; perhaps")


def test_a_figure_that_a_department_leaves_out_is_as_usual_for_its_kind() -> None:
    told = {"id": "w", "kind": "ward", "carts": ["cart-1"], "exams": {"exam_minutes": 20.0}, "arrivals": {}}
    department = Department.model_validate(told)
    assert department.examines == EXAMS["ward"].model_copy(update={"exam_minutes": 20.0})
    assert department.comes == ARRIVALS["ward"]


def test_every_figure_of_people_is_told_with_its_unit_and_source() -> None:
    groups = [USUAL.ways, USUAL.sinks, USUAL.soaks, USUAL.solutions, USUAL.rooms, USUAL.carts]
    department = shared_out_one()
    told = [figure for group in (*groups, department.comes, department.examines) for figure in group.told()]
    assert len({figure.name for figure in told}) > 80
    assert all(figure.text and figure.source for figure in told)
    sourced = {figure.name: figure for figure in told if "Van Kalsbeek" in figure.source}
    assert sourced["thorough_share"].value == pytest.approx(0.89)


def shared_out_one() -> Department:
    return Department(id="all", carts=("cart-1",))


def claims(ward: Ward) -> Iterator[Claim]:
    return (entry for entry in ward.told if isinstance(entry, Claim))


def test_a_claim_is_never_told_before_the_engine_has_told_of_the_soak(busy: tuple[Ward, Life]) -> None:
    ward, _ = busy
    assert not list(claims(ward))
    assert all(claiming.due > claiming.taken_out > claiming.put_in for claiming in ward.claims.waiting)
    assert ward.claims.waiting


def test_cleaning_at_the_bed_follows_the_policy_of_the_site(busy: tuple[Ward, Life]) -> None:
    ward, _ = busy
    steps = {deed.steps for _, deed in ward.log if isinstance(deed, deeds.Treat) and Step.COVER_OFF in deed.steps}
    assert steps == {(Step.COVER_OFF, Step.WASHED, Step.DRIED), (Step.COVER_OFF,)}
