"""A refused form as it is shown to a browser without scripts."""

import pytest
from httpx import Client
from hypothesis import given
from hypothesis import strategies as st

from dashboard.cookies import Cookie
from dashboard.refilled import refilled
from tests.dashboard.forms_in_pages import Seen
from tests.dashboard.serving import Desk
from tests.dashboard.visitors import people

PAGE = (
    '<p title="a &amp; b">2 &lt; 3</p><form id="other"><input name="lot" value="x"></form>\n<form id="deeds">\n'
    '<input type="hidden" name="token" value="t"><details><summary>Pour</summary>'
    '<label>Lot <input name="lot" maxlength="80"></label>'
    '<label><input type="radio" name="when" value="now"> now</label>'
    '<label><input type="radio" name="when" value="day" checked> day</label>'
    '<label for="ago">Ago</label><input id="ago" name="ago" type="number" value="0">'
    '<select name="room"><option value="a" selected>A</option><option value="b">B</option></select>'
    '<button formaction="/pour">Pour</button></details></form>'
)


def test_what_was_typed_and_chosen_stands_there_again() -> None:
    sent = {"token": "another", "lot": 'L"7 & <b>', "when": "now", "ago": "3", "room": "b"}
    shown = refilled(PAGE, sent, {})
    inputs = [attrs for tag, attrs in Seen(shown, "/").elements if tag in {"input", "option"}]
    assert [attrs.get("value") for attrs in inputs] == ["x", "t", 'L"7 & <b>', "now", "day", "3", "a", "b"]
    assert ["checked" in attrs for attrs in inputs if attrs.get("type") == "radio"] == [True, False]
    assert ["selected" in attrs for attrs in inputs[-2:]] == [False, True]
    assert "<details>" in shown
    assert shown.startswith('<p title="a &amp; b">2 &lt; 3</p><form id="other"><input name="lot" value="x"></form>\n')


def test_what_is_to_be_mended_says_why_beside_its_field_in_a_part_that_is_open() -> None:
    shown = refilled(PAGE, {}, {"lot": "A lot & no <b>.", "when": "Say when.", "ago": "A number."})
    marked = [attrs for _, attrs in Seen(shown, "/").elements if attrs.get("aria-invalid") == "true"]
    assert [attrs["name"] for attrs in marked] == ["lot", "when", "when", "ago"]
    assert [attrs["aria-describedby"] for attrs in marked] == ["amiss:lot", "amiss:when", "amiss:when", "amiss:ago"]
    assert ["autofocus" in attrs for attrs in marked] == [True, False, False, False]
    assert '</label><p class="amiss" id="amiss:lot">A lot &amp; no &lt;b&gt;.</p>' in shown
    assert shown.count('id="amiss:when"') == 1
    assert '"amiss:ago"><p class="amiss" id="amiss:ago">A number.</p>' in shown
    assert "<details open>" in shown


@given(st.text(), st.text())
def test_nothing_that_was_typed_becomes_markup(typed: str, why: str) -> None:
    before, after = Seen(PAGE, "/"), Seen(refilled(PAGE, {"lot": typed}, {"ago": why}), "/")
    assert [tag for tag, _ in after.elements if tag != "p"] == [tag for tag, _ in before.elements if tag != "p"]


def test_a_refused_entry_of_a_real_page_is_marked_and_nothing_typed_is_lost(client: Client, desk: Desk) -> None:
    visitor = people().visitor(client.cookies[Cookie.SESSION])
    assert visitor is not None
    typed = {"token": visitor.csrf, "lot": "L-7", "printed_expiry": "2099-06-30", "opened_days": "30"}
    page = client.post("/basin/basin-1/pour", data=typed)
    assert (page.status_code, desk.entered) == (422, [])
    shown = {attrs.get("name", ""): attrs for tag, attrs in Seen(page.text, "/").elements if tag == "input"}
    assert [shown[name]["value"] for name in ("lot", "printed_expiry", "opened_days")] == ["L-7", "2099-06-30", "30"]
    assert shown["opened_when"]["aria-invalid"] == "true"
    assert "Say when the bottle was opened" in page.text.partition('id="amiss:opened_when">')[2][:80]


@pytest.mark.parametrize("deed", ["pour", "strip"])
def test_an_entry_that_is_taken_marks_nothing(client: Client, deed: str) -> None:
    assert "aria-invalid" not in client.get(f"/basin/basin-1?written={deed}").text
