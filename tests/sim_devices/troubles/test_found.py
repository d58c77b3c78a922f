from collections.abc import Mapping
from pathlib import Path

import rules
from rules.board import Subject, SubjectKind
from rules.ruleset import load_book
from rules.site import Label
from sim_devices.troubles.episode import Trouble, concerned
from sim_devices.troubles.found import ABOUT_SINKSIDE_ITSELF, FOR
from tests.sim_devices.small_ward import HOUR, SmallWard, site_of

RULES = Path(rules.__file__).parent


def test_each_standard_rule_is_for_a_trouble_of_the_ward_or_about_sinkside_itself() -> None:
    texts = ((RULES / name).read_text(encoding="utf-8") for name in ("standard.toml", "labels.csv"))
    book = load_book(site_of(), *texts)
    assert sorted([*FOR, *ABOUT_SINKSIDE_ITSELF]) == sorted(book.rules)


def test_each_trouble_has_a_rule_that_is_for_it() -> None:
    assert {trouble for troubles in FOR.values() for trouble in troubles} == set(Trouble)


def test_a_ward_in_which_all_goes_well_has_no_troubles(labels: Mapping[str, Label]) -> None:
    ward = SmallWard(labels).exam(10, 60, "mucosa").do(70, "treat", probe="a-1", steps=["washed", "dried"])
    ward.soak(100, 820).do(825, "close-lid", basin="basin-1")
    ward.do(900, "treat", probe="a-1", steps=["rinsed", "dried"], times=3)
    ward.do(910, "hang-up", cart="cart-1", cord="a").do(1000, "mains", cart="cart-1", plugged_in=False)
    ward.do(1010, "roll", cart="cart-1").do(1100, "halt", cart="cart-1")
    assert ward.all(HOUR) == []


def test_an_alert_about_a_soak_concerns_its_basin_and_one_about_a_gas_sensor_its_room() -> None:
    assert concerned(Subject(SubjectKind.SOAK, "basin-1.12")) == Subject(SubjectKind.BASIN, "basin-1")
    assert concerned(Subject(SubjectKind.ROOM, "room/vapour")) == Subject(SubjectKind.ROOM, "room")
    assert concerned(Subject(SubjectKind.CART, "cart-1")) == Subject(SubjectKind.CART, "cart-1")


def test_episodes_are_told_by_start(labels: Mapping[str, Label]) -> None:
    ward = SmallWard(labels).do(10, "spend", basin="basin-2").do(20, "drop", probe="a-1").do(30, "drop", probe="b-1")
    found = ward.all(HOUR)
    assert [e.start for e in found] == sorted(e.start for e in found)
    assert [e.trouble for e in found] == [Trouble.SOLUTION_SPENT, Trouble.KNOCKED, Trouble.KNOCKED]
