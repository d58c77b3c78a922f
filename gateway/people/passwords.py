"""Passwords: which are taken, and how they are kept.

Rules by NIST SP 800-63B (5.1.1.2): long rather than of many kinds of letters, nothing cut off, any Unicode letter
taken (normalised by NFKC); refused where it is a common one, repeats itself, counts up, or is the person's or the
site's name.
Kept by argon2id with the second recommended parameters of RFC 9106 (section 4): 64 MiB, three passes, four lanes.
"""

import secrets
import threading
import unicodedata
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import cache, cached_property
from importlib.resources import files
from itertools import pairwise

from argon2 import Parameters, PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from argon2.profiles import RFC_9106_LOW_MEMORY

from gateway.people.errors import PasswordError, SignInError

SHORTEST, LONGEST = 12, 200
"""Letters; NIST asks for 8 at least and 64 to be taken. 12 as OWASP ASVS 4.0.3 (2.1.1); 200: ours."""

_ADVICE = "a few words that only you would put together"

FEWEST_DIFFERENT = 5
FEWEST_BESIDE_A_NAME = 8
"""So many letters must there be besides a name that is in it: NIST's least for a whole password."""

MOST_TYPED = 4 * LONGEST
"""Letters that are looked at at all: composed of several as typed, one may become one of those that are counted."""

MOST_WAITING = 8
BUSY_SECONDS = 2


def normalised(password: str) -> str:
    """The same word, however a keyboard composes its letters."""
    return unicodedata.normalize("NFKC", password)


def why_refused(password: str, names: Iterable[str]) -> str | None:
    """A sentence that says why a new password is not taken; None: it is.

    names: the person's and the site's.
    """
    word = normalised(password[:MOST_TYPED])
    if len(word) < SHORTEST:
        return f"The password has {len(word)} letters; use {SHORTEST} or more: {_ADVICE}."
    if len(word) > LONGEST or len(password) > MOST_TYPED:
        return f"The password has {len(word)} letters; use {LONGEST} at most."
    if any(unicodedata.category(letter) in {"Cc", "Cs", "Cn"} for letter in word):
        return "The password has a letter in it that cannot be typed everywhere; use another."
    core = _core(word)
    if core in _commonest() or _is_a_pattern(core):
        return f"This password is among the first that anybody would try; use {_ADVICE}."
    for name in names:
        known = _core(name)
        if known and known in core and len(core) - core.count(known) * len(known) < FEWEST_BESIDE_A_NAME:
            return f"The password is little more than a name that others know; use {_ADVICE}."
    return None


def _typed(password: str) -> bytes:
    return normalised(password).encode(errors="surrogatepass")


def _core(text: str) -> str:
    """Its letters and digits; of a word without any, the word."""
    word = normalised(text).casefold()
    return "".join(filter(str.isalnum, word)) or word


def _is_a_pattern(core: str) -> bool:
    steps = {ord(second) - ord(first) for first, second in pairwise(core)}
    return len(set(core)) < FEWEST_DIFFERENT or len(steps) == 1


@cache
def _commonest() -> frozenset[str]:
    return frozenset(files("gateway.people").joinpath("commonest.txt").read_text(encoding="utf-8").split())


class Passwords:
    """Makes and compares hashes, few at once: each takes a tenth of a second of all cores, which the engine needs too.

    parameters: of argon2id; by default RFC 9106's for little memory. at_once: how many are worked out at a time.
    hasher: makes what works with them.
    """

    def __init__(
        self,
        parameters: Parameters = RFC_9106_LOW_MEMORY,
        at_once: int = 1,
        hasher: type[PasswordHasher] = PasswordHasher,
    ) -> None:
        self._hasher = hasher.from_parameters(parameters)
        self._turn = threading.Semaphore(at_once)
        self._waiting = threading.Semaphore(at_once + MOST_WAITING)

    def hashed(self, password: str, names: Iterable[str]) -> str:
        """What is kept of a new password.

        Raises:
            PasswordError: it is not taken.
            SignInError: too many wait.
        """
        if (refusal := why_refused(password, names)) is not None:
            raise PasswordError(refusal)
        with self._in_turn():
            return self._hasher.hash(_typed(password))

    def fits(self, kept: str | None, password: str) -> bool:
        """Whether it is the password; takes as long where nothing is kept, so that time tells nothing.

        Raises:
            SignInError: too many wait.
        """
        word = _typed(password) if len(password) <= MOST_TYPED else b""
        with self._in_turn():
            nobodys = self._nobodys  # worked out at the first try, whoever makes it
            try:
                is_right = self._hasher.verify(nobodys if kept is None else kept, word)
            except (VerificationError, InvalidHashError):
                return False
        return is_right and kept is not None

    def renewed(self, kept: str, password: str) -> str | None:
        """What to keep instead, where it was made by other parameters than are in use."""
        if not self._hasher.check_needs_rehash(kept):
            return None
        with self._in_turn():
            return self._hasher.hash(_typed(password))

    @cached_property
    def _nobodys(self) -> str:
        """The hash of a password that nobody knows."""
        return self._hasher.hash(secrets.token_bytes(32))

    @contextmanager
    def _in_turn(self) -> Iterator[None]:
        if not self._waiting.acquire(blocking=False):
            raise SignInError(f"Too many sign in at this moment; wait {BUSY_SECONDS} seconds.", BUSY_SECONDS)
        try:
            with self._turn:
                yield
        finally:
            self._waiting.release()
