"""How often passwords may be tried: by name, kept on disk, and by address, in memory.

By name: five tries at once, then each wrong one doubles the wait, from 15 seconds to 15 minutes: some hundred guesses
a day, against OWASP ASVS 4.0.3's hundred an hour (2.2.1). It is the same for names that nobody has. No wait is
longer, but whoever goes on trying can make a name wait again; neither a session that goes on nor an invitation asks
for it.

By address: thirty wrong tries, of which one is forgotten every ten seconds; a department often shares one address.
"""

import ipaddress
import threading
from collections import OrderedDict
from itertools import islice
from typing import NamedTuple

from gateway.people.file import Change
from gateway.people.limits import HOUR, MINUTE
from gateway.people.tokens import digest
from rules.readings import NO_TIME, SECOND, Micros

FREE_TRIES = 5
FIRST_WAIT = Micros(15 * SECOND)
LONGEST_WAIT = Micros(15 * MINUTE)
FORGOTTEN_AFTER = Micros(24 * HOUR)
MOST_UNKNOWN_NAMES = 1_000
MOST_ADDRESSES = 2_000
ADDRESS_TRIES = 30
ADDRESS_FORGETS = Micros(10 * SECOND)
"""All of these are ours."""

_IPV6_HOUSEHOLD = 64
"""Bits of an IPv6 address that whoever has one has all others of (RFC 4291, 2.5.4)."""


class Tried(NamedTuple):
    """A try that may be made, ``failed``: how many there were before it; or, with ``wait``, one that may not.

    locks: it is the one that makes the name wait for the first time, should it be wrong.
    """

    failed: int
    wait: Micros = NO_TIME
    locks: bool = False


def try_name(change: Change, name: str, now: Micros, most_unknown: int = MOST_UNKNOWN_NAMES) -> Tried:
    """Counts a try before its password is looked at, so that many at once count too; ``succeed`` takes it back.

    most_unknown: of so many names that nobody has the tries are kept.
    """
    key = digest(name)
    row = change.row("SELECT failed, last, next FROM tries WHERE name = ?", key)
    failed, _, following = row if row is not None and now - row[1] < FORGOTTEN_AFTER else (0, now, NO_TIME)
    # A clock that was set back must not make anybody wait longer than the longest wait.
    wait = min(following - now, LONGEST_WAIT)
    if wait > 0:
        return Tried(failed, Micros(wait))
    change.run(
        "INSERT INTO tries VALUES (?, ?, ?, ?) ON CONFLICT DO UPDATE SET failed = excluded.failed,"
        " last = excluded.last, next = excluded.next",
        *(key, failed + 1, now, now + wait_after(failed + 1)),
    )
    _forget_the_oldest(change, most_unknown)
    return Tried(failed, locks=failed + 1 == FREE_TRIES)


def give_back(change: Change, name: str, tried: Tried) -> None:
    """Takes back a try whose password nobody could look at."""
    change.run(
        "UPDATE tries SET failed = failed - 1, next = last + ? WHERE name = ? AND failed > 0",
        *(wait_after(tried.failed), digest(name)),
    )


def succeed(change: Change, name: str) -> None:
    """The password was right, or there is a new one."""
    change.run("DELETE FROM tries WHERE name = ?", digest(name))


def wait_after(failed: int) -> Micros:
    """How long to wait after so many wrong tries."""
    if failed < FREE_TRIES:
        return NO_TIME
    return Micros(min(LONGEST_WAIT, FIRST_WAIT << min(failed - FREE_TRIES, 16)))


def _forget_the_oldest(change: Change, most: int) -> None:
    """Names that nobody has must not fill the disk; of people nothing is forgotten."""
    (many,) = change.rows("SELECT count(*) FROM tries")[0]
    if many <= most:
        return
    known = {digest(name) for (name,) in change.rows("SELECT name FROM person")}
    oldest = (key for (key,) in change.rows("SELECT name FROM tries ORDER BY last") if key not in known)
    gone = islice(oldest, many - most + most // 10)
    change.run_all("DELETE FROM tries WHERE name = ?", [[key] for key in gone])


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
