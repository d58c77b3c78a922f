"""In which roles of the site somebody may act: those that an administrator gave them."""

from collections.abc import Mapping, Sequence

from fastapi import HTTPException

from gateway.people import Visitor


def check_roles(visitor: Visitor, fields: Mapping[str, str], named_in: Sequence[str]) -> None:
    """See that somebody has the roles that a form names; a plain 403 where they have not."""
    for role in filter(None, (fields.get(name, "") for name in named_in)):
        if role not in visitor.roles:
            raise HTTPException(
                403, f"You may not act as '{role[:80]}': an administrator gives roles to people, at /people."
            )
