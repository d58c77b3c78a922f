"""Devices: browsers in which somebody has signed in before, so that nobody elsewhere can make them wait.

After OWASP, "Slow Down Online Guessing Attacks with Device Cookies": a secret that the browser keeps, of which only the
SHA-256 is kept here. It lets nobody in; it says that wrong tries made elsewhere are not this browser's.
"""

from dataclasses import dataclass

from gateway.people.file import Change, PeopleFile
from gateway.people.tokens import LONGEST, digest, new_id, new_secret
from rules.readings import Micros

BEGINNING = "device"
MOST_DEVICES = 10
"""Of one person; the one that was not used for longest is forgotten where there would be more. Ours."""


@dataclass(frozen=True, slots=True)
class Devices:
    """Of all people; several may use one."""

    file: PeopleFile

    def find(self, secret: str, name: str) -> str | None:
        """The id of the device that has this secret, if the person with that sign-in name has signed in on it."""
        if not secret or len(secret) > LONGEST:
            return None
        row = self.file.row(
            "SELECT d.id FROM device AS d JOIN person AS p ON p.id = d.person WHERE d.digest = ? AND p.name = ?",
            *(digest(secret), name),
        )
        return None if row is None else str(row[0])

    def remember(self, change: Change, former: str, person: int, now: Micros) -> str:
        """Its new secret, once somebody has signed in on it; former: the one that it had, which serves no more.

        So a secret that somebody else has put into the browser is worth nothing to them.
        """
        row = change.row("SELECT id FROM device WHERE digest = ?", digest(former[:LONGEST]))
        device, secret = row[0] if row else new_id(), new_secret(BEGINNING)
        change.run("UPDATE device SET digest = ? WHERE id = ?", digest(secret), device)
        change.run("INSERT OR REPLACE INTO device VALUES (?, ?, ?, ?)", device, person, digest(secret), now)
        change.run(
            "DELETE FROM device WHERE person = ? AND id NOT IN"
            " (SELECT id FROM device WHERE person = ? ORDER BY seen DESC, rowid DESC LIMIT ?)",
            *(person, person, MOST_DEVICES),
        )
        return secret

    def forget(self, change: Change, person: int) -> None:
        """All of a person's: whoever had the password before the new one may have signed in somewhere."""
        change.run("DELETE FROM device WHERE person = ?", person)
