"""Everything that happened in a stretch of time, read from the journal."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from gateway.found import Found, RecordView
from gateway.happened_log import GROUPS, Happening, HappeningFilter, HappeningOrder
from gateway.ordered import Rows, Term, Turn
from gateway.part import Listed, Part
from gateway.schema import ALERT
from gateway.strikes import Strikes
from rules.alert_events import PageAsked, PageReported, PageWithdrawn
from rules.events import Event

LOOKED_AT = 2_000
"""So many events are looked through for a text in one go (ours); the list goes on from there."""


# What was damaged or tampered with must not make the list unusable: it is about nothing. All words of SQL are ours.
_BODY = "(CASE WHEN json_valid(listed.body) THEN listed.body END)"


def _is_of(name: str) -> str:
    """Whether a name is that of a thing, of a sensor of it, ``basin-1/lid``, or of a soak in it, ``basin-1.7``."""
    return f"(substr({name}, 1, length(?)) = ? AND substr({name}, length(?) + 1, 1) IN ('', '/', '.'))"


_THINGS = ", ".join(
    f"{_BODY} ->> '$.{key}'" for key in ("basin", "probe", "cart", "thing", "entry.basin", "entry.probe", "entry.cart")
)
_PAGE = f"SELECT alerts FROM page WHERE page = {_BODY} ->> '$.page' AND listed.alert IS NULL"  # noqa: S608 - ours
_ALERTS = (
    f"SELECT listed.alert UNION ALL SELECT value FROM json_each({_BODY}, '$.alerts')"  # noqa: S608 - ours
    f" UNION ALL SELECT value FROM json_each(({_PAGE}))"
)
"""Of which alerts an event tells: by its own word, as a page or for want of somebody to page, or by what page it is."""

_SUBJECT = "substr({0} ->> '$.subject', instr({0} ->> '$.subject', ' ') + 1)"
"""Of an alert's subject, ``cart cart-1``, what stands behind its kind."""

_OF_ITS_ALERT = (
    f"EXISTS (SELECT 1 FROM event WHERE {ALERT} IN ({_ALERTS}) AND kind = 'alert raised'"  # noqa: S608 - ours
    f" AND {_is_of(_SUBJECT.format('body'))})"
)
_SENSOR = f"{_BODY} ->> '$.sensor'"
_ABOUT = f"(? IN ({_THINGS}) OR {_is_of(_SENSOR)} OR {_is_of(_SUBJECT.format(_BODY))} OR {_OF_ITS_ALERT})"


class Happenings:
    """Reads over one connection."""

    def __init__(self, view: RecordView) -> None:
        self._view = view
        self._strikes = Strikes.of(view)

    def part(self, which: HappeningFilter, turn: Turn[HappeningOrder], most: int) -> Part[Happening, HappeningOrder]:
        """At most so many of what the filter lets through, from where the list is opened."""
        order = (Term("happened", turn.rising), Term("seq", turn.rising))
        return Listed(_rows(which), order, LOOKED_AT, self._read, which.says).part(self._view, turn, most)

    def _read(self, found: Sequence[Found]) -> Iterator[Happening]:
        pages = [one.event.page for one in found if isinstance(one.event, PageReported | PageWithdrawn)]
        asked = self._view.asked_for(pages)
        alerts = [_alert_of(one.event, asked) for one in found]
        raised = self._view.raised([alert for alert in alerts if alert])
        for one, alert in zip(found, alerts, strict=True):
            told = replace(self._strikes.told(one), measured=one.happened)
            yield Happening(told, raised.get(alert), asked.get(getattr(one.event, "page", None) or ""))


def _rows(which: HappeningFilter) -> Rows:
    rows = Rows("happened IS NOT NULL").also("happened >= ? AND happened < ?", *which.during)
    if which.group is not None:
        kinds = GROUPS[which.group]
        rows = rows.also(f"kind IN ({', '.join('?' * len(kinds))})", *kinds)
    if which.by_people is not None:
        rows = rows.also(f"{_BODY} ->> '$.who' IS {'NOT ' if which.by_people else ''}NULL")
    if which.exam is not None:
        rows = rows.also("exam = lower(?)", which.exam)
    if which.thing is not None:
        rows = rows.also(_ABOUT, *[which.thing] * _ABOUT.count("?"))
    return rows


def _alert_of(event: Event, asked: Mapping[str, PageAsked]) -> str:
    """The alert of which it tells, or the first of those that a page was for; '' where there is none."""
    page = asked.get(event.page) if isinstance(event, PageReported | PageWithdrawn) else None
    alerts = getattr(event if page is None else page, "alerts", ())
    return getattr(event, "alert", "") or next(iter(alerts), "")
