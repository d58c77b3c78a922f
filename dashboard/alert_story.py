"""What the logbook shows of alerts: a list of them, and the time line of one."""

from collections.abc import Mapping

from dashboard.alert_end import ENDED, end_words
from dashboard.called import OUTCOMES, WHYS, Names, detail_words
from dashboard.grid import Cell, cell
from dashboard.happening import Telling
from dashboard.moments import Moment
from dashboard.one_alert import where_of
from gateway.alert_log import AlertLine, AlertStory
from gateway.found import Found
from rules.alert_events import (
    AlertAcknowledged,
    AlertMoved,
    AlertOver,
    AlertRaised,
    AlertTakenOver,
    NobodyOnDuty,
    PageAsked,
    PageReported,
    PageWithdrawn,
)
from rules.alert_words import Cause, State
from rules.events import Event


def alert_cells(line: AlertLine, telling: Telling) -> tuple[Cell, ...]:
    """An alert in a list."""
    answered = None if line.answered is None else f"{line.answered_by}, {telling.time(line.answered)}"
    ended = None if line.over is None else telling.time(line.over)
    return (
        cell(telling.time(line.raised), href=f"/logbook/alert/{line.alert}"),
        cell(line.text),
        cell(line.priority.value),
        cell(line.rule),
        cell(where_of(line.subject, telling.names).name),
        cell(answered, missing="nobody" if line.over is not None else "nobody has answered yet"),
        cell(ended, None if line.over_why is None else ENDED[line.over_why], line.remark, missing="still stands"),
    )


def story_moments(story: AlertStory, names: Names, telling: Telling) -> tuple[Moment, ...]:
    """All that was told of one alert, the oldest first."""
    asked = {one.event.page: one.event for one in story.told if isinstance(one.event, PageAsked)}
    return tuple(_moment(one, asked, names, telling) for one in story.told)


_BY_PAGE = ", by the link or key of a page"


def _moment(found: Found, asked: Mapping[str, PageAsked], names: Names, telling: Telling) -> Moment:
    event = found.event
    words = alert_words(event, names, telling) or page_words(event, asked, names) or event.kind
    return Moment(
        number=found.number,
        happened=telling.time(event.at),
        entered="",
        who=getattr(event, "who", None) or ("the gateway" if isinstance(event, PageReported) else "worked out"),
        words=words,
        href="",
        struck="",
        strike="",
    )


def alert_words(event: Event, names: Names, telling: Telling) -> str:
    """What became of an alert; '' of anything else."""
    match event:
        case AlertRaised():
            return f"Raised: {event.text}"
        case AlertAcknowledged():
            return f"Answered by {event.who}" + (_BY_PAGE if event.page else "")
        case AlertTakenOver():
            return f"Taken over by {event.who} from {event.holder}" + (_BY_PAGE if event.page else "")
        case AlertOver():
            return f"Over: {end_words(event.why, event.who, event.remark)}"
        case AlertMoved():
            return _moved(event, names, telling)
        case _:
            return ""


def _moved(event: AlertMoved, names: Names, telling: Telling) -> str:
    to = f" to {names.role(event.role)}" if event.role else ""
    until = f" until {telling.time(event.until)}" if event.until is not None else ""
    why = f": {event.why}" if event.why else ""
    cause = _CAUSES.get(event.cause, event.cause.value)
    return f"{cause[:1].upper()}{cause[1:]}{to}{until}{why}; since then {_STATES[event.after]}"


_CAUSES: Mapping[Cause, str] = {
    Cause.REMINDED: "somebody had it long ago, and it still goes on",
    Cause.SHELVED: "put aside",
    Cause.SHELF_TIME_OVER: "the time is over for which it was put aside",
    Cause.SHELF_ENDED_WITH_CONDITION: "put aside until it ended, and it has",
    Cause.TAKEN_FROM_SHELF: "no longer put aside",
}
"""In the words of the pages, where the record's are those of the trade."""

_STATES: Mapping[State, str] = {
    State.NORMAL: "nobody has to know of it",
    State.UNACKNOWLEDGED: "it waits for an answer",
    State.ACKNOWLEDGED: "somebody has it",
    State.RETURNED: "it has ended, and waits for an answer",
    State.LATCHED_UNACKNOWLEDGED: "it has ended, and waits for an answer and for a word of what was done",
    State.LATCHED_ACKNOWLEDGED: "it has ended, and waits for a word of what was done",
    State.SHELVED: "it is put aside",
    State.SUPPRESSED: "its rule holds it back",
    State.OUT_OF_SERVICE: "it is out of service",
}


def page_words(event: Event, asked: Mapping[str, PageAsked], names: Names) -> str:
    """What became of a page; '' of anything else. asked: pages by their ids."""
    match event:
        case PageAsked():
            to = f"{names.role(event.role)}, {names.other(event.contact)}"
            return f"To be told: {to}, by {event.channel} ({WHYS[event.why]}): {event.text}"
        case PageReported():
            more = detail_words(event.outcome, event.detail)
            said = f" ({more})" if more else ""
            return f"{_whose(event.page, asked, names)}: {OUTCOMES[event.outcome]}{said}"
        case PageWithdrawn():
            return f"{_whose(event.page, asked, names)}: not needed any more"
        case NobodyOnDuty():
            return f"Nobody was on duty as {names.role(event.role)}"
        case _:
            return ""


def _whose(page: str, asked: Mapping[str, PageAsked], names: Names) -> str:
    known = asked.get(page)
    return page if known is None else f"{names.other(known.contact)} by {known.channel}"
