"""First steps of a new site: what is to be published, and what is still to be entered."""

import asyncio
import json
import subprocess
import threading
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from dashboard.premises import Premises
from dashboard.reached import Reached, Reaching
from dashboard.sensor_pages import SetUpPage
from dashboard.set_up import EXAMPLE_TIME, SetUpView, set_up_view
from gateway.hub import Feed
from gateway.journal import Journal
from gateway.people import MACHINE, Access, Draft, People
from gateway.schema import DATABASE
from gateway.wire import Wire
from rules.alert_words import Confirmation, PageEnd
from rules.call_picture import RolePicture
from rules.engine import Engine
from rules.picture import Picture, SensorPicture
from rules.readings import KINDS, Micros, SensorId, SensorKind
from rules.site import Site
from tests.dashboard.pictures import NOON
from tests.gateway.mill_lane import NOW, NOW_SECONDS
from tests.gateway.pages import asked, commit, told
from tests.gateway.people.staff import CHEAP, HERE, PASSWORD, Watch
from tests.rules.feeder import book_of, department

BROKER = "mqtt://broker.example:1883"
EVERY_KIND = [kind for kind in SensorKind if kind not in {SensorKind.LINK, SensorKind.STORE}]
WITH_EVERY_KIND = department(
    sensor=[{"thing": "basin-1", "name": f"a-{kind}", "kind": kind.value} for kind in EVERY_KIND],
    solution={"recorded": True},
    reprocessing={"tracked": True},
    probe=[{"id": "linear-1", "name": "Linear probe 1", "cart": "cart-1", "cord": "a"}],
)


def new(site: Site = WITH_EVERY_KIND) -> Picture:
    """What the engine shows of a site before anybody has spoken."""
    return Engine(site, book_of(site)).picture()


def heard(picture: Picture, *but: str) -> Picture:
    """The same once every sensor has spoken but some."""
    return replace(picture, sensors=tuple(s if s.id in but else _spoken(s) for s in picture.sensors))


def _spoken(sensor: SensorPicture) -> SensorPicture:
    return replace(sensor, value=True, measured=NOON, arrived=NOON, health="ok")


def view(picture: Picture, site: Site = WITH_EVERY_KIND, reached: Reached | None = None) -> SetUpView:
    return set_up_view(picture, Premises.of(site, book_of(site), BROKER), reached or Reached())


def step(of: SetUpView, words: str) -> Any:
    return next(one for one in of.steps if words in one.title)


@pytest.mark.parametrize("kind", EVERY_KIND)
def test_the_example_of_each_kind_is_one_that_the_gateway_takes(kind: SensorKind) -> None:
    said = view(new())
    example = next(one for one in (*said.kinds, *said.buttons) if one.kind == kind.value).example
    payload = example.message.replace(EXAMPLE_TIME, str(NOW_SECONDS)).encode()
    (reading,), rejections = Wire(WITH_EVERY_KIND).decode(example.topic, payload, NOW)
    assert (example.topic.endswith(reading.sensor), rejections) == (True, ())


@pytest.mark.parametrize("kind", EVERY_KIND)
def test_the_command_publishes_just_that_when_a_shell_runs_it(kind: SensorKind) -> None:
    said = view(new())
    example = next(one for one in (*said.kinds, *said.buttons) if one.kind == kind.value).example
    program = f"mosquitto_pub() {{ printf '%s\\n' \"$@\"; }}\n{example.command}\n"
    printed = subprocess.run(["/bin/sh"], input=program, capture_output=True, text=True, check=True).stdout
    _, address, _, quality, _, message = printed.splitlines()
    assert (address, quality) == (f"{BROKER}/{example.topic}", "1")
    (told,) = json.loads(message)
    (meant,) = json.loads(example.message.replace(EXAMPLE_TIME, "0"))
    assert told | {"t": 0} == meant
    assert told["t"] > 1_700_000_000


def test_a_kind_is_named_until_all_of_it_is_heard() -> None:
    some = view(heard(new(), "cart-1/hook-b"))
    assert [(one.kind, one.heard, one.silent) for one in some.kinds] == [("hook", "2 of 3 heard", ("cart-1/hook-b",))]
    assert (view(new()).all_heard, some.all_heard, view(heard(new())).all_heard) == (False, False, True)
    assert view(heard(new())).kinds == ()


def test_a_button_that_nobody_pressed_keeps_no_site_from_being_heard() -> None:
    said = view(heard(new(), "basin-1/a-contact"))
    assert said.all_heard
    assert [one.kind for one in said.buttons] == ["contact"]


def test_of_another_makers_sensor_the_mapping_is_told_and_no_message_of_ours() -> None:
    makers = department(
        sensor=[
            {
                "thing": "sink",
                "topic": "house/sink",
                "time": "/at",
                "name": "warm",
                "value": "/warm",
                "kind": "temperature",
                "unit": "degF",
            }
        ]
    )
    (kind,) = view(heard(new(makers), "sink/warm"), makers).kinds
    assert (kind.silent, kind.example.topic, kind.example.message) == (("sink/warm",), "house/sink", "")
    assert kind.example.makers == "JSON as its maker sends it, with the value at /warm, in degF, its time at /at"
    both = next(one for one in view(new(makers), makers).kinds if one.kind == "temperature")
    assert both.example.topic.endswith("/basin-1/temperature")


def test_what_is_to_be_entered_is_counted_as_the_engine_knows_it() -> None:
    said = view(new())
    assert step(said, "solution").how_far == "0 of 1 basin entered"
    assert step(said, "strip").how_far == "0 of 1 basin with a strip of its solution"
    assert step(said, "probe").how_far == "0 of 1 probe with a history"
    assert step(said, "told of alerts").how_far == "Nobody is paged"
    assert not any(one.is_done for one in said.steps if one.how_far)


def test_a_site_that_asks_for_no_record_is_not_asked_for_one() -> None:
    site = department()
    asked = [one.title for one in view(new(site), site).steps]
    assert asked == ["Say who is told of alerts", "Let people and walls in"]


def test_whoever_lets_people_in_is_led_to_where_it_is_done() -> None:
    said = view(new())
    assert step(said, "people and walls").href == "/people"


def test_a_role_with_nobody_on_duty_is_named() -> None:
    roles = (RolePicture("tech", "Reprocessing tech", (), None), RolePicture("nurse", "Charge nurse", ("Pager",), None))
    said = view(replace(new(), roles=roles))
    assert step(said, "told of alerts").how_far == "Nobody is on duty as Reprocessing tech now"


def test_once_nothing_is_left_the_site_is_set_up() -> None:
    site = department()
    roles = (RolePicture("nurse", "Charge nurse", ("Pager",), None),)
    everything = replace(heard(new(site)), roles=roles)
    everybody = Reached(people=2, signed_in=2, displays=1, seen=1)
    assert view(everything, site, everybody).is_done
    assert not view(replace(everything, roles=()), site, everybody).is_done
    assert not view(everything, site, replace(everybody, signed_in=1)).is_done
    assert not view(everything, site, replace(everybody, seen=0)).is_done
    assert not view(everything, site, replace(everybody, displays=0, seen=0)).is_done


def test_who_came_in_and_what_carried_a_page_is_counted() -> None:
    premises = replace(Premises(), ways=frozenset({("nurse", "pager"), ("nurse", "mail"), ("tech", "pager")}))
    reached = Reached(
        people=3,
        signed_in=2,
        displays=1,
        taken=frozenset({("nurse", "pager"), ("tech", "pager"), ("who left", "pager")}),
        arrived=frozenset({("tech", "pager")}),
    )
    picture = replace(new(), roles=(RolePicture("nurse", "Charge nurse", ("Pager",), None),))
    said = set_up_view(picture, premises, reached)
    people, ways = step(said, "people and walls"), step(said, "ways to people")
    assert people.how_far == "2 of 3 people signed in once, and 0 of 1 display seen"
    assert ways.how_far == "2 of 3 ways took a page, and 1 told that it arrived"
    assert not people.is_done
    assert not ways.is_done
    assert step(set_up_view(picture, premises, replace(reached, taken=premises.ways)), "ways to people").is_done


def test_how_far_it_is_comes_from_who_really_signed_in_and_what_became_of_pages(tmp_path: Path) -> None:
    with closing(Journal.open(tmp_path)) as journal, People(tmp_path, Watch().now, passwords=CHEAP) as people:
        office = people.administer(MACHINE)
        people.redeem(office.add(Draft("mara", "Mara", Access.RESPONDER)).secret, PASSWORD, HERE)
        office.add(Draft("noor", "Noor", Access.RESPONDER))
        people.visitor(office.add_display("Wall").secret)
        office.add_display("Other wall")
        commit(journal, asked("page-1"), asked("page-2", channel="push"), asked("page-3", contact="phone-2"))
        outcomes = {"page-1": Confirmation.ACCEPTED, "page-2": Confirmation.READ, "page-3": PageEnd.REFUSED}
        commit(journal, said=tuple(told(page, outcome) for page, outcome in outcomes.items()))
        reaching = Reaching(people, tmp_path / DATABASE, Watch().now)
        reaching.look()
    found = reaching.found
    assert (found.people, found.signed_in, found.displays, found.seen) == (2, 1, 2, 1)
    assert found.taken == {("phone-1", "mail"), ("phone-1", "push")}
    assert found.arrived == {("phone-1", "push")}


def test_to_look_who_came_in_holds_up_no_stream_and_a_journal_that_cannot_be_read_ends_none(tmp_path: Path) -> None:
    looked: list[int] = []

    def now() -> Micros:
        looked.append(threading.get_ident())
        return NOON

    site = department()
    (tmp_path / DATABASE).write_bytes(b"no journal" * 100)
    with People(tmp_path, Watch().now, passwords=CHEAP) as people:
        page = SetUpPage(
            "Here",
            ZoneInfo("UTC"),
            Premises.of(site, book_of(site), BROKER),
            Reaching(people, tmp_path / DATABASE, now),
        )
        asyncio.run(page.look())
    assert "0 of 0 people signed in once" in page.html(Feed(new(site)), NOON)
    assert looked
    assert threading.get_ident() not in looked


def test_few_of_many_that_are_silent_are_named() -> None:
    one = next(s for s in new().sensors if s.kind is SensorKind.LID)
    many = tuple(replace(one, id=SensorId(f"basin-{n}/lid")) for n in range(100))
    said = view(replace(new(), sensors=many)).kinds[0]
    assert (len(said.silent), said.more) == (60, 40)
    assert KINDS[SensorKind.LID].momentary is False
