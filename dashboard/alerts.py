"""What the wall says of alerts, and how many of them it has room for."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from dashboard.measure import ems, lines
from dashboard.words import moment
from rules.events import Priority
from rules.picture import AlertPicture
from rules.readings import Micros

WORDS = {Priority.HIGH: "Now", Priority.MEDIUM: "Soon", Priority.LOW: "Note"}
TAKEN = "Seen"
_RANKS = tuple(Priority)

# Heights on the wall in px of a 1920x1080 screen; the browser test measures that they hold.
FIRST_LINE_PX, NEXT_LINE_PX, ADVICE_PX, SUMMARY_PX = 74, 60, 46, 58
TEXT_LINE_EMS, ADVICE_LINE_EMS = 25.9, 34.5


@dataclass(frozen=True, slots=True)
class AlertView:
    """An alert as the screens show it.

    priority: 'high', 'medium' or 'low', the style; word: the same for people.
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
    """Alerts that are shown in full, and the rest counted by urgency; quiet: what is said where there are none."""

    shown: tuple[AlertView, ...]
    rest: str
    quiet: str
    height_px: int


def alert_view(alert: AlertPicture, now: Micros, zone: ZoneInfo) -> AlertView:
    """One alert in words."""
    return AlertView(
        id=alert.id,
        priority=alert.priority.value,
        word=WORDS[alert.priority],
        text=alert.text,
        advice=alert.advice,
        since=moment(alert.raised, now, zone),
        taken_by=alert.acknowledged_by or "",
    )


def by_urgency(alerts: Sequence[AlertPicture]) -> list[AlertPicture]:
    """Those that nobody answers for first, then by priority, then the oldest first."""
    return sorted(alerts, key=lambda a: (a.acknowledged_by is not None, _RANKS.index(a.priority), a.raised))


def fit(alerts: Sequence[AlertPicture], room_px: int, quiet: str, now: Micros, zone: ZoneInfo) -> AlertsView:
    """As many alerts as the room holds, most urgent first, with advice where room is left; the rest is counted."""
    views = [_short(alert_view(alert, now, zone)) for alert in by_urgency(alerts)]
    if not views:
        return AlertsView((), "", quiet, FIRST_LINE_PX)
    shown = _texts_that_fit(views, room_px)
    rest = views[len(shown) :]
    used = sum(map(_text_px, shown)) + (SUMMARY_PX if rest else 0)
    advised: list[AlertView] = []
    for view in shown:
        fits = view.advice != "" and used + ADVICE_PX <= room_px
        advised.append(view if fits else replace(view, advice=""))
        used += ADVICE_PX if fits else 0
    return AlertsView(tuple(advised), _rest_words(rest), quiet, used)


def _texts_that_fit(views: Sequence[AlertView], room_px: int) -> list[AlertView]:
    shown: list[AlertView] = []
    used = 0
    for place, view in enumerate(views):
        reserve = SUMMARY_PX if place < len(views) - 1 else 0
        used += _text_px(view)
        if shown and used + reserve > room_px:
            break
        shown.append(view)
    return shown


def _text_px(view: AlertView) -> int:
    return FIRST_LINE_PX + NEXT_LINE_PX * (lines(view.text, TEXT_LINE_EMS) - 1)


def _short(view: AlertView) -> AlertView:
    """One line under the text: who sees to it, else as many whole sentences of the advice as a line holds."""
    if view.taken_by:
        return replace(view, word=TAKEN, advice=f"{view.taken_by} sees to it")
    said = ""
    for sentence in view.advice.replace(". ", ".\n").splitlines():
        longer = f"{said} {sentence}".strip()
        if ems(longer) > ADVICE_LINE_EMS:
            break
        said = longer
    return replace(view, advice=said)


def _rest_words(rest: Sequence[AlertView]) -> str:
    if not rest:
        return ""
    counts = Counter("seen to" if view.taken_by else view.word.lower() for view in rest)
    order = [*(word.lower() for word in WORDS.values()), "seen to"]
    return f"{len(rest)} more: " + ", ".join(f"{counts[word]} {word}" for word in order if counts[word])
