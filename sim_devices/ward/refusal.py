"""What cannot be done in a ward."""


class DeedError(ValueError):
    """A deed cannot be; one sentence says what, where, and what was expected. Nothing of it was done."""


class NoSuchError(DeedError):
    """It names what the site does not have."""
