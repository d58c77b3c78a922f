"""Which passwords are taken, and how they are kept."""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Literal

import pytest
from argon2 import Parameters, PasswordHasher, Type
from argon2.low_level import ARGON2_VERSION, core, error_to_str, ffi, lib
from argon2.profiles import CHEAPEST, RFC_9106_LOW_MEMORY

from gateway.people import PasswordError, Passwords, SignInError
from gateway.people.passwords import LONGEST, MOST_WAITING, SHORTEST, why_refused
from tests.gateway.people.staff import CHEAP, OTHER_PASSWORD, PASSWORD

NOBODY: tuple[str, ...] = ()


def rfc_9106_tag(memory_kib: int) -> bytes:
    """Argon2id of the inputs of RFC 9106, section 5.3, by the library under the hasher in use.

    hash_secret_raw takes no secret value and no associated data, which the vector has, so it is called one step below.
    """
    filled = {name: ffi.new("uint8_t[]", bytes([byte] * many)) for name, byte, many in FILLED}
    out = ffi.new("uint8_t[]", 32)
    context = ffi.new("argon2_context *")
    context.out, context.outlen = out, 32
    context.pwd, context.pwdlen = filled["pwd"], 32
    context.salt, context.saltlen = filled["salt"], 16
    context.secret, context.secretlen = filled["secret"], 8
    context.ad, context.adlen = filled["ad"], 12
    context.t_cost, context.m_cost, context.lanes, context.threads = 3, memory_kib, 4, 4
    context.version = ARGON2_VERSION
    context.flags = lib.ARGON2_DEFAULT_FLAGS
    code = core(context, Type.ID.value)
    assert code == lib.ARGON2_OK, error_to_str(code)
    return bytes(ffi.buffer(out, 32))


FILLED = (("pwd", 1, 32), ("salt", 2, 16), ("secret", 3, 8), ("ad", 4, 12))


def test_the_library_gives_the_tag_of_rfc_9106() -> None:
    # RFC 9106, section 5.3, "Argon2id Test Vectors"
    tag = "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659"
    assert rfc_9106_tag(32).hex() == tag
    assert rfc_9106_tag(40).hex() != tag


def test_a_password_is_kept_by_the_second_recommended_parameters_of_rfc_9106() -> None:
    # RFC 9106, section 4: argon2id, t = 3, 4 lanes, m = 2^16 KiB, salt of 128 bits, tag of 256 bits
    assert Passwords().hashed(PASSWORD, NOBODY).startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    assert (RFC_9106_LOW_MEMORY.salt_len, RFC_9106_LOW_MEMORY.hash_len) == (16, 32)


def test_the_same_password_is_kept_differently_each_time() -> None:
    assert CHEAP.hashed(PASSWORD, NOBODY) != CHEAP.hashed(PASSWORD, NOBODY)


def test_what_was_kept_by_other_parameters_is_renewed() -> None:
    older = PasswordHasher.from_parameters(CHEAPEST).hash(PASSWORD)
    dearer = Passwords(Parameters(Type.ID, 19, 16, 32, time_cost=2, memory_cost=16, parallelism=1))
    newer = dearer.renewed(older, PASSWORD)
    assert newer is not None
    assert dearer.fits(newer, PASSWORD)
    assert dearer.renewed(newer, PASSWORD) is None


@pytest.mark.parametrize("kept", [None, "", "no hash", "$argon2id$v=19$m=8,t=1,p=1$AAAA$AAAA"])
def test_where_no_sound_hash_is_kept_no_password_fits(kept: str | None) -> None:
    assert not CHEAP.fits(kept, PASSWORD)
    assert not CHEAP.fits(kept, "nobody's password")


@pytest.mark.parametrize(
    "taken",
    [
        PASSWORD,
        "x1Q-" * 2 + "77ab",  # 12 letters
        "a" * 30 + "bcdef" + "g" * 30,  # NIST SP 800-63B, 5.1.1.2: at least 64 letters are taken
        "gute Nacht, Wanne \N{GRINNING FACE}",  # ... all printing ASCII, the space, and Unicode
        "\N{CYRILLIC SMALL LETTER A}\N{CYRILLIC SMALL LETTER BE}\N{CYRILLIC SMALL LETTER VE} und zwei Boote",
        "nothing of many kinds",  # ... and no rules on kinds of letters
    ],
)
def test_long_passwords_of_any_letters_are_taken(taken: str) -> None:
    assert why_refused(taken, ("mara", "Mara K.", "Mill Lane")) is None
    assert CHEAP.fits(CHEAP.hashed(taken, NOBODY), taken)


@pytest.mark.parametrize(
    ("refused", "why"),
    [
        ("", "0 letters; use 12 or more"),
        ("eleven-long", "11 letters; use 12 or more"),
        ("x" * (LONGEST + 1), "201 letters; use 200 at most"),
        ("password1234", "among the first"),  # NIST SP 800-63B, 5.1.1.2: from a list of common ones
        ("Pass-word 1234", "among the first"),
        ("QwErTy123456", "among the first"),
        ("aaaaaaaaaaaaaa", "among the first"),  # ... repetitive
        ("abcdefghijklmnop", "among the first"),  # ... or sequential letters
        ("9876543210987654"[:10] + "zy", None),
        ("Mill Lane 2026", "little more than a name"),  # ... or words of the context, such as the service's name
        ("mara.k.1234567"[:12], "little more than a name"),
        ("maramaramara", "among the first"),
        ("with a\x00null in it", "cannot be typed"),
        ("with a\x07bell in it", "cannot be typed"),
    ],
)
def test_what_others_would_try_first_is_refused(refused: str, why: str | None) -> None:
    said = why_refused(refused, ("mara.k", "Mara K.", "Mill Lane"))
    assert (said is None) if why is None else (said is not None and why in said)


def test_nothing_of_a_password_is_cut_off() -> None:
    whole = "many words, one after the other, " * 7
    kept = CHEAP.hashed(whole[:LONGEST], NOBODY)
    assert CHEAP.fits(kept, whole[:LONGEST])
    assert not CHEAP.fits(kept, whole[: LONGEST - 1])
    assert not CHEAP.fits(kept, whole[:SHORTEST])


def test_a_refused_password_is_not_in_the_sentence() -> None:
    with pytest.raises(PasswordError) as refused:
        CHEAP.hashed("sesame", NOBODY)
    assert "sesame" not in str(refused.value)


def hasher(look: Callable[[], object]) -> type[PasswordHasher]:
    """Every password is the right one, once it was looked at."""

    class Looking(PasswordHasher):
        def verify(self, _hash: str | bytes, _password: str | bytes) -> Literal[True]:
            look()
            return True

    return Looking


def test_one_is_worked_out_at_a_time_and_all_get_their_turn() -> None:
    at_once, most = 0, 0

    def look() -> None:
        nonlocal at_once, most
        at_once += 1
        most = max(most, at_once)
        threading.Event().wait(0.002)  # a second one, were it let in, would begin meanwhile
        at_once -= 1

    passwords = Passwords(CHEAPEST, hasher=hasher(look))
    with ThreadPoolExecutor(MOST_WAITING) as pool:
        assert all(pool.map(lambda _: passwords.fits("kept", PASSWORD), range(MOST_WAITING)))
    assert most == 1


def test_who_comes_when_enough_wait_already_is_asked_to_come_again() -> None:
    begun, go_on = threading.Event(), threading.Event()

    def look() -> None:
        begun.set()
        assert go_on.wait(20)

    passwords = Passwords(CHEAPEST, hasher=hasher(look))
    passwords._waiting = threading.Semaphore(1)
    with ThreadPoolExecutor(1) as pool:
        first = pool.submit(passwords.fits, "kept", PASSWORD)
        assert begun.wait(20)
        with pytest.raises(SignInError, match="Too many sign in") as busy:
            passwords.fits("kept", OTHER_PASSWORD)
        go_on.set()
        assert first.result(20)
    assert busy.value.wait_seconds == 2
    assert passwords.fits("kept", PASSWORD)  # its place was given back
