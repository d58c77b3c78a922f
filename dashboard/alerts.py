"""What the wall says of alerts, and how many of them it has room for."""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import partial
from zoneinfo import ZoneInfo

from dashboard.aside import Aside
from dashboard.measure import PLAIN, Room, abridged, lines, shortened
from dashboard.panel import LYING, Panel
from dashboard.rest import Count, rest_line
from dashboard.told import UNTOLD, Told, told
from dashboard.words import brief, briefest
from rules.alert_words import Priority, State
from rules.call_picture import CallPicture, RolePicture
from rules.cost import without_risk
from rules.picture import AlertPicture
from rules.readings import Micros

LAST_KNOWN = "Last known"
"""Said in place of how soon while no sensor is heard: what the alert tells of is not measured any more."""

WORDS = {Priority.HIGH: "Now", Priority.MEDIUM: "Soon", Priority.LOW: "Note"}
_RANKS = tuple(Priority)

# Heights on the wall in px of a 1920x1080 panel; the browser test measures that they hold.
QUIET_PX, NEXT_LINE_PX, UNDER_PX, SUMMARY_PX = 74, 60, 46, 56


def least_px(panel: Panel, aside_rows: int = 0) -> int:
    """The room without which not even one alert is shown and the others counted; aside_rows: lines about the rest."""
    own_lines = aside_rows if panel.stacks else 0
    return panel.first_line + NEXT_LINE_PX * (panel.text_lines - 2) + SUMMARY_PX * (1 + own_lines)


def _roomy_px(panel: Panel) -> int:
    """From this room on a text may take one line more than it must have room for."""
    return least_px(panel) + NEXT_LINE_PX + UNDER_PX


class Standing(StrEnum):
    """What an alert asks of people, the most urgent first; also a style name.

    UNSETTLED: somebody has seen it, and still has to say what was done. OVER: its condition is, and nobody answered.
    """

    WAITING = "waiting"
    TAKEN = "taken"
    UNSETTLED = "unsettled"
    OVER = "over"


@dataclass(frozen=True, slots=True)
class AlertView:
    """An alert as the wall shows it.

    priority: 'high', 'medium' or 'low', the style; word: the same for people, or that it is only what was last known.
    since: since when, or how it stands in a word where somebody has seen it or it is over; '' where there is no room.
    advice: the first sentences of what to do, as far as there is room, or how it stands.
    told: who was told, as far as there is room; told_in_short: where there is none but beside the advice.
    """

    id: str
    priority: str
    word: str
    text: str
    advice: str
    since: str
    standing: Standing = Standing.WAITING
    told: Told = UNTOLD
    told_in_short: str = ""


@dataclass(frozen=True, slots=True)
class AlertsView:
    """Alerts that are shown, and the rest counted by urgency; quiet: what is said where there are none.

    aside: what stands at the end of the last line, whether there are alerts or not.
    """

    shown: tuple[AlertView, ...]
    rest: str
    quiet: str
    aside: Aside
    height_px: int


@dataclass(frozen=True, slots=True)
class Telling:
    """Of which moment the wall speaks, in which zone, who was told of what, and how much room its lines have.

    hearing: whether the gateway hears the sensors.
    """

    now: Micros
    zone: ZoneInfo
    calls: tuple[CallPicture, ...] = ()
    roles: tuple[RolePicture, ...] = ()
    panel: Panel = LYING
    hearing: bool = True

    def under(self, text: str) -> str:
        """A text for the lines under an alert's own, shortened where it does not fit."""
        return abridged(text, self.panel.under_ems, self.panel.under_lines, PLAIN)

    def fits_under(self, text: str) -> bool:
        """Whether the text fits there as it is."""
        return lines(text, self.panel.under_ems, PLAIN) <= self.panel.under_lines

    def under_px(self, text: str) -> int:
        """The height of such lines."""
        return UNDER_PX * lines(text, self.panel.under_ems, PLAIN)


def standing(alert: AlertPicture) -> Standing:
    """What it asks of people."""
    if alert.state is State.RETURNED:
        return Standing.OVER
    if alert.acknowledged_by is None:
        return Standing.WAITING
    return Standing.UNSETTLED if alert.settles else Standing.TAKEN


def by_urgency(alerts: Sequence[AlertPicture]) -> list[AlertPicture]:
    """Those that nobody answers for first, those whose condition is over last; then by priority, the oldest first."""
    return sorted(alerts, key=lambda a: (_TURN[standing(a)], _RANKS.index(a.priority), a.raised))


_TURN = {Standing.WAITING: 0, Standing.TAKEN: 1, Standing.UNSETTLED: 1, Standing.OVER: 2}


def fit(alerts: Sequence[AlertPicture], room_px: int, quiet: str, aside: Aside, telling: Telling) -> AlertsView:
    """As many alerts as the room holds, most urgent first; the rest is counted.

    What to do stands with each of high priority that nobody answers for yet, and with the others where room is left. So
    does who was told: first where nobody was, or where nobody knows whether it arrived. While an urgent one that nobody
    answers for would only be counted, no text takes two lines: it gives up its cost, then whatever does not fit in one.
    """
    panel = telling.panel
    aside_px = SUMMARY_PX * aside.rows
    if not alerts:
        return AlertsView((), "", quiet, aside, _quiet_px(quiet, panel) + aside_px)
    counted_px = 0 if aside.says and not panel.stacks else SUMMARY_PX
    views = [_short(alert, telling) for alert in by_urgency(alerts)]
    for cut in _cuts(room_px, len(alerts), panel):
        cut_views = [replace(view, text=cut(view.text)) for view in views]
        room = Room(room_px)
        room.takes(aside_px)
        places = _places(cut_views, room, telling, counted_px)
        if not any(map(_is_urgent, views[len(places) :])):
            break
    if len(places) < len(views):
        room.takes(counted_px)
    _fill(places, room, telling)
    rest = _rest_words(views[len(places) :], panel.line_ems if panel.stacks else panel.line_ems - aside.ems)
    return AlertsView(tuple(place.view for place in places), rest, quiet, aside, room_px - room.left_px)


def _quiet_px(quiet: str, panel: Panel) -> int:
    return QUIET_PX + NEXT_LINE_PX * (lines(quiet, panel.key_ems, PLAIN) - 1)


@dataclass(slots=True)
class _Place:
    """An alert that has a place: all that could be said of it, and what is."""

    full: AlertView
    view: AlertView

    def add_advice(self, room: Room, telling: Telling) -> None:
        if self.full.advice != self.view.advice and room.takes(telling.under_px(self.full.advice)):
            self.view = replace(self.view, advice=self.full.advice)

    def add_told_in_short(self, telling: Telling) -> None:
        """Behind the advice, with the role, where the line has room for it; else beside it, without."""
        if not self.view.advice or self.view.told.words:
            return
        named = f"{self.view.advice} {self.full.told.named}"
        if self.full.told.named and telling.under_px(named) == telling.under_px(self.view.advice):
            self.view = replace(self.view, advice=named)
        else:
            self.view = replace(self.view, told_in_short=self.full.told.brief)

    def add_told(self, room: Room, telling: Telling) -> None:
        if self.full.told != self.view.told and room.takes(telling.under_px(self.full.told.words)):
            self.view = replace(self.view, told=self.full.told)


def _places(views: Sequence[AlertView], room: Room, telling: Telling, counted_px: int) -> list[_Place]:
    """At least the first, advised where that is a must and there is room; counted_px: of the line on the others."""
    places: list[_Place] = []
    panel = telling.panel
    for number, view in enumerate(views):
        kept = counted_px if number < len(views) - 1 else 0
        bare = panel.first_line + NEXT_LINE_PX * (lines(view.text, panel.text_ems) - 1)
        if places and bare + kept > room.left_px:
            break
        room.left_px -= bare
        place = _Place(view, replace(view, advice="", told=UNTOLD))
        if _must_advise(view) and telling.under_px(view.advice) + kept <= room.left_px:
            place.add_advice(room, telling)
        places.append(place)
    return places


def _fill(places: Sequence[_Place], room: Room, telling: Telling) -> None:
    """The most useful first."""
    for place in places:
        if place.full.told.warns:
            place.add_told(room, telling)
    for place in places:
        place.add_advice(room, telling)
    for place in places:
        place.add_told(room, telling)
        place.add_told_in_short(telling)


def _must_advise(view: AlertView) -> bool:
    return view.priority == Priority.HIGH.value and view.standing is Standing.WAITING and view.advice != ""


def _is_urgent(view: AlertView) -> bool:
    return view.standing is Standing.WAITING and view.priority != Priority.LOW.value


def _cuts(room_px: int, alerts: int, panel: Panel) -> Iterator[Callable[[str], str]]:
    """In which ways texts are cut, the least first."""
    if room_px >= _roomy_px(panel):
        yield partial(_cut, most_lines=panel.text_lines, width_ems=panel.text_ems, is_alone=alerts == 1)
    yield partial(_cut, most_lines=panel.text_lines - 1, width_ems=panel.text_ems, is_alone=alerts == 1)


def _cut(text: str, most_lines: int, width_ems: float, *, is_alone: bool) -> str:
    """The text in so many lines; what it costs goes first where it does not fit, for what has happened is said before.

    is_alone: a second line only for what it costs takes no room from another alert, or from who was told of it.
    """
    bare = without_risk(text)
    for_cost = most_lines if is_alone else min(most_lines, lines(bare, width_ems))
    return text if lines(text, width_ems) <= for_cost else abridged(bare, width_ems, most_lines)


_BRIEF = {Standing.TAKEN: "seen", Standing.UNSETTLED: "done?", Standing.OVER: "over"}


def _short(alert: AlertPicture, telling: Telling) -> AlertView:
    """Under the text as many whole sentences of the advice as a line holds, and who was told; else how it stands."""
    stands = standing(alert)
    view = AlertView(
        id=alert.id,
        priority=alert.priority.value,
        word=WORDS[alert.priority],
        text=alert.text,
        advice="",
        since="",
        standing=stands,
        told=_told(alert, telling, waits=stands is Standing.WAITING),
    )
    if stands is Standing.WAITING:
        since, advice = briefest(alert.raised, telling.now, telling.zone), _first_sentences(alert.advice, telling)
    else:
        since, advice = _BRIEF[stands], _how_it_stands(alert, stands, telling)
    if telling.hearing or stands is Standing.OVER:
        return replace(view, since=since, advice=advice)
    return replace(view, word=LAST_KNOWN, since=since if telling.panel.stacks else "", advice=advice)


def _told(alert: AlertPicture, telling: Telling, *, waits: bool) -> Told:
    width = telling.panel.under_ems * telling.panel.under_lines
    said = told(alert.id, telling.calls, telling.roles, width, telling.now, telling.zone, waits=waits)
    return replace(said, words=telling.under(said.words)) if said.words else said


def _how_it_stands(alert: AlertPicture, standing: Standing, telling: Telling) -> str:
    if standing is Standing.OVER:
        since = brief(alert.raised, telling.now, telling.zone)
        over = "" if alert.returned is None else f" until {brief(alert.returned, telling.now, telling.zone)}"
        return f"It was so from {since}{over}. Nobody has answered yet."
    ask = " Enter what was done." if standing is Standing.UNSETTLED else ""
    whole = f"Seen by {alert.acknowledged_by}."
    return f"{whole}{ask}" if telling.fits_under(f"{whole}{ask}") else _one_line(whole, telling, ask) + ask


def _one_line(text: str, telling: Telling, ask: str) -> str:
    return shortened(text, telling.panel.under_ems - PLAIN.ems(ask), 1, PLAIN)


def _first_sentences(advice: str, telling: Telling) -> str:
    """At least the first, shortened where a site's own rule has a long one."""
    first, *more = advice.replace(". ", ".\n").splitlines() or [""]
    said = telling.under(first)
    for sentence in more:
        longer = f"{said} {sentence}"
        if not telling.fits_under(longer):
            break
        said = longer
    return said


def _rest_words(rest: Sequence[AlertView], width_ems: float) -> str:
    """By urgency where nobody has answered, then by how they stand."""
    waiting = Counter(view.priority for view in rest if view.standing is Standing.WAITING)
    others = Counter(view.standing for view in rest)
    counts = [Count(waiting[priority.value], word.lower()) for priority, word in WORDS.items()]
    counts += [Count(others[standing], words) for standing, words in _COUNTED.items()]
    return rest_line([count for count in counts if count.number], width_ems, "alert")


_COUNTED = {Standing.TAKEN: "seen", Standing.UNSETTLED: "to settle", Standing.OVER: "over"}
