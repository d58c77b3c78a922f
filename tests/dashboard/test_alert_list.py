"""All alerts, those that nobody is told of, and what maintenance takes out of service."""

import re
from collections.abc import Iterator
from dataclasses import replace
from html import unescape

import pytest
from httpx import Client, Response

from dashboard.alert_list import alert_list_view, out_rows
from dashboard.live_listings import alert_sieve
from dashboard.premises import Premises
from gateway.hub import Hub
from rules.acts import Access
from rules.alert_commands import PutBack, TakeOut
from rules.alert_events import ServiceChanged
from rules.alert_words import Priority, State
from tests.dashboard.alert_pictures import NAMES, alerted, call, standing, told
from tests.dashboard.pictures import NOON, later
from tests.dashboard.rotas import LISBON, duties
from tests.dashboard.serving import Desk, serve
from tests.dashboard.visitors import script, signed_in
from tests.rules.feeder import book_of, department

HOSTILE = '<img src=x onerror="alert(1)">'
OUT = {"who": "Eva", "role": "engineer", "thing": "cart-3", "why": "wheels are changed"}


def test_alerts_stand_by_urgency_and_are_counted() -> None:
    low = standing(name="alert-1", text="low", priority=Priority.LOW)
    seen = standing(State.ACKNOWLEDGED, name="alert-2", text="seen", by="Ana")
    view = alert_list_view(alerted(low, seen, standing(text="high")).picture, NOON, LISBON, NAMES, alert_sieve(()))
    assert [row.text for row in view.sifted.rows] == ["high", "seen", "low"]
    assert view.tally == "3 alerts, 2 not answered yet."


def test_each_that_stands_says_who_was_told_last() -> None:
    calls = (call(told(), told(page="page-2", at=later(60)), alerts=("alert-7",)),)
    rows = alert_list_view(
        alerted(standing(), standing(name="alert-8"), calls=calls).picture, NOON, LISBON, NAMES, alert_sieve(())
    ).sifted.rows
    assert [row.told_last for row in rows] == ["Told last: Reprocessing tech, Pager 1, 11:59.", ""]


def test_no_alert_is_said() -> None:
    assert alert_list_view(alerted().picture, NOON, LISBON, NAMES, alert_sieve(())).tally == "No alert stands."


def test_hidden_alerts_stand_by_what_hides_them() -> None:
    states = (State.SUPPRESSED, State.OUT_OF_SERVICE, State.SHELVED)
    hidden = (standing(state, name=f"alert-{n}", text=state.value) for n, state in enumerate(states))
    view = alert_list_view(alerted(*hidden).picture, NOON, LISBON, NAMES, alert_sieve(()))
    assert [(group.title, [row.text for row in group.rows]) for group in view.hidden] == [
        ("Put aside", ["shelved"]),
        ("Held back", ["suppressed by design"]),
        ("Out of service", ["out of service"]),
    ]
    assert view.hidden[0].rows[0].stands.startswith("Put aside until 12:30 by Ben: works on the equipment.")


def test_an_alert_that_was_never_raised_leads_nowhere() -> None:
    (group,) = alert_list_view(
        alerted(standing(State.SUPPRESSED, name="")).picture, NOON, LISBON, NAMES, alert_sieve(())
    ).hidden
    assert group.rows[0].href == ""


def test_silent_walls_are_said() -> None:
    quiet = replace(alerted().picture, sound_paused_until=later(600))
    assert alert_list_view(quiet, NOON, LISBON, NAMES, alert_sieve(())).sound == "The walls are silent until 12:10."


def test_what_is_out_of_service_says_who_and_why() -> None:
    outs = alerted(standing(State.OUT_OF_SERVICE)).picture.out
    (row,) = out_rows((replace(outs[0], rule="soak-cold"),), duties(), NOON, LISBON)
    assert (row.value, row.what) == ("cart-3 soak-cold", "Cart 3, Basin: too cold, not counting")
    assert row.said == "since 11:45, by Eva: wheels are changed"


# ---- the page --------------------------------------------------------------------------------------------------------


@pytest.fixture
def client(hub: Hub) -> Iterator[Client]:
    hub.publish(alerted(standing(), standing(State.OUT_OF_SERVICE, name="alert-9", text="hidden one")))
    with serve(hub, LISBON, premises=duties()) as running, signed_in(running.url) as browser:
        yield browser


def send(client: Client, deed: str, **fields: str) -> Response:
    return client.post(f"/alerts/{deed}", data=fields, headers=script(client))


def test_the_list_leads_to_each_alert(client: Client) -> None:
    assert re.findall(r'href="(/alert/[^"]+)"', client.get("/alerts").text) == ["/alert/alert-7", "/alert/alert-9"]


def test_the_live_page_and_the_basins_lead_to_it(client: Client) -> None:
    for path in ("/live", "/basins"):
        assert 'href="/alerts"' in client.get(path).text


def test_hostile_texts_are_shown_as_texts(client: Client, hub: Hub) -> None:
    bad = replace(standing(State.SHELVED, text=HOSTILE), aside_by=HOSTILE, aside_why=HOSTILE)
    feed = alerted(bad)
    hub.publish(
        replace(feed, picture=replace(feed.picture, out=(replace(feed.picture.out[0], who=HOSTILE, why=HOSTILE),)))
    )
    said = client.get("/alerts").text
    assert ("<img" in said, said.count("&lt;img") > 3) == (False, True)


def changed(*, out: bool, rule: str | None = None) -> ServiceChanged:
    return ServiceChanged(at=NOON, thing="cart-3", rule=rule, out=out, who="Eva", role="engineer", why="x")


def test_a_thing_is_taken_out_of_service_with_role_and_reason(client: Client, desk: Desk) -> None:
    desk.said = [changed(out=True)]
    answer = send(client, "take-out", **OUT)
    assert answer.json()["said"] == "Cart 3, all rules: out of service. Nobody is told until it is put back."
    (command,) = desk.entered
    assert isinstance(command, TakeOut)
    assert (command.thing, command.rule, command.role, command.why) == (
        "cart-3",
        None,
        "engineer",
        "wheels are changed",
    )


def test_one_rule_of_a_sensor_can_be_taken_out(client: Client, desk: Desk) -> None:
    desk.said = [changed(out=True, rule="soak-cold")]
    send(client, "take-out", **{**OUT, "thing": "basin-1/lid", "rule": "soak-cold"})
    (command,) = desk.entered
    assert isinstance(command, TakeOut)
    assert (command.thing, command.rule) == ("basin-1/lid", "soak-cold")


@pytest.mark.parametrize(
    ("wrong", "named"),
    [
        ({"thing": ""}, ["thing"]),
        ({"thing": "moon"}, ["thing"]),
        ({"rule": "none"}, ["rule"]),
        ({"why": " "}, ["why"]),
        ({"thing": "", "why": ""}, ["thing", "why"]),
    ],
)
def test_a_refusal_names_the_field_that_is_to_be_mended(
    client: Client, desk: Desk, wrong: dict[str, str], named: list[str]
) -> None:
    answer = send(client, "take-out", **{**OUT, **wrong})
    assert (answer.status_code, answer.json()["fields"], desk.entered) == (422, named, [])


@pytest.mark.parametrize(("out", "rule"), [("cart-3", None), ("basin-1/lid soak-cold", "soak-cold")])
def test_what_is_out_is_put_back(client: Client, desk: Desk, out: str, rule: str | None) -> None:
    desk.said = [changed(out=False, rule=rule)]
    answer = send(client, "put-back", who="Eva", role="engineer", out=out)
    assert "back in service." in answer.json()["said"]
    (command,) = desk.entered
    assert isinstance(command, PutBack)
    assert (command.thing, command.rule) == (out.partition(" ")[0], rule)


def test_whoever_may_not_take_out_is_offered_nothing_and_sees_what_is_out(client: Client) -> None:
    with signed_in(str(client.base_url), "Tove", Access.RESPONDER, ("technician",)) as browser:
        page = browser.get("/alerts").text
    assert ("Maintenance" in page, '<select name="role"' in page, "put-back" in page) == (False, False, False)
    assert "Cart 3, all rules" in page
    assert "Maintenance" in client.get("/alerts").text


def test_sensors_and_rules_are_chosen_by_plain_names(client: Client) -> None:
    page = client.get("/alerts").text
    assert '<option value="basin-1/lid">Basin 1: lid sensor</option>' in page
    assert '<option value="soak-cold">Basin: too cold, not counting</option>' in page


def test_each_standard_rule_has_a_plain_name_of_its_own() -> None:
    site = department(probe=[{"id": "linear-1", "name": "Linear probe 1", "cart": "cart-1", "cord": "a"}])
    premises = Premises.of(site, book_of(site))
    names = premises.rule_names
    assert names["probe-rolls-away"] == "Probe: moved"
    assert names["solution-out-of-date"] == "Basin: solutions not to be used"
    assert [name for name in names.values() if "{" in name or not name.partition(": ")[2]] == []
    assert {premises.watched[name] for name in ("cart-1/wiped", "basin-1/lid") if name in premises.watched} == {
        "Basin 1: lid sensor"
    }


def test_what_the_engine_does_not_take_is_said(client: Client, desk: Desk) -> None:
    desk.said = []
    answer = send(client, "take-out", **OUT)
    assert (answer.status_code, "Nothing changed" in answer.json()["error"]) == (409, True)


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"thing": ""}, "Choose what is taken out of service."),
        ({"thing": "elsewhere"}, "Choose what is taken out of service."),
        ({"rule": "no-rule"}, "Choose a rule"),
        ({"why": " "}, "Say why"),
    ],
)
def test_what_is_wrong_is_said_plainly(client: Client, desk: Desk, wrong: dict[str, str], said: str) -> None:
    answer = send(client, "take-out", **{**OUT, **wrong})
    assert (answer.status_code, said in answer.json()["error"], desk.entered) == (422, True, [])


def test_a_form_of_a_foreign_site_takes_nothing_out(client: Client, desk: Desk) -> None:
    assert client.post("/alerts/take-out", data=OUT).status_code == 403
    assert desk.entered == []


def test_the_form_works_without_javascript(client: Client, desk: Desk) -> None:
    desk.said = [changed(out=True)]
    page = client.get("/alerts").text
    (token,) = set(re.findall(r'name="token" value="([^"]+)"', page))
    answer = client.post("/alerts/take-out", data={**OUT, "token": token})
    assert (answer.status_code, answer.headers["location"]) == (303, "/alerts?written=take-out")
    assert "minutes ago" not in unescape(page)


def test_what_was_chosen_in_a_refused_form_stays_chosen_without_javascript(client: Client, desk: Desk) -> None:
    """Else one rule would become all rules, of which nobody is told then, by mending the reason alone."""
    (token,) = set(re.findall(r'name="token" value="([^"]+)"', client.get("/alerts").text))
    chosen = {"thing": "basin-1/lid", "rule": "soak-cold"}
    answer = client.post("/alerts/take-out", data={**OUT, **chosen, "why": " ", "token": token})
    assert (answer.status_code, desk.entered) == (422, [])
    selected = re.findall(r"<option value=\"([^\"]*)\" selected>", answer.text.partition('id="deeds"')[2])
    assert selected == [OUT["role"], "basin-1/lid", "soak-cold"]
