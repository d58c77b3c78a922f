"""What the wall says of alerts, and how many of them it has room for."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from zoneinfo import ZoneInfo

from dashboard.alert_standing import STANDING_WORDS, WORDS, Standing, by_urgency, is_urgent, standing
from dashboard.aside import Aside
from dashboard.deed import Deed, sentences, state_words
from dashboard.measure import PLAIN, Room, abridged, lines, shortened
from dashboard.panel import LYING, Panel
from dashboard.quiet import Quiet
from dashboard.rest import Count, rest_line
from dashboard.told import UNTOLD, Told, told
from dashboard.words import PHONE_ALERTS, brief, briefest
from rules.alert_words import Priority
from rules.call_picture import CallPicture, RolePicture
from rules.cost import without_risk
from rules.picture import AlertPicture
from rules.readings import Micros

LAST_KNOWN = "Last known"
"""Said in place of how soon while no sensor is heard: what the alert tells of is not measured any more."""

_COUNTED_RANKS = {Priority.HIGH: "now", Priority.MEDIUM: "soon", Priority.LOW: "to note"}

# Heights on the wall in px of a 1920x1080 panel; the browser test measures that they hold.
QUIET_PX, NEXT_LINE_PX, UNDER_PX, SUMMARY_PX = 74, 60, 46, 56
LEAD_MORE_PX = 10
"""So much higher is a line of what is to be done first, which is written larger than all else (wall.css)."""


def least_px(panel: Panel, aside_rows: int = 0) -> int:
    """The room without which not even one alert is shown and the others counted; aside_rows: lines about the rest."""
    own_lines = aside_rows if panel.stacks else 0
    return panel.first_line + NEXT_LINE_PX * (panel.text_lines - 2) + SUMMARY_PX * (1 + own_lines)


def advised_px(panel: Panel) -> int:
    """The room in which two urgent alerts tell what to do."""
    return least_px(panel) + panel.first_line + 2 * UNDER_PX * panel.under_lines


def _roomy_px(panel: Panel) -> int:
    """From this room on a text may take one line more than it must have room for."""
    return least_px(panel) + NEXT_LINE_PX + UNDER_PX


@dataclass(frozen=True, slots=True)
class AlertView:
    """An alert as the wall shows it.

    thing: what it tells of, by name; '' where its text begins with none.
    priority: 'high', 'medium' or 'low', the style; rank: the same for people. word: how soon it asks for somebody, or
        how it stands where it does not any more, or that it is only what was last known; last_known: whether it is.
    text: what is to be done, or what is so where nothing is or nobody knows it any more; lead: whether it is what comes
        first, and written larger than all else.
    since: since when it is so; '' where there is no room.
    advice: what is so, and more of what to do, as far as there is room, or from when to when it was so.
    told: who has seen it and who was told, as far as there is room; told_in_short: where there is none but beside the
        advice.
    """

    id: str
    priority: str
    rank: str
    word: str
    text: str
    advice: str
    since: str
    standing: Standing = Standing.WAITING
    told: Told = UNTOLD
    told_in_short: str = ""
    last_known: bool = False
    lead: bool = False
    thing: str = ""


@dataclass(frozen=True, slots=True)
class AlertsView:
    """Alerts that are shown, and the rest counted by urgency; quiet: what is said where there are none.

    aside: what stands at the end of the last line, whether there are alerts or not.
    """

    shown: tuple[AlertView, ...]
    rest: str
    quiet: Quiet
    aside: Aside
    height_px: int


@dataclass(frozen=True, slots=True)
class Telling:
    """Of which moment the wall speaks, in which zone, who was told of what, and how much room its lines have.

    hearing: whether the gateway hears the sensors. deeds: what is to be done about each alert, by their ids.
    most_lines: of an alert's text.
    """

    now: Micros
    zone: ZoneInfo
    calls: tuple[CallPicture, ...] = ()
    roles: tuple[RolePicture, ...] = ()
    panel: Panel = LYING
    hearing: bool = True
    deeds: Mapping[str, Deed] = field(default_factory=dict)
    most_lines: int = 1

    @property
    def waits(self) -> frozenset[str]:
        """Ids of the alerts of which all that is to be done is to leave a thing as it is."""
        return frozenset(alert for alert, deed in self.deeds.items() if deed.waits)

    def deed(self, alert: AlertPicture) -> Deed | None:
        """What is to be done, where anything is, that is known, and has room; else None."""
        if standing(alert) is Standing.OVER or not self.hearing:
            return None
        found = self.deeds.get(alert.id)
        has_room = found is not None and lines(found.order, self.panel.text_ems) <= self.most_lines
        return found if found is not None and found.order and has_room else None

    def under(self, text: str) -> str:
        """A text for the lines under an alert's own, shortened where it does not fit."""
        return abridged(text, self.panel.under_ems, self.panel.under_lines, PLAIN)

    def fits_under(self, text: str) -> bool:
        """Whether the text fits there as it is."""
        return lines(text, self.panel.under_ems, PLAIN) <= self.panel.under_lines

    def under_px(self, text: str) -> int:
        """The height of such lines."""
        return UNDER_PX * lines(text, self.panel.under_ems, PLAIN)


def fit(alerts: Sequence[AlertPicture], room_px: int, quiet: Quiet, aside: Aside, telling: Telling) -> AlertsView:
    """As many alerts as the room holds, most urgent first; the rest is counted.

    What to do stands with each of high priority that nobody answers for yet, and with the others where room is left. So
    does who was told: first where nobody was, or where nobody knows whether it arrived. While an urgent one that nobody
    answers for would only be counted, no text takes two lines: it gives up its cost, then whatever does not fit in one.
    """
    panel = telling.panel
    aside_px = SUMMARY_PX * aside.rows
    if not alerts:
        quiet = replace(quiet, also="") if quiet_px(quiet, panel) + aside_px > room_px else quiet
        return AlertsView((), "", quiet, aside, quiet_px(quiet, panel) + aside_px)
    counted_px = 0 if aside.says and not panel.stacks else SUMMARY_PX
    for most_lines in _most_lines(room_px, panel):
        telling = replace(telling, most_lines=most_lines)
        views = [_short(alert, telling) for alert in by_urgency(alerts, telling.waits)]
        cut = partial(_cut, most_lines=most_lines, width_ems=panel.text_ems, is_alone=len(alerts) == 1)
        cut_views = [replace(view, text=cut(view.text)) for view in views]
        room = Room(room_px)
        room.takes(aside_px)
        places = _places(cut_views, room, telling, counted_px)
        if not any(is_urgent(view.standing, Priority(view.priority)) for view in views[len(places) :]):
            break
    if len(places) < len(views):
        room.takes(counted_px)
    _fill(places, room, telling)
    for end in (aside, aside.shorter):
        rest = _rest_words(views[len(places) :], panel.line_ems if panel.stacks else panel.line_ems - end.ems)
        tells_all = rest == "" or (":" in rest and "other" not in rest)
        if panel.stacks or tells_all:
            break
    return AlertsView(tuple(place.view for place in places), rest, NOTHING, end, room_px - room.left_px)


def quiet_px(quiet: Quiet, panel: Panel) -> int:
    """The height of what is said where there is no alert."""
    also = UNDER_PX * lines(quiet.also, panel.line_ems, PLAIN) if quiet.also else 0
    return QUIET_PX + NEXT_LINE_PX * (lines(quiet.first, panel.key_ems) - 1) + also


NOTHING = Quiet("")


@dataclass(slots=True)
class _Place:
    """An alert that has a place: all that could be said of it, and what is."""

    full: AlertView
    view: AlertView

    def enlarge(self, room: Room, panel: Panel) -> None:
        """It is what is to be done first, written larger where that takes no more lines."""
        if self.view.standing is Standing.OVER or self.view.last_known:
            return
        rows = lines(self.view.text, panel.text_ems)
        if lines(self.view.text, panel.lead_ems) <= rows and room.takes(LEAD_MORE_PX * rows):
            self.view = replace(self.view, lead=True)

    def add_advice(self, room: Room, telling: Telling) -> None:
        if self.full.advice != self.view.advice and room.takes(telling.under_px(self.full.advice)):
            self.view = replace(self.view, advice=self.full.advice)

    def add_told_in_short(self, telling: Telling) -> None:
        """Behind the advice, with the role, where the line has room for it; else beside it, without."""
        if not self.view.advice or self.view.told.words:
            return
        px = telling.under_px(self.view.advice)
        longer = (f"{self.view.advice} {named}" for named in self.full.told.named)
        fitting = next((words for words in longer if telling.under_px(words) == px), None)
        if fitting is None:
            self.view = replace(self.view, told_in_short=self.full.told.brief)
        else:
            self.view = replace(self.view, advice=fitting)

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
    places[0].add_advice(room, telling)
    places[0].enlarge(room, telling.panel)
    for place in places:
        place.add_advice(room, telling)
    for place in places:
        place.add_told(room, telling)
        place.add_told_in_short(telling)


def _must_advise(view: AlertView) -> bool:
    return view.priority == Priority.HIGH.value and view.standing is Standing.WAITING and view.advice != ""


def _most_lines(room_px: int, panel: Panel) -> Iterator[int]:
    """How many lines a text may take, most first."""
    if room_px >= _roomy_px(panel):
        yield panel.text_lines
    yield panel.text_lines - 1


def _cut(text: str, most_lines: int, width_ems: float, *, is_alone: bool) -> str:
    """The text in so many lines; what it costs goes first where it does not fit, for what has happened is said before.

    is_alone: a second line only for what it costs takes no room from another alert, or from who was told of it.
    """
    bare = without_risk(text)
    for_cost = most_lines if is_alone else min(most_lines, lines(bare, width_ems))
    return text if lines(text, width_ems) <= for_cost else abridged(bare, width_ems, most_lines)


def _short(alert: AlertPicture, telling: Telling) -> AlertView:
    """Under the text as many whole sentences of the advice as a line holds, who has seen it, and who was told."""
    stands, deed = standing(alert), telling.deed(alert)
    last_known = not telling.hearing and stands is not Standing.OVER
    word = STANDING_WORDS.get(stands, WORDS[alert.priority])
    since = _since(alert, stands, telling)
    if last_known:
        known_as = since if stands is Standing.WAITING else word.lower()
        word, since = LAST_KNOWN, known_as if telling.panel.stacks else ""
    return AlertView(
        id=alert.id,
        priority=alert.priority.value,
        rank=WORDS[alert.priority],
        word=word,
        text=deed.order if deed else alert.text,
        advice=_advice(alert, stands, telling),
        since=since,
        standing=stands,
        told=_told(alert, stands, telling),
        last_known=last_known,
        thing=alert.text.partition(":")[0] if ": " in alert.text else "",
    )


def _since(alert: AlertPicture, standing: Standing, telling: Telling) -> str:
    """Since when it is as its word says; nobody knows since when something is not settled."""
    at = {
        Standing.WAITING: alert.raised,
        Standing.TAKEN: alert.acknowledged_at,
        Standing.UNSETTLED: None,
        Standing.OVER: alert.returned,
    }[standing]
    return "" if at is None else briefest(at, telling.now, telling.zone)


def _advice(alert: AlertPicture, standing: Standing, telling: Telling) -> str:
    """What to do stays also where somebody has seen it. Of what may have changed unheard nothing is ordered."""
    if standing is Standing.OVER:
        since = brief(alert.raised, telling.now, telling.zone)
        over = "" if alert.returned is None else f" until {brief(alert.returned, telling.now, telling.zone)}"
        return f"It was so from {since}{over}. Nobody has answered yet."
    if not telling.hearing and not alert.settles:
        return ""
    deed = telling.deed(alert)
    if deed is None:
        return _first_sentences(sentences(alert.advice), telling)
    said = [deed.so or state_words(alert, deed.order), *deed.then]
    return _first_sentences([deed.how, *said] if deed.how else said, telling)


def _told(alert: AlertPicture, standing: Standing, telling: Telling) -> Told:
    panel = telling.panel
    width, waits = panel.under_ems * panel.under_lines, standing is Standing.WAITING
    of = told(alert.id, telling.calls, telling.roles, width, panel.brief_ems, telling.now, telling.zone, waits=waits)
    seen = _seen(alert, standing, telling)
    if not seen:
        return replace(of, words=telling.under(of.words)) if of.words else of
    both = f"{seen} {of.words}"
    return Told(both if of.words and telling.fits_under(both) else seen, warns=False, named=(seen,))


def _seen(alert: AlertPicture, standing: Standing, telling: Telling) -> str:
    """Who has it, and what is still asked of them; '' where nobody has."""
    if alert.acknowledged_by is None:
        return ""
    deed = telling.deed(alert)
    asks_entry = standing is Standing.UNSETTLED and (deed is None or not deed.how)
    ask = f" Enter what was done: {PHONE_ALERTS}." if asks_entry else ""
    ask = " Not put right yet." if standing is Standing.TAKEN and telling.hearing else ask
    whole = f"{alert.acknowledged_by} has it."
    if telling.fits_under(f"{whole}{ask}"):
        return f"{whole}{ask}"
    return shortened(whole, telling.panel.under_ems - PLAIN.ems(ask), 1, PLAIN) + ask


def _first_sentences(of: Sequence[str], telling: Telling) -> str:
    """At least the first, shortened where a site's own rule has a long one."""
    first, *more = of or [""]
    said = telling.under(first)
    for sentence in more:
        longer = f"{said} {sentence}"
        if not telling.fits_under(longer):
            break
        said = longer
    return said


def _rest_words(rest: Sequence[AlertView], width_ems: float) -> str:
    """By urgency where nobody has answered, then by how they stand; of the most urgent also what it tells of."""
    waiting = Counter(view.priority for view in rest if view.standing is Standing.WAITING)
    others = Counter(view.standing for view in rest)
    counts = [Count(waiting[priority.value], words) for priority, words in _COUNTED_RANKS.items()]
    counts += [Count(others[standing], words) for standing, words in _COUNTED.items()]
    counts = [count for count in counts if count.number]
    if rest and rest[0].thing and is_urgent(rest[0].standing, Priority(rest[0].priority)):
        first, *less = counts
        thing = shortened(rest[0].thing, _THING_EMS, 1, PLAIN)
        for which in (f"({thing} first)", f"({thing})") if first.number > 1 else (f"({thing})",):
            named = rest_line([replace(first, words=f"{first.words} {which}"), *less], width_ems, "alert")
            if which in named:
                return named
    return rest_line(counts, width_ems, "alert")


_THING_EMS = 7.0


_COUNTED = {Standing.TAKEN: "answered", Standing.UNSETTLED: "to be entered", Standing.OVER: "ended"}
