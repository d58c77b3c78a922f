"""Those who carry the demo's pagers, and a page that goes to them over a real connection."""

from dataclasses import replace

import pytest

from gateway.channel import Message, Reply
from gateway.channel_settings import SnppChannel
from gateway.snpp import CHOICES, Snpp
from rules.alert_words import Confirmation, PageWhy, Priority
from rules.readings import SECOND, Micros
from sim_devices.answering.pager_book import Draft, Fate, Page
from sim_devices.answering.pagers import CANNOT, CARRIERS, GOES, Pagers, step
from sim_devices.chance import Chance

NOON = Micros(1_790_000_000_000_000)
CHANCE = Chance(7)


def page(number: int, fate: Fate = Fate.DELIVERED) -> Page:
    draft = Draft(pagers=("5550111",), words=f"page {number}", two_way=True, choices=((GOES, "go"), (CANNOT, "no")))
    return Page(f"5550111_{number}", "000000", draft, fate, NOON)


def fates(seconds: float, fate: Fate, count: int = 200) -> list[str]:
    now = Micros(NOON + round(seconds * SECOND))
    steps = (step(page(number, fate), now, CHANCE) for number in range(count))
    return ["-" if done is None else f"{done.fate.name} {done.reply or ''}".strip() for done in steps]


def test_most_pages_are_read_after_a_while_and_some_by_nobody() -> None:
    least, most = CARRIERS.reads_seconds
    assert set(fates(least - 0.1, Fate.DELIVERED)) == {"-"}
    assert 140 < fates(most, Fate.DELIVERED).count("READ") < 195


def test_most_of_those_who_read_a_page_go_and_some_cannot() -> None:
    found = fates(CARRIERS.answers_seconds[1], Fate.READ)
    assert found.count(f"ANSWERED {GOES}") > 110
    assert found.count(f"ANSWERED {CANNOT}") > 10


@pytest.mark.parametrize("fate", [Fate.QUEUED, Fate.ANSWERED, Fate.EXPIRED])
def test_nobody_answers_a_page_that_did_not_come_or_is_answered(fate: Fate) -> None:
    assert set(fates(9999, fate)) == {"-"}


def test_a_page_that_offers_no_answer_gets_none() -> None:
    one_way = replace(page(1), draft=replace(page(1).draft, choices=()))
    assert step(one_way, Micros(NOON + 9999 * SECOND), CHANCE) is None


def test_the_keys_are_those_that_pages_offer() -> None:
    assert {code: meaning for code, _, meaning in CHOICES} == {GOES: Reply.ACKNOWLEDGE, CANNOT: Reply.DECLINE}


class Watch:
    """A clock that is set."""

    def __init__(self) -> None:
        self.now = NOON

    def __call__(self) -> Micros:
        return self.now

    def goes(self, seconds: float) -> None:
        self.now = Micros(self.now + round(seconds * SECOND))


def message(words: str) -> Message:
    return Message(
        "page-1", "5550111", words, words, None, Priority.HIGH, PageWhy.FIRST, ("alert-1",), NOON, Micros(NOON + SECOND)
    )  # fmt: skip


def test_a_page_over_the_wire_is_read_and_answered_by_whoever_carries_the_pager() -> None:
    watch = Watch()
    heard = next(f"page {n}" for n in range(99) if fates(99, Fate.DELIVERED, n + 1)[n] == "READ")
    with Pagers(watch) as pagers:
        channel = Snpp(SnppChannel(id="pagers", kind="snpp", host="127.0.0.1", port=pagers.port, two_way=True))
        sent = channel.send(message(heard))
        assert (sent.confirmation, sent.handle is not None) == (Confirmation.DELIVERED, True)
        assert sent.handle is not None
        told = [sent.confirmation]
        for _ in range(2):
            watch.goes(60)
            pagers.look(CHANCE)
            told.append(channel.poll(sent.handle).confirmation)
    assert told == [Confirmation.DELIVERED, Confirmation.READ, Confirmation.ANSWERED]


def test_a_pager_that_is_mislaid_is_heard_by_nobody() -> None:
    watch = Watch()
    with Pagers(watch) as pagers:
        channel = Snpp(SnppChannel(id="pagers", kind="snpp", host="127.0.0.1", port=pagers.port, two_way=True))
        sent = channel.send(message("page 0"))
        watch.goes(600)
        pagers.look(CHANCE, frozenset({"5550111"}))
        assert sent.handle is not None
        assert channel.poll(sent.handle).confirmation is Confirmation.DELIVERED
