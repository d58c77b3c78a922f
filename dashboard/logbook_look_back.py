"""The routes of the look-back, and of writing down that a thermometer was off."""

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from typing import Annotated

from fastapi import Depends, FastAPI, Request
from pydantic import Field
from starlette.responses import RedirectResponse, Response

from dashboard.archive import Archive, NotShownError
from dashboard.asking import NotWrittenError, ask, short_body
from dashboard.entries import fields_of
from dashboard.files import csv_file
from dashboard.forms import DeedError, filled
from dashboard.live_listings import Params
from dashboard.logbook_csv import look_back_csv
from dashboard.logbook_queries import asked
from dashboard.look_back import Error, LookBackQuery, failed_strips, look_back_listing, look_back_view, picked
from dashboard.premises import Named
from dashboard.strikes import EXPECTED, CorrectionForm, Corrections
from gateway.logbook import Logbook
from gateway.look_back import LookBack, Question, WrongThermometer
from gateway.look_back_reading import NothingFoundError
from gateway.look_back_told import CAUTION
from gateway.when import written_whole
from rules.commands import SensorFoundOff
from rules.events import SensorWasOff
from rules.readings import Micros, SensorId, SensorKind

_NO_THERMOMETER = "This site has no such thermometer; choose one at /logbook/look-back."
_TO_COME = "A thermometer cannot be entered to be off from a time to come; give when it began."
_NOTHING_NEW = "This stands in the record already."


def add_look_back(app: FastAPI, corrections: Corrections) -> None:
    """Put the routes into the application."""
    archive = corrections.archive

    @app.get("/logbook/look-back")
    async def look_back(request: Request) -> Response:
        query = asked(LookBackQuery, request.query_params)
        question = query.question(archive.zone)
        if question is None:
            return await _choices(archive)
        return await _show(corrections, query, question, request.query_params.multi_items())

    @app.get("/logbook/look-back.csv")
    async def look_back_file(request: Request) -> Response:
        query = asked(LookBackQuery, request.query_params)
        question = query.question(archive.zone)
        if question is None:
            raise NotShownError("Say what is looked back for, at /logbook/look-back.", 422)
        order = look_back_listing(query).asked(request.query_params.multi_items())
        found = await archive.read(partial(_answer, question=question))
        return csv_file(look_back_csv(replace(found, soaks=picked(found.soaks, order)), archive.zone), "look-back.csv")

    @app.post("/logbook/look-back/thermometer", dependencies=[Depends(short_body)])
    async def found_off(request: Request) -> Response:
        return await _write_down(corrections, await fields_of(request))


async def _choices(archive: Archive) -> Response:
    solutions = await archive.read(lambda logbook: logbook.solutions().lines)
    return archive.page(
        "logbook_look_back.html",
        "Look-back",
        view=None,
        failed=failed_strips(solutions, archive.telling),
        thermometers=_thermometers(archive),
        caution=CAUTION,
    )


def _thermometers(archive: Archive) -> list[Named]:
    sensors = archive.hub.latest.picture.sensors
    return [Named(s.id, f"{s.thing_name} ({s.id})") for s in sensors if s.kind is SensorKind.TEMPERATURE]


async def _show(
    corrections: Corrections,
    query: LookBackQuery,
    question: Question,
    params: Params = (),
    refusal: str = "",
    why: str = "",
    status: int = 200,
) -> Response:
    """What was found.

    params: of the address, for which of it is shown. refusal: why an entry made there was not taken; why: what was
    typed into it.
    """
    archive = corrections.archive
    listing = look_back_listing(query)
    order = listing.asked(params)
    found = await archive.read(partial(_answer, question=question))
    return archive.page(
        "logbook_look_back.html",
        "Look-back",
        status=status,
        view=look_back_view(found, archive.telling, listing, order),
        csv=listing.address(order, "/logbook/look-back.csv"),
        caution=CAUTION,
        off=question if isinstance(question, WrongThermometer) else None,
        refusal=refusal,
        why=why,
    )


def _answer(logbook: Logbook, question: Question) -> LookBack:
    try:
        return logbook.look_back(question)
    except NothingFoundError as why:
        raise NotShownError(str(why)) from why


# ---- a thermometer that was off -------------------------------------------------------------------------------------


class _FoundOffForm(CorrectionForm):
    """since: microseconds, as the page was made with."""

    sensor: str
    error: Error
    since: Annotated[int, Field(ge=0, lt=1 << 53)]


_EXPECTED = {
    **EXPECTED,
    "sensor": _NO_THERMOMETER,
    "error": "The error is a number of °C from -20 to 20.",
    "since": "Since when is not understood; look back for the thermometer anew.",
}


async def _write_down(corrections: Corrections, fields: Mapping[str, str]) -> Response:
    """Enter it, once that is on disk, and show what the record puts in doubt then; or say why not."""
    archive = corrections.archive
    try:
        form = filled(_FoundOffForm, fields, _EXPECTED)
    except DeedError as wrong:
        raise NotShownError(str(wrong), 422) from wrong
    if form.sensor not in {thermometer.id for thermometer in _thermometers(archive)}:
        raise NotShownError(_NO_THERMOMETER)
    now, sensor, since = archive.now(), SensorId(form.sensor), Micros(form.since)
    if since > now:
        raise NotShownError(_TO_COME, 422)
    command = SensorFoundOff(
        arrived=now, who=form.who, sensor=sensor, since=since, error_celsius=form.error, why=form.why
    )
    refusal, status = _NOTHING_NEW, 409
    try:
        if any(isinstance(event, SensorWasOff) for event in await ask(archive.hub, command)):
            return RedirectResponse("/logbook/look-back?what=record", status_code=303)
    except NotWrittenError as why:
        refusal, status = str(why), 503
    question = WrongThermometer(sensor, form.error, since)
    asked_by = written_whole(since, archive.zone)
    query = LookBackQuery(what="sensor", sensor=sensor, error=form.error, since=asked_by)
    return await _show(corrections, query, question, (), refusal, form.why, status)
