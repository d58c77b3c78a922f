"""What can be wrong when people sign in or are looked after: each error is a sentence for whoever is at the screen."""


class PeopleError(ValueError):
    """Something was not done; the message says why and what to do."""


class NotAllowedError(PeopleError):
    """Whoever asked may not do that."""


class SignInError(PeopleError):
    """Nobody was signed in. The same sentence for a wrong password and an unknown name.

    wait_seconds: how long to wait before the next try, as for Retry-After; 0: try at once.
    """

    def __init__(self, sentence: str, wait_seconds: int = 0) -> None:
        super().__init__(sentence)
        self.wait_seconds = wait_seconds


class NotWrittenError(SignInError):
    """The disk refused, and nothing was done."""


class PasswordError(PeopleError):
    """A password is not taken, and why."""


class InvitationError(PeopleError):
    """An invitation does not serve: used, withdrawn, too old, or never made."""
