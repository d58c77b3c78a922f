"""Alerts read from the journal: a list of them, and the story of one."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from gateway.alert_log import AlertFilter, AlertLine, AlertLogPage, AlertStory
from gateway.found import EVER, Found, RecordView
from gateway.past import Past
from gateway.soak_list import span_of
from rules.alert_events import AlertAcknowledged, AlertOver, AlertRaised, PageAsked
from rules.exposure import Span
from rules.readings import NO_TIME

CHUNK_ALERTS = 500
MOST_LOOKED_AT = 10_000
"""So many raised alerts are looked through for a text in one go (ours); the list goes on from there."""


class AlertStories:
    """Reads over one connection."""

    def __init__(self, view: RecordView) -> None:
        self._view = view

    def page(self, which: AlertFilter, before: int | None, most: int) -> AlertLogPage:
        """Alerts, the newest first; ``before``: as a page before gave it."""
        found: list[Found] = []
        looked_at, last = 0, before if before is not None else int(EVER)
        for raised in self._raised(which, last):
            looked_at, last = looked_at + 1, raised.number
            if _is_asked_for(raised, which.text):
                found.append(raised)
            if len(found) == most or looked_at == MOST_LOOKED_AT:
                return AlertLogPage(self._lines(found), last)
        return AlertLogPage(self._lines(found), None)

    def story(self, alert: str) -> AlertStory | None:
        """All of one alert; None where none of that id was ever raised."""
        own = self._view.of_alert(alert)
        raised = next((one for one in own if isinstance(one.event, AlertRaised)), None)
        if raised is None:
            return None
        over = next((one.number for one in own if isinstance(one.event, AlertOver)), int(EVER))
        about = self._view.pages_about(alert, raised.number, over)
        pages = [one.event.page for one in about if isinstance(one.event, PageAsked)]
        told = sorted((*own, *about, *self._view.of_pages(pages)), key=lambda one: one.number)
        return AlertStory(_followed(_line(raised), own), tuple(told))

    def _raised(self, which: AlertFilter, before: int) -> Iterator[Found]:
        newest = Past(self._view).newest() if which.day is not None else None
        span = span_of(which.day, newest.zone) if which.day is not None and newest else Span(NO_TIME, EVER)
        while chunk := self._view.raised_back(before, CHUNK_ALERTS, *span):
            yield from chunk
            before = chunk[-1].number

    def _lines(self, raised: Sequence[Found]) -> tuple[AlertLine, ...]:
        lines = [_line(one) for one in raised]
        if not lines:
            return ()
        ends = self._view.ends_of([line.alert for line in lines], lines[-1].number)
        return tuple(
            _followed(line, [one for one in ends if getattr(one.event, "alert", "") == line.alert]) for line in lines
        )


def _is_asked_for(found: Found, text: str) -> bool:
    event = found.event
    if not isinstance(event, AlertRaised):
        return False
    return text.casefold() in f"{event.text} {event.rule} {event.subject} {event.alert}".casefold()


def _line(raised: Found) -> AlertLine:
    event = raised.event
    if not isinstance(event, AlertRaised):
        raise TypeError(event.kind)
    return AlertLine(raised.number, event.alert, event.rule, event.subject, event.priority, event.text, event.at)


def _followed(line: AlertLine, told: Sequence[Found]) -> AlertLine:
    """The same with the first answer and the end."""
    for one in told:
        event = one.event
        if isinstance(event, AlertAcknowledged) and line.answered is None:
            line = replace(line, answered=event.at, answered_by=event.who)
        elif isinstance(event, AlertOver):
            line = replace(line, over=event.at, over_why=event.why, over_by=event.who, remark=event.remark)
    return line
