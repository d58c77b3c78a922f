"""How often passwords may be tried: by name and place, and by name everywhere, on disk; and by address, in memory.

By name and place: five tries at once, then each wrong one doubles the wait, from 15 seconds to 15 minutes. A place is
an address, or a device on which that person has signed in before (devices.py): nobody elsewhere can make it wait.

By name everywhere but on such devices: forty tries, of which one is forgotten every 75 seconds. So from however many
addresses somebody tries, it is 88 guesses within an hour, against OWASP ASVS 4.0.3's hundred (2.2.1); and from one
address alone nobody makes anybody elsewhere wait.

It is all the same for names that nobody has. No wait is longer than a quarter of an hour; neither a session that goes
on nor an invitation asks for any.

By address, whatever the name: thirty wrong tries, of which one is forgotten every ten seconds; a department often
shares one address.
"""

import ipaddress
import threading
from collections import OrderedDict
from itertools import islice
from typing import NamedTuple, Self

from gateway.people.file import Change
from gateway.people.limits import HOUR, MINUTE
from gateway.people.tokens import digest
from rules.readings import NO_TIME, SECOND, Micros

FREE_TRIES = 5
FIRST_WAIT = Micros(15 * SECOND)
LONGEST_WAIT = Micros(15 * MINUTE)
FORGOTTEN_AFTER = Micros(24 * HOUR)
NAME_TRIES = 40
NAME_FORGETS = Micros(75 * SECOND)
MOST_TRIES = 2_000
MOST_ADDRESSES = 2_000
ADDRESS_TRIES = 30
ADDRESS_FORGETS = Micros(10 * SECOND)
"""All of these are ours."""

_IPV6_HOUSEHOLD = 64
"""Bits of an IPv6 address that whoever has one has all others of (RFC 4291, 2.5.4)."""

_EVERYWHERE = b""


class Place(NamedTuple):
    """Where a password is typed. is_known: it is a device on which that very person has signed in before."""

    key: bytes
    is_known: bool

    @classmethod
    def of(cls, source: str, device: str | None) -> Self:
        """By the id of a known device; else by the address."""
        return cls(digest(_key(source)), is_known=False) if device is None else cls(device.encode(), is_known=True)


class Tried(NamedTuple):
    """A try that may be made, ``failed``: how many there were before it; or, with ``wait``, one that may not.

    locks: it is the one that makes the name wait for the first time, should it be wrong.
    """

    failed: int
    wait: Micros = NO_TIME
    locks: bool = False


class _Count(NamedTuple):
    """failed: tries that were counted; following: when the next may be made, or everywhere when all are forgotten.

    Everywhere failed is ``NAME_TRIES`` from the try on that makes the name wait, until all are forgotten; less before.
    """

    failed: int
    following: Micros


def try_name(change: Change, name: str, place: Place, now: Micros, most: int = MOST_TRIES) -> Tried:
    """Counts a try before its password is looked at, so that many at once count too; ``succeed`` takes it back.

    most: so many are kept, but for those that bound the tries for a person.
    """
    key = digest(name)
    here, anywhere = _count(change, key, place.key, now), _count(change, key, _EVERYWHERE, now)
    left = max(0, anywhere.following - now)
    wait = max(here.following - now, 0 if place.is_known else left - (NAME_TRIES - 1) * NAME_FORGETS)
    if wait > 0:
        return Tried(here.failed, Micros(wait))
    _keep(change, key, place.key, now, _Count(here.failed + 1, Micros(now + wait_after(here.failed + 1))))
    locks = here.failed + 1 == FREE_TRIES
    if not place.is_known:
        before = anywhere.failed if left else 0
        has_to_wait = left + NAME_FORGETS > (NAME_TRIES - 1) * NAME_FORGETS or before == NAME_TRIES
        failed = NAME_TRIES if has_to_wait else min(before + 1, NAME_TRIES - 1)
        _keep(change, key, _EVERYWHERE, now, _Count(failed, Micros(now + left + NAME_FORGETS)))
        # A place that begins to wait is told of once; so is a name, however many places it is tried from.
        locks = before < NAME_TRIES and (locks or has_to_wait)
    _forget_the_oldest(change, now, most)
    return Tried(here.failed, locks=locks)


def give_back(change: Change, name: str, place: Place, tried: Tried) -> None:
    """Takes back a try whose password nobody could look at."""
    change.run(
        "UPDATE tries SET failed = failed - 1, next = last + ? WHERE name = ? AND place = ? AND failed > 0",
        *(wait_after(tried.failed), digest(name), place.key),
    )
    _give_back_everywhere(change, name, place)


def succeed(change: Change, name: str, place: Place) -> None:
    """The password was right: what was wrong before counts there no more."""
    change.run("DELETE FROM tries WHERE name = ? AND place = ?", digest(name), place.key)
    _give_back_everywhere(change, name, place)


def forget(change: Change, name: str) -> None:
    """There is a new password: nothing that was tried before counts any more."""
    change.run("DELETE FROM tries WHERE name = ?", digest(name))


def wait_after(failed: int) -> Micros:
    """How long to wait in a place after so many wrong tries."""
    if failed < FREE_TRIES:
        return NO_TIME
    return Micros(min(LONGEST_WAIT, FIRST_WAIT << min(failed - FREE_TRIES, 16)))


def _count(change: Change, key: bytes, place: bytes, now: Micros) -> _Count:
    row = change.row("SELECT failed, last, next FROM tries WHERE name = ? AND place = ?", key, place)
    if row is None or now - row[1] >= FORGOTTEN_AFTER:
        return _Count(0, now)
    # A clock that was set back must not make anybody wait until it has caught up.
    return _Count(row[0], Micros(row[2]) if row[1] <= now else now)


def _keep(change: Change, key: bytes, place: bytes, now: Micros, count: _Count) -> None:
    change.run("INSERT OR REPLACE INTO tries VALUES (?, ?, ?, ?, ?)", key, place, count.failed, now, count.following)


def _give_back_everywhere(change: Change, name: str, place: Place) -> None:
    if not place.is_known:
        change.run(
            "UPDATE tries SET failed = failed - 1, next = next - ? WHERE name = ? AND place = ? AND failed > 0",
            *(NAME_FORGETS, digest(name), _EVERYWHERE),
        )


def _forget_the_oldest(change: Change, now: Micros, most: int) -> None:
    """Names that nobody has, and addresses, must not fill the disk; what bounds tries for a person is not forgotten."""
    (many,) = change.rows("SELECT count(*) FROM tries")[0]
    if many <= most:
        return
    known = {digest(name) for (name,) in change.rows("SELECT name FROM person")}
    addresses = len(digest(""))
    rows = change.rows("SELECT name, place, last FROM tries ORDER BY last")
    loose = (
        (name, place)
        for name, place, last in rows
        if name not in known or len(place) == addresses or now - last >= FORGOTTEN_AFTER
    )
    gone = islice(loose, many - most + most // 10)
    change.run_all("DELETE FROM tries WHERE name = ? AND place = ?", list(gone))


class Addresses:
    """Wrong tries by the address that they came from; the ones that were silent longest are forgotten first."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._failed: OrderedDict[str, tuple[float, Micros]] = OrderedDict()

    def wait(self, source: str, now: Micros) -> Micros:
        """How long the address must wait before the next try."""
        with self._guard:
            over = self._left(_key(source), now) - ADDRESS_TRIES + 1
        return Micros(max(0, round(over * ADDRESS_FORGETS)))

    def fail(self, source: str, now: Micros) -> None:
        """A try from there was wrong."""
        key = _key(source)
        with self._guard:
            self._failed[key] = (self._left(key, now) + 1, now)
            self._failed.move_to_end(key)
            while len(self._failed) > MOST_ADDRESSES:
                self._failed.popitem(last=False)

    def _left(self, key: str, now: Micros) -> float:
        failed, at = self._failed.get(key, (0.0, now))
        return max(0.0, failed - max(0, now - at) / ADDRESS_FORGETS)


def _key(source: str) -> str:
    try:
        address = ipaddress.ip_address(source.partition("%")[0])
    except ValueError:
        return source[:100]
    if isinstance(address, ipaddress.IPv6Address):
        return str(address.ipv4_mapped or ipaddress.ip_network((int(address), _IPV6_HOUSEHOLD), strict=False))
    return str(address)
