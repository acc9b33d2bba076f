"""``openssl ts`` as a time stamp authority (RFC 3161) of these tests."""

import subprocess

POLICY = "1.3.6.1.4.1.32473.1"  # an arc for documentation: RFC 5612

CONFIG = f"""
[tsa]
default_tsa = t
[t]
serial = serial
signer_cert = tsa.pem
signer_key = tsa.key
signer_digest = sha256
default_policy = {POLICY}
digests = sha256
accuracy = secs:2
ess_cert_id_alg = sha256
"""

EXTENSIONS = (
    "extendedKeyUsage=critical,timeStamping\nbasicConstraints=critical,CA:FALSE"
)

CURVE = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes"]


def openssl(folder, *words):
    return subprocess.run(
        ["openssl", *words], cwd=folder, check=True, capture_output=True, text=True
    ).stdout


def make_root(folder, name):
    openssl(
        *(folder, "req", "-x509", *CURVE, "-keyout", f"{name}.key"),
        *("-out", f"{name}.pem", "-subj", f"/CN=Invented root {name}", "-days", "30"),
    )
    return (folder / f"{name}.pem").read_bytes()


def make_signer(folder, extensions=EXTENSIONS, name="tsa"):
    (folder / "ext").write_text(extensions)
    openssl(
        *(folder, "req", "-new", *CURVE, "-keyout", f"{name}.key"),
        *("-out", f"{name}.csr", "-subj", "/CN=Invented stamps"),
    )
    openssl(
        *(folder, "x509", "-req", "-in", f"{name}.csr", "-CA", "root.pem"),
        *("-CAkey", "root.key", "-CAcreateserial", "-extfile", "ext"),
        *("-out", f"{name}.pem", "-days", "20"),
    )
