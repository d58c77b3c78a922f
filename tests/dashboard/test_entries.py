"""The basins' pages: what they show, what they take, and what they refuse."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime
from html import unescape

import pytest
from httpx import Client, Response

from gateway.clock import Clock
from gateway.hub import Feed, Hub
from gateway.pump import StoppedError
from rules.commands import Discard, Pour, StripRead, TopUp
from rules.readings import SECOND, StripResult
from rules.solution import Terms
from rules.verdict import Reason
from tests.dashboard.pictures import TERMS, basin, calm, picture, soak, solution
from tests.dashboard.serving import Desk
from tests.dashboard.visitors import script

HOSTILE = '<img src=x onerror="alert(1)">'
POUR = {"who": "Ana", "lot": "L-7", "printed_expiry": "2099-06-30", "opened_when": "now", "opened_days": "30"}
STRIP = {"who": "Ana", "result": "pass", "strip_lot": "S-1", "strip_expiry": "2099-01-31"}


@pytest.fixture(autouse=True)
def recorded(hub: Hub) -> None:
    hub.publish(Feed(picture(basin(solution=solution()), basin("Basin 2", solution=solution()))))


def send(client: Client, deed: str, fields: dict[str, str], basin_id: str = "basin-1") -> Response:
    return client.post(f"/basin/{basin_id}/{deed}", data=fields, headers=script(client))


def words(client: Client, path: str = "/basin/basin-1") -> str:
    """The visible words of a page."""
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", client.get(path).text)).split())


# ---- what is shown ---------------------------------------------------------------------------------------------------


def test_the_page_names_the_policy_and_its_source(client: Client) -> None:
    said = words(client)
    assert "Reused for at most 14 days of 24 h from the pour. (label opa-0.55-manual: a label)" in said
    assert "A strip that passes before each soak. (site file, [solution])" in said


def test_the_live_page_and_the_list_lead_to_each_basin(client: Client) -> None:
    assert 'href="/basins"' in client.get("/live").text
    listed = client.get("/basins").text
    assert re.findall(r'href="(/basin/[^"]+)"', listed) == ["/basin/basin-1", "/basin/basin-2"]
    assert listed.count("good until 9 Dec") == 2


@pytest.mark.parametrize("path", ["/basins", "/basin/basin-1"])
def test_a_site_that_records_nothing_is_told_how_to_switch_it_on(client: Client, hub: Hub, path: str) -> None:
    told = "This site does not record its solutions"
    assert told not in words(client, path)
    hub.publish(calm())
    assert told in words(client, path)
    assert "set recorded = true under [solution] in the site file" in words(client, path)


def test_a_basin_that_is_not_there_is_told(client: Client) -> None:
    for answer in (client.get("/basin/elsewhere"), send(client, "discard", {"who": "Ana"}, "elsewhere")):
        assert (answer.status_code, "no such basin" in answer.json()["error"]) == (404, True)


def test_hostile_texts_are_shown_as_texts(client: Client, hub: Hub) -> None:
    shown = solution()
    assert shown.lot is not None
    assert shown.strip is not None
    lot, strip = replace(shown.lot, lot=HOSTILE, who=HOSTILE), replace(shown.strip, lot=HOSTILE, who=HOSTILE)
    bad = replace(basin(solution=replace(shown, lot=lot, strip=strip)), name=HOSTILE, label_source=HOSTILE)
    hub.publish(Feed(picture(replace(bad, chemistry=HOSTILE))))
    for path in ("/basins", "/basin/basin-1"):
        said = client.get(path).text
        assert "<img" not in said
        assert "&lt;img" in said
    refused = client.post("/basin/basin-1/strip", data={"who": HOSTILE * 4, "token": token(client)})
    assert "<img" not in refused.text


# ---- what is taken ---------------------------------------------------------------------------------------------------


def test_a_pour_reaches_the_pump_and_is_confirmed(client: Client, desk: Desk) -> None:
    answer = send(client, "pour", POUR)
    (entry,) = desk.entered
    assert isinstance(entry, Pour)
    assert (entry.who, entry.lot, entry.label, entry.printed_expiry) == ("Ana", "L-7", TERMS.label, date(2099, 6, 30))
    assert (entry.measured, entry.opened_days) == (entry.arrived, 30)
    assert entry.opened == client_day(entry)
    assert re.match(r"Written down at \d\d:\d\d:\d\d\. Poured: lot L-7, good until ", answer.json()["said"])


def client_day(entry: Pour) -> date:
    return datetime.fromtimestamp(entry.arrived / SECOND, UTC).date()


def test_a_pour_with_a_date_missing_is_written_down_and_said_not_to_count(client: Client, desk: Desk) -> None:
    said = send(client, "pour", {**POUR, "printed_expiry": ""}).json()["said"]
    assert "but a date is missing, so that no soak in it counts" in said
    assert len(desk.entered) == 1


def warned(client: Client, deed: str, fields: dict[str, str]) -> bool:
    return send(client, deed, fields).json().get("warns", False)


def test_an_entry_that_leads_to_do_not_use_is_answered_as_a_warning(client: Client) -> None:
    assert not warned(client, "pour", POUR)
    assert not warned(client, "strip", STRIP)
    assert not warned(client, "top-up", {"who": "Ana", "top_lot": "L-8"})
    assert warned(client, "pour", {**POUR, "printed_expiry": "2001-01-01"})
    assert warned(client, "pour", {**POUR, "printed_expiry": ""})
    for result in ("fail", "invalid"):
        assert warned(client, "strip", {**STRIP, "result": result})
    assert warned(client, "strip", {**STRIP, "strip_expiry": "2001-01-01"})


def test_the_warning_stands_on_the_page_too_where_no_script_runs(client: Client) -> None:
    sent = {**POUR, "printed_expiry": "2001-01-01", "token": token(client)}
    shown = client.post("/basin/basin-1/pour", data=sent, follow_redirects=True)
    assert 'class="answer warns"' in shown.text
    assert "Written down: pour. It is not good as it is: read above why" in shown.text
    good = client.post("/basin/basin-1/pour", data={**POUR, "token": token(client)}, follow_redirects=True)
    assert 'class="answer"' in good.text


@pytest.mark.parametrize(("deed", "fields"), [("pour", POUR), ("discard", {"who": "Ana"})])
def test_the_solution_is_not_changed_under_a_soak_by_a_slip(
    client: Client, desk: Desk, hub: Hub, deed: str, fields: dict[str, str]
) -> None:
    now = Clock().now()
    hub.publish(Feed(picture(basin(soaking=soak(at=now), solution=solution(), at=now), at=now)))
    refused = send(client, deed, fields)
    assert (refused.status_code, refused.json()["fields"], desk.entered) == (422, ["into_soak"], [])
    assert "A soak is under way here since" in refused.json()["error"]
    assert "say how many minutes ago, 5 or more" in refused.json()["error"] or "6 or more" in refused.json()["error"]
    assert send(client, deed, {**fields, "into_soak": "yes"}).status_code == 200
    assert send(client, deed, {**fields, "ago": "6"}).status_code == 200
    assert len(desk.entered) == 2
    assert words(client).count("does not count if its solution is changed") == 2


def test_what_was_done_earlier_is_entered_as_of_then(client: Client, desk: Desk) -> None:
    send(client, "top-up", {"who": "Ana", "top_lot": "L-8", "ago": "20"})
    send(client, "discard", {"who": "Ana", "ago": "5"})
    top, gone = desk.entered
    assert isinstance(top, TopUp)
    assert isinstance(gone, Discard)
    assert (top.arrived - top.measured, gone.arrived - gone.measured) == (20 * 60 * SECOND, 5 * 60 * SECOND)


@pytest.mark.parametrize("result", list(StripResult))
def test_a_strip_reaches_the_pump(client: Client, desk: Desk, result: StripResult) -> None:
    said = send(client, "strip", {**STRIP, "result": result.value, "dip_seconds": "90"}).json()["said"]
    (entry,) = desk.entered
    assert isinstance(entry, StripRead)
    assert (entry.result, entry.lot, entry.expiry) == (result, "S-1", date(2099, 1, 31))
    assert entry.dipped == entry.measured - 90 * SECOND
    assert f"Strip: {result.value}." in said
    assert ("does not count" in said) is (result is not StripResult.PASS)


def test_a_strip_that_passes_without_its_expiry_is_said_not_to_count(client: Client) -> None:
    said = send(client, "strip", {**STRIP, "strip_expiry": ""}).json()["said"]
    assert "It does not count as a good one: strip date missing." in said


def test_a_strip_from_before_the_pour_is_said_not_to_count_and_one_from_after_it_is_not(
    client: Client, desk: Desk, hub: Hub
) -> None:
    desk.hub = hub
    send(client, "pour", {**POUR, "ago": "10"})
    too_early = "It does not count for the next soak: it was taken before this solution was poured"
    for deed, fields in (("strip", {**STRIP, "ago": "20"}), ("strip", {**STRIP, "ago": "10", "dip_seconds": "90"})):
        assert f"Strip: pass. {too_early}" in send(client, deed, fields).json()["said"]
    assert send(client, "strip", STRIP).json()["said"].endswith("Strip: pass.")


def test_a_strip_that_no_picture_knows_of_yet_is_not_said_to_be_too_early(client: Client, hub: Hub) -> None:
    hub.publish(Feed(picture(basin(solution=solution(Reason.STRIP_MISSING)))))
    assert send(client, "strip", STRIP).json()["said"].endswith("Strip: pass.")


def test_a_pour_that_is_out_of_date_and_lacks_a_date_is_said_to_be_both(client: Client) -> None:
    said = send(client, "pour", {**POUR, "printed_expiry": "2001-01-01", "opened_days": ""}).json()["said"]
    assert "but out of date already, and a date is missing, so that no soak in it counts; do not use it" in said


def test_the_time_of_the_dip_is_asked_for_where_the_label_tells_it(client: Client, hub: Hub) -> None:
    assert 'name="dip_seconds"' not in client.get("/basin/basin-1").text
    timed = replace(TERMS, strip_after=90 * SECOND, strip_within=120 * SECOND)
    assert isinstance(timed, Terms)
    hub.publish(Feed(picture(basin(solution=replace(solution(), terms=timed)))))
    assert "A strip is read 90 s after its dip and no later than 120 s." in words(client)
    assert 'name="dip_seconds"' in client.get("/basin/basin-1").text


# ---- what is refused -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("deed", "wrong", "said"),
    [
        ("pour", {"lot": ""}, "Write the lot that is printed on the bottle"),
        ("pour", {"lot": "x" * 81}, "at most 80 characters"),
        ("pour", {"printed_expiry": "30.06.2099"}, "Printed expiry: a day from 2000 to 2199"),
        ("pour", {"printed_expiry": "0209-06-30"}, "Printed expiry: a day from 2000 to 2199"),
        ("pour", {"opened_when": ""}, "Say when the bottle was opened"),
        ("pour", {"opened_when": "day"}, "Give the day on which the bottle was opened, or choose 'opened now'."),
        ("pour", {"opened_when": "day", "opened": "2098-01-01"}, "Opened: a day from 2000 to today."),
        ("pour", {"opened_days": "-1"}, "a whole number from 0 to 1000"),
        ("pour", {"ago": "1441"}, "Minutes ago: a whole number from 0 to 1440."),
        ("top-up", {"top_lot": ""}, "Write the lot of what was added"),
        ("strip", {"result": "good"}, "pass, fail or invalid"),
        ("strip", {"strip_expiry": "soon"}, "Expiry of the strips"),
        ("strip", {"dip_seconds": "a while"}, "Seconds from dip to reading"),
    ],
)
def test_what_is_wrong_is_said_plainly_and_nothing_is_entered(
    client: Client, desk: Desk, deed: str, wrong: dict[str, str], said: str
) -> None:
    answer = send(client, deed, {**POUR, **STRIP, "top_lot": "L-8", **wrong})
    assert (answer.status_code, said in answer.json()["error"], desk.entered) == (422, True, [])


def test_a_deed_that_is_none_and_a_long_form_are_refused(client: Client, desk: Desk) -> None:
    assert send(client, "drink", POUR).status_code == 422
    assert send(client, "pour", {**POUR, "who": "x" * 5000}).status_code == 413
    assert client.post("/basin/basin-1/pour", content=b"who=%ff", headers=script(client)).status_code == 422
    assert desk.entered == []


def test_a_gateway_that_stops_says_so(client: Client, desk: Desk) -> None:
    desk.refusal = StoppedError("Sinkside is stopping; ask again in a moment.")
    answer = send(client, "strip", STRIP)
    assert (answer.status_code, answer.json()["error"]) == (503, "Sinkside is stopping; ask again in a moment.")


# ---- without JavaScript ----------------------------------------------------------------------------------------------


def token(client: Client) -> str:
    return re.findall(r'name="token" value="([^"]+)"', client.get("/basin/basin-1").text)[0]


def test_a_form_works_without_javascript(client: Client, desk: Desk) -> None:
    answer = client.post("/basin/basin-1/strip", data={**STRIP, "token": token(client)})
    assert (answer.status_code, answer.headers["location"]) == (303, "/basin/basin-1?written=strip")
    assert "Written down: strip." in words(client, answer.headers["location"])
    assert len(desk.entered) == 1


def test_without_javascript_what_is_wrong_stands_on_the_page(client: Client, desk: Desk) -> None:
    answer = client.post("/basin/basin-1/strip", data={**STRIP, "result": "", "token": token(client)})
    assert (answer.status_code, desk.entered) == (422, [])
    assert '<p id="answer" class="answer refused" role="status">Say how the strip looks' in answer.text


@pytest.mark.parametrize("forged", [{}, {"token": ""}, {"token": "guessed"}, {"token": "ü"}])
def test_a_form_of_a_foreign_site_enters_nothing(client: Client, desk: Desk, forged: dict[str, str]) -> None:
    answer = client.post("/basin/basin-1/discard", data={"who": "Ana", **forged})
    assert (answer.status_code, desk.entered) == (403, [])


def test_a_form_that_a_plain_browser_sends_twice_is_one_entry_and_a_changed_one_another(
    client: Client, desk: Desk
) -> None:
    page = client.get("/basin/basin-1").text
    (tap,) = set(re.findall(r'name="tap" value="([^"]+)"', page))
    sent = {"top_lot": "L-8", "tap": tap, "token": token(client)}
    for fields in (sent, sent, {**sent, "top_lot": "L-9"}):
        assert client.post("/basin/basin-1/top-up", data=fields).status_code == 303
    assert [entry.lot for entry in desk.entered if isinstance(entry, TopUp)] == ["L-8", "L-9"]
    assert re.findall(r'name="tap" value="([^"]+)"', client.get("/basin/basin-1").text) != [tap]
