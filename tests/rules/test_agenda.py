"""Timers as data."""

from hypothesis import given
from hypothesis import strategies as st

from rules.agenda import NEVER, Agenda, Task
from rules.readings import Micros

SETTLE, ROLL = Task("settle", "basin-1"), Task("roll", "cart-1")


def due(agenda: Agenda, until: int) -> list[tuple[Micros, Task]]:
    """Everything that falls due, in order."""
    fired = []
    while (entry := agenda.pop(Micros(until))) is not None:
        fired.append(entry)
    return fired


def test_a_task_falls_due_at_its_time_and_once() -> None:
    agenda = Agenda()
    agenda.set(SETTLE, Micros(10))
    assert agenda.planned(SETTLE)
    assert due(agenda, 9) == []
    assert due(agenda, 10) == [(10, SETTLE)]
    assert due(agenda, 100) == []
    assert not agenda.planned(SETTLE)


def test_tasks_come_in_the_order_of_time_and_then_of_name() -> None:
    agenda = Agenda()
    agenda.set(SETTLE, Micros(10))
    agenda.set(ROLL, Micros(10))
    agenda.set(Task("zero", ""), Micros(9))
    assert [task.work for _, task in due(agenda, 10)] == ["zero", "roll", "settle"]


def test_a_task_put_off_does_not_fall_due_at_the_earlier_time() -> None:
    agenda = Agenda()
    agenda.set(SETTLE, Micros(10))
    agenda.set(SETTLE, Micros(20))
    assert due(agenda, 19) == []
    assert due(agenda, 20) == [(20, SETTLE)]


def test_a_task_brought_forward_falls_due_at_the_earlier_time_only() -> None:
    agenda = Agenda()
    agenda.set(SETTLE, Micros(20))
    agenda.set(SETTLE, Micros(10))
    assert agenda.next_due == 10
    assert due(agenda, 30) == [(10, SETTLE)]


def test_a_cancelled_task_does_not_fall_due_even_when_planned_again_for_the_same_time() -> None:
    agenda = Agenda()
    agenda.set(SETTLE, Micros(10))
    agenda.cancel(SETTLE)
    assert due(agenda, 10) == []
    agenda.set(SETTLE, Micros(20))
    agenda.cancel(SETTLE)
    agenda.set(SETTLE, Micros(20))
    assert due(agenda, 20) == [(20, SETTLE)]


def test_nothing_planned_is_never_due() -> None:
    agenda = Agenda()
    agenda.cancel(SETTLE)
    assert agenda.next_due == NEVER
    agenda.set(SETTLE, Micros(10))
    agenda.pop(Micros(10))
    assert agenda.next_due == NEVER


CHANGES = st.lists(st.tuples(st.sampled_from("abc"), st.none() | st.integers(0, 20)), max_size=30)


@given(changes=CHANGES, until=st.integers(0, 20))
def test_an_agenda_behaves_like_a_sorted_table_and_survives_being_written_down(
    changes: list[tuple[str, int | None]], until: int
) -> None:
    agenda, table = Agenda(), dict[Task, int]()
    for name, at in changes:
        task = Task("work", name)
        if at is None:
            agenda.cancel(task)
            table.pop(task, None)
        else:
            agenda.set(task, Micros(at))
            table[task] = at
    again = Agenda()
    again.load(agenda.entries())
    expected = sorted((at, task) for task, at in table.items() if at <= until)
    assert due(agenda, until) == due(again, until) == expected
    assert again.next_due == min((at for at in table.values() if at > until), default=NEVER)
    assert agenda.next_due <= again.next_due
