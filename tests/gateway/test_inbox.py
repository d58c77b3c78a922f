import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gateway.inbox import Delivery, Inbox, Item, LinkChange
from rules.readings import Micros


def message(number: int) -> Delivery:
    return Delivery(f"t/{number}", b"", Micros(number), retained=False, receipt=None)


def test_items_come_out_in_the_order_they_went_in() -> None:
    inbox = Inbox(10)
    for number in range(5):
        assert inbox.offer(message(number))
    assert inbox.take(0, 3) == [message(0), message(1), message(2)]
    assert inbox.take(0, 3) == [message(3), message(4)]


def test_a_full_inbox_says_no_at_once_and_keeps_what_it_has() -> None:
    inbox = Inbox(2)
    assert [inbox.offer(message(n)) for n in range(3)] == [True, True, False]
    assert inbox.take(0, 10) == [message(0), message(1)]


def test_it_is_full_when_the_payloads_in_it_are_together_large_enough() -> None:
    inbox = Inbox(10, most_octets=100)
    large = message(0)._replace(payload=bytes(50))
    assert [inbox.offer(large) for _ in range(3)] == [True, True, False]
    assert inbox.fill == 1
    assert inbox.offer_urgent(LinkChange(connected=False, arrived=Micros(1)))
    assert inbox.take(0, 1) == [large]
    assert inbox.fill == 0.5
    assert inbox.offer(large)


@given(st.integers(0, 6), st.integers(0, 6), st.integers(1, 8), st.integers(1, 8))
def test_many_are_taken_as_one_after_another_would_be(there: int, come: int, capacity: int, most_octets: int) -> None:
    many = [message(n)._replace(payload=b"x") for n in range(there + come)]
    inbox, other = (Inbox(capacity, most_octets=most_octets) for _ in range(2))
    for each in (inbox, other):
        for item in many[:there]:
            each.offer(item)
    assert inbox.offer_all(many[there:]) == sum([other.offer(item) for item in many[there:]])
    assert inbox.fill == other.fill
    assert inbox.take(0, 100) == other.take(0, 100)


def test_a_closed_inbox_takes_none_of_many() -> None:
    inbox = Inbox(10)
    inbox.close()
    assert inbox.offer_all([message(1), message(2)]) == 0


def test_a_waiting_taker_wakes_for_the_first_of_many() -> None:
    inbox = Inbox(10)
    with ThreadPoolExecutor(1) as pool:
        taken = pool.submit(inbox.take, 30, 10)
        inbox.offer_all([message(7), message(8)])
        assert taken.result(5)[0] == message(7)


def test_urgent_news_find_room_in_a_full_inbox_but_not_without_end() -> None:
    inbox = Inbox(1, reserve=1)
    news = LinkChange(connected=False, arrived=Micros(1))
    assert inbox.offer(message(0))
    assert [inbox.offer_urgent(news) for _ in range(2)] == [True, False]
    assert not inbox.offer(message(1))
    assert inbox.take(0, 10) == [message(0), news]


def test_taking_from_an_empty_inbox_gives_nothing_after_the_timeout() -> None:
    assert Inbox(1).take(0.01, 10) == []


def test_a_waiting_taker_wakes_for_the_first_item() -> None:
    inbox = Inbox(10)
    with ThreadPoolExecutor(1) as pool:
        taken = pool.submit(inbox.take, 30, 10)
        inbox.offer(message(7))
        assert taken.result(5) == [message(7)]


def test_a_taker_woken_for_nothing_goes_on_waiting() -> None:
    inbox = Inbox(10)
    with ThreadPoolExecutor(1) as pool:
        taken = pool.submit(inbox.take, 30, 10)
        while not inbox._awaited:
            assert not taken.done()
        with inbox._guard:
            inbox._guard.notify()
        with pytest.raises(TimeoutError):
            taken.result(0.05)
        inbox.offer(message(7))
        assert taken.result(5) == [message(7)]


def test_closing_wakes_the_taker_and_leaves_it_what_is_there() -> None:
    inbox = Inbox(10)
    with ThreadPoolExecutor(1) as pool:
        taken = pool.submit(inbox.take, 30, 10)
        inbox.close()
        assert taken.result(5) == []
    drained = Inbox(10)
    drained.offer(message(1))
    drained.close()
    assert not drained.offer(message(2))
    assert not drained.offer_urgent(message(2))
    assert drained.take(30, 10) == [message(1)]
    assert drained.take(30, 10) == []


def test_nothing_is_lost_or_doubled_between_many_givers_and_one_taker() -> None:
    givers, each = 4, 5_000
    inbox = Inbox(givers * each)

    def give(giver: int) -> None:
        for number in range(each):
            assert inbox.offer(message(giver * each + number))

    threads = [threading.Thread(target=give, args=(giver,)) for giver in range(givers)]
    for thread in threads:
        thread.start()
    taken: list[Item] = []
    while len(taken) < givers * each:
        batch = inbox.take(5, 512)
        assert batch, "the taker slept through an item"
        taken += batch
    for giver in range(givers):
        mine = [i.arrived for i in taken if isinstance(i, Delivery) and i.arrived // each == giver]
        assert mine == list(range(giver * each, (giver + 1) * each))


@given(st.lists(st.one_of(st.just("offer"), st.integers(0, 5)), max_size=60), st.integers(1, 8))
def test_it_behaves_like_a_bounded_list(steps: list[str | int], capacity: int) -> None:
    inbox, model = Inbox(capacity), list[Item]()
    for number, step in enumerate(steps):
        if isinstance(step, int):
            assert inbox.take(0, step) == model[:step]
            del model[:step]
        else:
            assert inbox.offer(message(number)) == (len(model) < capacity)
            model += [message(number)] * (len(model) < capacity)
        assert len(inbox) == len(model)
