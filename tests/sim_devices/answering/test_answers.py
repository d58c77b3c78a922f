"""What the demo's people do about alerts that they see on the wall."""

from dataclasses import replace

from rules.alert_commands import Acknowledge, AlertDeed, HandOver, Settle, Shelve
from rules.alert_words import HIDDEN, PageWhy, Priority, State
from rules.call_picture import CallPicture, RolePicture, ToldPicture
from rules.picture import AlertPicture, Picture
from rules.readings import SECOND, Micros
from sim_devices.answering.answers import ATTENTION, answers
from sim_devices.answering.crew import ENGINEER_ROLE
from sim_devices.chance import Chance

RAISED = Micros(1_790_000_000_000_000)
LEAST, MOST = ATTENTION.notice_seconds


def after(seconds: float) -> Micros:
    return Micros(RAISED + round(seconds * SECOND))


def alert(
    name: str, rule: str = "soak-cold", subject: str = "basin basin-3", priority: Priority = Priority.MEDIUM
) -> AlertPicture:
    return AlertPicture(name, rule, subject, priority, "too cold", "warm it", RAISED, None, None)


def seen(one: AlertPicture, state: State = State.ACKNOWLEDGED) -> AlertPicture:
    return replace(one, acknowledged_by="charge nurse", acknowledged_at=RAISED, state=state)


def picture(
    *alerts: AlertPicture, calls: tuple[CallPicture, ...] = (), on_duty: tuple[str, ...] = ("Pager",)
) -> Picture:
    role = RolePicture(ENGINEER_ROLE, "Engineer", on_duty, None)
    return Picture(
        at=RAISED, hearing=True, hearing_since=None, storing=True, basins=(), carts=(), sensors=(), alerts=alerts,
        calls=calls, roles=(role,),
    )  # fmt: skip


def done(seconds: float, shown: Picture, seed: int = 7) -> list[AlertDeed]:
    return list(answers(shown, after(seconds), Chance(seed)))


MANY = tuple(alert(str(number)) for number in range(50))


def test_somebody_sees_an_alert_on_the_wall_some_time_after_its_pages_could_be_answered() -> None:
    assert done(LEAST - 1, picture(*MANY)) == []
    assert [deed.alert for deed in done(MOST + 1, picture(*MANY))] == [one.id for one in MANY]
    assert 5 < len(done((LEAST + MOST) / 2, picture(*MANY))) < 45


def test_what_somebody_has_answered_for_and_what_is_hidden_is_left_alone() -> None:
    shown = picture(seen(MANY[0]), *(replace(MANY[1], state=state) for state in HIDDEN))
    assert done(9999, shown) == []


def test_what_was_handed_over_a_moment_ago_is_left_to_whoever_was_given_it_for_as_long_as_any_other() -> None:
    handed = tuple(replace(one, waits_since=after(9999), handed_to="Physician in charge") for one in MANY)
    assert done(9999 + LEAST - 1, picture(*handed)) == []
    assert [deed.alert for deed in done(9999 + MOST + 1, picture(*handed))] == [one.id for one in MANY]


def test_what_is_over_and_was_never_answered_is_answered_too() -> None:
    (deed,) = done(MOST + 1, picture(replace(MANY[0], state=State.RETURNED)))
    assert isinstance(deed, Acknowledge)


def test_what_happened_is_settled_with_what_was_done_once_somebody_has_seen_it() -> None:
    soaks = (alert(str(n), "soak-too-short", f"soak basin-1.{n}") for n in range(50))
    happened = [replace(seen(one), settles=True) for one in soaks]
    assert done(ATTENTION.settle_seconds[0] - 1, picture(*happened)) == []
    deeds = done(ATTENTION.settle_seconds[1] + 1, picture(*happened))
    assert all(isinstance(deed, Settle) for deed in deeds)
    assert len({deed.why for deed in deeds if isinstance(deed, Settle)}) > 1


def test_what_still_goes_on_is_not_settled() -> None:
    burst = replace(seen(alert("1", "pipe-burst", "station station-1")), settles=True)
    assert done(9999, picture(burst)) == []
    assert [deed.kind for deed in done(9999, picture(replace(burst, holds=False)))] == ["settle"]


def test_now_and_then_an_alert_of_low_priority_is_put_aside_with_a_reason_and_no_other_is() -> None:
    low = tuple(alert(str(n), priority=Priority.LOW) for n in range(200))
    shelved = [deed for deed in done(MOST + 1, picture(*low)) if isinstance(deed, Shelve)]
    assert 20 < len(shelved) < 90
    assert all(deed.why and deed.one_shot for deed in shelved)
    assert not any(isinstance(deed, Shelve) for deed in done(MOST + 1, picture(*MANY)))


def silent(number: int) -> AlertPicture:
    return alert(str(number), "sensor-silent", "sensor cart-1/hook-linear", Priority.LOW)


def call(name: str, why: PageWhy = PageWhy.FIRST) -> CallPicture:
    page = ToldPicture("page-1", RAISED, why, ENGINEER_ROLE, "engineer-pager", "pagers", None)
    return CallPicture((name,), "Devices", 0, (page,), None, ())


def test_now_and_then_an_alert_about_a_device_is_handed_over_to_the_engineer_once() -> None:
    many = tuple(map(silent, range(200)))
    first, again = (
        done(MOST + 1, picture(*many, calls=tuple(call(one.id, why) for one in many)))
        for why in (PageWhy.FIRST, PageWhy.HANDED_OVER)
    )
    assert 30 < sum(isinstance(deed, HandOver) for deed in first) < 100
    assert all(isinstance(deed, Acknowledge) for deed in again)


def test_nothing_is_handed_over_where_no_engineer_is_on_duty_or_nobody_is_paged() -> None:
    many = tuple(map(silent, range(50)))
    for shown in (picture(*many, calls=tuple(call(one.id) for one in many), on_duty=()), picture(*many)):
        assert not any(isinstance(deed, HandOver) for deed in done(MOST + 1, shown))


def test_the_same_seed_gives_the_same_deeds() -> None:
    shown = picture(*MANY, *(replace(one, id=f"low-{one.id}", priority=Priority.LOW) for one in MANY))
    assert done(140, shown) == done(140, shown)
    assert done(140, shown) != done(140, shown, seed=8)
