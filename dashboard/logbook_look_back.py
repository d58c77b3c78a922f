"""The routes of the look-back."""

from functools import partial

from fastapi import FastAPI, Request
from starlette.responses import Response

from dashboard.archive import Archive, NotShownError
from dashboard.files import csv_file
from dashboard.logbook_csv import look_back_csv
from dashboard.logbook_queries import asked
from dashboard.look_back import LookBackQuery, failed_strips, look_back_view
from dashboard.premises import Named
from gateway.logbook import Logbook
from gateway.look_back import LookBack, Question
from gateway.look_back_reading import NothingFoundError
from gateway.look_back_told import CAUTION
from rules.readings import SensorKind


def add_look_back(app: FastAPI, archive: Archive) -> None:
    """Put the routes into the application."""

    @app.get("/logbook/look-back")
    async def look_back(request: Request) -> Response:
        query = asked(LookBackQuery, request.query_params)
        question = query.question(archive.zone)
        if question is None:
            return await _choices(archive)
        found = await archive.read(partial(_answer, question=question))
        return archive.page(
            "logbook_look_back.html",
            "Look-back",
            view=look_back_view(found, archive.telling),
            csv=f"/logbook/look-back.csv{query.address()}",
            caution=CAUTION,
        )

    @app.get("/logbook/look-back.csv")
    async def look_back_file(request: Request) -> Response:
        question = asked(LookBackQuery, request.query_params).question(archive.zone)
        if question is None:
            raise NotShownError("Say what is looked back for, at /logbook/look-back.", 422)
        return csv_file(await archive.read(partial(_table, question=question, archive=archive)), "look-back.csv")


async def _choices(archive: Archive) -> Response:
    solutions = await archive.read(lambda logbook: logbook.solutions().solutions)
    sensors = archive.hub.latest.picture.sensors
    warm = [Named(s.id, f"{s.thing_name} ({s.id})") for s in sensors if s.kind is SensorKind.TEMPERATURE]
    return archive.page(
        "logbook_look_back.html",
        "Look-back",
        view=None,
        failed=failed_strips(solutions, archive.telling),
        thermometers=warm,
        caution=CAUTION,
    )


def _answer(logbook: Logbook, question: Question) -> LookBack:
    try:
        return logbook.look_back(question)
    except NothingFoundError as why:
        raise NotShownError(str(why)) from why


def _table(logbook: Logbook, question: Question, archive: Archive) -> str:
    try:
        return look_back_csv(logbook, question, archive.zone)
    except NothingFoundError as why:
        raise NotShownError(str(why)) from why
