"""What a life is hurt and helped by: a kill at an edge, a time stamp authority."""

import os
import signal
import warnings
from datetime import timedelta
from functools import cache

import pytest
from conftest import BlockingRules
from life.model import BEGIN

from auditkit.log import key_files, newest_checkpoint
from auditkit.log.attachments import Attachments
from auditkit.log.ledger import Ledger
from auditkit.log.store import Store
from auditkit.plugin.loading import load_catalogue
from auditkit.proof import timestamp


@cache
def rules():
    return load_catalogue({"tests": BlockingRules})


@cache
def authority():
    """Return the root in PEM, and a function: text, time -> a time stamp over it."""
    tsp = pytest.importorskip("asn1crypto.tsp", reason="the extra auditkit[sign]")
    pytest.importorskip("rfc3161_client", reason="the extra auditkit[stamp]")
    from asn1crypto import keys as asn1_keys
    from asn1crypto import x509 as asn1_x509
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import rsa
    from pyhanko.sign.timestamps import DummyTimeStamper

    def named(name):
        return x509.Name([x509.NameAttribute(x509.oid.NameOID.COMMON_NAME, name)])

    def certified(name, public, *extensions):
        made = (
            x509.CertificateBuilder(named("Invented root"), named(name), public)
            .serial_number(x509.random_serial_number())
            .not_valid_before(BEGIN - timedelta(days=400))
            .not_valid_after(BEGIN + timedelta(days=4000))
        )
        for extension in extensions:
            made = made.add_extension(extension, critical=True)
        return made.sign(root_key, hashes.SHA256())

    root_key, key = (rsa.generate_private_key(65537, 2048) for _ in range(2))
    root = certified(
        "Invented root",
        root_key.public_key(),
        x509.BasicConstraints(ca=True, path_length=None),
    )
    signer = certified(
        "Invented stamps",
        key.public_key(),
        x509.ExtendedKeyUsage([x509.oid.ExtendedKeyUsageOID.TIME_STAMPING]),
    )
    form, pkcs8 = serialization.Encoding.DER, serialization.PrivateFormat.PKCS8
    own = asn1_x509.Certificate.load(signer.public_bytes(form))
    opened = asn1_keys.PrivateKeyInfo.load(
        key.private_bytes(form, pkcs8, serialization.NoEncryption())
    )

    def reply(text, at):
        query = tsp.TimeStampReq.load(timestamp.request(text)[0])
        stamper = DummyTimeStamper(own, opened, fixed_dt=at)
        return stamper.request_tsa_response(query).dump()

    return root.public_bytes(serialization.Encoding.PEM), reply


KILLED_AT = {
    "save": (key_files, "save"),
    "put": (Attachments, "put"),
    "append": (Store, "append"),
    "add_checkpoint": (Store, "add_checkpoint"),
    "erase_disclosures": (Store, "erase_disclosures"),
    "erase": (Attachments, "erase"),
    "scrub": (Store, "scrub"),
    "remember": (newest_checkpoint, "remember"),
    "tell": (Ledger, "tell"),
    "promote": (key_files, "promote"),
}


def run_killed(path, do, place, *, after):
    """Fork; kill the child at the edge of a function; return how it ended."""
    owner, name = KILLED_AT[place]
    real = getattr(owner, name)

    def killed(*words, **named):
        if after:
            real(*words, **named)
        os.kill(os.getpid(), signal.SIGKILL)

    with warnings.catch_warnings():
        # Other tests may have left threads; the child uses none of theirs.
        warnings.simplefilter("ignore", DeprecationWarning)
        child = os.fork()
    if child == 0:  # pragma: no cover
        code = 1
        try:
            signal.alarm(60)
            setattr(owner, name, killed)
            with Ledger.open(path) as ledger:
                do(ledger)
            code = 0
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
