"""The certificate of a bay that tablets reach over the shop's network.

An authority of its own is made, signs one certificate, and its key is thrown away:
whoever installs that authority on a tablet trusts this one certificate and no other,
and nobody can make a second. It is also constrained to the shop's names and addresses
(RFC 5280 4.2.1.10). What people compare is the certificate's fingerprint.
"""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import IPv4Address, IPv4Network, IPv6Address, IPv6Network, ip_network
from typing import TYPE_CHECKING

from auditkit.errors import InputError, LogError, disk_advice
from auditkit.log.disk import put_text, read_beside

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
    from cryptography.x509 import (
        Certificate,
        CertificateBuilder,
        GeneralName,
        KeyUsage,
        Name,
    )

    Signer = tuple[Certificate, EllipticCurvePrivateKey]

DAYS = 397  # what browsers accept at most of a certificate; from memory
_RENEWED = timedelta(days=30)  # before its end
_SLACK = timedelta(hours=1)  # a tablet's clock may lag behind
_CHAIN, _KEY, _AUTHORITY = "certificate.pem", "key.pem", "authority.pem"
_ALL = (ip_network("0.0.0.0/0"), ip_network("::/0"))
Address = IPv4Address | IPv6Address
Network = IPv4Network | IPv6Network


@dataclass(frozen=True, slots=True)
class BayCertificate:
    """Where the files lie that a server takes, and what people compare.

    ``chain`` holds the certificate and its authority, ``authority`` that alone, to be
    installed on a tablet. ``fingerprint`` is the certificate's SHA-256 in groups.
    """

    chain: Path
    key: Path
    authority: Path
    fingerprint: str
    ends: datetime


def bay_certificate(
    log: Path, names: Sequence[str], addresses: Sequence[Address], *, at: datetime
) -> BayCertificate:
    """Return the certificate beside a log (``shop.auditlog.tls``).

    It is made anew where there is none for these names and addresses, or it ends within
    a month. ``names`` are DNS names; a name or an address there must be.
    """
    if not names and not addresses:
        raise InputError(
            "the bay has no name and no address", what_to_do="give it at least one"
        )
    folder = log.with_name(f"{log.name}.tls")
    try:
        found = _kept(folder, names, addresses, at)
        if found is None:
            _put(folder, names, addresses, at)
            found = _kept(folder, names, addresses, at)
    except OSError as error:
        raise LogError(
            f"the bay's certificate cannot be kept here: {error.strerror}",
            where=str(folder),
            what_to_do=disk_advice(error),
        ) from error
    if found is None:
        raise LogError(
            "the certificate does not read back as it was written",
            where=str(folder),
            what_to_do="move the folder away, and start the bay again",
        )
    return found


def fingerprint(leaf: Certificate) -> str:
    """Return the SHA-256 of a certificate, as 8 groups of 8 hexadecimal digits."""
    from cryptography.hazmat.primitives.serialization import Encoding

    digits = hashlib.sha256(leaf.public_bytes(Encoding.DER)).hexdigest().upper()
    return " ".join(digits[at : at + 8] for at in range(0, len(digits), 8))


def authority(
    names: Sequence[str], addresses: Sequence[Address], at: datetime
) -> Signer:
    """Return an authority that can speak for these names and addresses alone."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes

    key = _new_key()
    # No two of one name: a tablet that has both installed could not tell them apart.
    name = _named(f"auditkit bay {secrets.token_hex(8)}")
    nowhere: list[GeneralName] = [x509.DNSName("")] * (not names)
    nowhere += [x509.IPAddress(net) for net in _ALL] * (not addresses)
    limits = x509.NameConstraints(
        _general(names, [ip_network(address) for address in addresses]),
        nowhere or None,
    )
    made = (
        _begun(name, name, key, at)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(limits, critical=True)
        .sign(key, hashes.SHA256())
    )
    return made, key


def leaf(
    signer: Signer, names: Sequence[str], addresses: Sequence[Address], at: datetime
) -> Signer:
    """Return a server's certificate for these names and addresses, with its key."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.x509.oid import ExtendedKeyUsageOID

    issuer, issuer_key = signer
    key = _new_key()
    found = x509.AuthorityKeyIdentifier.from_issuer_public_key(issuer_key.public_key())
    serves = x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH])
    own = x509.SubjectAlternativeName(_general(names, addresses))
    made = (
        _begun(_named("auditkit bay"), issuer.subject, key, at)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(own, critical=False)
        .add_extension(serves, critical=False)
        .add_extension(found, critical=False)
        .sign(issuer_key, hashes.SHA256())
    )
    return made, key


def _new_key() -> EllipticCurvePrivateKey:
    from cryptography.hazmat.primitives.asymmetric import ec

    return ec.generate_private_key(ec.SECP256R1())


def _named(name: str) -> Name:
    from cryptography import x509

    return x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, name)])


def _general(
    names: Sequence[str], addresses: Sequence[Address | Network]
) -> list[GeneralName]:
    from cryptography import x509

    try:
        dns = [x509.DNSName(name) for name in names]
    except ValueError as error:
        raise InputError(
            f"{', '.join(names)}: a name is not plain ASCII",
            what_to_do="write it as DNS has it (xn--...)",
        ) from error
    return [*dns, *(x509.IPAddress(address) for address in addresses)]


def _usage(*, signs_certificates: bool) -> KeyUsage:
    from cryptography import x509

    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        key_cert_sign=signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )


def _begun(
    subject: Name, issuer: Name, key: EllipticCurvePrivateKey, at: datetime
) -> CertificateBuilder:
    from cryptography import x509

    known = x509.SubjectKeyIdentifier.from_public_key(key.public_key())
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .serial_number(x509.random_serial_number())
        .not_valid_before(at - _SLACK)
        .not_valid_after(at - _SLACK + timedelta(days=DAYS))
        .public_key(key.public_key())
        .add_extension(known, critical=False)
    )


def _put(
    folder: Path, names: Sequence[str], addresses: Sequence[Address], at: datetime
) -> None:
    """Write a new certificate, its key and its authority; that one's key is dropped."""
    from cryptography.hazmat.primitives.serialization import (
        Encoding,
        NoEncryption,
        PrivateFormat,
    )

    signer = authority(names, addresses, at)
    made, key = leaf(signer, names, addresses, at)
    above = signer[0].public_bytes(Encoding.PEM).decode()
    private = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    folder.mkdir(mode=0o700, exist_ok=True)
    put_text(folder / _KEY, private.decode())
    put_text(folder / _AUTHORITY, above)
    # Last: where it fits key and names, all of it is whole.
    put_text(folder / _CHAIN, made.public_bytes(Encoding.PEM).decode() + above)


def _kept(
    folder: Path, names: Sequence[str], addresses: Sequence[Address], at: datetime
) -> BayCertificate | None:
    """Return what lies in a folder; None where it is not for this, or soon ends."""
    from cryptography import x509
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        made, above = x509.load_pem_x509_certificates(read_beside(folder / _CHAIN))
        installed = x509.load_pem_x509_certificate(read_beside(folder / _AUTHORITY))
        key = load_pem_private_key(read_beside(folder / _KEY, private=True), None)
        own = made.extensions.get_extension_for_class(x509.SubjectAlternativeName)
    except (FileNotFoundError, ValueError, x509.ExtensionNotFound):
        return None
    fits = (
        list(own.value) == _general(names, addresses)
        and made.public_key() == key.public_key()
        and above == installed
        and made.not_valid_before_utc <= at <= made.not_valid_after_utc - _RENEWED
    )
    if not fits:
        return None
    return BayCertificate(
        folder / _CHAIN,
        folder / _KEY,
        folder / _AUTHORITY,
        fingerprint(made),
        made.not_valid_after_utc,
    )
