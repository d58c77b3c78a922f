"""Where a secret stands, read anew whenever it is needed and kept nowhere."""

import os
from dataclasses import dataclass
from pathlib import Path

HIDDEN = "***"

LONGEST = 4096
"""Letters of a secret; ours, so that a file named by mistake is not read whole."""


class SecretError(ValueError):
    """The secret is not where the site file says; one clear sentence that does not tell it.

    final: it cannot come as long as this process runs, for nothing outside changes its environment.
    """

    def __init__(self, sentence: str, *, final: bool = False) -> None:
        super().__init__(sentence)
        self.final = final


@dataclass(frozen=True, slots=True)
class Secret:
    """An environment variable or a file of its own; neither: there is none.

    name: what it is, as the keys of the site file begin: 'password' for ``password_env`` and ``password_file``.
    env: variable that holds it. file: its first line is the secret.
    """

    name: str
    env: str | None = None
    file: Path | None = None

    @property
    def is_given(self) -> bool:
        """Whether the site file names a place."""
        return self.env is not None or self.file is not None

    def read(self) -> str | None:
        """The secret as it is now; None where the site file names no place.

        Raises:
            SecretError: the variable is not set or empty, or the file cannot be read or has none.
        """
        if self.env is not None:
            return self._from_environment(self.env)
        return None if self.file is None else self._from_file(self.file)

    def _from_environment(self, variable: str) -> str:
        secret = os.environ.get(variable)
        if not secret:
            state = "not set" if secret is None else "empty"
            raise SecretError(
                f"{self.name}_env names the environment variable '{variable}', which is {state}; set it", final=True
            )
        if not _is_text(secret):
            raise SecretError(
                f"{self.name}_env names the environment variable '{variable}', which is not UTF-8 text; set it anew",
                final=True,
            )
        return secret

    def _from_file(self, path: Path) -> str:
        key = f"{self.name}_file"
        try:
            with path.open(encoding="utf-8-sig") as file:  # some editors begin a file with a mark of its encoding
                line = file.readline(LONGEST + 2).removesuffix("\n")
        except (OSError, UnicodeDecodeError) as error:
            why = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
            raise SecretError(
                f"{key} '{path}' cannot be read ({why}); expected a text file with the {self.name} on line 1"
            ) from error
        if not line:
            raise SecretError(f"{key} '{path}' has no {self.name}; expected it on the first line")
        if len(line) > LONGEST:
            raise SecretError(f"{key} '{path}' has a first line of more than {LONGEST} letters; expected a {self.name}")
        return line


def _is_text(secret: str) -> bool:
    try:
        secret.encode()
    except UnicodeEncodeError:
        return False
    return True


def without(secret: str | None, said: str) -> str:
    """What the other side said, should it repeat the secret."""
    return said.replace(secret, HIDDEN) if secret else said
