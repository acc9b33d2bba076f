"""Keys: RFC 8032, RFC 8037 and RFC 7638 vectors; then every way to be refused."""

import json
from pathlib import Path

import pytest

from auditkit.errors import KeyProblem, VerificationError
from auditkit.proof import entry
from auditkit.proof.keys import PrivateKey, PublicKey
from auditkit.proof.odd_points import LOW_ORDER
from auditkit.text.base64url import decode64, encode64

VECTORS = json.loads(
    (Path(__file__).parent.parent / "vectors" / "log.json").read_text()
)


@pytest.mark.parametrize("vector", VECTORS["rfc8032"], ids=lambda v: v["name"])
def test_rfc_8032_section_7_1(vector):
    key = PrivateKey.from_seed(bytes.fromhex(vector["seed"]))
    message = bytes.fromhex(vector["msg"])
    assert key.public.raw.hex() == vector["public"]
    assert key.sign(message).hex() == vector["sig"]
    key.public.verify(bytes.fromhex(vector["sig"]), message)
    with pytest.raises(VerificationError):
        key.public.verify(bytes.fromhex(vector["sig"]), message + b"x")


def test_rfc_8037_appendix_a():
    """A.1 to A.4: key, thumbprint (RFC 7638) and the compact JWS."""
    key = PrivateKey.from_seed(decode64("nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A"))
    assert key.public.x == "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"
    assert key.public.thumbprint == "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k"
    jws = (
        "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc.hgyY0il_MGCjP0JzlnLW"
        "G1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylGjg5BhVsPt9g7sVvpAr_MuM0KAg"
    )
    signed, _, signature = jws.rpartition(".")
    assert encode64(key.sign(signed.encode())) == signature
    header, payload = (decode64(part).decode() for part in signed.split("."))
    sound = entry.Entry(0, header, payload, decode64(signature))
    with pytest.raises(VerificationError, match="header"):
        entry.verify(sound, key.public)  # sound, but no entry of ours


def test_low_order_keys_are_refused_everywhere():
    listed = {bytes.fromhex(t) for t in VECTORS["low_order_ed25519_keys_reject"]}
    assert listed == LOW_ORDER
    for raw in listed:
        with pytest.raises(KeyProblem, match="low-order"):
            PublicKey.from_raw(raw)
        with pytest.raises(KeyProblem, match="low-order"):
            PublicKey.from_x(encode64(raw))


@pytest.mark.parametrize("tail", [0xED, 0xEE, 0xF0])
def test_second_spellings_of_a_point_are_refused(tail):
    with pytest.raises(KeyProblem, match="low-order"):
        PublicKey.from_raw(bytes([tail]) + b"\xff" * 30 + b"\x7f")


@pytest.mark.parametrize("x", ["", "A", "A" * 42, "A" * 44, "é" * 43, "+" * 43])
def test_malformed_public_keys(x):
    with pytest.raises(KeyProblem):
        PublicKey.from_x(x)


def test_noncanonical_base64url_is_refused():
    x = PrivateKey.generate().public.x
    last = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"
    other = x[:-1] + last[last.index(x[-1]) + 1]
    with pytest.raises(KeyProblem):
        PublicKey.from_x(other)


def test_key_file_opens_with_its_passphrase_only():
    key = PrivateKey.generate()
    data = key.to_pkcs12(b"right", "mechanic-1")
    assert PrivateKey.from_pkcs12(data, b"right").public == key.public
    with pytest.raises(KeyProblem, match="passphrase"):
        PrivateKey.from_pkcs12(data, b"wrong")
    with pytest.raises(KeyProblem):
        PrivateKey.from_pkcs12(data[:-9], b"right")
    with pytest.raises(KeyProblem):
        PrivateKey.from_pkcs12(b"", b"right")
