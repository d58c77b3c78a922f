"""The probes' pages: what they refuse, and how their forms go without JavaScript."""

from dataclasses import replace

import pytest
from httpx import Client

from gateway.hub import Feed, Hub
from gateway.pump import StoppedError
from rules.acts import Access
from rules.commands import Inspected
from rules.picture import CordPicture
from rules.probe_words import Place, Step
from rules.readings import Micros
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
    token,
    words,
)
from tests.dashboard.probe_pictures import owing, probe
from tests.dashboard.serving import Desk, Served
from tests.dashboard.visitors import script, signed_in


@pytest.fixture(autouse=True)
def followed(hub: Hub) -> None:
    follow_probes(hub)


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
        ("sterilised", {"cycle": " "}, "Write by which process and in which load"),
        ("sterilised", {"vouch_role": ""}, "Choose the role"),
        ("inspected", {"sound": "perhaps"}, "Say what you found"),
        ("inspected", {"remark": "x" * 201}, "Remark: at most 200 characters."),
    ],
)
def test_what_is_wrong_is_said_plainly_and_nothing_is_entered(
    client: Client, desk: Desk, deed: str, wrong: dict[str, str], said: str
) -> None:
    whole = {"contact": CONTACT, "steps": STEPS, "placed": {"who": "Ana"}, "claim": CLAIM, "vouch": VOUCH}
    whole |= {"sterilised": STERILISED}
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
        assert ("nswer as" in page, "It was in it:" in page) == (False, False)
        assert 'name="why"' not in page
        assert "Here only engineer or charge nurse may answer for a probe, as the site file says." in page
        for deed, form in (("vouch", VOUCH), ("sterilised", STERILISED)):
            answer = browser.post(f"/probe/linear-1/{deed}", data=form, headers=script(browser))
            assert answer.status_code == 403
    assert desk.entered == []


def test_what_is_typed_as_a_name_counts_for_nothing(client: Client, desk: Desk) -> None:
    send(client, "inspected", {**INSPECTED, "who": "Somebody else"})
    (entry,) = desk.entered
    assert isinstance(entry, Inspected)
    assert entry.who == "Ana"


@pytest.mark.parametrize(("deed", "form"), [("vouch", VOUCH), ("sterilised", STERILISED)])
def test_only_who_may_answers_for_a_probe(client: Client, desk: Desk, deed: str, form: dict[str, str]) -> None:
    """Sterilised elsewhere counts in place of a soak, and nothing here measures it."""
    answer = send(client, deed, {**form, "vouch_role": "technician"})
    assert (answer.status_code, desk.entered) == (409, [])
    assert answer.json()["error"] == "This is for engineer or charge nurse only, as the site file says."


def test_that_it_was_sterilised_is_no_step_that_anybody_ticks(client: Client, desk: Desk) -> None:
    page = client.get("/probe/linear-1").text
    assert ('name="step:washed"' in page, 'name="step:sterilised"' in page) == (True, False)
    answer = send(client, "steps", {"who": "Ana", "step:sterilised": "1", "times": "3"})
    assert (answer.status_code, desk.entered) == (422, [])


def test_what_was_not_washed_was_not_sterilised(client: Client, desk: Desk) -> None:
    # Cleaning comes before sterilisation (CDC 2008, facts.md).
    answer = send(client, "sterilised", STERILISED)
    assert (answer.status_code, desk.entered) == (409, [])
    assert answer.json()["error"].startswith("Not taken: enter first that it was ")


def test_what_lies_in_a_basin_is_sterilised_nowhere_else(client: Client, desk: Desk, hub: Hub) -> None:
    lies = owing(Step.WASHED, Step.DRIED, next_step=Step.SOAKED, place=Place.BASIN, thing="basin-1", at=AT)
    hub.publish(Feed(replace(hub.latest.picture, probes=(probe("Linear 1", lies, id="linear-1"),))))
    answer = send(client, "sterilised", STERILISED)
    assert (answer.status_code, desk.entered) == (409, [])
    assert answer.json()["error"].startswith("Not taken: it lies in a basin")


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


def off_its_hook(hub: Hub, **stands: object) -> None:
    shown = hub.latest.picture
    home = next(cart for cart in shown.carts if cart.id == "cart-1")
    stood = shown.probes[0]
    off = replace(stood, standing=replace(stood.standing, place=Place.IN_HANDS, thing=None, **stands))
    cart = replace(home, cords=(CordPicture(stood.cord, on_hook=False),))
    hub.publish(Feed(replace(shown, carts=(cart, *shown.carts[1:]), probes=(off, *shown.probes[1:]))))


def test_a_place_on_a_hook_that_says_otherwise_is_refused_with_what_the_hook_says(
    client: Client, desk: Desk, hub: Hub
) -> None:
    off_its_hook(hub)
    desk.said = []  # the engine lets the hook stand
    answer = send(client, "placed", {"who": "Ana", "place": "hook:cart-1"})
    assert (answer.status_code, answer.json()["error"].partition(":")[0]) == (
        409,
        "Its hook says that it does not hang there",
    )


def test_what_the_hook_says_now_is_not_said_of_a_place_before(client: Client, desk: Desk, hub: Hub) -> None:
    off_its_hook(hub, since=hub.latest.picture.at)
    desk.said = []
    answer = send(client, "placed", {"who": "Ana", "place": "hook:cart-1", "ago": "5"})
    assert (answer.status_code, "a sensor tells otherwise of then or since" in answer.text) == (200, True)


def test_a_gateway_that_stops_says_so(client: Client, desk: Desk) -> None:
    desk.refusal = StoppedError("Sinkside is stopping; ask again in a moment.")
    assert send(client, "contact", CONTACT).status_code == 503


# ---- without JavaScript ----------------------------------------------------------------------------------------------


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
