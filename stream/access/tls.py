"""TLS for MQTT: the broker's certificate and name are checked unless told otherwise."""

from __future__ import annotations

import ssl
from pathlib import Path

from stream.access.secrets import SecretError


def client_context(ca_file: Path | None, verify: bool = True) -> ssl.SSLContext:
    """Return a client's context (TLS 1.2 or newer); raise :class:`SecretError`.

    ``ca_file`` (PEM) replaces the system's trusted certificates.
    """
    try:
        context = ssl.create_default_context(cafile=ca_file)
    except (OSError, ssl.SSLError):
        raise SecretError(f"{ca_file} cannot be read as a file of certificates (PEM)") from None
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    if not verify:
        context.check_hostname = False
        context.verify_mode = ssl.CERT_NONE
    return context
