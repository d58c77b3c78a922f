"""What the wall says in one quiet line at the end of its alerts: what is hidden, and whether it may be heard."""

from collections import Counter
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from dashboard.measure import PLAIN
from dashboard.panel import LYING, Panel
from dashboard.rest import Count, kinds
from dashboard.words import hour
from rules.alert_words import Priority, State
from rules.picture import Picture

GAP_EMS = 1.0
"""Between two sayings of the line."""

REST_LEAST_EMS = 12.6
"""So much is kept for the alerts that have no place: ``12 more alerts: 12 others``."""

SOUND_ON = "Sound on"


@dataclass(frozen=True, slots=True)
class SoundView:
    """What a wall with sound plays and says of it.

    priority: of the most urgent alert that asks to be heard, '' where none does. words: whether it may be heard.
    paused_until_ms: when the pause ends by itself, in ms since 1970; 0 where there is none. mute: what is said in
        place of ``words`` where the browser does not let the page play, which only the page itself can find out.
    """

    priority: str
    words: str
    paused_until_ms: int
    mute: str = "No sound yet: click here once"

    @property
    def ems(self) -> float:
        """The width that it takes from the line, whatever it says."""
        return max(PLAIN.ems(self.words), PLAIN.ems(self.mute)) + GAP_EMS


@dataclass(frozen=True, slots=True)
class Aside:
    """The end of the line: hidden: what nobody is told of, counted; '' for nothing; in_short: in fewer words.

    sound: None on a silent wall.

    stacked: whether each has a line of its own, and does not share that of the alerts which are counted.
    """

    hidden: str = ""
    in_short: str = ""
    sound: SoundView | None = None
    stacked: bool = False

    @property
    def rows(self) -> int:
        """How many lines it takes."""
        said = (self.hidden != "") + (self.sound is not None)
        return said if self.stacked else min(1, said)

    @property
    def says(self) -> bool:
        """Whether there is anything to say."""
        return self.hidden != "" or self.sound is not None

    @property
    def shorter(self) -> "Aside":
        """The same where what is hidden is counted together, so that the alerts of the line have their room."""
        return replace(self, hidden=self.in_short) if self.in_short else self

    @property
    def ems(self) -> float:
        """The width that it takes from the line."""
        return (PLAIN.ems(self.hidden) + GAP_EMS if self.hidden else 0) + (self.sound.ems if self.sound else 0)


def aside(picture: Picture, zone: ZoneInfo, panel: Panel = LYING, *, sounds: bool) -> Aside:
    """What is hidden at this instant, and what is heard of on a wall that ``sounds``."""
    sound = _sound(picture, zone) if sounds else None
    shared = 0.0 if panel.stacks else REST_LEAST_EMS + GAP_EMS + (sound.ems if sound else 0)
    hidden, room = _hidden(picture), panel.line_ems - shared
    urgent = _urgent(picture, zone, hidden, room)
    in_short = f"{sum(count.number for count in hidden)} not shown: phone, Alerts" if hidden else ""
    said = kinds(hidden, room, "alert", head="Not shown: ") if hidden else ""
    return Aside(urgent or said or in_short, in_short, sound, stacked=panel.stacks)


def _urgent(picture: Picture, zone: ZoneInfo, hidden: list[Count], room_ems: float) -> str:
    """The alert of high priority that was put aside first, by its text or its name; '' where none was, or has room."""
    for alert in picture.hidden:
        if alert.state is State.SHELVED and alert.priority is Priority.HIGH and alert.aside_until is not None:
            break
    else:
        return ""
    others = [replace(hidden[0], number=hidden[0].number - 1, words="more put aside"), *hidden[1:]]
    rest = "".join(f"; {count.number} {count.words}" for count in others if count.number)
    until, name = f"until {hour(alert.aside_until, zone)}", alert.text.partition(": ")[0]
    said = (f"{alert.text}, put aside {until}", f"{name}, put aside {until}", f"{name} {until}")
    named = (f"Not shown: {words}{rest}" for words in said)
    return next((words for words in named if PLAIN.ems(words) <= room_ems), "")


def _hidden(picture: Picture) -> list[Count]:
    states = Counter(alert.state for alert in picture.hidden)
    counts = (
        Count(states[State.SHELVED], "put aside"),
        Count(len(picture.out), "out of service"),
        Count(states[State.SUPPRESSED], "held back"),
    )
    return [count for count in counts if count.number]


def _sound(picture: Picture, zone: ZoneInfo) -> SoundView:
    until = picture.sound_paused_until
    heard = {alert.priority for alert in picture.alerts if alert.state in HEARD and alert.acknowledged_by is None}
    priority = next((one.value for one in Priority if one in heard), "")
    if until is None:
        return SoundView(priority, SOUND_ON, 0)
    return SoundView(priority, f"Sound paused until {hour(until, zone)}", until // 1000)


HEARD = frozenset({State.UNACKNOWLEDGED, State.LATCHED_UNACKNOWLEDGED})
"""Nobody has answered, and it is not over: an alert whose condition has ended asks to be seen, not to be heard."""
