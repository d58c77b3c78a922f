"""Whom an encrypted connection trusts."""

import ssl
from pathlib import Path


class TrustError(ValueError):
    """The file of authorities cannot be used; one clear sentence."""


def verifying_context(ca_file: Path | None) -> ssl.SSLContext:
    """TLS 1.2 or later with the other side's certificate and name verified.

    ca_file: PEM file of the authorities to trust; None = those of the system.

    Raises:
        TrustError: the file cannot be read.
    """
    try:
        context = ssl.create_default_context(cafile=ca_file)
    except OSError as error:  # SSLError of a file that is no PEM is one, too
        why = "it holds no certificate" if isinstance(error, ssl.SSLError) else error.strerror
        raise TrustError(f"ca_file '{ca_file}' cannot be used ({why}); expected a PEM file of certificates") from error
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    return context


def handshake_failure(error: OSError, spoken: str) -> str:
    """Why an encrypted connection did not come about; ``spoken``: what should be heard there, such as 'mqtts'."""
    if isinstance(error, ssl.SSLCertVerificationError):
        return f"its certificate cannot be trusted: {error.verify_message}; check ca_file and the host's name"
    why = str(getattr(error, "reason", None) or error.strerror or error).lower().replace("_", " ")
    return f"encryption fails: {why}; check whether {spoken} is spoken there"
