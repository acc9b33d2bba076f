"""The bay's certificate, judged by Python's ssl (OpenSSL) over a connection here."""

import re
import socket
import ssl
import subprocess
import threading
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
)

from auditkit.bay import certificate
from auditkit.bay.certificate import DAYS, bay_certificate
from auditkit.errors import InputError

NOW = datetime.now(UTC).replace(microsecond=0)
NAMES, ADDRESSES = ["bay.test"], [ip_address("127.0.0.1")]


@pytest.fixture
def log(tmp_path):
    return tmp_path / "shop.auditlog"


@pytest.fixture
def made(log):
    return bay_certificate(log, NAMES, ADDRESSES, at=NOW)


def shake_hands(chain, key, trusted, name):
    """Return the certificate that a client accepts for ``name``, in DER."""
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(chain, key)
    client = ssl.create_default_context(cafile=trusted)
    client.verify_flags |= ssl.VERIFY_X509_STRICT
    with socket.create_server(("127.0.0.1", 0)) as listening:

        def answer():
            taken, _ = listening.accept()
            try:
                server.wrap_socket(taken, server_side=True).close()
            except (ssl.SSLError, OSError):  # the client says why
                taken.close()

        answering = threading.Thread(target=answer)
        answering.start()
        try:
            with (
                socket.create_connection(listening.getsockname()) as plain,
                client.wrap_socket(plain, server_hostname=name) as secure,
            ):
                return secure.getpeercert(binary_form=True)
        finally:
            answering.join()


@pytest.mark.parametrize("name", ["bay.test", "127.0.0.1"])
def test_a_client_that_trusts_the_authority_connects_by_name_and_address(made, name):
    der = shake_hands(made.chain, made.key, made.authority, name)
    assert x509.load_der_x509_certificate(der).not_valid_after_utc == made.ends


def test_a_client_that_does_not_trust_it_refuses(made, tmp_path):
    other = bay_certificate(tmp_path / "other.auditlog", NAMES, ADDRESSES, at=NOW)
    with pytest.raises(ssl.SSLCertVerificationError, match="certificate verify failed"):
        shake_hands(made.chain, made.key, other.authority, "bay.test")
    with pytest.raises(ssl.SSLCertVerificationError, match="mismatch"):
        shake_hands(made.chain, made.key, made.authority, "bank.test")


@pytest.mark.parametrize(
    ("limits", "names", "addresses"),
    [
        ((NAMES, ADDRESSES), ["bank.test"], []),
        ((NAMES, ADDRESSES), [], ["127.0.0.2"]),
        ((NAMES, []), [], ["127.0.0.1"]),
        (([], ADDRESSES), ["bank.test"], []),
    ],
)
def test_its_authority_speaks_for_no_other_name(limits, names, addresses, tmp_path):
    """RFC 5280 4.2.1.10: even who kept its key could not speak for a bank."""
    other = [ip_address(text) for text in addresses]
    signer = certificate.authority(*limits, NOW)
    leaf, key = certificate.leaf(signer, names, other, NOW)
    chain, trusted, private = (tmp_path / n for n in ("chain", "trusted", "key"))
    chain.write_bytes(leaf.public_bytes(Encoding.PEM))
    trusted.write_bytes(signer[0].public_bytes(Encoding.PEM))
    private.write_bytes(
        key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    )
    with pytest.raises(ssl.SSLCertVerificationError, match=r"permitted|excluded"):
        shake_hands(chain, private, trusted, (names + addresses)[0])


def test_what_it_says(made):
    """397 days, P-256, a path of length 0, for servers only."""
    leaf, above = x509.load_pem_x509_certificates(made.chain.read_bytes())
    assert leaf.not_valid_after_utc - leaf.not_valid_before_utc == timedelta(days=DAYS)
    assert leaf.public_key().curve.name == above.public_key().curve.name == "secp256r1"
    found = above.extensions.get_extension_for_class(x509.BasicConstraints)
    assert (found.critical, found.value.ca, found.value.path_length) == (True, True, 0)
    limits = above.extensions.get_extension_for_class(x509.NameConstraints)
    assert limits.critical
    own = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert own.get_values_for_type(x509.DNSName) == NAMES
    assert own.get_values_for_type(x509.IPAddress) == ADDRESSES
    usage = leaf.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert [use._name for use in usage] == ["serverAuth"]


def test_the_fingerprint_is_the_one_that_openssl_shows(made):
    shown = subprocess.run(
        ["openssl", "x509", "-noout", "-fingerprint", "-sha256", "-in", made.chain],
        capture_output=True, check=True, text=True,
    ).stdout  # fmt: skip
    digits = shown.partition("=")[2].strip().replace(":", "")
    assert re.fullmatch("([0-9A-F]{8} ){7}[0-9A-F]{8}", made.fingerprint)
    assert made.fingerprint.replace(" ", "") == digits


def test_no_key_of_the_authority_is_kept(made):
    _, above = x509.load_pem_x509_certificates(made.chain.read_bytes())
    kept = [
        path for path in made.chain.parent.iterdir() if b"PRIVATE" in path.read_bytes()
    ]
    assert kept == [made.key]
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    key = load_pem_private_key(made.key.read_bytes(), None)
    assert key.public_key() != above.public_key()
    assert made.key.stat().st_mode & 0o777 == 0o600


def test_it_stays_until_it_ends_or_is_for_other_names(log, made):
    def again(names=NAMES, addresses=ADDRESSES, days=0):
        at = NOW + timedelta(days=days)
        return bay_certificate(log, names, addresses, at=at).fingerprint

    assert again() == again(days=360) == made.fingerprint
    second = again(days=370)
    assert second != made.fingerprint
    third = again(names=["bay.test", "bay2.test"], days=370)
    assert third != second
    made.key.write_text("half a key")
    assert again(names=["bay.test", "bay2.test"], days=370) != third


def test_what_cannot_be_named_is_refused(log):
    for names in ([], ["werkstätte.test"]):
        with pytest.raises(InputError):
            bay_certificate(log, names, [], at=NOW)
    assert not log.with_name("shop.auditlog.tls").exists()
