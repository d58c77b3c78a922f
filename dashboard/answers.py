"""The pages behind the links in messages: who holds a link answers by it, once to each alert, without other leave."""

from collections import Counter as Tally
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import Depends, FastAPI, Header, HTTPException, Query, Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from dashboard import alert_deeds
from dashboard.alert_deeds import AlertCommand, Deed
from dashboard.alert_pages import AlertPage
from dashboard.archive import MOST_READERS, NotShownError, Turns
from dashboard.asking import NotWrittenError, ask, refused, short_body
from dashboard.called import call_of
from dashboard.entries import Counter, Sheet, fields_of
from dashboard.one_alert import Entrance, alert_of
from dashboard.pages import EntryPage, Page, rendered
from dashboard.stream import Now
from dashboard.taps import Taps
from gateway.answer_link import LINK_PATH
from gateway.answering import Answering, LinkedPage
from gateway.hub import Hub
from gateway.schema import JournalError
from rules.alert_commands import PageTold
from rules.alert_words import HIDDEN, WAITING, Confirmation
from rules.picture import AlertPicture, Picture
from rules.readings import Micros

MOST_ANSWERS = 40
"""So often a link is taken between two starts (ours): a page tells of a few alerts, and each deed is one answer."""

_MOST_LETTERS = 64
_MOST_PAGES = 2000
_NOT_OURS = (
    "This link is not one of ours, or not whole: open it from the message again. What stands is on /alerts, and on the"
    " wall."
)
_EXPIRED = "This link has served its time and answers nothing any more. What stands is on /alerts, and on the wall."
_WORN = "This link has been used too often. Answer on the page of the alert; /alerts leads there."
_NOT_TOLD_OF = "The message told of no such alert; /alerts lists those that stand."

ARRIVED, OPENED = "arrived", "opened"
"""What is told of the page itself, beside the deeds about its alerts."""


@dataclass(frozen=True, slots=True)
class Linked:
    """A page reached by its link; shown: the alert of it that is looked at, None where it is over."""

    page: LinkedPage
    token: str
    shown: str

    @property
    def entrance(self) -> Entrance:
        """By which way its alerts' pages are opened."""
        return Entrance(f"{LINK_PATH}{self.token}", self.page.contact, self.page.alerts, self.page.asked)


@dataclass(slots=True)
class Answers:
    """Where links are taken.

    taken: how often each page's link was, of the newest pages. opened: of which pages it is known that they were.
    """

    hub: Hub
    answering: Answering
    site_name: str
    zone: ZoneInfo
    names: Mapping[str, str]
    now: Now
    readers: Turns = field(default_factory=lambda: Turns(MOST_READERS))
    taps: Taps = field(default_factory=Taps)
    taken: Tally[str] = field(default_factory=Tally)
    opened: dict[str, None] = field(default_factory=dict)

    async def linked(self, token: str, alert: str = "") -> Linked:
        """The page of a token; raises HTTPException with one plain sentence where it is none that serves."""
        if len(token) > _MOST_LETTERS:
            raise HTTPException(404, _NOT_OURS)
        try:
            page = await self.readers.take(partial(self.answering.page_of, token, self.now()))
        except (JournalError, NotShownError) as why:
            raise HTTPException(503, str(why)) from why
        if page is None:
            raise HTTPException(404, _NOT_OURS)
        if page.expired:
            raise HTTPException(410, _EXPIRED)
        if alert and alert not in page.alerts:
            raise HTTPException(404, _NOT_TOLD_OF)
        return Linked(page, token, alert or self._first(page))

    def _first(self, page: LinkedPage) -> str:
        """The most urgent one that still waits, else that still stands, else any; '' in a test."""
        picture = self.hub.latest.picture
        standing = [alert for alert in (alert_of(picture, name) for name in page.alerts) if alert is not None]
        waiting = [alert for alert in standing if alert.state in WAITING]
        return next((alert.id for alert in (*waiting, *standing)), page.alerts[0] if page.alerts else "")

    def counter(self, linked: Linked) -> Counter:
        """Where answers by this link are taken."""
        return Counter(self.hub, _sheet(linked, self.site_name, self.zone, self.names), self.now, self.taps)

    def page(self, linked: Linked) -> AlertPage:
        """The page of the alert that is looked at."""
        return AlertPage(linked.shown, self.site_name, self.zone, self.names, linked.entrance)

    def wear(self, page: str) -> None:
        """Count a use; a plain 403 where there were too many."""
        self.taken[page] += 1
        if self.taken[page] > MOST_ANSWERS:
            raise HTTPException(403, _WORN)
        if len(self.taken) > _MOST_PAGES:
            del self.taken[next(iter(self.taken))]

    def test_page(self, linked: Linked) -> HTMLResponse:
        """The page of a message that was sent to see whether it arrives."""
        shown = {"here": linked.entrance.here, "answers_as": linked.page.contact}
        html = rendered("test_page.html", site=self.site_name, name="alert", **shown)
        return HTMLResponse(html, headers={"Cache-Control": "no-store"})

    async def tell_opened(self, linked: Linked) -> Response:
        """A script on the page told that somebody opened it: whatever looks into links on its own runs none."""
        page = linked.page.page
        if page in self.opened:
            return JSONResponse({"said": "Known already."})
        self.opened[page] = None
        if len(self.opened) > _MOST_PAGES:
            del self.opened[next(iter(self.opened))]
        return await self.tell(linked, Confirmation.READ)

    async def tell(self, linked: Linked, outcome: Confirmation) -> Response:
        """Write down what is known of the page itself by now."""
        command = PageTold(arrived=self.now(), who=linked.page.contact, page=linked.page.page, outcome=outcome)
        try:
            await ask(self.hub, command)
        except NotWrittenError as why:
            return refused(503, str(why))
        return JSONResponse({"said": "Written down: it arrived."})


def _sheet(
    linked: Linked, site_name: str, zone: ZoneInfo, names: Mapping[str, str]
) -> Sheet[AlertPicture, AlertCommand | PageTold]:
    """What is done about the alerts of a link's page."""

    def page(_: str) -> EntryPage:
        return AlertPage(linked.shown, site_name, zone, names, linked.entrance)

    def entry(
        deed: str, fields: Mapping[str, str], alert: AlertPicture, picture: Picture, now: Micros
    ) -> Sequence[AlertCommand | PageTold]:
        named = {**fields, "who": linked.page.contact}
        told = linked.page.page
        meant = _meant(Deed(deed), alert, linked, picture)
        answered = PageTold(arrived=now, who=linked.page.contact, page=told, outcome=Confirmation.ANSWERED)
        deeds = (alert_deeds.entry_of(Deed(deed), named, one, picture, now, told) for one in meant)
        return (*deeds, answered)

    return Sheet(
        kind=LINK_PATH.strip("/"),
        deeds=tuple(Deed),
        nowhere="Nothing was written down, for this alert is over: nobody has to go. /alerts lists what stands.",
        find=lambda picture, _: alert_of(picture, linked.shown),
        page=page,
        entry=entry,
        told=lambda commands, events, alert, picture, now: alert_deeds.told(
            [command for command in commands if not isinstance(command, PageTold)], events, alert, picture, now, zone
        ),
        stays=True,
    )


def _meant(deed: Deed, shown: AlertPicture, linked: Linked, picture: Picture) -> Sequence[AlertPicture]:
    """Of which alerts a deed is: an answer is one to all that the message told of; cannot go is said once to each call.

    What somebody else has answered stays theirs. Whatever needs a reason is about the one that is looked at.
    """
    if deed not in (Deed.ACKNOWLEDGE, Deed.DECLINE, Deed.HAND_OVER):
        return [shown]
    told_of = [alert for alert in (alert_of(picture, name) for name in linked.page.alerts) if alert is not None]
    waiting = [alert for alert in told_of if alert.state in WAITING and linked.entrance.asks(alert)]
    own = [a for a in told_of if a.acknowledged_by == linked.page.contact and a.state not in HIDDEN | WAITING]
    match deed:
        case Deed.ACKNOWLEDGE:
            return waiting or [shown]
        case Deed.DECLINE:
            return [*_one_of_each_call(waiting, picture), *own] or [shown]
        case _:
            return [*waiting, *own] or [shown]


def _one_of_each_call(alerts: Sequence[AlertPicture], picture: Picture) -> Iterator[AlertPicture]:
    calls = set()
    for alert in alerts:
        call = call_of(alert.id, picture.calls)
        if call is None or call.alerts not in calls:
            yield alert
        calls.add(call.alerts if call else ())


Shown = Annotated[str, Query(max_length=80)]
"""The id of the alert that is looked at; '' for the first."""


def add_answers(app: FastAPI, answers: Answers, stream_of: Callable[[Page], Response]) -> None:
    """Put the routes of links into the application; stream_of: how a page is kept live."""

    @app.get(f"{LINK_PATH}{{token}}")
    async def page(token: str, alert: Shown = "", written: str = "") -> HTMLResponse:
        linked = await answers.linked(token, alert)
        if not linked.page.alerts:
            return answers.test_page(linked)
        said = "Written down. How it stands now is said above." if written in tuple(Deed) else ""
        return answers.counter(linked).show(token, said)

    @app.get(f"/stream{LINK_PATH}{{token}}")
    async def stream(token: str, alert: Shown = "") -> Response:
        return stream_of(answers.page(await answers.linked(token, alert)))

    @app.post(f"{LINK_PATH}{{token}}/{{deed}}", dependencies=[Depends(short_body)])
    async def enter(
        request: Request, token: str, deed: str, x_sinkside: Annotated[str | None, Header()] = None
    ) -> Response:
        fields = await fields_of(request)
        linked = await answers.linked(token, fields.get("alert", ""))
        if deed == OPENED:
            return await answers.tell_opened(linked)
        answers.wear(linked.page.page)
        if deed == ARRIVED:
            return await answers.tell(linked, Confirmation.ANSWERED)
        if deed not in tuple(Deed):
            raise HTTPException(422, "Nothing of this kind can be entered here: open the link again.")
        return await answers.counter(linked).respond(token, deed, fields, to_script=x_sinkside is not None)
