"""Endpoint: where a service answers, with or without TLS, and how this computer's own commands reach it.

Nothing here knows a route, and nothing is served here.
"""

from __future__ import annotations

import hashlib
import hmac
import http.client
import ssl
from dataclasses import dataclass
from pathlib import Path

from sync.errors import LaybyError

# Every address of this computer, and the one by which the computer reaches itself.
ANY = {"0.0.0.0": "127.0.0.1", "::": "::1"}


class BadCertificate(LaybyError):
    """The certificate or its key can't be used; `file` and `why` say more."""

    code = "bad_certificate"


class OtherCertificate(ConnectionError):
    """The process that answers on the port doesn't have the certificate of this folder's service."""


@dataclass(frozen=True)
class Endpoint:
    """A host and a port, and for a service over TLS the SHA-256 of its certificate."""

    host: str
    port: int
    certificate: str | None = None

    @property
    def address(self) -> str:
        """The service's address from this computer [text]."""
        host = ANY.get(self.host, self.host)
        bracketed = f"[{host}]" if ":" in host else host
        return f"{'http' if self.certificate is None else 'https'}://{bracketed}:{self.port}"

    def connection(self, timeout_s: float) -> http.client.HTTPConnection:
        """A connection to the service, open.

        The certificate is for the name that phones use, which this computer may not be able to look up. So the service
        is identified only by the certificate's hash, which it left beside the records.

        Args:
            timeout_s: the longest silence [s]

        Returns:
            the connection [HTTPConnection]

        Raises:
            OtherCertificate: somebody else answers. OSError: nobody does.
        """
        host = ANY.get(self.host, self.host)
        if self.certificate is None:
            plain = http.client.HTTPConnection(host, self.port, timeout=timeout_s)
            plain.connect()
            return plain
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        context.check_hostname = False
        context.verify_mode = ssl.CERT_NONE
        secure = http.client.HTTPSConnection(host, self.port, timeout=timeout_s, context=context)
        secure.connect()
        certificate = secure.sock.getpeercert(binary_form=True) or b""
        if not hmac.compare_digest(hashlib.sha256(certificate).hexdigest(), self.certificate):
            secure.close()
            raise OtherCertificate(f"{host}:{self.port}")
        return secure


def certificate_hash(certificate: Path, key: Path) -> str:
    """Check that a certificate and its key can be used together, before anything is served with them.

    Args:
        certificate: the certificate, its own first, followed by those that vouch for it [PEM file]
        key: its key, without a password [PEM file]

    Returns:
        the SHA-256 of the first certificate [64 hex digits]

    Raises:
        BadCertificate: they can't be read, don't belong together, or the key has a password.
    """
    try:
        # An empty password, so that a key with one is refused and nobody is asked for it on a terminal.
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(certificate, key, password="")
        first = certificate.read_text("ascii").split("-----END CERTIFICATE-----", 1)[0]
        begin = first.index("-----BEGIN CERTIFICATE-----")
        der = ssl.PEM_cert_to_DER_cert(f"{first[begin:]}-----END CERTIFICATE-----\n")
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or getattr(error, "reason", None) or str(error)
        raise BadCertificate(file=f"{certificate}, {key}", why=str(why)) from error
    return hashlib.sha256(der).hexdigest()
