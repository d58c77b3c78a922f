"""What shows that a form is our own: a foreign page cannot read it, and so cannot send it."""

import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field

from dashboard.archive import NotShownError

_FORGED = "This form is older than the gateway's last start, or not ours: open the page again and enter it anew."


@dataclass(frozen=True, slots=True)
class OwnForms:
    """Forms with a token that is made anew at each start."""

    token: str = field(default_factory=lambda: secrets.token_urlsafe(16))

    def check(self, fields: Mapping[str, str]) -> None:
        """See that a form is our own; a plain 403 where it is not."""
        if not secrets.compare_digest(fields.get("token", "").encode(), self.token.encode()):
            raise NotShownError(_FORGED, 403)
