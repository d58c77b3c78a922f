"""The links by which pages are answered: each is bound to one page, and nobody can guess one.

A link's token is made of its page under a key that stands in a file of the data folder, so that neither the record nor
the table of pages nor the log holds anything by which somebody could answer.
"""

import hmac
import os
import secrets
from base64 import urlsafe_b64encode
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from gateway.schema import JournalError
from rules.readings import Micros

KEY_FILE = "answer.key"
KEY_OCTETS = 32
"""As long as the hash (RFC 2104, section 3)."""

TOKEN_OCTETS = 16
"""Half of the hash, the least that RFC 2104, section 5, advises; a short link fits into a short message."""

LINK_PATH = "/p/"
"""Where the screens take a token."""


def answer_key(folder: Path) -> bytes:
    """The key of a data folder, made when it is first asked for; it is for its owner only.

    Raises:
        JournalError: it cannot be made or read, or it is no key; one sentence.
    """
    path = folder / KEY_FILE
    try:
        key = path.read_bytes() if path.exists() else _new_key(path)
    except OSError as error:
        raise JournalError(f"{path} cannot be used ({error.strerror}); give Sinkside the right to read it.") from error
    if len(key) != KEY_OCTETS:
        raise JournalError(
            f"{path} has {len(key)} octets, expected {KEY_OCTETS}: it was damaged; remove it, and links that were sent"
            " are void."
        )
    return key


def _new_key(path: Path) -> bytes:
    """Written beside its place first: a key that is cut off by a crash would make every later start fail."""
    key = secrets.token_bytes(KEY_OCTETS)
    draft = path.with_suffix(".new")
    descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_CLOEXEC, 0o600)
    with os.fdopen(descriptor, "wb") as file:
        file.write(key)
        file.flush()
        os.fsync(file.fileno())
    draft.replace(path)
    return key


@dataclass(frozen=True, slots=True)
class AnswerLinks:
    """Makes the links of one site, and tells a token that is a page's from one that is not.

    base: where phones reach the screens, without a path at its end: ``https://sinkside.example.org``.
    life: how long a link serves after its page was asked for.
    """

    key: bytes
    base: str
    life: Micros

    def link_for(self, page: str, asked: Micros) -> str:
        """Where the page is answered."""
        return f"{self.base}{LINK_PATH}{self.token(page, asked)}"

    def token(self, page: str, asked: Micros) -> str:
        """22 letters, digits, '-' and '_'.

        ``asked`` is part of it: where a data folder begins anew under the same key, pages are numbered from 1 again.
        """
        mac = hmac.digest(self.key, f"{page}\0{asked}".encode(), "sha256")
        return urlsafe_b64encode(mac[:TOKEN_OCTETS]).rstrip(b"=").decode()

    def is_of(self, token: str, page: str, asked: Micros) -> bool:
        """Whether the token is that page's; takes as long whether or not it is."""
        return hmac.compare_digest(token.encode(errors="replace"), self.token(page, asked).encode())


def fingerprint(token: str) -> bytes:
    """By what a token is found in the table of pages, which does not hold it: its SHA-256."""
    return sha256(token.encode(errors="replace")).digest()
