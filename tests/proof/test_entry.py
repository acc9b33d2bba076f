"""An entry: a JWS that other libraries verify, and that no change survives."""

import json

import pytest
from joserfc import jws
from joserfc.jwk import OKPKey

from auditkit.errors import AuditkitError, InputError, VerificationError
from auditkit.proof import entry
from auditkit.proof.keys import PrivateKey

KEY = PrivateKey.from_seed(bytes(range(32)))


def payload(**changes):
    values = {
        "by": "mechanic-1",
        "event": {"kind": "code_clear", "by": "mechanic-1", "tool": "x"},
        "key": KEY.public.thumbprint,
        "log": "garage.example/log",
        "prev": None,
        "recorded_at": "2026-03-02T08:00:00.000+00:00",
        "repair_order": "RO-1",
        "seq": 0,
    }
    return entry.Payload(**{**values, **changes})


def test_joserfc_verifies_our_entries():
    """joserfc, an independent JOSE library, with RFC 9864's algorithm name."""
    signed = entry.sign(payload(), KEY)
    jwk = OKPKey.import_key({"kty": "OKP", "crv": "Ed25519", "x": KEY.public.x})
    assert jwk.thumbprint() == KEY.public.thumbprint
    found = jws.deserialize_compact(signed.compact, jwk, algorithms=["Ed25519"])
    assert found.payload.decode() == signed.payload
    assert json.loads(found.payload)["event"]["tool"] == "x"


def test_compact_form_round_trips():
    signed = entry.sign(payload(), KEY)
    assert entry.parse_compact(signed.compact) == signed
    assert entry.parse_payload(signed.payload) == payload()


def test_every_bit_of_a_compact_entry():
    raw = entry.sign(payload(), KEY).compact
    silent = []
    for place in range(len(raw)):
        for bit in range(8):
            changed = bytearray(raw)
            changed[place] ^= 1 << bit
            try:
                entry.verify(entry.parse_compact(bytes(changed)), KEY.public)
            except AuditkitError:
                continue
            silent.append((place, bit))
    assert not silent


@pytest.mark.parametrize(
    "header", ['{"alg":"none"}', '{"alg":"EdDSA","typ":"auditkit/entry@1"}', "", "{"]
)
def test_header_is_one_of_a_fixed_list(header):
    """No downgrade: the message never chooses the algorithm."""
    made = entry.Entry(0, header, entry.format_payload(payload()), b"")
    forged = entry.Entry(0, header, made.payload, KEY.sign(made.signing_input))
    with pytest.raises(VerificationError, match="header"):
        entry.verify(forged, KEY.public)


@pytest.mark.parametrize(
    "edit",
    [
        lambda t: t.replace('"seq":0', '"seq":0,"seq":0'),
        lambda t: t.replace('"seq":0', '"seq": 0'),
        lambda t: t.replace('"seq":0', '"seq":0.0'),
        lambda t: t.replace('"seq":0', '"seq":-1'),
        lambda t: t.replace('"seq":0', '"seq":true'),
        lambda t: t.replace('"seq":0', '"zzz":1,"seq":0'),
        lambda t: t.replace("entry@1", "entry@2"),
        lambda t: t.replace('"mechanic-1"', "1"),
        lambda t: t + " ",
        lambda t: "[]",
    ],
)
def test_payload_in_any_other_form_is_refused(edit):
    with pytest.raises(InputError):
        entry.parse_payload(edit(entry.format_payload(payload())))


def test_too_large_an_event_says_what_to_do():
    with pytest.raises(InputError, match="capture fewer services at once"):
        entry.sign(payload(event={"kind": "readout", "raw": "x" * 50_000}), KEY)


def test_payload_must_name_its_key():
    with pytest.raises(InputError, match="another key"):
        entry.sign(payload(key="x"), KEY)
