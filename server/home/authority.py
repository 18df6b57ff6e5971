"""The authority that vouches for one name of this desk, and the certificate that it gives the desk.

Their keys are made in the logbook's folder and never leave it. Nothing is served here.
"""

from __future__ import annotations

import hashlib
import ipaddress
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.types import CertificateIssuerPublicKeyTypes
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from server.home.address import BadHomeFile
from sync.disk.safe_files import make_folder, write_whole

AUTHORITY, AUTHORITY_KEY = "authority.pem", "authority.key"
LEAF, LEAF_KEY = "desk.pem", "desk.key"
# Phones take no certificate of a desk that is valid longer than 398 days (CA/Browser Forum, Baseline Requirements
# 6.3.2) or, of an authority that its user installed, 825 days (Apple, "Requirements for trusted certificates").
LEAF_DAYS, RENEWED_AHEAD_DAYS = 397, 60
AUTHORITY_YEARS = 20
# Clocks of phones and computers differ.
EARLIER = timedelta(days=1)
NO_ADDRESS = (ipaddress.ip_network("0.0.0.0/0"), ipaddress.ip_network("::/0"))


def make_authority(folder: Path, name: str, now: datetime) -> None:
    """Make an authority that can vouch for one name; one that was there goes.

    Args:
        folder: where its files are kept, made when missing [path]
        name: the only name that it can vouch for, such as "layby.local" [text]
        now: the time [aware datetime]

    Raises:
        OSError: the folder cannot be written.
    """
    make_folder(folder)
    key = ec.generate_private_key(ec.SECP256R1())
    # A phone lists an authority under its common name, and not at all without one.
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Layby {name}")])
    only_name = x509.NameConstraints([x509.DNSName(name)], [x509.IPAddress(network) for network in NO_ADDRESS])
    certificate = (
        _begun(subject, subject, key.public_key(), now, timedelta(days=365 * AUTHORITY_YEARS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(only_name, critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .sign(key, hashes.SHA256())
    )
    # The key first: without a certificate it is of no use to anybody and is made once more.
    write_whole(folder / AUTHORITY_KEY, _pem_of(key))
    write_whole(folder / AUTHORITY, certificate.public_bytes(serialization.Encoding.PEM))


def renew_leaf(folder: Path, name: str, now: datetime) -> bool:
    """Give the desk a certificate for its name, where it has none or the one it has ends soon.

    Args:
        folder: where the authority's files are [path]
        name: the desk's name [text]
        now: the time [aware datetime]

    Returns:
        whether there is a new one [truth]

    Raises:
        BadHomeFile: a file of the authority cannot be read. OSError: the folder cannot be written.
    """
    due = due_at(folder)
    if due is not None and now < due:
        return False
    authority, signer = _certificate(folder / AUTHORITY), _key(folder / AUTHORITY_KEY)
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    certificate = (
        _begun(subject, authority.subject, key.public_key(), now, timedelta(days=LEAF_DAYS) - EARLIER)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(name)]), critical=False)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(signer.public_key()), critical=False)
        .sign(signer, hashes.SHA256())
    )
    # Whoever is cut off between the two has a pair that does not fit, which `due_at` sees.
    write_whole(folder / LEAF_KEY, _pem_of(key))
    write_whole(folder / LEAF, certificate.public_bytes(serialization.Encoding.PEM))
    return True


def due_at(folder: Path) -> datetime | None:
    """When the desk's certificate is to be renewed; None where there is none that can be used [aware datetime or None].
    """
    ends = ends_at(folder)
    return None if ends is None else ends - timedelta(days=RENEWED_AHEAD_DAYS)


def ends_at(folder: Path) -> datetime | None:
    """How long the desk's certificate is valid; None where there is none that can be used [aware datetime or None]."""
    try:
        certificate, key = _certificate(folder / LEAF), _key(folder / LEAF_KEY)
    except BadHomeFile:
        return None
    return certificate.not_valid_after_utc if certificate.public_key() == key.public_key() else None


def authority_as_der(folder: Path) -> bytes:
    """The authority's certificate as a phone installs it [DER].

    Raises:
        BadHomeFile: it cannot be read.
    """
    return _certificate(folder / AUTHORITY).public_bytes(serialization.Encoding.DER)


def fingerprint(folder: Path) -> str:
    """What the authority's certificate is known by, to be compared by eye [SHA-256, in 16 groups of four hex digits].

    Raises:
        BadHomeFile: the certificate cannot be read.
    """
    return " ".join(re.findall("....", hashlib.sha256(authority_as_der(folder)).hexdigest().upper()))


def _begun(
    subject: x509.Name, issuer: x509.Name, key: CertificateIssuerPublicKeyTypes, now: datetime, valid: timedelta
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now.astimezone(UTC) - EARLIER)
        .not_valid_after(now.astimezone(UTC) + valid)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key), critical=False)
    )


def _usage(signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates, content_commitment=False, key_encipherment=False,
        data_encipherment=False, key_agreement=False, key_cert_sign=signs_certificates, crl_sign=signs_certificates,
        encipher_only=False, decipher_only=False,
    )


def _pem_of(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


def _certificate(file: Path) -> x509.Certificate:
    try:
        return x509.load_pem_x509_certificate(file.read_bytes())
    except (OSError, ValueError) as error:
        raise BadHomeFile(file=str(file), why=str(error)) from error


def _key(file: Path) -> ec.EllipticCurvePrivateKey:
    try:
        key = serialization.load_pem_private_key(file.read_bytes(), password=None)
    except (OSError, ValueError, TypeError) as error:
        raise BadHomeFile(file=str(file), why=str(error)) from error
    if not isinstance(key, ec.EllipticCurvePrivateKey):
        raise BadHomeFile(file=str(file), why=type(key).__name__)
    return key
