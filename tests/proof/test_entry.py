"""An entry: a JWS that other libraries verify, and that no change survives."""

import base64
import hashlib
import hmac
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from joserfc import jws
from joserfc.errors import BadSignatureError
from joserfc.jwk import OctKey, OKPKey

from auditkit.errors import AuditkitError, InputError, VerificationError
from auditkit.proof import entry, merkle
from auditkit.proof.keys import PrivateKey
from auditkit.text.base64url import decode64, encode64

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
        "root": merkle.EMPTY_ROOT.hex(),
        "seq": 0,
    }
    return entry.Payload(**{**values, **changes})


HS256_KEY = OctKey.import_key(  # RFC 7515 appendix A.1.1
    {
        "kty": "oct",
        "k": "AyM1SysPpbyDfgZld3umj1qzKObwVMkoqQ-EstJQLr_T-1qS0gZH75aKtMN3Yj0iPS4hc"
        "gUuTwjAzZr1Z9CAow",
    }
)
RFC_7797 = {  # sections 4.1 and 4.2: header, signature over the payload "$.02"
    '{"alg":"HS256"}': "5mvfOroL-g7HyqJoozehmsaqmvTYGEq5jTI1gVvoEoQ",
    '{"alg":"HS256","b64":false,"crit":["b64"]}': (
        "A5dxf2s96_n5FLueVuW1Z_vh161FwXZC4YLPff6dmDY"
    ),
}


def test_joserfc_verifies_our_entries():
    """joserfc, an independent JOSE library, with RFC 7797 and RFC 9864's name."""
    signed = entry.sign(payload(), KEY)
    assert "." in signed.payload  # so that it cannot stand in the compact form
    jwk = OKPKey.import_key({"kty": "OKP", "crv": "Ed25519", "x": KEY.public.x})
    assert jwk.thumbprint() == KEY.public.thumbprint
    flat = {
        "protected": encode64(signed.header.encode()),
        "payload": signed.payload,
        "signature": encode64(signed.signature),
    }
    found = jws.deserialize_json(flat, jwk, algorithms=["Ed25519"])
    assert found.payload.decode() == signed.payload
    detached = f"{flat['protected']}..{flat['signature']}".encode()
    said = signed.payload.encode()
    same = jws.deserialize_compact(detached, jwk, ["Ed25519"], payload=said)
    assert json.loads(same.payload)["event"]["tool"] == "x"
    with pytest.raises(BadSignatureError):
        jws.deserialize_compact(detached, jwk, ["Ed25519"], payload=said + b" ")


@pytest.mark.parametrize(("header", "expected"), RFC_7797.items())
def test_rfc_7797_examples(header, expected):
    """From memory: the published MACs come out, from our signing input and joserfc's.

    The first is of an encoded payload, where ours does not apply: it shows that the
    key is the published one.
    """
    made = entry.Entry(0, header, "$.02", b"")
    encoded = f"{encode64(header.encode())}.JC4wMg".encode()
    message = made.signing_input if "b64" in header else encoded
    raw = decode64(HS256_KEY.as_dict()["k"])
    assert encode64(hmac.digest(raw, message, "sha256")) == expected
    detached = f"{encode64(header.encode())}..{expected}".encode()
    found = jws.deserialize_compact(detached, HS256_KEY, ["HS256"], payload=b"$.02")
    assert found.payload == b"$.02"


def test_signing_input_and_leaf_by_hand():
    """RFC 7797 section 3, RFC 9162 section 2.1.1, with the standard library alone."""
    signed = entry.sign(payload(event={"kind": "code_clear", "tool": "a.b ✓"}), KEY)
    header = base64.urlsafe_b64encode(signed.header.encode()).rstrip(b"=")
    message = header + b"." + signed.payload.encode()
    assert signed.signing_input == message
    KEY.public.verify(signed.signature, message)
    tail = base64.urlsafe_b64encode(signed.signature).rstrip(b"=")
    leaf = hashlib.sha256(b"\x00" + message + b"." + tail).digest()
    assert signed.leaf == leaf
    assert not {b"."} & {header[i : i + 1] for i in range(len(header))}
    assert b"." not in tail


def test_what_moves_across_a_full_stop_makes_another_leaf():
    """The parts of a leaf cannot be cut elsewhere: RFC 7797 section 5.2."""
    one = entry.Entry(0, entry.HEADER, "a.b", b"cd")
    tail = encode64(one.signature)
    for payload_text, signature in (
        (f"a.b.{tail}", b""),
        ("a", b"cd"),
        ("a.b.", b"cd"),
        ("a.b", b"cd."),
    ):
        assert entry.Entry(0, one.header, payload_text, signature).leaf != one.leaf


def test_payload_is_read_as_it_was_written():
    signed = entry.sign(payload(), KEY)
    assert entry.parse_payload(signed.payload) == payload()


@given(
    st.fixed_dictionaries(
        {
            "by": st.text(),
            "key": st.text(),
            "log": st.text(),
            "prev": st.none() | st.text(),
            "recorded_at": st.text(),
            "repair_order": st.none() | st.text(),
            "root": st.text(),
            "seq": st.integers(0, 2**53 - 1),
            "withheld": st.lists(st.text()),
            "form": st.none() | st.text(),
            "event": st.dictionaries(
                st.sampled_from("abc"), st.text() | st.integers(0, 9)
            ),
        }
    )
)
def test_the_texts_form_is_that_of_the_whole_payload(members):
    """RFC 8785, as a sorting encoder has it for names in ASCII and such values."""
    value = {**members, "_sd_alg": "sha-256", "format": "auditkit/entry@1"}
    whole = json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    said = {**members, "withheld": tuple(members["withheld"])}
    assert entry.format_payload(entry.Payload(**said)) == whole


def test_sealing_gives_the_leaf_of_what_it_signed():
    signed, leaf = entry.seal(payload(), KEY)
    assert leaf == signed.leaf
    assert signed == entry.sign(payload(), KEY)


def test_every_bit_of_an_entry():
    signed = entry.sign(payload(), KEY)
    entry.verify(signed, KEY.public)
    silent = []
    for name in ("header", "payload", "signature"):
        kept = getattr(signed, name)
        raw = kept.encode() if isinstance(kept, str) else kept
        for place in range(len(raw)):
            for bit in range(8):
                changed = bytearray(raw)
                changed[place] ^= 1 << bit
                try:
                    value = changed.decode() if name != "signature" else bytes(changed)
                    entry.verify(signed._replace(**{name: value}), KEY.public)
                except (AuditkitError, UnicodeDecodeError):
                    continue
                silent.append((name, place, bit))
    assert not silent


@pytest.mark.parametrize(
    "header",
    [
        '{"alg":"none"}',
        entry.HEADER.replace("Ed25519", "EdDSA"),
        entry.HEADER.replace("false", "true"),
        entry.HEADER.replace('["b64"]', "[]"),
        entry.HEADER.replace('"crit":["b64"],', ""),
        entry.HEADER.replace('"b64":false,"crit":["b64"],', ""),
        "",
        "{",
    ],
)
def test_header_is_one_of_a_fixed_list(header):
    """No downgrade: the message chooses neither algorithm nor signing input."""
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
        lambda t: t.replace('"root":"', '"root":null,"x":"'),
        lambda t: t.replace('"form":null', '"form":""'),
        lambda t: t.replace('"form":null', '"form":1'),
        lambda t: t.replace('"withheld":[]', '"withheld":["a"]'),
        lambda t: t.replace('"withheld":[]', '"withheld":null'),
        lambda t: t.replace(f'"root":"{merkle.EMPTY_ROOT.hex()}",', ""),
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
    """C2SP tlog-tiles: an entry's length is 16 bits. The signed bytes are counted."""
    short = entry.sign(payload(event={"kind": "readout", "raw": ""}), KEY)
    room = 65_535 - len(short.signing_input) - 1 - 86
    fits = entry.sign(payload(event={"kind": "readout", "raw": "x" * room}), KEY)
    assert len(fits.signing_input) + 1 + len(encode64(fits.signature)) == 65_535
    with pytest.raises(InputError, match="capture fewer services at once"):
        entry.sign(payload(event={"kind": "readout", "raw": "x" * (room + 1)}), KEY)
    with pytest.raises(InputError, match="capture fewer services at once"):
        entry.sign(payload(event={"kind": "readout", "raw": "é" * (room - 1)}), KEY)


def test_payload_must_name_its_key():
    with pytest.raises(InputError, match="another key"):
        entry.sign(payload(key="x"), KEY)
