"""What alerts ask of people: how many, how they bunch, how long they stand, how soon they are answered."""

from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from rules.alert_lives import Activation, AlertLives, Fate, Hid, Stood, Whose
from rules.alert_words import Priority, State
from rules.rates import Rates, bursts, ranked, rates
from rules.readings import DAY, SECOND, Micros
from rules.stretch import Stretch

CHATTERS_FROM = 3
CHATTER_WINDOW = Micros(60 * SECOND)
"""So many activations of one alert in so long, after ISA-18.2 (secondary); the window slides."""

FLEETING_MOST = Micros(30 * SECOND)
"""What clears within that was gone before anybody could see to it (ours: less than it takes to read a page and go)."""

STALE_AFTER = DAY
"""What is shown for longer without a break is stale, after ISA-18.2 (secondary)."""

TOP = 10


@dataclass(frozen=True, slots=True)
class Often:
    """A rule on a subject, how many activations it had, and which share of all these are, 0 to 1."""

    rule: str
    subject: str
    count: int
    share: float


@dataclass(frozen=True, slots=True)
class Answers:
    """How soon people answered; where an alert was told again while it waited, one answer is to each time.

    *_seconds: from the activation to the answer, nearest rank; None where none was answered. unanswered: over before
    anybody did. aside: hidden before. waiting: when the stretch ended. seconds: of each, in order.
    """

    median_seconds: float | None
    p90_seconds: float | None
    longest_seconds: float | None
    unanswered: int
    aside: int
    waiting: int
    seconds: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class HiddenTime:
    """How many alerts were hidden in that way, and for how many hours of the stretch, added up."""

    state: State
    count: int
    hours: float


@dataclass(frozen=True, slots=True)
class AlertLoad:
    """Of all alerts, or of some.

    split: activations of each priority. chattering: alerts that did, with the activations that were part of it.
    fleeting: activations that cleared within seconds, with no other of the same alert within a minute.
    stale: for each day, how many alerts had by then been shown for more than 24 h. top: the ten with the most.
    """

    rates: Rates
    split: Mapping[Priority, int]
    reminders: int
    chattering: tuple[Often, ...]
    fleeting: int
    stale: tuple[int, ...]
    top: tuple[Often, ...]
    answers: Answers
    hidden: tuple[HiddenTime, ...]

    @property
    def top_share(self) -> float:
        """Share of the ten in all activations, 0 to 1."""
        return sum(often.share for often in self.top)


def alert_load(lives: AlertLives, stretch: Stretch) -> AlertLoad:
    """Of what was told within the stretch, and what stood or was hidden in it."""
    told = lives.activations
    times = _by_whose(told)
    return AlertLoad(
        rates=rates([activation.at for activation in told], stretch.span),
        split={priority: sum(a.priority is priority for a in told) for priority in Priority},
        reminders=len(lives.reminders),
        chattering=_most({whose: _chattered(at) for whose, at in times.items()}, len(told)),
        fleeting=sum(_is_fleeting(activation, times[activation.whose]) for activation in told),
        stale=tuple(_stale(lives.stood, stretch)),
        top=_most({whose: len(at) for whose, at in times.items()}, len(told))[:TOP],
        answers=_answers(told),
        hidden=tuple(_hidden(lives.hid, stretch)),
    )


def _by_whose(told: Sequence[Activation]) -> dict[Whose, list[Micros]]:
    times = defaultdict(list)
    for activation in told:
        times[activation.whose].append(activation.at)
    return times


def _most(counts: Mapping[Whose, int], total: int) -> tuple[Often, ...]:
    """Those with any, the most first; of equals by name."""
    in_order = sorted(((whose, count) for whose, count in counts.items() if count), key=lambda c: (-c[1], c[0]))
    return tuple(Often(*whose, count, count / total) for whose, count in in_order)


def _chattered(times: Sequence[Micros]) -> int:
    return sum(len(burst) for burst in bursts(times, CHATTERS_FROM, CHATTER_WINDOW))


def _is_fleeting(activation: Activation, same: Sequence[Micros]) -> bool:
    if activation.cleared is None or activation.cleared - activation.at > FLEETING_MOST:
        return False
    near = bisect_left(same, activation.at)
    others = [*same[max(0, near - 1) : near], *same[near + 1 : near + 2]]
    return all(abs(other - activation.at) >= CHATTER_WINDOW for other in others)


def _stale(stood: Sequence[Stood], stretch: Stretch) -> Iterator[int]:
    ends = [(one.span.start + STALE_AFTER, one.span.end) for one in stood if one.span.micros > STALE_AFTER]
    for number in range(len(stretch.days)):
        day = stretch.day(number)
        yield sum(stale < day.end and end > day.start for stale, end in ends)


def _answers(told: Sequence[Activation]) -> Answers:
    waited = sorted(a.answered - a.at for a in told if a.answered is not None)
    fates = Counter(activation.fate for activation in told)
    return Answers(
        median_seconds=_seconds(ranked(waited, 0.5)),
        p90_seconds=_seconds(ranked(waited, 0.9)),
        longest_seconds=_seconds(ranked(waited, 1)),
        unanswered=fates[Fate.UNANSWERED],
        aside=fates[Fate.ASIDE],
        waiting=fates[Fate.WAITING],
        seconds=tuple(micros / SECOND for micros in waited),
    )


def _seconds(micros: int | None) -> float | None:
    return None if micros is None else micros / SECOND


def _hidden(hid: Sequence[Hid], stretch: Stretch) -> Iterator[HiddenTime]:
    for state in (State.SHELVED, State.SUPPRESSED, State.OUT_OF_SERVICE):
        mine = [one.span for one in hid if one.state is state]
        inside = sum(span.end - max(span.start, stretch.since) for span in mine)
        yield HiddenTime(state, len(mine), inside / SECOND / 3600)
