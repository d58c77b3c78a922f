"""A department's people for tests: with a clock that tests set, and hashes that cost next to nothing."""

import json
from dataclasses import dataclass, field
from pathlib import Path

from argon2.profiles import CHEAPEST
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]  # re-exported, which its types do not say

from gateway.people import MACHINE, Access, Act, Administration, Draft, Passwords, People, SessionSecret
from gateway.people.limits import HOUR
from gateway.people.tables import PEOPLE
from gateway.people.tries import MOST_TRIES
from rules.readings import SECOND, Micros

BEGIN = Micros(1_772_000_000 * SECOND)
PASSWORD = "seven grey herons wade"  # noqa: S105 - of an invented person
OTHER_PASSWORD = "a ladder of oat straw"  # noqa: S105 - of an invented person
HERE = "192.0.2.7"
CHEAP = Passwords(CHEAPEST)


@dataclass
class Watch:
    """A clock that goes when a test says so."""

    at: Micros = BEGIN

    def now(self) -> Micros:
        """What it shows."""
        return self.at

    def go(self, *, seconds: float = 0, minutes: float = 0, hours: float = 0) -> None:
        """So much later."""
        self.at = Micros(self.at + round((seconds + 60 * minutes) * SECOND + hours * HOUR))


@dataclass
class Staff:
    """People in a folder."""

    folder: Path
    watch: Watch = field(default_factory=Watch)
    passwords: Passwords = CHEAP
    most_tries: int = MOST_TRIES

    def __post_init__(self) -> None:
        self.people = self.opened()

    def opened(self) -> People:
        """The same folder once more, as another process or a later start has it."""
        return People(
            self.folder,
            self.watch.now,
            site_name="Mill Lane Imaging",
            roles=frozenset({"technician", "engineer"}),
            contacts=frozenset({"tech-pager"}),
            passwords=self.passwords,
            most_tries=self.most_tries,
        )

    def restarted(self) -> "Staff":
        """Ended, and begun again."""
        self.people.close()
        self.people = self.opened()
        return self

    @property
    def office(self) -> Administration:
        """What the machine's owner may do."""
        return self.people.administer(MACHINE)

    def join(self, name: str, access: Access = Access.RESPONDER, password: str = PASSWORD) -> SessionSecret:
        """Somebody who has set a password, and is signed in."""
        invitation = self.office.add(Draft(name, name.title(), access, ("technician",)))
        return self.people.redeem(invitation.secret, password, HERE)

    def acts(self) -> list[tuple[str, str, str]]:
        """Who did what, about what, as it waits for the record."""
        return [(act["who"], act["act"], act["about"]) for act in self.bodies()]

    def told(self, act: Act) -> list[tuple[str, str, str]]:
        """Those of one kind."""
        return [one for one in self.acts() if one[1] == act]

    def bodies(self) -> list[dict[str, str]]:
        """All that waits for the record."""
        return [json.loads(body) for (body,) in self.read("SELECT body FROM act ORDER BY number")]

    def read(self, query: str) -> list[tuple[str, ...]]:
        """What the file says."""
        connection = sqlite3.connect(str(self.folder / PEOPLE))
        try:
            return list(connection.execute(query).fetchall())
        finally:
            connection.close()
