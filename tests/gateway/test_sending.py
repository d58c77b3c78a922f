"""Pages on their way, over real sockets: sent once where the other side can tell, tried again, and never lost."""

import logging
import random
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from gateway.channel import Message, NotNowError, Receipt
from gateway.delivery import SendPace
from rules.alert_commands import PageTold
from rules.alert_words import Confirmation, PageEnd, Priority
from tests.gateway.pages import asked, seconds, told, withdrawn
from tests.gateway.post_office import PATIENCE_SECONDS, QUICK, Bureau, Post, Taker, taking


@pytest.fixture
def bureau(tmp_path: Path) -> Iterator[Bureau]:
    opened = Bureau(tmp_path)
    yield opened
    opened.close()


def test_a_page_that_is_asked_for_is_sent_and_told_of(bureau: Bureau) -> None:
    with taking(Taker()) as taker:
        bureau.start({"mail": Post(taker.port)})
        bureau.ask(asked("page-1"))
        (word,) = bureau.until_told(1)
        assert word == told("page-1", Confirmation.ACCEPTED, "the server says 202")
        assert taker.taken == {"page-1": 1}
        found = bureau.line("page-1")
        assert (found.waits, found.outcome, found.attempts) == (False, Confirmation.ACCEPTED, 1)


def test_what_was_left_open_by_the_last_run_is_sent_by_the_next(bureau: Bureau) -> None:
    bureau.ask(asked("page-1"), asked("page-2"))
    with taking(Taker()) as taker:
        bureau.start({"mail": Post(taker.port)})
        bureau.until_told(2)
        assert taker.taken == {"page-1": 1, "page-2": 1}


def test_what_is_not_taken_now_is_tried_again_until_it_is(bureau: Bureau) -> None:
    with taking(Taker(judge=lambda _page, time: 202 if time == 4 else 503)) as taker:
        bureau.start({"mail": Post(taker.port)})
        bureau.ask(asked("page-1"))
        (word,) = bureau.until_told(1)
        assert isinstance(word, PageTold)
        assert (word.outcome, taker.came) == (Confirmation.ACCEPTED, ["page-1"] * 4)
        assert bureau.line("page-1").attempts == 4


def test_a_page_that_is_withdrawn_keeps_how_often_it_was_tried_and_what_was_wrong(bureau: Bureau) -> None:
    with taking(Taker(judge=lambda *_: 503)) as taker:
        bureau.start({"mail": Post(taker.port)})
        bureau.ask(asked("page-1"))
        taker.until(lambda: len(taker.came) >= 4, "tried four times")
        bureau.ask(withdrawn("page-1"))
        found = bureau.line("page-1")
        assert (found.outcome, found.detail, found.waits) == (None, "the server says 503", False)
        assert found.attempts >= 3


def test_tries_of_a_run_before_are_counted_on(bureau: Bureau) -> None:
    with taking(Taker(judge=lambda _page, time: 202 if time == 5 else 503)) as taker:
        bureau.start({"mail": Post(taker.port)}, QUICK._replace(first_seconds=PATIENCE_SECONDS, slowest_seconds=99))
        bureau.ask(asked("page-1"))
        taker.until(lambda: len(taker.came) == 1, "tried once")
        bureau.stop()
        bureau.start({"mail": Post(taker.port)})
        bureau.until_told(1)
        assert len(taker.came) == bureau.line("page-1").attempts == 5


def test_what_is_refused_is_tried_once(bureau: Bureau) -> None:
    with taking(Taker(judge=lambda *_: 404)) as taker:
        bureau.start({"mail": Post(taker.port)})
        bureau.ask(asked("page-1"))
        assert bureau.until_told(1) == [told("page-1", PageEnd.REFUSED, "the server says 404")]
        assert taker.came == ["page-1"]


def test_a_page_is_given_up_when_its_time_is_over(bureau: Bureau) -> None:
    def pass_time(_page: str, time: int) -> int:
        bureau.now = seconds(100 * time)
        return 503

    with taking(Taker(judge=pass_time)) as taker:
        bureau.start({"mail": Post(taker.port)})
        bureau.ask(asked("page-1"))
        bureau.until_told(1)
        assert bureau.outcomes() == {"page-1": "given up"}
        assert bureau.line("page-1").detail == "the server says 503"
        assert len(taker.came) == 6  # its time is over at 600 s


def test_a_page_whose_time_was_over_before_it_could_be_sent_is_told_of_too(bureau: Bureau) -> None:
    with taking(Taker()) as taker:
        bureau.ask(asked("page-1"))
        bureau.now = seconds(600)
        bureau.start({"mail": Post(taker.port)})
        bureau.until_told(1)
        assert bureau.outcomes() == {"page-1": "given up"}
        assert taker.came == []
        assert bureau.line("page-1").attempts == 0


def test_a_page_without_an_address_or_a_channel_is_refused_in_words(bureau: Bureau) -> None:
    bureau.start({})
    bureau.ask(asked("page-1", channel="pigeon"), asked("page-2", contact="nobody"))
    words = {word.page: word.detail for word in bureau.until_told(2) if isinstance(word, PageTold)}
    assert words == {
        "page-1": "the site file has no address of 'phone-1' for channel 'pigeon'",
        "page-2": "the site file has no address of 'nobody' for channel 'mail'",
    }


def test_a_page_over_a_channel_that_the_site_no_longer_has_is_refused(bureau: Bureau) -> None:
    bureau.ask(asked("page-1"))
    bureau.start({})
    (word,) = bureau.until_told(1)
    assert word == told("page-1", PageEnd.REFUSED, "page-1 cannot be sent: the site file has no channel 'mail' now")


def test_a_channel_that_hangs_delays_no_other(bureau: Bureau) -> None:
    with taking(Taker(), held=True) as hanging, taking(Taker()) as quick:
        bureau.start({"pager": Post(hanging.port), "mail": Post(quick.port)})
        bureau.ask(*(asked(f"stuck-{n}", channel="pager") for n in range(50)))
        hanging.until(lambda: len(hanging.came) == QUICK.at_once, "all its places taken")
        bureau.ask(*(asked(f"page-{n}") for n in range(50)))
        assert {word.page for word in bureau.until_told(50) if isinstance(word, PageTold)} == {
            f"page-{n}" for n in range(50)
        }
        assert (hanging.taken, len(hanging.came)) == ({}, QUICK.at_once)
        hanging.open.set()
        bureau.until_told(100)
        assert hanging.taken == {f"stuck-{n}": 1 for n in range(50)}


def test_a_channel_that_never_answers_is_given_up_in_time_and_the_gateway_stops_all_the_same(bureau: Bureau) -> None:
    with taking(Taker(), held=True) as hanging:
        bureau.start({"mail": Post(hanging.port)}, QUICK._replace(at_once=1, hang_seconds=0.05))
        bureau.ask(asked("page-1"), asked("page-2"))
        hanging.until(lambda: hanging.came == ["page-1"], "the first under way")
        bureau.now = seconds(600)
        bureau.until_told(2)
        assert bureau.outcomes() == {"page-1": "given up", "page-2": "given up"}
        assert hanging.came == ["page-1"]  # its thread still hangs, and holds the only place
        bureau.stop()


def test_of_a_channel_that_fails_three_times_in_ten_nothing_is_lost_and_nothing_doubled(bureau: Bureau) -> None:
    chance = random.Random(5)  # noqa: S311 - it has to come out the same again
    fails: dict[str, list[bool]] = {f"page-{n}": [chance.random() < 0.3 for _ in range(20)] for n in range(200)}

    def judge(page: str, time: int) -> int:
        return 503 if fails[page][time - 1] else 202

    with taking(Taker(judge=judge)) as taker:
        bureau.start({"mail": Post(taker.port)})
        bureau.ask(*(asked(page) for page in fails))
        bureau.until_told(200)
        assert taker.taken == dict.fromkeys(fails, 1)
        assert set(bureau.outcomes().values()) == {"accepted"}
        assert len(bureau.told) == 200
        assert len(taker.came) == sum(tries.index(False) + 1 for tries in fails.values())


def test_of_a_thousand_pages_no_more_are_in_hand_than_fit_and_all_arrive(bureau: Bureau) -> None:
    bureau.ask(*(asked(f"page-{n}") for n in range(1000)))
    with taking(Taker(), held=True) as taker:
        bureau.start({"mail": Post(taker.port)})
        taker.until(lambda: len(taker.came) == QUICK.at_once, "its places taken")
        assert set(taker.came) == {f"page-{n}" for n in range(QUICK.at_once)}
        taker.open.set()
        bureau.until_told(1000)
        assert taker.taken == {f"page-{n}": 1 for n in range(1000)}


def test_pages_that_wait_for_another_try_are_bounded_too_and_none_is_lost(bureau: Bureau) -> None:
    up = threading.Event()
    with taking(Taker(judge=lambda *_: 202 if up.is_set() else 503)) as taker:
        bureau.start({"mail": Post(taker.port)}, QUICK._replace(in_hand=5))
        bureau.ask(*(asked(f"page-{n}") for n in range(50)))
        taker.until(lambda: len(taker.came) > 50, "many tries")
        assert len(set(taker.came)) == 5
        up.set()
        bureau.until_told(50)
        assert taker.taken == {f"page-{n}": 1 for n in range(50)}


def test_what_is_urgent_goes_before_what_waits_longer(bureau: Bureau) -> None:
    with taking(Taker(), held=True) as taker:
        bureau.start({"mail": Post(taker.port)}, QUICK._replace(at_once=1))
        bureau.ask(*(asked(f"low-{n}", priority=Priority.LOW) for n in range(10)))
        taker.until(lambda: taker.came == ["low-0"], "the first under way")
        bureau.ask(asked("high"))
        taker.open.set()
        bureau.until_told(11)
        assert taker.came[:2] == ["low-0", "high"]


def test_a_page_that_is_withdrawn_while_it_waits_for_a_place_is_not_sent(bureau: Bureau) -> None:
    with taking(Taker(), held=True) as taker:
        bureau.start({"mail": Post(taker.port)}, QUICK._replace(at_once=1))
        bureau.ask(asked("page-1"), asked("page-2"), asked("page-3"))
        taker.until(lambda: taker.came == ["page-1"], "the first under way")
        bureau.ask(withdrawn("page-1"), withdrawn("page-2"))
        taker.open.set()
        bureau.until_told(2)
        assert taker.came == ["page-1", "page-3"]
        assert bureau.outcomes() == {"page-1": "accepted", "page-3": "accepted"}  # the first was under way


def test_a_page_that_is_withdrawn_between_two_tries_is_not_tried_again(bureau: Bureau) -> None:
    def judge(page: str, _time: int) -> int:
        if page == "page-1":
            bureau.ask(withdrawn("page-1"))
            return 503
        return 202

    with taking(Taker(judge=judge)) as taker:
        bureau.start({"mail": Post(taker.port)}, QUICK._replace(at_once=1, in_hand=1))
        bureau.ask(asked("page-1"), asked("page-2"))
        bureau.until_told(1)
        assert (taker.came, bureau.outcomes()) == (["page-1", "page-2"], {"page-2": "accepted"})


def test_while_the_gateway_is_busy_what_became_of_a_page_is_told_again(bureau: Bureau) -> None:
    bureau.busy = 3
    with taking(Taker()) as taker:
        bureau.start({"mail": Post(taker.port)})
        bureau.ask(asked("page-1"))
        bureau.until_told(1)
        assert (bureau.busy, taker.came) == (0, ["page-1"])


def test_what_is_under_way_at_the_stop_is_told_and_what_waits_is_left_for_the_next_start(bureau: Bureau) -> None:
    with taking(Taker(), held=True) as taker:
        bureau.start({"mail": Post(taker.port)}, QUICK._replace(at_once=1, stop_seconds=PATIENCE_SECONDS))
        bureau.ask(asked("page-1"), asked("page-2"))
        taker.until(lambda: taker.came == ["page-1"], "the first under way")
        stopping = threading.Thread(target=bureau.stop)
        stopping.start()
        taker.open.set()
        stopping.join()
        assert bureau.outcomes() == {"page-1": "accepted"}
        assert taker.came == ["page-1"]
        assert [bureau.line(page).waits for page in ("page-1", "page-2")] == [False, True]


@pytest.mark.parametrize("reason", ["hangs", "fails"])
def test_what_cannot_be_told_before_the_stop_is_sent_again_by_the_same_id(bureau: Bureau, reason: str) -> None:
    judge = (lambda *_: 202) if reason == "hangs" else (lambda _page, time: 503 if time == 1 else 202)
    with taking(Taker(judge=judge), held=reason == "hangs") as taker:
        pace = QUICK._replace(stop_seconds=0.05, first_seconds=60, slowest_seconds=60)
        bureau.start({"mail": Post(taker.port)}, pace)
        bureau.ask(asked("page-1"))
        taker.until(lambda: taker.came == ["page-1"], "under way")
        bureau.stop()
        assert bureau.told == []
        assert bureau.line("page-1").waits
        taker.open.set()
        bureau.start({"mail": Post(taker.port)})
        bureau.until_told(1)
        assert taker.came == ["page-1", "page-1"]


def test_what_still_hangs_when_the_gateway_has_stopped_ends_in_peace(
    bureau: Bureau, caplog: pytest.LogCaptureFixture
) -> None:
    @dataclass
    class Hanging:
        begun: threading.Event = field(default_factory=threading.Event)
        over: threading.Event = field(default_factory=threading.Event)
        thread: threading.Thread | None = None

        def send(self, _message: Message) -> Receipt:
            self.thread = threading.current_thread()
            self.begun.set()
            self.over.wait(PATIENCE_SECONDS)
            return Receipt(Confirmation.ACCEPTED)

    channel = Hanging()
    bureau.start({"mail": channel}, QUICK._replace(stop_seconds=0.05))
    bureau.ask(asked("page-1"))
    assert channel.begun.wait(PATIENCE_SECONDS)
    bureau.stop()
    channel.over.set()
    assert channel.thread is not None
    channel.thread.join(PATIENCE_SECONDS)
    assert (bureau.told, caplog.text) == ([], "")


def test_a_fault_of_the_program_in_a_channel_is_tried_again_and_logged(
    bureau: Bureau, caplog: pytest.LogCaptureFixture
) -> None:
    @dataclass
    class Broken:
        tries: int = 0

        def send(self, message: Message) -> Receipt:
            self.tries += 1
            if self.tries < 3:
                raise KeyError(message.page)
            return Receipt(Confirmation.DELIVERED)

    bureau.start({"mail": Broken()})
    bureau.ask(asked("page-1"))
    bureau.until_told(1)
    assert bureau.outcomes() == {"page-1": "delivered"}
    assert caplog.text.count("channel mail failed in a way that it should not") == 2


def test_the_other_side_is_given_the_time_that_it_asks_for(bureau: Bureau) -> None:
    @dataclass
    class Slow:
        def send(self, _message: Message) -> Receipt:
            raise NotNowError("later", after_seconds=3600)

    bureau.start({"mail": Slow()})
    bureau.ask(asked("page-1"))
    bureau.until_told(1)
    assert bureau.outcomes() == {"page-1": "given up"}  # its time is over before


def test_logs_name_whom_a_page_is_for_and_no_address(bureau: Bureau, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO)
    with taking(Taker(judge=lambda page, _: 404 if page == "page-1" else 202)) as taker:
        bureau.start({"mail": Post(taker.port)})
        bureau.ask(asked("page-1"), asked("page-2"))
        bureau.until_told(2)
        bureau.stop()
    assert "page-1 to Duty phone 1 over mail: refused (1 try): the server says 404" in caplog.text
    assert "page-2 to Duty phone 1 over mail: accepted (1 try)" in caplog.text
    assert "duty-1@example.org" not in caplog.text


def test_the_places_of_a_pace_are_never_exceeded(bureau: Bureau) -> None:
    with taking(Taker(), held=True) as taker:
        bureau.start({"mail": Post(taker.port)}, SendPace(at_once=2, stop_seconds=0.05))
        bureau.ask(*(asked(f"page-{n}") for n in range(10)))
        taker.until(lambda: len(taker.came) == 2, "two under way")
        bureau.stop()
        assert len(taker.came) == 2
