"""What was answered before of where probes were is what would be answered now, whatever was heard meanwhile."""

from copy import deepcopy
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from rules.answers import MOST_ANSWERS, Answers, Question
from rules.exposure import Span
from rules.health import Ears
from rules.probe_words import Place
from rules.readers import Post
from rules.readings import SECOND, Micros, Reading, SensorId
from rules.whereabouts import Whereabouts

HERE, SINK = SensorId("basin-1/tag"), SensorId("station-1/tag")
HOOKS = {SensorId("cart-1/hook-a"): "p1", SensorId("cart-1/hook-b"): "p2"}
TAGS = {"T1": "p1", "T2": "p2"}
GAP = Micros(30 * SECOND)
MEMORY = Micros(40 * SECOND)
PROBES = ("p1", "p2")


def posts() -> dict[SensorId, Post]:
    tags = {HERE: Post(Place.BASIN, "basin-1", GAP), SINK: Post(Place.SINK, "station-1", GAP)}
    return {**tags, **{hook: Post(Place.HOOK, "cart-1", GAP) for hook in HOOKS}}


def at(seconds: float) -> Micros:
    return Micros(round((1000 + seconds) * SECOND))


class House:
    """Readers and hooks with a clock; what they are asked is asked of one, too, that knows no answer yet."""

    def __init__(self) -> None:
        self.now = at(0)
        self.ears = Ears()
        self.where = Whereabouts(posts(), TAGS, HOOKS, {}, self.ears)

    def hear(self, sensor: SensorId, value: str, after: int, behind: int) -> None:
        """behind: seconds by which it was measured before it arrived; below 0 it has no time of its own."""
        self.now = Micros(self.now + after * SECOND)
        hung = sensor in HOOKS
        measured = Micros(self.now - max(behind, 0) * SECOND)
        said = Reading(sensor, measured, self.now, bool(value) if hung else value, timed=behind >= 0)
        self.where.take(said)

    def anew(self) -> Whereabouts:
        return Whereabouts(posts(), TAGS, HOOKS, deepcopy(self.where.states), self.ears)

    def check(self, spans: list[Span]) -> None:
        fresh = self.anew()
        for span in spans:
            assert self.where.saw_nothing("basin-1", span) == fresh.saw_nothing("basin-1", span)
            elsewhere = self.where.were_elsewhere(PROBES, "basin-1", span)
            assert elsewhere == fresh.were_elsewhere(PROBES, "basin-1", span)

    def forget(self) -> None:
        fresh = self.anew()
        before = Micros(self.now - MEMORY)
        assert self.where.forget(before) == fresh.forget(before)
        assert self.where.states == fresh.states
        assert self.where.kept_since == fresh.kept_since


_WORDS = st.tuples(
    st.just("hear"),
    st.sampled_from([HERE, SINK, *HOOKS]),
    st.sampled_from(["", "", "T1", "T1 T2"]),
    st.integers(0, 25),
    st.sampled_from([0, 0, 0, 0, 5, 40, -1]),
)
_HUNG = st.tuples(st.just("hear"), st.sampled_from([*HOOKS]), st.just("T"), st.integers(0, 9), st.just(0))
_NOTHING = st.tuples(st.just("hear"), st.just(HERE), st.just(""), st.integers(0, 9), st.just(0))
_ASK = st.tuples(st.just("ask"), st.sampled_from([30, 60, 90]), st.sampled_from([15, 30, 45, 60]))
_DEEDS = st.one_of(
    _WORDS,
    _HUNG,
    _HUNG,
    _NOTHING,
    _ASK,
    st.tuples(st.just("lose"), st.sampled_from([HERE, SINK, *HOOKS])),
    st.tuples(st.just("turn"), st.booleans()),
    st.tuples(st.just("forget")),
)


@settings(max_examples=250, deadline=None)
@given(st.lists(_DEEDS, min_size=10, max_size=60))
def test_what_was_answered_before_is_what_would_be_found_now(deeds: list[tuple[Any, ...]]) -> None:
    house, spans = House(), list[Span]()
    for kind, *what in deeds:
        match kind:
            case "hear":
                house.hear(*what)
            case "ask":
                since = Micros(house.now - what[0] * SECOND)
                spans = [*spans[-3:], Span(since, Micros(min(house.now, since + what[1] * SECOND)))]
            case "lose":
                house.where.lose(what[0])
            case "turn":
                house.ears.turn(house.now, hearing=what[0])
            case _:
                house.forget()
        house.check(spans)


def test_what_is_not_asked_about_any_more_takes_no_room() -> None:
    answers = Answers()
    for n in range(100):
        answers.of(Question("elsewhere", "basin-1", Span(at(n), at(n + 10))), lambda: True)
    answers.heard(at(100))
    assert len(answers) == 90
    answers.forget(at(50))
    assert len(answers) == 50


def test_however_much_is_asked_about_only_so_much_is_remembered() -> None:
    # Of a lid over an empty basin it is asked anew with each word, up to now; a reader whose clock is ahead tells of
    # nothing that ends so early.
    answers = Answers()
    for n in range(MOST_ANSWERS + 10):
        answers.of(Question("elsewhere", "basin-1", Span(at(0), at(n))), lambda: True)
    assert len(answers) <= MOST_ANSWERS
    newest = Question("elsewhere", "basin-1", Span(at(0), at(MOST_ANSWERS)))
    assert answers.of(newest, lambda: False)
