"""What the wall says of alerts, and how many of them it has room for."""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import partial
from zoneinfo import ZoneInfo

from dashboard.aside import LINE_EMS, Aside
from dashboard.measure import PLAIN, Room, lines, shortened
from dashboard.rest import Count, rest_line
from dashboard.told import UNTOLD, Told, told
from dashboard.words import brief, briefest
from rules.alert_words import Priority, State
from rules.call_picture import CallPicture, RolePicture
from rules.cost import without_risk
from rules.picture import AlertPicture
from rules.readings import Micros

WORDS = {Priority.HIGH: "Now", Priority.MEDIUM: "Soon", Priority.LOW: "Note"}
_RANKS = tuple(Priority)

# Heights on the wall in px of a 1920x1080 screen; the browser test measures that they hold.
FIRST_LINE_PX, NEXT_LINE_PX, UNDER_PX, SUMMARY_PX = 74, 60, 46, 56
LEAST_PX = FIRST_LINE_PX + SUMMARY_PX
ROOMY_PX = LEAST_PX + NEXT_LINE_PX + UNDER_PX
"""From this room on a text may take two lines."""

TEXT_LINE_EMS, UNDER_LINE_EMS = 25.4, 34.0


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

    priority: 'high', 'medium' or 'low', the style; word: the same for people.
    since: since when, or how it stands in a word where somebody has seen it or it is over.
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
    """Of which moment the wall speaks, in which zone, and who was told of what."""

    now: Micros
    zone: ZoneInfo
    calls: tuple[CallPicture, ...] = ()
    roles: tuple[RolePicture, ...] = ()


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
    if not alerts:
        return AlertsView((), "", quiet, aside, FIRST_LINE_PX + (SUMMARY_PX if aside.says else 0))
    views = [_short(alert, telling) for alert in by_urgency(alerts)]
    for cut in _cuts(room_px, len(alerts)):
        cut_views = [replace(view, text=cut(view.text)) for view in views]
        room = Room(room_px)
        if aside.says:
            room.takes(SUMMARY_PX)
        places = _places(cut_views, room, is_counted=aside.says)
        if not any(map(_is_urgent, views[len(places) :])):
            break
    if len(places) < len(views) and not aside.says:
        room.takes(SUMMARY_PX)
    _fill(places, room)
    rest = _rest_words(views[len(places) :], aside)
    return AlertsView(tuple(place.view for place in places), rest, quiet, aside, room_px - room.left_px)


@dataclass(slots=True)
class _Place:
    """An alert that has a place: all that could be said of it, and what is."""

    full: AlertView
    view: AlertView

    def add_advice(self, room: Room) -> None:
        if self.full.advice != self.view.advice and room.takes(UNDER_PX):
            self.view = replace(self.view, advice=self.full.advice)

    def add_told_in_short(self) -> None:
        """Behind the advice, with the role, where the line has room for it; else beside it, without."""
        if not self.view.advice or self.view.told.words:
            return
        named = f"{self.view.advice} {self.full.told.named}"
        if self.full.told.named and PLAIN.ems(named) <= UNDER_LINE_EMS:
            self.view = replace(self.view, advice=named)
        else:
            self.view = replace(self.view, told_in_short=self.full.told.brief)

    def add_told(self, room: Room) -> None:
        if self.full.told != self.view.told and room.takes(UNDER_PX):
            self.view = replace(self.view, told=self.full.told)


def _places(views: Sequence[AlertView], room: Room, *, is_counted: bool) -> list[_Place]:
    """At least the first, advised where that is a must and there is room.

    is_counted: the line that counts the rest has its room already.
    """
    places: list[_Place] = []
    for number, view in enumerate(views):
        kept = SUMMARY_PX if number < len(views) - 1 and not is_counted else 0
        bare = FIRST_LINE_PX + NEXT_LINE_PX * (lines(view.text, TEXT_LINE_EMS) - 1)
        if places and bare + kept > room.left_px:
            break
        room.left_px -= bare
        place = _Place(view, replace(view, advice="", told=UNTOLD))
        if _must_advise(view) and UNDER_PX + kept <= room.left_px:
            place.add_advice(room)
        places.append(place)
    return places


def _fill(places: Sequence[_Place], room: Room) -> None:
    """The most useful first."""
    for place in places:
        if place.full.told.warns:
            place.add_told(room)
    for place in places:
        place.add_advice(room)
    for place in places:
        place.add_told(room)
        place.add_told_in_short()


def _must_advise(view: AlertView) -> bool:
    return view.priority == Priority.HIGH.value and view.standing is Standing.WAITING and view.advice != ""


def _is_urgent(view: AlertView) -> bool:
    return view.standing is Standing.WAITING and view.priority != Priority.LOW.value


def _cuts(room_px: int, alerts: int) -> Iterator[Callable[[str], str]]:
    """In which ways texts are cut, the least first."""
    if room_px >= ROOMY_PX:
        yield partial(_cut, most_lines=2, is_alone=alerts == 1)
    yield partial(_cut, most_lines=1, is_alone=alerts == 1)


def _cut(text: str, most_lines: int, *, is_alone: bool) -> str:
    """The text in so many lines; what it costs goes first where it does not fit, for what has happened is said before.

    is_alone: a second line only for what it costs takes no room from another alert, or from who was told of it.
    """
    bare = without_risk(text)
    for_cost = most_lines if is_alone else min(most_lines, lines(bare, TEXT_LINE_EMS))
    return text if lines(text, TEXT_LINE_EMS) <= for_cost else shortened(bare, TEXT_LINE_EMS, most_lines)


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
    if stands is not Standing.WAITING:
        return replace(view, since=_BRIEF[stands], advice=_how_it_stands(alert, stands, telling))
    return replace(
        view,
        since=briefest(alert.raised, telling.now, telling.zone),
        advice=_first_sentences(alert.advice),
    )


def _told(alert: AlertPicture, telling: Telling, *, waits: bool) -> Told:
    return told(alert.id, telling.calls, telling.roles, UNDER_LINE_EMS, telling.now, telling.zone, waits=waits)


def _how_it_stands(alert: AlertPicture, standing: Standing, telling: Telling) -> str:
    if standing is Standing.OVER:
        since = brief(alert.raised, telling.now, telling.zone)
        over = "" if alert.returned is None else f" until {brief(alert.returned, telling.now, telling.zone)}"
        return f"It was so from {since}{over}. Nobody has answered yet."
    ask = " Enter what was done." if standing is Standing.UNSETTLED else ""
    return shortened(f"Seen by {alert.acknowledged_by}.", UNDER_LINE_EMS - PLAIN.ems(ask), 1, PLAIN) + ask


def _first_sentences(advice: str) -> str:
    """At least the first, shortened where a site's own rule has a long one."""
    first, *more = advice.replace(". ", ".\n").splitlines() or [""]
    said = shortened(first, UNDER_LINE_EMS, 1, PLAIN)
    for sentence in more:
        longer = f"{said} {sentence}"
        if PLAIN.ems(longer) > UNDER_LINE_EMS:
            break
        said = longer
    return said


def _rest_words(rest: Sequence[AlertView], aside: Aside) -> str:
    """By urgency where nobody has answered, then by how they stand."""
    waiting = Counter(view.word.lower() for view in rest if view.standing is Standing.WAITING)
    others = Counter(view.standing for view in rest)
    counts = [Count(waiting[word.lower()], word.lower()) for word in WORDS.values()]
    counts += [Count(others[standing], words) for standing, words in _COUNTED.items()]
    return rest_line([count for count in counts if count.number], LINE_EMS - aside.ems, "alert")


_COUNTED = {Standing.TAKEN: "seen", Standing.UNSETTLED: "to settle", Standing.OVER: "over"}
