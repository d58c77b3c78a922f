"""Alerts read from the journal: a list of them, and the story of one."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from types import MappingProxyType

from gateway.alert_log import AlertFilter, AlertLine, AlertOrder, AlertStory
from gateway.days import ALWAYS
from gateway.found import EVER, Found, RecordView
from gateway.ordered import Rows, Term, Turn
from gateway.part import Listed, Part
from gateway.schema import ALERT
from rules.alert_events import AlertAcknowledged, AlertOver, AlertRaised, PageAsked
from rules.alert_words import Priority

MOST_LOOKED_AT = 10_000
"""So many raised alerts are looked through for a text in one go (ours); the list goes on from there."""

# Whatever falls out of the cases, as what an older version told, stands at the end.
_URGENCY = (
    "CASE body ->> '$.priority'" + "".join(f" WHEN '{p.value}' THEN {n}" for n, p in enumerate(Priority)) + " END"
)


def _first(kind: str) -> str:
    """When the first thing of a kind was told of an alert; where none was, after all that was."""
    when = f"SELECT min(seq) FROM event WHERE {ALERT} = listed.alert AND kind = '{kind}'"  # noqa: S608 - ours
    return f"coalesce(({when}), {EVER})"


_TERMS: Mapping[AlertOrder, str] = MappingProxyType(
    {
        AlertOrder.RAISED: "seq",
        AlertOrder.PRIORITY: f"coalesce({_URGENCY}, {len(Priority)})",
        AlertOrder.RULE: "coalesce(body ->> '$.rule', '')",
        AlertOrder.WHERE: "coalesce(body ->> '$.subject', '')",
        AlertOrder.ANSWERED: _first("alert acknowledged"),
        AlertOrder.OVER: _first("alert over"),
    }
)


def _order(turn: Turn[AlertOrder]) -> tuple[Term, ...]:
    """Among those that are alike the newest comes first."""
    if turn.by is AlertOrder.RAISED:
        return (Term("seq", turn.rising),)
    return Term(_TERMS[turn.by], turn.rising), Term("seq", rising=False)


class AlertStories:
    """Reads over one connection."""

    def __init__(self, view: RecordView) -> None:
        self._view = view

    def part(self, which: AlertFilter, turn: Turn[AlertOrder], most: int) -> Part[AlertLine, AlertOrder]:
        """At most so many of the alerts that the filter lets through, from where the list is opened."""
        rows = self._rows(which)
        fits = partial(_is_asked_for, which.text.casefold()) if which.text else None
        part = Listed(rows, _order(turn), MOST_LOOKED_AT, _raised, fits).part(self._view, turn, most)
        return replace(part, lines=self._with_ends(part.lines))

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

    def _rows(self, which: AlertFilter) -> Rows:
        # Raised alerts have no time but that of telling, which rises with their numbers.
        rows = Rows("kind = 'alert raised' AND measured IS NULL AND alert IS NOT NULL")
        if which.during != ALWAYS:
            first, end = map(self._view.number_at, which.during)
            rows = rows.also("seq >= ? AND seq < ?", first, end)
        if which.priority is not None:
            rows = rows.also("body ->> '$.priority' = ?", which.priority.value)
        return rows

    def _with_ends(self, lines: Sequence[AlertLine]) -> tuple[AlertLine, ...]:
        told: dict[str, list[Found]] = {line.alert: [] for line in lines}
        for one in self._view.ends_of(list(told)) if told else ():
            if isinstance(one.event, AlertAcknowledged | AlertOver):
                told[one.event.alert].append(one)
        return tuple(_followed(line, told[line.alert]) for line in lines)


def _is_asked_for(text: str, line: AlertLine) -> bool:
    return text in f"{line.text} {line.rule} {line.subject} {line.alert}".casefold()


def _raised(found: Sequence[Found]) -> Iterator[AlertLine]:
    return map(_line, found)


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
