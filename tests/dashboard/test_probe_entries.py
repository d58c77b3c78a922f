"""The probes' pages: what they show, and what they take."""

import re
from collections.abc import Sequence
from dataclasses import replace

import pytest
from httpx import Client

from gateway.hub import Feed, Hub
from rules.commands import Claim, Contact, Inspected, Placed, StepsDone, Vouch
from rules.events import Event
from rules.probe_words import Level, Place, Step, Surface
from rules.readings import SECOND
from tests.dashboard.pictures import basin, calm, cart, picture
from tests.dashboard.probe_forms import (
    AT,
    CLAIM,
    CONTACT,
    INSPECTED,
    STEPS,
    STERILISED,
    VOUCH,
    follow_probes,
    send,
    share,
    soaked,
    stands,
    token,
    touched,
    words,
)
from tests.dashboard.probe_pictures import owing, probe, touch, unclaimed, with_probes
from tests.dashboard.serving import Desk

HOSTILE = '<img src=x onerror="alert(1)">'
NOT_OURS = "This site follows no such probe"


@pytest.fixture(autouse=True)
def followed(hub: Hub) -> None:
    follow_probes(hub)


# ---- what is shown ---------------------------------------------------------------------------------------------------


def test_the_live_page_the_basins_and_the_list_lead_to_each_probe(client: Client) -> None:
    assert all('href="/probes"' in client.get(path).text for path in ("/live", "/basins", "/basin/basin-1"))
    listed = client.get("/probes").text
    assert re.findall(r'href="(/probe/[^"]+)"', listed) == ["/probe/linear-1", "/probe/convex-1"]


def test_a_scanned_probe_opens_at_once(client: Client) -> None:
    answer = client.get("/probes", params={"find": "taglinear1"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/probe/linear-1")


def test_a_search_that_finds_no_single_probe_lists_what_matches(client: Client) -> None:
    answer = client.get("/probes", params={"find": "con"})
    assert re.findall(r'href="(/probe/[^"]+)"', answer.text) == ["/probe/convex-1"]
    assert 'data-stream="/stream/probes?find=con"' in answer.text


@pytest.mark.parametrize("hostile", [HOSTILE, "a&b=c\"'", "ü #?/"])
def test_a_hostile_search_is_shown_as_text(client: Client, hostile: str) -> None:
    said = client.get("/probes", params={"find": hostile}).text
    assert "<img" not in said
    assert re.search(r'data-stream="/stream/probes\?find=[A-Za-z0-9%._~/+-]*"', said)


def test_the_cautions_stand_on_the_page(client: Client) -> None:
    said = words(client)
    assert "Wear gloves and eye protection. Wet the probe only up to its immersion line." in said
    assert "The product label, the transducer's instructions and local policy govern." in said
    assert "Never a patient's name" in said


def test_a_site_that_follows_no_probes_changes_nothing_but_a_link(client: Client, hub: Hub) -> None:
    hub.publish(calm())
    assert client.get("/probe/linear-1").status_code == 404


def test_a_probe_that_is_not_there_is_told(client: Client) -> None:
    for answer in (client.get("/probe/elsewhere"), send(client, "steps", STEPS, "elsewhere")):
        assert (answer.status_code, NOT_OURS in answer.json()["error"]) == (404, True)


def test_hostile_texts_are_shown_as_texts(client: Client, hub: Hub) -> None:
    at = hub.latest.picture.at
    contact = touch(at=at, exam=HOSTILE, who=HOSTILE)
    bad = probe(HOSTILE, owing(at=at, contact=contact, why=HOSTILE, vouched_by=HOSTILE, soak=HOSTILE), id="linear-1")
    named = replace(bad, cart_name=HOSTILE, serial=HOSTILE, tag=HOSTILE)
    shown = picture(basin(HOSTILE, at=at), carts=(cart(HOSTILE),), at=at)
    hub.publish(Feed(with_probes(named, shown=shown, soaks=(replace(unclaimed(at=at), soak=HOSTILE, basin=HOSTILE),))))
    for path in ("/probes", "/probe/linear-1"):
        said = client.get(path).text
        assert "<img" not in said
        assert "&lt;img" in said
    refused = client.post("/probe/linear-1/contact", data={"who": HOSTILE * 4, "token": token(client)})
    assert "<img" not in refused.text


# ---- what is taken ---------------------------------------------------------------------------------------------------


def test_a_contact_reaches_the_pump_and_is_confirmed(client: Client, desk: Desk) -> None:
    said = send(client, "contact", CONTACT).json()["said"]
    (entry,) = desk.entered
    assert isinstance(entry, Contact)
    assert (entry.probe, entry.surface, entry.covered, entry.percutaneous) == ("linear-1", Surface.MUCOSA, True, False)
    assert (entry.exam, entry.measured) == ("U-17", entry.arrived)
    assert re.match(
        r"Written down at \d\d:\d\d:\d\d\. Contact: mucosa, with a cover\. It asks for high-level disinfection\. "
        r"It stands so now: to be reprocessed\.$",
        said,
    )


@pytest.mark.parametrize(("told", "covered"), [("yes", True), ("no", False), ("not known", None)])
def test_a_cover_that_nobody_knows_of_is_not_told(client: Client, desk: Desk, told: str, covered: bool | None) -> None:  # noqa: FBT001 - a row of the table
    send(client, "contact", {**CONTACT, "covered": told, "needle": "yes", "exam": " "})
    (entry,) = desk.entered
    assert isinstance(entry, Contact)
    assert (entry.covered, entry.percutaneous, entry.exam) == (covered, True, None)


def test_several_steps_are_entered_in_the_order_of_doing(client: Client, desk: Desk) -> None:
    said = send(client, "steps", {"who": "Ana", "step:dried": "1", "step:rinsed": "1", "times": "3", "ago": "4"})
    (entry,) = desk.entered
    assert isinstance(entry, StepsDone)
    assert (entry.steps, entry.times) == ((Step.RINSED, Step.DRIED), 3)
    assert entry.arrived - entry.measured == 4 * 60 * SECOND
    assert "Done: rinsed 3 times, dried." in said.json()["said"]


def test_how_often_it_was_rinsed_counts_only_where_it_was(client: Client, desk: Desk) -> None:
    send(client, "steps", STEPS)
    (entry,) = desk.entered
    assert isinstance(entry, StepsDone)
    assert (entry.steps, entry.times) == ((Step.COVER_OFF, Step.WASHED), 1)


@pytest.mark.parametrize(
    ("value", "place", "thing", "told"),
    [
        ("basin:basin-2", Place.BASIN, "basin-2", "in Basin 2"),
        ("in_hands:", Place.IN_HANDS, None, "in somebody's hands"),
        ("hook:cart-1", Place.HOOK, "cart-1", "on its hook at Cart 1"),
        ("sink:station-1", Place.SINK, "station-1", "at the sink, Dirty utility"),
        ("cabinet:cabinet-1", Place.CABINET, "cabinet-1", "in Cabinet by the door"),
    ],
)
def test_a_place_reaches_the_pump(
    client: Client, desk: Desk, value: str, place: Place, thing: str | None, told: str
) -> None:
    said = send(client, "placed", {"who": "Ana", "place": value}).json()["said"]
    (entry,) = desk.entered
    assert isinstance(entry, Placed)
    assert (entry.place, entry.thing) == (place, thing)
    assert f"Place: {told}." in said


def test_a_soak_is_claimed_as_of_when_the_probe_was_put_in(client: Client, desk: Desk, hub: Hub) -> None:
    soaked(desk)
    told = desk.engine.picture()
    hub.publish(Feed(replace(hub.latest.picture, unclaimed=told.unclaimed)))
    said = send(client, "claim", {**CLAIM, "soak": told.unclaimed[0].soak}).json()["said"]
    (entry,) = desk.entered
    assert isinstance(entry, Claim)
    assert (entry.role, entry.measured - told.unclaimed[0].start) == ("technician", 2 * 60 * SECOND)
    # CDC/HICPAC 2008, Table 4: 12 min at 20 Cel. Of the soak's 13 min it was in the basin for 11.
    assert re.search(rf"Soak {told.unclaimed[0].soak}, ended \S+: too short\.", said)
    again = send(client, "claim", {**CLAIM, "soak": told.unclaimed[0].soak})
    assert (again.status_code, "cannot be chosen any more" in again.json()["error"]) == (409, True)


def test_a_person_answers_for_a_probe_with_role_and_reason(client: Client, desk: Desk) -> None:
    said = send(client, "vouch", VOUCH).json()["said"]
    (entry,) = desk.entered
    assert isinstance(entry, Vouch)
    assert (entry.role, entry.why) == ("charge nurse", "taken into service")
    assert "Ana answers for it as charge nurse." in said


def test_that_it_was_sterilised_is_kept_with_process_and_load(client: Client, desk: Desk, hub: Hub) -> None:
    washed = owing(Step.WASHED, Step.DRIED, next_step=Step.STERILISED, owes=Level.STERILISATION, at=AT)
    hub.publish(Feed(replace(hub.latest.picture, probes=(probe("Linear 1", washed, id="linear-1"),))))
    said = send(client, "sterilised", STERILISED).json()["said"]
    (entry,) = desk.entered
    assert isinstance(entry, StepsDone)
    assert (entry.steps, entry.remark) == ((Step.STERILISED,), STERILISED["cycle"])
    assert f"Done: sterilised: {STERILISED['cycle']}." in said


def test_a_word_that_does_not_outweigh_a_marked_contact_is_refused_with_the_reason(client: Client, hub: Hub) -> None:
    assert send(client, "contact", CONTACT).is_success
    marked = owing(contact=touch(), at=AT)
    hub.publish(Feed(replace(hub.latest.picture, probes=(probe("Linear 1", marked, id="linear-1"),))))
    answer = send(client, "vouch", VOUCH)
    assert answer.status_code == 409
    assert answer.json()["error"].startswith("Not taken: what it touched is marked, or it lies in a basin")


def test_damage_that_was_found_is_entered(client: Client, desk: Desk) -> None:
    said = send(client, "inspected", INSPECTED).json()["said"]
    (entry,) = desk.entered
    assert isinstance(entry, Inspected)
    assert (entry.sound, entry.remark) == (False, "crack in the lens")
    assert "Looked over: damaged. Do not use it. It stands so now: to be inspected, damage found by Ana." in said


def test_what_is_entered_twice_is_said_to_stand_in_the_record(client: Client) -> None:
    send(client, "contact", CONTACT)
    assert send(client, "contact", CONTACT).json()["said"] == "This stands in the record already."


def test_a_place_that_is_known_is_said_to_be_no_news(client: Client) -> None:
    send(client, "placed", {"who": "Ana", "place": "basin:basin-2"})
    said = send(client, "placed", {"who": "Ana", "place": "basin:basin-2"}).json()["said"]
    assert said.startswith("This tells nothing new: the record has it there already")


@pytest.mark.parametrize(
    "events",
    [[stands()], [share()], [stands("convex-1")], [touched("convex-1")], [touched("linear-1", withdrawn=True)]],
)
def test_what_timers_and_late_readings_say_at_that_instant_is_no_answer(
    client: Client, desk: Desk, events: Sequence[Event]
) -> None:
    desk.said = list(events)
    assert send(client, "contact", CONTACT).json()["said"] == "This stands in the record already."
