"""How long sessions and invitations serve, and how many of each there may be."""

from dataclasses import dataclass

from rules.acts import Access
from rules.readings import DAY, SECOND, Micros

MINUTE = 60 * SECOND
HOUR = 60 * MINUTE

MOST_PEOPLE = 500
MOST_DISPLAYS = 100
MOST_SESSIONS = 10
"""Of one person; the oldest ends where there would be more. All three are ours."""

INVITATION_LASTS = Micros(72 * HOUR)
"""Ours: a weekend."""

SHIFT = Micros(12 * HOUR)
KEEPER_IDLE = Micros(30 * MINUTE)
RESPONDER_LASTS = Micros(7 * DAY)
"""A responder signs in again once a week at the latest; NIST SP 800-63B (4.1.3) allows 30 days at its first level."""


@dataclass(frozen=True, slots=True)
class SessionLimits:
    """When a session ends by itself: so long after it was last used, and so long after it began.

    responder_idle: 12 h, a long shift: whoever answers an alert at night must not type a password first.
    keeper_idle, keeper_lasts: of engineers and administrators, who can change what is judged and who comes in: 30
    minutes and 12 hours, as NIST SP 800-63B (4.2.3) asks at its second level.
    """

    responder_idle: Micros = SHIFT
    responder_lasts: Micros = RESPONDER_LASTS
    keeper_idle: Micros = KEEPER_IDLE
    keeper_lasts: Micros = SHIFT

    def is_over(self, access: Access, begun: Micros, seen: Micros, now: Micros) -> bool:
        """Whether a session that began and was last used then has ended."""
        if access.covers(Access.ENGINEER):
            return now - seen >= self.keeper_idle or now - begun >= self.keeper_lasts
        return now - seen >= self.responder_idle or now - begun >= self.responder_lasts

    def kept_seconds(self, access: Access) -> int | None:
        """How long a browser is to keep a session of that access; None: until it is closed.

        Phones close their browsers as they like: an alert at night is answered without a password all the same.
        """
        return None if access.covers(Access.ENGINEER) else self.responder_lasts // SECOND
