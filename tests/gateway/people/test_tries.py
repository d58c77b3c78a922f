"""How often passwords may be tried: waits that grow, and end; nobody is locked out for ever."""

import threading
from typing import Literal

import pytest
from argon2 import PasswordHasher
from argon2.profiles import CHEAPEST

from gateway.people import Access, Act, Draft, PasswordError, Passwords, SignInError
from gateway.people.devices import MOST_DEVICES
from gateway.people.limits import HOUR
from gateway.people.tries import ADDRESS_TRIES, FREE_TRIES, LONGEST_WAIT, NAME_TRIES, wait_after
from rules.readings import SECOND, Micros
from tests.gateway.people.staff import CHEAP, HERE, OTHER_PASSWORD, PASSWORD, Staff

ELSEWHERE = "203.0.113.9"


def fail(staff: Staff, name: str = "mara", source: str = HERE, device: str = "") -> SignInError:
    with pytest.raises(SignInError) as refused:
        staff.people.sign_in(name, OTHER_PASSWORD, source, device=device)
    return refused.value


def lock(staff: Staff, name: str = "mara", waits: int = 1) -> None:
    """Wrong tries from one address until the name has been made to wait there so often."""
    for number in range(FREE_TRIES + waits - 1):
        staff.watch.go(seconds=fail(staff, name).wait_seconds)
        staff.watch.go(seconds=wait_after(number) / SECOND)


def test_a_typing_error_or_two_cost_nothing(staff: Staff) -> None:
    staff.join("mara")
    for _ in range(FREE_TRIES - 1):
        assert fail(staff).wait_seconds == 0
    assert staff.people.visitor(staff.people.sign_in("mara", PASSWORD, HERE)) is not None


def test_after_five_wrong_tries_even_the_right_password_has_to_wait(staff: Staff) -> None:
    staff.join("mara")
    for _ in range(FREE_TRIES):
        fail(staff)
    with pytest.raises(SignInError, match="Too many wrong tries; wait 15 seconds") as refused:
        staff.people.sign_in("mara", PASSWORD, HERE)
    assert refused.value.wait_seconds == 15
    staff.watch.go(seconds=15)
    assert staff.people.visitor(staff.people.sign_in("mara", PASSWORD, HERE)) is not None


def test_each_wrong_try_doubles_the_wait_up_to_a_quarter_of_an_hour() -> None:
    waits = [wait_after(failed) // SECOND for failed in range(FREE_TRIES - 1, FREE_TRIES + 9)]
    assert waits == [0, 15, 30, 60, 120, 240, 480, 900, 900, 900]
    assert wait_after(10_000) == LONGEST_WAIT


def test_somebody_elsewhere_need_not_wait_for_what_was_tried_here(staff: Staff) -> None:
    staff.join("mara")
    for _ in range(FREE_TRIES):
        fail(staff)
    assert staff.people.visitor(staff.people.sign_in("mara", PASSWORD, ELSEWHERE)) is not None
    with pytest.raises(SignInError, match="Too many wrong tries"):
        staff.people.sign_in("mara", PASSWORD, HERE)


def besieged(staff: Staff, hours: int) -> list[Micros]:
    """When passwords of a name were looked at, though each try comes from another address, one every 5 seconds."""
    looked_at = []
    for number in range(hours * 720):
        if not fail(staff, "mara", f"2001:db8:{number:x}::1").wait_seconds:
            looked_at.append(staff.watch.now())
        staff.watch.go(seconds=5)
    return looked_at


def test_fewer_than_a_hundred_guesses_an_hour_are_possible_for_a_name_from_all_addresses_together(
    staff: Staff,
) -> None:
    # OWASP ASVS 4.0.3, 2.2.1: "no more than 100 failed attempts per hour is possible on a single account"
    staff.join("mara")
    looked_at = besieged(staff, hours=2)
    within = [sum(at <= later < at + HOUR for later in looked_at) for at in looked_at]
    assert NAME_TRIES < max(within) < 100


def test_whoever_signed_in_on_a_device_before_does_so_again_while_others_try_from_everywhere(staff: Staff) -> None:
    device = staff.people.remember_device(staff.join("mara"), "")
    besieged(staff, hours=1)
    fail(staff)  # the try that is free by now
    with pytest.raises(SignInError, match="Too many wrong tries"):
        staff.people.sign_in("mara", PASSWORD, ELSEWHERE)
    for number in range(ADDRESS_TRIES):
        fail(staff, f"name-{number}")  # so that the device's own address has to wait, as that of a proxy may
    session = staff.people.sign_in("mara", PASSWORD, HERE, device=device)
    assert staff.people.visitor(session) is not None


def test_a_known_device_waits_for_its_own_wrong_tries_wherever_it_is(staff: Staff) -> None:
    device = staff.people.remember_device(staff.join("mara"), "")
    for number in range(FREE_TRIES):
        fail(staff, source=f"198.51.100.{number}", device=device)
    with pytest.raises(SignInError, match="wait 15 seconds"):
        staff.people.sign_in("mara", PASSWORD, ELSEWHERE, device=device)
    assert staff.people.visitor(staff.people.sign_in("mara", PASSWORD, ELSEWHERE)) is not None


def test_a_device_is_known_for_those_alone_who_signed_in_on_it(staff: Staff) -> None:
    device = staff.people.remember_device(staff.join("mara"), "")
    staff.join("noor")
    for _ in range(FREE_TRIES):
        fail(staff, "noor")
    assert fail(staff, "noor", device=device).wait_seconds == 15
    device = staff.people.remember_device(staff.people.sign_in("noor", PASSWORD, ELSEWHERE), device)
    assert fail(staff, "noor", device=device).wait_seconds == 0
    assert fail(staff, "mara", device=device).wait_seconds == 0
    assert len(staff.read("SELECT DISTINCT digest FROM device")) == 1


def test_who_has_an_account_gets_no_more_tries_of_anothers_by_signing_in_between(staff: Staff) -> None:
    staff.join("noor")
    device = staff.people.remember_device(staff.join("mara"), "")
    waits = []
    for _ in range(FREE_TRIES + 1):
        waits.append(fail(staff, device=device).wait_seconds)
        device = staff.people.remember_device(staff.people.sign_in("noor", PASSWORD, HERE, device=device), device)
    assert waits == [0] * FREE_TRIES + [15]


def test_the_secret_of_a_device_serves_no_more_once_somebody_has_signed_in_on_it_again(staff: Staff) -> None:
    """So that one which somebody else has put into a browser gives them no tries of their own."""
    session = staff.join("mara")
    planted = staff.people.remember_device(session, "")
    assert planted != staff.people.remember_device(session, planted)
    for _ in range(FREE_TRIES):
        fail(staff)
    assert fail(staff, device=planted).wait_seconds == 15


def test_a_new_password_makes_all_devices_strangers(staff: Staff) -> None:
    device = staff.people.remember_device(staff.join("mara"), "")
    staff.people.redeem(staff.office.invite("mara").secret, OTHER_PASSWORD, HERE)
    assert staff.read("SELECT * FROM device") == []
    assert staff.people.remember_device("session-that-has-ended", device) == ""


def test_of_many_devices_the_one_that_was_not_used_for_longest_is_forgotten(staff: Staff) -> None:
    session = staff.join("mara")
    made = []
    for _ in range(MOST_DEVICES + 2):
        staff.watch.go(seconds=1)
        made.append(staff.people.remember_device(session, ""))
    assert len(staff.read("SELECT * FROM device")) == MOST_DEVICES
    for _ in range(FREE_TRIES):
        fail(staff)
    assert [fail(staff, device=one).wait_seconds for one in (made[1], made[2])] == [15, 0]


def test_fewer_than_a_hundred_guesses_an_hour_are_possible_for_a_name_from_one_place() -> None:
    now, guesses = 0, 0
    while now < HOUR:
        guesses += 1
        now += wait_after(guesses)
    assert guesses < 20


def test_tries_while_one_has_to_wait_make_the_wait_no_longer(staff: Staff) -> None:
    staff.join("mara")
    for _ in range(FREE_TRIES):
        fail(staff)
    for _ in range(20):
        fail(staff)
    staff.watch.go(seconds=15)
    assert staff.people.visitor(staff.people.sign_in("mara", PASSWORD, HERE)) is not None


def test_where_too_many_wait_for_their_password_to_be_looked_at_it_was_no_try(
    staff: Staff, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = staff.join("mara")
    with monkeypatch.context() as crowded:
        crowded.setattr(CHEAP, "_waiting", threading.Semaphore(0))
        for number in range(2 * FREE_TRIES):
            with pytest.raises(SignInError, match="Too many sign in at this moment"):
                staff.people.sign_in("mara", PASSWORD, f"198.51.100.{number}")
            with pytest.raises(SignInError, match="Too many sign in at this moment"):
                staff.people.change_password(session, PASSWORD, OTHER_PASSWORD, HERE)
    assert [fail(staff).wait_seconds for _ in range(FREE_TRIES)] == [0] * FREE_TRIES
    assert fail(staff).wait_seconds == 15


def test_new_passwords_that_are_not_taken_are_no_wrong_tries_of_the_old_one(staff: Staff) -> None:
    session = staff.join("mara")
    for _ in range(FREE_TRIES + 1):
        with pytest.raises(PasswordError, match="use 12 or more"):
            staff.people.change_password(session, PASSWORD, "short", HERE)
    assert staff.people.visitor(staff.people.change_password(session, PASSWORD, OTHER_PASSWORD, HERE)) is not None


def test_a_name_that_nobody_has_is_told_to_wait_like_any_other(staff: Staff) -> None:
    staff.join("mara")
    told = {
        name: [str(fail(staff, name, f"198.51.{n // FREE_TRIES}.1")) for n in range(NAME_TRIES + 5)]
        for name in ("mara", "nobody")
    }
    assert told["mara"] == told["nobody"]
    assert told["mara"][0] != told["mara"][-1]


def test_waits_are_kept_over_a_restart(staff: Staff) -> None:
    staff.join("mara")
    for _ in range(FREE_TRIES):
        fail(staff)
    staff.restarted()
    assert fail(staff).wait_seconds == 15


def test_a_clock_that_was_set_back_makes_nobody_wait_longer_than_the_longest_wait(staff: Staff) -> None:
    staff.join("mara")
    for _ in range(FREE_TRIES):
        fail(staff)
    staff.watch.go(hours=-240)
    assert fail(staff).wait_seconds <= LONGEST_WAIT // SECOND
    staff.watch.go(seconds=LONGEST_WAIT / SECOND)
    assert staff.people.visitor(staff.people.sign_in("mara", PASSWORD, HERE)) is not None


def test_a_day_without_tries_forgives_all(staff: Staff) -> None:
    staff.join("mara")
    lock(staff, waits=4)
    staff.watch.go(hours=24)
    assert [fail(staff, source="203.0.113.9").wait_seconds for _ in range(FREE_TRIES)] == [0] * FREE_TRIES


def test_whoever_is_signed_in_stays_so_while_an_attacker_locks_the_name(staff: Staff) -> None:
    session = staff.join("mara")
    for _ in range(FREE_TRIES):
        fail(staff)
    assert staff.people.visitor(session) is not None


def test_an_invitation_lets_the_real_person_in_while_an_attacker_goes_on(staff: Staff) -> None:
    staff.join("mara")
    for number in range(60):
        fail(staff, source=f"198.51.100.{number}")
    invitation = staff.office.invite("mara")
    assert staff.people.visitor(staff.people.redeem(invitation.secret, OTHER_PASSWORD, HERE)) is not None


def test_an_address_that_tries_many_names_has_to_wait_and_others_need_not(staff: Staff) -> None:
    staff.join("mara")
    for number in range(ADDRESS_TRIES):
        fail(staff, f"name-{number}", "198.51.100.9")
    with pytest.raises(SignInError, match="wait 10 seconds"):
        staff.people.sign_in("mara", PASSWORD, "198.51.100.9")
    assert staff.people.visitor(staff.people.sign_in("mara", PASSWORD, HERE)) is not None
    staff.watch.go(seconds=10)
    assert staff.people.visitor(staff.people.sign_in("mara", PASSWORD, "198.51.100.9")) is not None


@pytest.mark.parametrize(
    ("first", "second", "is_same"),
    [
        ("2001:db8:0:1::5", "2001:db8:0:1:ffff::9", True),  # RFC 4291: one subnet's addresses are anybody's there
        ("2001:db8:0:1::5", "2001:db8:0:2::5", False),
        ("::ffff:198.51.100.9", "198.51.100.9", True),
        ("fe80::1%eth0", "fe80::1", True),
        ("testclient", "other", False),
    ],
)
def test_addresses_of_one_household_count_together(staff: Staff, first: str, second: str, is_same: bool) -> None:  # noqa: FBT001 - pytest gives it
    for number in range(ADDRESS_TRIES):
        fail(staff, f"name-{number}", first)
    assert bool(fail(staff, "another", second).wait_seconds) is is_same


def test_names_that_nobody_has_do_not_fill_the_disk_and_stand_nowhere_in_clear(staff: Staff) -> None:
    staff.most_tries = 40
    staff.restarted()
    device = staff.people.remember_device(staff.join("mara"), "")
    for _ in range(FREE_TRIES):
        fail(staff, device=device)
    besieged(staff, hours=1)
    for number in range(100):
        staff.watch.go(seconds=1)
        fail(staff, f"hunter2-{number}", f"2001:db8:{number:x}::1")
    rows = staff.read("SELECT name FROM tries")
    assert len(rows) <= 42
    assert not any(b"hunter2" in bytes(name) for (name,) in rows)  # type: ignore[arg-type]  # a digest
    assert fail(staff, device=device).wait_seconds == 0  # 15 s are long over; but of mara nothing was forgotten:
    assert fail(staff, device=device).wait_seconds == 30


def test_a_lock_out_is_one_act_however_often_it_is_tried_on(staff: Staff) -> None:
    staff.join("mara")
    for number in range(40):
        fail(staff, source=f"198.51.100.{number}")
    assert staff.told(Act.LOCKED_OUT) == [("gateway", "locked out", "Mara")]


def test_nobody_is_told_to_be_locked_out_whose_name_never_had_to_wait(staff: Staff) -> None:
    staff.join("mara")
    for number in range(2 * NAME_TRIES):
        assert fail(staff, source=f"198.51.100.{number}").wait_seconds == 0
        staff.watch.go(seconds=70)
    assert staff.told(Act.LOCKED_OUT) == []
    besieged(staff, hours=1)
    assert len(staff.told(Act.LOCKED_OUT)) == 1


def test_a_flood_of_lock_outs_is_told_twenty_times_an_hour_and_then_counted(staff: Staff) -> None:
    staff.join("mara")
    for number in range(30):
        for _ in range(FREE_TRIES):
            fail(staff, f"name-{number}", f"2001:db8:{number:x}::1")
    assert len(staff.told(Act.LOCKED_OUT)) == 20
    staff.watch.go(hours=1)
    staff.people.write_down()
    last = staff.bodies()[-1]
    assert (last["act"], last["times"]) == ("locked out", 10)
    staff.watch.go(hours=1)
    staff.people.write_down()
    assert len(staff.told(Act.LOCKED_OUT)) == 21


def test_what_was_typed_where_a_name_belongs_is_not_told_to_the_record(staff: Staff) -> None:
    for _ in range(FREE_TRIES):
        fail(staff, "my secret password")
    assert staff.told(Act.LOCKED_OUT) == [("gateway", "locked out", "a name that nobody has")]


def test_a_name_that_nobody_has_costs_the_same_work_as_one_that_somebody_has(staff: Staff) -> None:
    work: list[tuple[str, ...]] = []

    class Counted(PasswordHasher):
        def verify(self, hash: str | bytes, password: str | bytes) -> Literal[True]:  # noqa: A002 - so it is called
            work.append(tuple(str(hash).split("$")[1:4]))
            return super().verify(hash, password)

    staff.passwords = Passwords(CHEAPEST, hasher=Counted)
    staff.restarted()
    staff.join("mara")
    staff.office.add(Draft("new", "New", Access.RESPONDER))  # who has no password yet
    for name in ("mara", "nobody", "new", "\x00", "x" * 500):
        fail(staff, name)
    assert len(work) == 5
    assert len(set(work)) == 1  # the same kind, version and parameters
