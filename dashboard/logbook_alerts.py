"""The logbook's routes of alerts: a list with a search, the same as a file, the time line of one, and how it ended."""

from functools import partial
from urllib.parse import quote

from fastapi import FastAPI, Request
from starlette.responses import HTMLResponse, Response

from dashboard.alert_end import end_view
from dashboard.alert_story import alert_cells, story_moments
from dashboard.answers import Answers, Shown
from dashboard.archive import Archive, NotShownError
from dashboard.called import Names
from dashboard.happened import around_href
from dashboard.listing_view import list_view, of_record, turn_of
from dashboard.logbook_csv import alerts_step, streamed
from dashboard.pages import rendered
from dashboard.record_lists import ALERTS, which_alerts
from dashboard.time_lines import story_of, story_shown
from gateway.alert_log import AlertOrder
from gateway.alert_table import ALERT_COLUMNS
from gateway.answer_link import LINK_PATH

_NO_ALERT = "The record knows no alert of that number; /logbook/alerts lists those that it knows."


async def _end(archive: Archive, alert: str) -> HTMLResponse:
    story = await archive.read(lambda logbook: logbook.alert(alert))
    view = end_view(story.line if story else None, archive.now(), archive.zone)
    return HTMLResponse(rendered("_alert_end.html", view=view, alert=alert), headers={"Cache-Control": "no-store"})


def add_linked_ends(app: FastAPI, answers: Answers, archive: Archive) -> None:
    """Let a link tell how the alerts of its page ended, and of no other."""

    @app.get(f"{LINK_PATH}{{token}}/end")
    async def end(token: str, alert: Shown) -> HTMLResponse:
        linked = await answers.linked(token, alert)
        return await _end(archive, linked.shown)


def add_alert_log(app: FastAPI, archive: Archive) -> None:
    """Put the routes into the application."""

    @app.get("/logbook/alerts")
    async def alerts(request: Request) -> Response:
        asked, telling = ALERTS.asked(request.query_params.multi_items()), archive.telling
        which, turn = which_alerts(asked, archive.zone), turn_of(asked, AlertOrder)
        part = await archive.read(lambda logbook: logbook.alerts(which, turn))
        shown = of_record(ALERTS, asked, part, lambda line: alert_cells(line, telling))
        file, empty = "/logbook/alerts.csv", "No alert was raised yet."
        view = list_view(ALERTS, asked, shown, archive.zone, empty=empty, csv=file)
        return archive.page("logbook_list.html", "Alerts", list=view, note="")

    @app.get("/logbook/alerts.csv")
    async def file(request: Request) -> Response:
        asked = ALERTS.asked(request.query_params.multi_items())
        read = partial(alerts_step, which=which_alerts(asked, archive.zone), zone=archive.zone)
        return await streamed(archive, ALERT_COLUMNS, read, turn_of(asked, AlertOrder), "alerts.csv")

    @app.get("/alert/{alert}/end")
    async def end(alert: str) -> HTMLResponse:
        return await _end(archive, alert)

    @app.get("/logbook/alert/{alert}")
    async def one(alert: str, request: Request) -> Response:
        story = await archive.read(lambda logbook: logbook.alert(alert))
        if story is None:
            raise NotShownError(_NO_ALERT)
        names = Names(archive.premises.duty_roles, archive.premises.names)
        listing = story_of(f"/logbook/alert/{quote(story.line.alert, safe='')}")
        asked = listing.asked(request.query_params.multi_items())
        shown = story_shown(story_moments(story, names, archive.telling), listing, asked)
        view = list_view(listing, asked, shown, archive.zone, empty="Nothing was told of it.")
        then = around_href(story.line.raised, archive.zone)
        return archive.page("logbook_alert.html", story.line.text, line=story.line, list=view, then=then)
