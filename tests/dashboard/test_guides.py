"""The guides and the README: what they name is there, and what they tell to write or to type is understood."""

import re
import tomllib
from functools import cache
from importlib.resources import files
from pathlib import Path

import click
import httpx
import pytest
from markdown_it import MarkdownIt
from markdown_it.token import Token
from PIL import Image

from dashboard.door_table import DOORS
from dashboard.guides import GUIDES, Guide, guide_html
from gateway.cli import main
from gateway.people import Access
from gateway.sitefile import SiteFileError, parse
from gateway.wire import Wire
from rules.readings import Micros
from tests.dashboard.serving import Served
from tests.dashboard.visitors import signed_in
from tests.guide_pictures import MOST_BYTES, MOST_BYTES_OF_ALL, NAMES, PICTURES

ROOT = Path(__file__).parent.parent.parent
FILES = {guide.name: PICTURES.parent / f"{guide.name}.md" for guide in GUIDES} | {"README": ROOT / "README.md"}
PARTS = ("rules", "gateway", "dashboard", "sim_devices", "tests")
MESSAGE_AT = Micros(1_772_442_905_000_000)  # 2026-03-02T09:15:05Z, a second after the guide's message was measured


@cache
def tokens(name: str) -> tuple[Token, ...]:
    found: list[Token] = []
    for token in MarkdownIt("commonmark").enable("table").parse(FILES[name].read_text(encoding="utf-8")):
        found += [token, *(token.children or ())]
    return tuple(found)


def fences(name: str, kind: str) -> list[str]:
    return [token.content for token in tokens(name) if token.type == "fence" and token.info == kind]


def rows(name: str) -> list[tuple[str, str]]:
    """First and second cell of each row of the tables."""
    lines = FILES[name].read_text(encoding="utf-8").splitlines()
    cells = [[cell.strip() for cell in line.strip("|").split(" | ")] for line in lines if line.startswith("|")]
    return [(row[0].strip("` "), row[1].strip()) for row in cells if len(row) == 2]


def test_the_days_that_are_named_are_of_stations_that_the_demo_has() -> None:
    demo = tomllib.loads((ROOT / "sim_devices/demo.toml").read_text(encoding="utf-8"))
    named = {found for name in FILES for found in re.findall(r"/logbook/day/([\w-]+)/", FILES[name].read_text())}
    assert named
    assert named <= {station["id"] for station in demo["station"]}


# ---- pictures ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", FILES)
def test_every_picture_that_is_shown_is_there_and_made_by_the_script(name: str) -> None:
    shown = [FILES[name].parent / str(token.attrs["src"]) for token in tokens(name) if token.type == "image"]
    assert shown or name in {"paging", "simulating"}
    assert [path for path in shown if path.parent != PICTURES or path.stem not in NAMES] == []
    assert [path for path in shown if not path.is_file()] == []


def test_every_picture_that_is_made_is_shown_somewhere() -> None:
    shown = {Path(str(t.attrs["src"])).stem for name in FILES for t in tokens(name) if t.type == "image"}
    assert shown == set(NAMES) == {path.stem for path in PICTURES.glob("*")}


def test_pictures_are_small() -> None:
    sizes = {name: (PICTURES / f"{name}.png").stat().st_size for name in NAMES}
    assert max(sizes.values()) < MOST_BYTES
    assert sum(sizes.values()) < MOST_BYTES_OF_ALL


@pytest.mark.parametrize(("name", "size"), [("wall", (1920, 1080)), ("alert", (390, 844))])
def test_a_picture_has_the_size_of_its_screen(name: str, size: tuple[int, int]) -> None:
    with Image.open(PICTURES / f"{name}.png") as picture:
        assert (picture.size, picture.mode) == (size, "P")


# ---- addresses and commands ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", FILES)
def test_every_address_that_is_named_is_a_page(name: str) -> None:
    patterns = [re.sub(r"\\\{\w+\\\}|<\w+>", "[^/]+", re.escape(path)) for method, path in DOORS if method == "GET"]
    named = [token.content for token in tokens(name) if token.type == "code_inline" and token.content.startswith("/")]
    assert named
    pages = [re.sub(r"[?#].*", "", one) for one in named]
    assert [one for one in pages if not any(re.fullmatch(pattern, one) for pattern in patterns)] == []


def told_to_type(name: str) -> list[str]:
    blocks = [token.content for token in tokens(name) if token.type in {"code_block", "fence"} and not token.info]
    inline = [token.content for token in tokens(name) if token.type == "code_inline"]
    lines = [line.partition("  #")[0].strip() for block in blocks for line in block.splitlines()] + inline
    return [line.partition("sinkside ")[2] for line in lines if re.match(r"(\.venv/bin/)?sinkside [a-z]", line)]


@pytest.mark.parametrize("name", ["engineer", "simulating", "paging", "README"])
def test_every_command_that_is_told_is_one_with_these_options(name: str) -> None:
    typed = told_to_type(name)
    assert typed
    for line in typed:
        command: click.Command = main
        words = line.split()
        while isinstance(command, click.Group) and words:
            assert words[0] in command.commands, f"{name}: sinkside {line}"
            command = command.commands[words.pop(0)]
        options = {option for param in command.params for option in param.opts}
        assert {word for word in words if word.startswith("--")} <= options | {"--help"}, f"{name}: sinkside {line}"


def test_every_file_that_contributors_are_led_to_is_there() -> None:
    rows = [line for line in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").splitlines() if line.startswith("| ")]
    named = {name for row in rows for name in re.findall(r"(?<![*\w/])[\w/]+\.(?:py|css|js|toml|csv)\b", row)}
    there = {path.relative_to(ROOT).as_posix() for part in PARTS for path in (ROOT / part).rglob("*") if path.is_file()}
    assert len(named) > 200
    assert [name for name in sorted(named) if not any(f"/{path}".endswith(f"/{name}") for path in there)] == []


# ---- what is written into a site file ------------------------------------------------------------------------------


EXAMPLE = files("gateway").joinpath("example.toml").read_text(encoding="utf-8")


def site_with(snippet: str = "") -> str:
    """The example with what is shown, in place of its table of the same name."""
    header = snippet.partition("\n")[0]
    example = re.sub(rf"^{re.escape(header)}\n(?:.+\n)+", "", EXAMPLE, flags=re.MULTILINE) if snippet else EXAMPLE
    return f"{EXAMPLE if header.startswith('[[') else example}\n{snippet}"


@pytest.mark.parametrize("snippet", [snippet for name in FILES for snippet in fences(name, "toml")])
def test_every_entry_that_is_shown_is_read_in_the_example_site(snippet: str) -> None:
    assert parse(site_with(snippet), Path("site.toml"))


def other_maker() -> str:
    (entries,) = (snippet for snippet in fences("engineer", "toml") if "topic" in snippet)
    return entries


def test_the_message_of_another_maker_is_understood_as_it_is_told() -> None:
    (message,) = fences("engineer", "json")
    file = parse(site_with(other_maker()), Path("site.toml")).file
    heard = Wire(file).decode("plant/bath-7/state", message.encode(), MESSAGE_AT)
    assert {reading.sensor: reading.value for reading in heard.readings} == {
        "basin-1/lid": True,
        "basin-1/temperature": 20.5,  # (68.9 - 32) x 5/9
    }
    assert {reading.measured for reading in heard.readings} == {MESSAGE_AT - 1_000_000}
    assert "20.5 °C" in FILES["engineer"].read_text(encoding="utf-8")


def test_our_own_message_is_understood_as_it_is_told() -> None:
    (payload,) = re.findall(r"payload  (\[.*\])", FILES["engineer"].read_text(encoding="utf-8"))
    heard = Wire(parse(site_with(), Path("site.toml")).file).decode(
        "sinkside/mill-lane/basin-1/temperature", payload.encode(), MESSAGE_AT
    )
    assert [(reading.sensor, reading.value) for reading in heard.readings] == [("basin-1/temperature", 21.5)]


def test_each_mistake_in_the_site_file_is_told_in_the_words_of_the_guide() -> None:
    mistakes = [(written, said) for written, said in rows("engineer") if re.match(r"\w+ = ", written)]
    assert len(mistakes) == 3
    for written, said in mistakes:
        key = written.partition(" = ")[0].replace("wen", "when")
        (line,) = {row for row in other_maker().splitlines() if row.startswith(f"{key} = ") and "cover" not in row}
        with pytest.raises(SiteFileError) as told:
            parse(site_with(other_maker().replace(line, written)), Path("site.toml"))
        assert said in str(told.value)


def test_each_message_that_cannot_be_used_is_refused_in_the_words_of_the_guide() -> None:
    messages = [(message, said) for message, said in rows("engineer") if message.startswith("{")]
    assert len(messages) == 4
    wire = Wire(parse(site_with(other_maker()), Path("site.toml")).file)
    for message, said in messages:
        refused = wire.decode("plant/bath-7/state", message.encode(), MESSAGE_AT).rejected
        assert any(said in one.reason for one in refused), (message, refused)


# ---- as pages ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("guide", GUIDES, ids=lambda guide: guide.name)
def test_a_guide_is_served_with_its_pictures_and_reached_from_each_page(client: httpx.Client, guide: Guide) -> None:
    assert 'href="/guide"' in client.get("/alerts").text
    assert f'href="/guide/{guide.name}"' in client.get("/guide").text
    page = client.get(f"/guide/{guide.name}")
    assert page.status_code == 200
    sources = re.findall(r'<img src="(pictures/\w+\.png)"', page.text)
    assert len(sources) == FILES[guide.name].read_text(encoding="utf-8").count("](pictures/")
    for source in sources:
        picture = client.get(f"/guide/{source}")
        assert (picture.status_code, picture.headers["content-type"]) == (200, "image/png")
        assert picture.content == (PICTURES.parent / source).read_bytes()


def test_a_guide_leads_to_the_next_in_the_repository_and_on_the_screens() -> None:
    for name in FILES:
        linked = [str(token.attrs["href"]) for token in tokens(name) if token.type == "link_open"]
        assert [link for link in linked if not (FILES[name].parent / link).is_file()] == []
    assert '<a href="paging">' in guide_html("engineer")


def test_an_address_in_a_guide_leads_there() -> None:
    assert '<a href="/duty"><code>/duty</code></a>' in guide_html("nurse")


def test_a_guide_or_picture_that_is_not_there_is_said_to_be_missing(client: httpx.Client) -> None:
    answers = [
        client.get(path) for path in ("/guide/none", "/guide/pictures/none.png", "/guide/pictures/..%2ftech.png")
    ]
    assert [answer.status_code for answer in answers] == [404, 404, 404]
    assert "tech, nurse, engineer, paging, simulating" in answers[0].text.replace("&#39;", "'")


def test_a_display_reads_no_guide(served: Served) -> None:
    with signed_in(served.url, "Wall of guides", Access.DISPLAY) as wall:
        assert wall.get("/guide").status_code == 403
        assert "/guide" not in wall.get("/wall").text
