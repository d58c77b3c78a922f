"""What the wall says of alerts, and how many of them it has room for."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from dashboard.measure import PLAIN, lines, shortened
from dashboard.names import SECOND_PX
from dashboard.rest import Count, rest_line
from dashboard.words import briefest, moment
from rules.alert_words import Priority
from rules.cost import without_risk
from rules.picture import AlertPicture
from rules.readings import Micros

WORDS = {Priority.HIGH: "Now", Priority.MEDIUM: "Soon", Priority.LOW: "Note"}
TAKEN = "Seen"
_RANKS = tuple(Priority)

# Heights on the wall in px of a 1920x1080 screen; the browser test measures that they hold.
FIRST_LINE_PX, NEXT_LINE_PX, ADVICE_PX, SUMMARY_PX = 74, 60, 46, 56
LEAST_PX = FIRST_LINE_PX + SUMMARY_PX
ROOMY_PX = LEAST_PX + NEXT_LINE_PX + ADVICE_PX
"""From this room on a text may take two lines."""

TEXT_LINE_EMS, ADVICE_LINE_EMS, SUMMARY_LINE_EMS = 25.4, 34.0, 1840 / SECOND_PX


@dataclass(frozen=True, slots=True)
class AlertView:
    """An alert as the screens show it.

    priority: 'high', 'medium' or 'low', the style; word: the same for people, or who has seen it.
    since: since when; taken_by: who answers for it, empty while nobody does.
    advice: what to do; on the wall only its first sentences, as far as there is room.
    """

    id: str
    priority: str
    word: str
    text: str
    advice: str
    since: str
    taken_by: str


@dataclass(frozen=True, slots=True)
class AlertsView:
    """Alerts that are shown, and the rest counted by urgency; quiet: what is said where there are none."""

    shown: tuple[AlertView, ...]
    rest: str
    quiet: str
    height_px: int


def alert_view(alert: AlertPicture, now: Micros, zone: ZoneInfo) -> AlertView:
    """One alert in full."""
    return AlertView(
        id=alert.id,
        priority=alert.priority.value,
        word=WORDS[alert.priority] if alert.acknowledged_by is None else f"{TAKEN} by {alert.acknowledged_by}",
        text=alert.text,
        advice=alert.advice,
        since=moment(alert.raised, now, zone),
        taken_by=alert.acknowledged_by or "",
    )


def by_urgency(alerts: Sequence[AlertPicture]) -> list[AlertPicture]:
    """Those that nobody answers for first, then by priority, then the oldest first."""
    return sorted(alerts, key=lambda a: (a.acknowledged_by is not None, _RANKS.index(a.priority), a.raised))


def fit(alerts: Sequence[AlertPicture], room_px: int, quiet: str, now: Micros, zone: ZoneInfo) -> AlertsView:
    """As many alerts as the room holds, most urgent first; the rest is counted.

    What to do stands with each urgent one that nobody answers for yet, and with the others where room is left.
    """
    most_lines = 2 if room_px >= ROOMY_PX else 1
    views = [_short(alert, most_lines, now, zone) for alert in by_urgency(alerts)]
    if not views:
        return AlertsView((), "", quiet, FIRST_LINE_PX)
    shown, used = _that_fit(views, room_px)
    rest = views[len(shown) :]
    used += SUMMARY_PX if rest else 0
    for place, view in enumerate(shown):
        if not view.advice and views[place].advice and used + ADVICE_PX <= room_px:
            shown[place] = views[place]
            used += ADVICE_PX
    return AlertsView(tuple(shown), _rest_words(rest), quiet, used)


def _that_fit(views: Sequence[AlertView], room_px: int) -> tuple[list[AlertView], int]:
    """At least the first, advised where that is a must and there is room; and the height that they use."""
    shown: list[AlertView] = []
    used = 0
    for place, view in enumerate(views):
        left = room_px - used - (SUMMARY_PX if place < len(views) - 1 else 0)
        bare = FIRST_LINE_PX + NEXT_LINE_PX * (lines(view.text, TEXT_LINE_EMS) - 1)
        advised = _must_advise(view) and bare + ADVICE_PX <= left
        if shown and bare > left:
            break
        shown.append(view if advised else replace(view, advice=""))
        used += bare + (ADVICE_PX if advised else 0)
    return shown, used


def _must_advise(view: AlertView) -> bool:
    return view.priority == Priority.HIGH.value and not view.taken_by and view.advice != ""


def _text(text: str, most_lines: int) -> str:
    """The text where it fits; else what it costs goes first, for what has happened is said before it."""
    whole = shortened(text, TEXT_LINE_EMS, most_lines)
    return whole if whole == text else shortened(without_risk(text), TEXT_LINE_EMS, most_lines)


def _short(alert: AlertPicture, most_lines: int, now: Micros, zone: ZoneInfo) -> AlertView:
    """One line under the text: who has seen it, else as many whole sentences of the advice as a line holds."""
    view = replace(
        alert_view(alert, now, zone),
        text=_text(alert.text, most_lines),
        since=briefest(alert.raised, now, zone),
    )
    if view.taken_by:
        return replace(view, word=TAKEN, advice=shortened(f"Seen by {view.taken_by}.", ADVICE_LINE_EMS, 1, PLAIN))
    return replace(view, advice=_first_sentences(view.advice))


def _first_sentences(advice: str) -> str:
    """At least the first, shortened where a site's own rule has a long one."""
    first, *more = advice.replace(". ", ".\n").splitlines() or [""]
    said = shortened(first, ADVICE_LINE_EMS, 1, PLAIN)
    for sentence in more:
        longer = f"{said} {sentence}"
        if PLAIN.ems(longer) > ADVICE_LINE_EMS:
            break
        said = longer
    return said


def _rest_words(rest: Sequence[AlertView]) -> str:
    counts = Counter(view.word.lower() for view in rest)
    order = [*(word.lower() for word in WORDS.values()), TAKEN.lower()]
    return rest_line([Count(counts[word], word) for word in order if counts[word]], SUMMARY_LINE_EMS, "alert")
