"""What is meant ill: script in each field into which anything can be typed, and paths that lead elsewhere."""

import re
from collections.abc import Iterator
from html import escape

import httpx
import pytest
from httpx import Client

from dashboard.door_table import DOORS
from tests.dashboard.forms_in_pages import TEXTS, Form, Seen, is_page, walk
from tests.dashboard.houses import House, house
from tests.dashboard.visitors import script, signed_in, stranger

BEGIN = ["/alerts", "/basins", "/probes", "/cart/cart-1", "/logbook", "/live", "/bench", "/people", "/me", "/pages"]
MARK = "\"'><xss-mark onxss=1><script>xss()</script>"
"""Ends an attribute in either quotes, and begins elements (OWASP's cheat sheet on cross-site scripting)."""


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    with house(tmp_path_factory.mktemp("hostile") / "data") as whole:
        yield whole


@pytest.fixture(scope="module")
def client(home: House) -> Iterator[Client]:
    with signed_in(home.ward.served.url, timeout=20) as browser:
        yield browser


# ---- script ----------------------------------------------------------------------------------------------------------


def made_of_it(html: str) -> list[str]:
    """Elements and attributes that came out of the mark."""
    found = []
    for tag, attrs in Seen(html, "/").elements:
        is_script = tag == "script" and not attrs.get("src", "").startswith("/static/")
        if tag == "xss-mark" or is_script or any("onxss" in name for name in attrs):
            found.append(tag)
    return found


def test_whatever_would_come_out_of_it_is_found() -> None:
    assert made_of_it(f"<p>{MARK}</p>") == ["xss-mark", "script"]
    assert made_of_it(f'<input value="{MARK}">') == ["xss-mark", "script"]
    assert made_of_it(f'<input value="{escape(MARK)}">{escape(MARK)}') == []


def texts_of(form: Form) -> list[str]:
    return [name for name, own in form.fields.items() if own.kind in TEXTS]


def test_script_in_any_field_of_any_form_stays_text_on_every_page(home: House, client: Client) -> None:
    begin = [*BEGIN, f"/alert/{home.alert}", home.link]
    forms = walk(client, begin).forms
    typed = [(form, name) for form in forms for name in texts_of(form)]
    assert {form.action.split("/")[1] for form, _ in typed} >= {"basin", "probe", "alert", "people", "bench", "logbook"}
    for form, name in typed:
        fields = {**form.filled(), name: MARK}
        answer = (
            client.get(form.action, params=fields)
            if form.method == "get"
            else client.post(form.action, data=fields, headers={**script(client), "X-Sinkside": ""})
        )
        assert answer.status_code < 500, (form, name)
        assert not is_page(answer) or made_of_it(answer.text) == [], (form, name)
    after = walk(client, begin).pages
    assert [path for path, html in after.items() if made_of_it(html)] == []
    shown = {path for path, html in after.items() if escape("<xss-mark") in html}
    assert shown, "no page shows what was typed: nothing was tried"


# ---- links -----------------------------------------------------------------------------------------------------------


def test_a_link_tells_without_signing_in_how_its_own_alerts_ended_and_no_others(home: House) -> None:
    with stranger(home.ward.served.url) as nobody:
        of_it = nobody.get(f"{home.link}/end", params={"alert": home.alert})
        assert (of_it.status_code, "does not say yet how it ended" in of_it.text) == (200, True)
        assert nobody.get(f"{home.link}/end", params={"alert": "alert-1"}).status_code == 404
        assert nobody.get(f"{home.link}/end").status_code == 422
        assert nobody.get("/p/AAAAAAAAAAAAAAAAAAAAAA/end", params={"alert": home.alert}).status_code == 404
        assert nobody.get(f"/alert/{home.alert}/end").status_code == 401


# ---- paths that lead elsewhere ---------------------------------------------------------------------------------------

UP = [
    "..%2f" * 9 + "etc%2fpasswd", "%2e%2e%2f" * 9 + "etc%2fpasswd", "%252e%252e%252f" * 9 + "etc%252fpasswd",
    "..%5c" * 9 + "etc%5cpasswd", "..%c0%af" * 9 + "etc%c0%afpasswd", "%2fetc%2fpasswd", "%2fetc%2fpasswd%00",
    "..%2f..%2fjournal.db", "..%2fpeople.db%00", "..%2fanswer.key", "%00", "../../people.db", "..%2f..%2fplanted.txt",
]  # fmt: skip
KEPT = (b"root:", b"SQLite format 3", b"planted here")
LEADING = [path for method, path in DOORS if method == "GET" and "{" in path and not path.startswith("/stream")]


def test_no_address_leads_to_what_lies_elsewhere(home: House, client: Client) -> None:
    folder = home.ward.folder
    (folder / "bench").mkdir(exist_ok=True)
    for where in (folder, folder / "bench", folder.parent):
        (where / "planted.txt").write_text("planted here")
    key = (folder / "answer.key").read_bytes()
    asked = 0
    for path in [*LEADING, "/static/{name}"]:
        for up in UP:
            sent = httpx.Request("GET", client.base_url)
            address = re.sub(r"\{(\w+)\}", up, path)
            sent.url = httpx.URL(str(client.base_url).rstrip("/"), raw_path=address.encode())
            sent.headers["Cookie"] = "; ".join(f"{name}={value}" for name, value in client.cookies.items())
            answer = client.send(sent)
            assert answer.status_code < 500, address
            assert not any(kept in answer.content for kept in (*KEPT, key)), address
            asked += answer.status_code in {404, 410, 422}
    assert asked > len(LEADING)
