"""The logbook's routes of alerts: a list with a search, the same as a file, the time line of one, and how it ended."""

from functools import partial

from fastapi import FastAPI, Request
from starlette.responses import HTMLResponse, Response

from dashboard.alert_end import end_view
from dashboard.alert_story import alerts_grid, story_moments
from dashboard.archive import Archive, NotShownError
from dashboard.called import Names
from dashboard.files import csv_file
from dashboard.logbook_csv import alerts_csv
from dashboard.logbook_queries import AlertsQuery, asked, onward_from
from dashboard.pages import rendered

_NO_ALERT = "The record knows no alert of that number; /logbook/alerts lists those that it knows."


def add_alert_log(app: FastAPI, archive: Archive) -> None:
    """Put the routes into the application."""

    @app.get("/logbook/alerts")
    async def alerts(request: Request) -> Response:
        query = asked(AlertsQuery, request.query_params)
        page = await archive.read(lambda logbook: logbook.alerts(query.which, query.before))
        return archive.page(
            "logbook_alerts.html",
            "Alerts",
            grid=alerts_grid(page.lines, archive.telling),
            query=query,
            onward=onward_from(query, "/logbook/alerts", "/logbook/alerts.csv", page.older),
        )

    @app.get("/logbook/alerts.csv")
    async def file(request: Request) -> Response:
        query = asked(AlertsQuery, request.query_params)
        read = partial(alerts_csv, which=query.which, before=query.before, zone=archive.zone)
        return csv_file(await archive.read(read), "alerts.csv")

    @app.get("/alert/{alert}/end")
    async def end(alert: str) -> HTMLResponse:
        story = await archive.read(lambda logbook: logbook.alert(alert))
        view = end_view(story.line if story else None, archive.now(), archive.zone)
        return HTMLResponse(rendered("_alert_end.html", view=view), headers={"Cache-Control": "no-store"})

    @app.get("/logbook/alert/{alert}")
    async def one(alert: str) -> Response:
        story = await archive.read(lambda logbook: logbook.alert(alert))
        if story is None:
            raise NotShownError(_NO_ALERT)
        names = Names(archive.premises.duty_roles, archive.premises.names)
        moments = story_moments(story, names, archive.telling)
        return archive.page("logbook_alert.html", story.line.text, line=story.line, moments=moments)
