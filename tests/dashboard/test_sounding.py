"""How the sounds of alerts are served, and which walls ask for them."""

import wave
from io import BytesIO
from zoneinfo import ZoneInfo

import httpx
import pytest

from dashboard.sounding import burst_addresses
from gateway.hub import Hub
from tests.dashboard.pictures import calm
from tests.dashboard.serving import Desk, serve
from tests.dashboard.visitors import signed_in


@pytest.mark.parametrize("priority", ["high", "medium", "low"])
def test_a_sound_is_a_wave_file_that_is_kept_under_the_address_of_its_content(
    client: httpx.Client, priority: str
) -> None:
    answer = client.get(burst_addresses()[priority])
    assert (answer.status_code, answer.headers["content-type"]) == (200, "audio/wav")
    assert answer.headers["cache-control"] == "public, max-age=31536000, immutable"
    with wave.open(BytesIO(answer.content)) as file:
        assert file.getnframes() > 0
    assert len(set(burst_addresses().values())) == 3


def test_there_is_no_other_sound(client: httpx.Client) -> None:
    answer = client.get("/sound/urgent.wav", headers={"Accept": "application/json"})
    assert answer.status_code == 404
    assert "high, medium, low" in answer.text


@pytest.mark.parametrize(("sound", "asked", "sounds"), [
    (False, "", False), (False, "?sound=on", True), (True, "", True), (True, "?sound=off", False),
])  # fmt: skip
def test_a_wall_sounds_as_its_address_says_else_as_the_site_does(sound: bool, asked: str, sounds: bool) -> None:  # noqa: FBT001 - rows
    with serve(Hub(calm(), Desk().ask), ZoneInfo("UTC"), sound=sound) as served, signed_in(served.url) as client:
        html = client.get(f"/wall{asked}").text
    assert ("/static/sound.js" in html, 'class="sound"' in html, "/stream/sounding-wall" in html) == (sounds,) * 3


def test_whether_it_sounds_is_on_or_off(client: httpx.Client) -> None:
    assert client.get("/wall?sound=loud").status_code == 422
