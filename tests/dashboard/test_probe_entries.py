"""The probes' pages: what they show, what they take, and what they refuse."""

import re
from collections.abc import Sequence
from dataclasses import replace
from html import unescape

import pytest
from httpx import Client, Response

from gateway.hub import Feed, Hub
from gateway.pump import StoppedError
from rules.acts import Access
from rules.commands import Claim, Contact, Inspected, Placed, StepsDone, Vouch
from rules.events import Event
from rules.probe_events import ProbeSoaked, ProbeStands, ProbeTouched
from rules.probe_words import Fitness, Place, Step, Surface
from rules.readings import SECOND, Micros, Reading
from rules.spaulding import level_owed
from rules.verdict import Outcome, Verdict
from tests.dashboard.pictures import NOON, basin, calm, cart, picture
from tests.dashboard.probe_pictures import PREMISES, owing, probe, touch, unclaimed, with_probes
from tests.dashboard.serving import Desk, Served
from tests.dashboard.visitors import script, signed_in
from tests.rules.feeder import LID, TEMPERATURE

HOSTILE = '<img src=x onerror="alert(1)">'
NOT_OURS = "This site follows no such probe"
AT = Micros(2**52)
CONTACT = {"who": "Ana", "surface": "mucosa", "covered": "yes", "needle": "no", "exam": "U-17"}
STEPS = {"who": "Ana", "step:washed": "1", "step:cover off": "1", "times": "3"}
CLAIM = {"who": "Ana", "soak": "basin-1-7", "role": "technician", "put_in": "2"}
VOUCH = {"who": "Ana", "vouch_role": "charge nurse", "why": "taken into service"}
INSPECTED = {"who": "Ana", "sound": "no", "remark": "crack in the lens"}


@pytest.fixture(autouse=True)
def followed(hub: Hub) -> None:
    """A picture ahead of the machine's clock: the gateway's time stands at the picture's, as it is never behind it."""
    shown = picture(basin(at=AT), basin("Basin 2", at=AT), carts=(cart(),), at=AT)
    probes = (probe("Linear probe 1", owing(at=AT)), probe("Convex probe 1", sensed=True))
    hub.publish(Feed(with_probes(*probes, shown=shown, soaks=(unclaimed(at=AT),))))


def send(client: Client, deed: str, fields: dict[str, str], name: str = "linear-1") -> Response:
    return client.post(f"/probe/{name}/{deed}", data=fields, headers=script(client))


def words(client: Client, path: str = "/probe/linear-1") -> str:
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", client.get(path).text)).split())


def share() -> ProbeSoaked:
    """Another word on the soak that is claimed, as a late reading brings it about."""
    verdict = Verdict(
        outcome=Outcome.EXPOSURE_MET,
        reasons=(),
        credited_start=None,
        credited_end=None,
        credited_seconds=735,
        needed_seconds=720,
        min_celsius=20,
        guard_celsius=0.5,
    )
    told = {"at": NOON, "probe": "linear-1", "measured": NOON, "who": None, "role": None, "end": NOON}
    return ProbeSoaked.model_validate({**told, "soak": "basin-1-7", "basin": "basin-1", "verdict": verdict})


def stands(probe: str = "linear-1") -> ProbeStands:
    told = {"at": NOON, "probe": probe, "measured": NOON, "who": None, "owes": None, "place": Place.SINK, "thing": None}
    return ProbeStands.model_validate({**told, "fitness": Fitness.READY, "why": ""})


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


def soaked(desk: Desk) -> None:
    """The engine's basin has soaked something for 13 minutes at 21 Cel, an hour before the picture's time."""
    begin = Micros(AT - 3600 * SECOND)
    times = [Micros(begin + 10 * n * SECOND) for n in range(86)]
    for n, at in enumerate(times):
        desk.engine.apply(Reading(TEMPERATURE, at, at, 21.0))
        desk.engine.apply(Reading(LID, at, at, 2 <= n < 80))
    desk.engine.advance(Micros(AT - 60 * SECOND))


def test_a_person_answers_for_a_probe_with_role_and_reason(client: Client, desk: Desk) -> None:
    said = send(client, "vouch", VOUCH).json()["said"]
    (entry,) = desk.entered
    assert isinstance(entry, Vouch)
    assert (entry.role, entry.why) == ("charge nurse", "taken into service")
    assert "Ana answers for it as charge nurse." in said


def test_a_word_that_does_not_outweigh_a_marked_contact_is_refused_with_the_reason(client: Client, hub: Hub) -> None:
    assert send(client, "contact", CONTACT).is_success
    marked = owing(contact=touch(), at=AT)
    hub.publish(Feed(replace(hub.latest.picture, probes=(probe("Linear 1", marked, id="linear-1"),))))
    answer = send(client, "vouch", VOUCH)
    assert answer.status_code == 409
    assert answer.json()["error"].startswith("Not taken: what it touched is marked, or a soak is not rinsed off it")


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


def touched(probe: str, *, withdrawn: bool = False) -> ProbeTouched:
    told = {"at": NOON, "probe": probe, "measured": NOON, "who": "Ben", "surface": Surface.SKIN, "covered": None}
    level = level_owed(Surface.SKIN, covered=None, percutaneous=False, internal=False, policy=PREMISES.policy)
    more = {"percutaneous": False, "exam": None, "level": level, "withdrawn": withdrawn}
    return ProbeTouched.model_validate({**told, **more})


@pytest.mark.parametrize(
    "events",
    [[stands()], [share()], [stands("convex-1")], [touched("convex-1")], [touched("linear-1", withdrawn=True)]],
)
def test_what_timers_and_late_readings_say_at_that_instant_is_no_answer(
    client: Client, desk: Desk, events: Sequence[Event]
) -> None:
    desk.said = list(events)
    assert send(client, "contact", CONTACT).json()["said"] == "This stands in the record already."


# ---- what is refused -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("deed", "wrong", "said"),
    [
        ("contact", {"surface": "air"}, "Say what it touched"),
        ("contact", {"covered": ""}, "Say whether a cover was on it"),
        ("contact", {"needle": ""}, "Say whether a needle was led beside it"),
        (
            "contact",
            {"exam": "x" * 81},
            "Exam: at most 80 characters, the department's own number and no patient's name.",
        ),
        ("contact", {"exam": "Jane Doe 01.02.1960"}, "Exam: this looks like a person's name or a date of birth"),
        ("contact", {"ago": "1441"}, "Minutes ago"),
        ("steps", {"step:washed": "1", "step:rinsed": "1", "times": ""}, "Times rinsed"),
        ("steps", {"step:rinsed": "1", "times": "21"}, "Times rinsed"),
        ("placed", {"place": ""}, "Say where it is"),
        ("placed", {"place": "basin:basin-9"}, "Say where it is"),
        ("placed", {"place": "moon:"}, "Say where it is"),
        ("claim", {"soak": ""}, "Choose the soak"),
        ("claim", {"put_in": "13"}, "It was put in after the soak was over"),
        ("claim", {"put_in": "early"}, "Put in how many minutes"),
        ("vouch", {"why": ""}, "Write why you answer for it"),
        ("vouch", {"vouch_role": ""}, "Choose the role"),
        ("inspected", {"sound": "perhaps"}, "Say what you found"),
        ("inspected", {"remark": "x" * 201}, "Remark: at most 200 characters."),
    ],
)
def test_what_is_wrong_is_said_plainly_and_nothing_is_entered(
    client: Client, desk: Desk, deed: str, wrong: dict[str, str], said: str
) -> None:
    whole = {"contact": CONTACT, "steps": STEPS, "placed": {"who": "Ana"}, "claim": CLAIM, "vouch": VOUCH}
    answer = send(client, deed, {**whole.get(deed, INSPECTED), **wrong})
    assert (answer.status_code, said in answer.json()["error"], desk.entered) == (422, True, [])


def test_no_step_is_no_entry(client: Client, desk: Desk) -> None:
    answer = send(client, "steps", {"who": "Ana", "step:soaked": "1", "times": "3"})
    assert (answer.status_code, answer.json()["error"]) == (422, "Tick the steps that you did.")
    assert desk.entered == []


@pytest.mark.parametrize(
    ("claim", "status", "said"),
    [
        ({"soak": "basin-9-1"}, 409, "This soak cannot be chosen any more"),
        ({"role": "engineer"}, 409, "This is for technician or charge nurse only"),
        ({"role": "visitor"}, 403, "You may not act as 'visitor'"),  # whoever sends it has no such role
    ],
)
def test_a_claim_that_cannot_be_taken_is_refused_in_a_sentence(
    client: Client, desk: Desk, claim: dict[str, str], status: int, said: str
) -> None:
    answer = send(client, "claim", {**CLAIM, **claim})
    assert (answer.status_code, desk.entered) == (status, [])
    assert answer.json()["error"].startswith(said)


def test_who_has_no_role_is_offered_none_and_claims_nothing(served: Served, desk: Desk) -> None:
    with signed_in(served.url, "Noah", Access.RESPONDER, ()) as browser:
        page = browser.get("/probe/linear-1").text
        assert ("Answer as" in page, "It was in it:" in page) == (False, False)
        assert 'name="why"' not in page
        assert "Here only engineer or charge nurse may answer for a probe, as the site file says." in page
        assert browser.post("/probe/linear-1/vouch", data=VOUCH, headers=script(browser)).status_code == 403
    assert desk.entered == []


def test_what_is_typed_as_a_name_counts_for_nothing(client: Client, desk: Desk) -> None:
    send(client, "inspected", {**INSPECTED, "who": "Somebody else"})
    (entry,) = desk.entered
    assert isinstance(entry, Inspected)
    assert entry.who == "Ana"


def test_only_who_may_answers_for_a_probe(client: Client, desk: Desk) -> None:
    answer = send(client, "vouch", {**VOUCH, "vouch_role": "technician"})
    assert (answer.status_code, desk.entered) == (409, [])
    assert answer.json()["error"] == "This is for engineer or charge nurse only, as the site file says."


def test_a_claim_past_its_time_is_refused(client: Client, desk: Desk, hub: Hub) -> None:
    shown = hub.latest.picture
    hub.publish(Feed(replace(shown, unclaimed=(replace(shown.unclaimed[0], claim_by=Micros(shown.at - 1)),))))
    assert (send(client, "claim", CLAIM).status_code, desk.entered) == (409, [])


def test_a_claim_of_which_nothing_comes_is_refused(client: Client, desk: Desk) -> None:
    answer = send(client, "claim", CLAIM)
    assert len(desk.entered) == 1
    assert answer.status_code == 409
    assert "a probe is known for it already, or its time is over" in answer.json()["error"]


def test_a_claim_for_a_probe_that_a_sensor_named_elsewhere_is_refused_with_the_reason(client: Client, hub: Hub) -> None:
    shown = hub.latest.picture
    hung = replace(shown.probes[0], elsewhere={"basin-1-7": (Place.HOOK, "cart-1")})
    hub.publish(Feed(replace(shown, probes=(hung, *shown.probes[1:]))))
    answer = send(client, "claim", CLAIM)
    assert (answer.status_code, answer.json()["error"].partition(". ")[0]) == (
        409,
        "Not taken: a sensor says that it was on its hook at Cart 1 meanwhile",
    )
    assert "The soak stays open for the probe that was in it." in answer.json()["error"]


def test_a_place_against_a_hook_that_is_heard_is_refused_with_what_the_hook_says(client: Client, desk: Desk) -> None:
    desk.said = []  # the engine lets the hook stand
    answer = send(client, "placed", {"who": "Ana", "place": "basin:basin-1"}, name="convex-1")
    assert answer.status_code == 409
    assert answer.json()["error"].startswith("Its hook says that it hangs at Cart 1, since ")
    assert "Its hook says that it hangs at Cart 1, since " in words(client, "/probe/convex-1")


def test_a_gateway_that_stops_says_so(client: Client, desk: Desk) -> None:
    desk.refusal = StoppedError("Sinkside is stopping; ask again in a moment.")
    assert send(client, "contact", CONTACT).status_code == 503


# ---- without JavaScript ----------------------------------------------------------------------------------------------


def token(client: Client) -> str:
    return re.findall(r'name="token" value="([^"]+)"', client.get("/probe/linear-1").text)[0]


def test_a_form_works_without_javascript(client: Client) -> None:
    answer = client.post("/probe/linear-1/contact", data={**CONTACT, "token": token(client)})
    assert (answer.status_code, answer.headers["location"]) == (303, "/probe/linear-1?written=contact")
    assert "Written down: contact." in words(client, answer.headers["location"])


def test_without_javascript_what_stands_already_is_not_called_written(client: Client) -> None:
    send(client, "contact", CONTACT)
    answer = client.post("/probe/linear-1/contact", data={**CONTACT, "token": token(client)})
    assert (answer.status_code, "This stands in the record already." in answer.text) == (200, True)


def test_an_address_cannot_put_words_into_the_page(client: Client) -> None:
    assert "Written down" not in words(client, "/probe/linear-1?written=anything")


@pytest.mark.parametrize("forged", [{}, {"token": "guessed"}])
def test_a_form_of_a_foreign_site_enters_nothing(client: Client, desk: Desk, forged: dict[str, str]) -> None:
    answer = client.post("/probe/linear-1/steps", data={**STEPS, **forged})
    assert (answer.status_code, desk.entered) == (403, [])
