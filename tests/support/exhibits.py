"""Shared by the tests of exhibits: odd records, keys, what a check says. Invented."""

import builtins
import copy
import functools
import json
from datetime import UTC, datetime, timedelta
from importlib.resources import files

from conftest import PASSPHRASE, judge, small_record

from auditkit.errors import InputError, VerificationError
from auditkit.exhibit.check_pdf import check_exhibit
from auditkit.exhibit.pdf import exhibit_pdf
from auditkit.order.record import Record
from auditkit.plugin.loading import load_catalogue

CATALOGUE = load_catalogue()
pages_of = functools.cache(exhibit_pdf)
"""Makes the pages of a packet once."""
LONG = "x" * 400
ODD = (
    "Z\u00fcndspule 1.2 k\u03a9 \u00b1 0.1 \u2264 \u20ac, "
    "\u0440\u0435\u043c\u043e\u043d\u0442; \u6f22\u5b57 \U0001f600 \u0e44; "
    "\u05d0\u05d1\u05d2 \u0645\u0631\u062d\u0628\u0627; "
    f"turned \u202e round; #strong[not markup] $x$ @ref <label> \\ // {LONG}"
)


def odd_record():
    """Return an invented record with texts that are hard to print."""
    record = small_record("RO-ODD")
    opening = {**record.events[0], "complaint": ODD}
    bench = {
        "kind": "bench_test",
        "at": "2026-03-02T08:30:00+01:00",
        "by": "mechanic-1",
        "part": "coil-1",
        "test": "winding",
        "result": {"name": "primary", "value": "0.912", "unit": "\u03a9"},
        "limit": {
            "minimum": "0.35",
            "maximum": "0.65",
            "unit": "\u03a9",
            "source": "table 7 of an invented book",
        },
        "readings": [{"name": "w" * 200, "value": "0.912", "unit": "\u03a9"}],
    }
    typed = {
        "kind": "self_test",
        "at": "2026-03-02T08:40:00+01:00",
        "by": "mechanic-1",
        "monitor": "misfire cylinder 1",
        "value": {"value": "3", "unit": "counts"},
        "minimum": {"value": "0", "unit": "counts"},
        "maximum": {"value": "7", "unit": "counts"},
        "outcome": "passed",
        "mid": "A2",
        "seen_on": "screen of a tool (invented)",
    }
    amendment = {
        "kind": "amendment",
        "at": "2026-03-02T09:30:00+01:00",
        "by": "mechanic-1",
        "corrects": 1,
        "why": "wrong tool named",
        "event": {**record.events[1], "tool": "the right tool"},
    }
    events = (opening, record.events[1], bench, typed, amendment)
    return Record("RO-ODD", events)


def close(log, catalogue, record):
    judgement = judge(catalogue, record)
    reason = "for a test" if judgement.blocking else None
    log.record(record, judgement, passphrase=PASSPHRASE, unproven_reason=reason)


def odd_events():
    """Return events that no schema lets pass, as a stranger's own software may sign."""
    demo = json.loads((files("auditkit_demo") / "RO-1001.json").read_text("utf-8"))
    bench = next(e for e in demo["events"] if e["kind"] == "bench_test")
    zero, noon, nameless = (copy.deepcopy(bench) for _ in range(3))
    zero["instruments"][0]["specification"]["certificate_k"] = "0"
    noon["at"] = "noon"
    del nameless["instruments"][0]["id"]
    return (zero, noon, nameless)


def places(value, path=()):
    """Yield the path of every member of a JSON value."""
    if path:
        yield path
    members = value.items() if isinstance(value, dict) else ()
    for name, item in enumerate(value) if isinstance(value, list) else members:
        yield from places(item, (*path, name))


def outcome(pdf):
    """Return what the check says of a file, None where it refuses it."""
    try:
        return check_exhibit(pdf, CATALOGUE).signatures
    except (InputError, VerificationError):
        return None


def flipped(pdf, place):
    changed = bytearray(pdf)
    changed[place] ^= 1
    return bytes(changed)


def lie(packet, old, new):
    assert old in packet
    return packet.replace(old, new, 1)


def hide(monkeypatch, name):
    real = builtins.__import__

    def absent(wanted, *arguments, **how):
        if wanted.partition(".")[0] == name:
            raise ImportError(wanted, name=name)
        return real(wanted, *arguments, **how)

    monkeypatch.setattr(builtins, "__import__", absent)


def key_file(passphrase=b"word"):
    """Return a PKCS#12 file of an authority and a signer made here."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.serialization import pkcs12
    from cryptography.x509.oid import NameOID

    def name(text):
        return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text)])

    def certificate(subject, key, issuer, issuer_key, *, authority):
        now = datetime.now(UTC)
        usage = x509.KeyUsage(
            digital_signature=not authority,
            content_commitment=not authority,
            key_encipherment=False,
            data_encipherment=False,
            key_agreement=False,
            key_cert_sign=authority,
            crl_sign=authority,
            encipher_only=False,
            decipher_only=False,
        )
        return (
            x509.CertificateBuilder()
            .subject_name(name(subject))
            .issuer_name(name(issuer))
            .public_key(key.public_key())
            .serial_number(x509.random_serial_number())
            .not_valid_before(now - timedelta(days=1))
            .not_valid_after(now + timedelta(days=30))
            .add_extension(x509.BasicConstraints(authority, None), critical=True)
            .add_extension(usage, critical=True)
            .sign(issuer_key, hashes.SHA256())
        )

    root_key, key = (ec.generate_private_key(ec.SECP256R1()) for _ in range(2))
    root = certificate(
        "Root (invented)", root_key, "Root (invented)", root_key, authority=True
    )
    leaf = certificate(
        "Signer (invented)", key, "Root (invented)", root_key, authority=False
    )
    return pkcs12.serialize_key_and_certificates(
        b"signer", key, leaf, [root], serialization.BestAvailableEncryption(passphrase)
    ), root
