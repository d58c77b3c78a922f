"""The routes of the load on people: a page with figures and plots, and the same as a file."""

from collections.abc import Mapping
from enum import StrEnum
from functools import partial
from io import StringIO
from typing import Annotated
from urllib.parse import urlencode

from fastapi import FastAPI, Request
from pydantic import BaseModel, ConfigDict
from starlette.responses import Response

from dashboard.archive import Archive, NotShownError
from dashboard.files import csv_file
from dashboard.forms import Blank
from dashboard.load_tables import load_listing, load_tables
from dashboard.load_view import load_view
from dashboard.logbook_queries import Id, asked
from gateway.csv_text import write_table
from gateway.load_log import LoadQuestion, RecordedLoad
from gateway.load_reading import LoadError
from gateway.load_table import LOAD_COLUMNS, load_rows
from gateway.logbook import Logbook
from gateway.when import WhenError
from rules.load import Which


class Back(StrEnum):
    """How far back is looked, from the end of the record."""

    DAY = "day"
    WEEK = "week"
    MONTH = "month"


_DAYS: Mapping[Back, int] = {Back.DAY: 1, Back.WEEK: 7, Back.MONTH: 30}
_WORDS: Mapping[Back, str] = {Back.DAY: "24 hours", Back.WEEK: "7 days", Back.MONTH: "30 days"}


class LoadQuery(BaseModel):
    """Of which time, which role and which rule."""

    model_config = ConfigDict(extra="ignore")

    back: Back = Back.WEEK
    role: Annotated[Id | None, Blank] = None
    rule: Annotated[Id | None, Blank] = None

    @property
    def question(self) -> LoadQuestion:
        """As the logbook takes it."""
        return LoadQuestion(which=Which(self.rule, self.role), length_days=_DAYS[self.back])

    @property
    def parts(self) -> list[tuple[str, str]]:
        """The same question as parts of an address."""
        return [(name, value) for name, value in self.model_dump(mode="json").items() if value]

    @property
    def address(self) -> str:
        """The same as the end of one."""
        return f"?{urlencode(self.parts)}"


def add_load(app: FastAPI, archive: Archive) -> None:
    """Put the routes into the application."""

    @app.get("/load")
    async def load(request: Request) -> Response:
        query = asked(LoadQuery, request.query_params)
        listing = load_listing(query.parts)
        order = listing.asked(request.query_params.multi_items())
        found = await archive.read(partial(_answer, query=query))
        view = await archive.readers.take(partial(load_view, found))
        return archive.page(
            "load.html",
            "Load on people",
            view=view,
            tables=load_tables(found, listing, order),
            sort="" if order.sort == listing.at_first else order.sort,
            query=query,
            backs=_WORDS,
            roles=[(role, found.name(role)) for role in found.roles],
            rules=[(rule, archive.premises.rule_names.get(rule, rule)) for rule in found.rules],
            csv=f"/load.csv{query.address}",
        )

    @app.get("/load.csv")
    async def load_file(request: Request) -> Response:
        query = asked(LoadQuery, request.query_params)
        return csv_file(await archive.read(partial(_table, query=query)), f"load {query.back}.csv")


def _answer(logbook: Logbook, query: LoadQuery) -> RecordedLoad:
    try:
        return logbook.load(query.question)
    except WhenError as why:
        raise NotShownError(str(why)) from why
    except LoadError as why:
        raise NotShownError(str(why), 422) from why


def _table(logbook: Logbook, query: LoadQuery) -> str:
    out = StringIO(newline="")
    write_table(out, LOAD_COLUMNS, load_rows(_answer(logbook, query)))
    return out.getvalue()
