"""The guides of those who use Sinkside: Markdown in the repository, and pages for whoever has signed in."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from html import escape
from importlib.resources import files
from typing import Any

from fastapi import FastAPI, HTTPException
from markdown_it import MarkdownIt
from markdown_it.renderer import RendererHTML
from markdown_it.token import Token
from starlette.responses import HTMLResponse, Response

from dashboard.door_table import DOORS
from dashboard.pages import rendered

_FOLDER = files("dashboard") / "guide"


@dataclass(frozen=True, slots=True)
class Guide:
    """A guide: its name in the address and of its file, its title, and whom it is for."""

    name: str
    title: str
    whom: str


GUIDES = (
    Guide("tech", "In the reprocessing room", "for whoever soaks probes: wall, basin, probe"),
    Guide("nurse", "On duty with phone or pager", "for the charge nurse, and for anybody else who is called"),
    Guide("engineer", "For the engineer", "sensors, devices of another maker, tuning, backup"),
    Guide(
        "paging",
        "Alerts, and whom to tell",
        "for whoever sets up a site: roles, duties, channels, the life of an alert",
    ),
    Guide(
        "simulating", "Simulating and tuning", "for the engineer: departments without hardware, and how tuning counts"
    ),
)


@cache
def guide_html(name: str) -> str:
    """A guide as HTML; what looks like HTML in it is text. Code that is the address of a page leads there."""
    return str(_markdown().render((_FOLDER / f"{name}.md").read_text(encoding="utf-8")))


@cache
def _markdown() -> MarkdownIt:
    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    reader.add_render_rule("code_inline", _code)
    reader.add_render_rule("link_open", _link)
    return reader


def _code(_: RendererHTML, tokens: Sequence[Token], at: int, *_more: Any) -> str:
    said = tokens[at].content
    code = f"<code>{escape(said)}</code>"
    return f'<a href="{escape(said)}">{code}</a>' if ("GET", said) in DOORS else code


def _link(renderer: RendererHTML, tokens: Sequence[Token], at: int, *more: Any) -> str:
    """From file to file there, from page to page here."""
    token = tokens[at]
    token.attrs["href"] = str(token.attrs["href"]).removesuffix(".md")
    options, env = more
    return renderer.renderToken(tokens, at, options, env)


def _picture(name: str) -> bytes | None:
    """A picture by its name; None where there is none of that name."""
    known = {entry.name: entry for entry in (_FOLDER / "pictures").iterdir()}
    found = known.get(f"{name}.png")
    return None if found is None else found.read_bytes()


def add_guides(app: FastAPI, site_name: str) -> None:
    """Put the routes into the application."""
    around = {"site": site_name, "name": "guide"}

    @app.get("/guide")
    async def guides() -> HTMLResponse:
        return HTMLResponse(rendered("guides.html", guides=GUIDES, **around))

    @app.get("/guide/{name}")
    async def guide(name: str) -> HTMLResponse:
        found = next((one for one in GUIDES if one.name == name), None)
        if found is None:
            raise HTTPException(404, f"There is no guide '{name}'. There are: {', '.join(g.name for g in GUIDES)}.")
        return HTMLResponse(rendered("guide.html", title=found.title, written=guide_html(name), **around))

    @app.get("/guide/pictures/{name}.png")
    async def picture(name: str) -> Response:
        found = _picture(name)
        if found is None:
            raise HTTPException(404, f"There is no picture '{name}' in the guides.")
        return Response(found, media_type="image/png")
