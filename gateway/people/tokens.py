"""Secrets of sessions, displays and invitations: made by chance, shown once, kept as their SHA-256.

256 bits by the system's generator; OWASP ASVS 4.0.3 asks for 64 bits at least (3.2.2), ASVS 5.0 for 128 (7.2.3).
Because they are that random a plain hash hides them: there is nothing to try.
"""

import secrets
from hashlib import sha256

SECRET_BYTES = 32
LONGEST = 100
"""Letters of what may be a secret; what is longer is not looked at."""


def new_secret(beginning: str) -> str:
    """A new secret; ``beginning`` tells whoever finds it lying about what it is of."""
    return f"{beginning}-{secrets.token_urlsafe(SECRET_BYTES)}"


def new_id() -> str:
    """A name for something that is no secret, 16 hexadecimal digits."""
    return secrets.token_hex(8)


def digest(secret: str) -> bytes:
    """What is kept of a secret."""
    return sha256(secret.encode(errors="surrogatepass")).digest()


def csrf_of(secret: str) -> str:
    """What forms of a session carry. It follows from the secret, and tells nothing of it or of what is kept."""
    return sha256(b"csrf\x00" + secret.encode()).hexdigest()
