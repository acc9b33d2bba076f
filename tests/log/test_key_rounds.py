"""The rounds of key derivation in a key file, whatever command wrote it."""

import os
import re
import subprocess
import sys

from asn1crypto import pkcs12
from conftest import PASSPHRASE

# OWASP Password Storage Cheat Sheet: PBKDF2 with HMAC-SHA-256 has 600,000.
ROUNDS = 600_000


def rounds(data):
    """Return the rounds around each key in a PKCS#12 file (RFC 8018 PBKDF2-params)."""
    found = []
    for content in pkcs12.Pfx.load(data).authenticated_safe:
        assert content["content_type"].native == "data"
        for bag in pkcs12.SafeContents.load(content["content"].native):
            assert bag["bag_id"].native == "pkcs8_shrouded_key_bag"
            scheme = bag["bag_value"]["encryption_algorithm"]
            assert (scheme.kdf, scheme.kdf_hmac) == ("pbkdf2", "sha256")
            found.append(scheme.kdf_iterations)
    return found


RUN = """
import sys
from auditkit.cli import main
for line in sys.argv[1:]:
    try:
        main(line.split())
    except SystemExit as end:
        assert end.code == 0, line
"""


def test_every_command_that_writes_a_key_uses_the_real_rounds(tmp_path):
    """In a process of its own: no fixture of these tests reaches in there."""
    environment = {**os.environ, "AUDITKIT_PASSPHRASE": PASSPHRASE.decode()}
    lines = (
        "init --shop Example --person lead",
        "key enrol tech-a",
        "key rotate lead --reason yearly",
        "succeed shop.auditlog next --reason moved",
        "succeed next last --reason lost --new-key",
        "witness key w.example/1 --key w.p12 --state w.state",
    )
    command = [sys.executable, "-c", RUN, *lines]
    subprocess.run(
        command, cwd=tmp_path, env=environment, check=True, capture_output=True
    )
    found = {
        re.sub(r"~[0-9a-f]{16}", "~MARK", str(path.relative_to(tmp_path))): rounds(
            path.read_bytes()
        )
        for path in tmp_path.rglob("*.p12")
    }
    names = ("log", "lead", "tech-a")
    assert set(found) == {
        "shop.auditlog.keys/lead~MARK.p12",
        *(f"shop.auditlog.keys/{name}.p12" for name in names),
        *(f"next.keys/{name}.p12" for name in names),
        *(f"last.keys/{name}.p12" for name in names),
        "w.p12",
    }
    assert all(each == [ROUNDS] for each in found.values()), found
