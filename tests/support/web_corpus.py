"""Good and bad packets, made with keys of our own, for a second verifier to judge.

Edwards arithmetic follows the formulas of RFC 8032 section 5.1.4 and appendix A; it
makes the signatures that no library would: low-order R, keys of mixed order, S + L.
It is long because each kind of damage is spelled out, so that a reader can judge it.
"""

import base64
import functools
import hashlib
import json
import random
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from auditkit.proof import disclosure, merkle, note
from auditkit.proof.check_packet import EarlierTree, Packet, format_packet
from auditkit.proof.entry import HEADER, Entry
from auditkit.proof.keys import PrivateKey
from auditkit.proof.note import Checkpoint
from auditkit.proof.odd_points import LOW_ORDER
from auditkit.proof.receipt import digest_of_lines, format_receipt, receipt_address
from auditkit.reader.hold_receipt import receipt_of
from auditkit.text.base64url import encode64
from auditkit.text.strict_json import canonical

P = 2**255 - 19
L = 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, -1, P) % P
ORIGIN = "garage.example/log"
STATEMENT = [
    "Repair order RO-1 is unproven: something is missing.",
    "Zündspule 0,4 Ω 🔧",
]

NUMBERS = """
    0 -0 01 1.0 1e5 1. .5 - +1 1E2 0x1 '1' NaN -Infinity true null tru
    9007199254740991 9007199254740992 -9007199254740991 -9007199254740992
    123456789012345678901234567890 [] [1,] [,] {} {,} [1\u00a02] {"a":} {"a"}
"""


def affine_add(a, b):
    """Return the sum of two points (RFC 8032 5.1.4, affine)."""
    (x1, y1), (x2, y2) = a, b
    t = D * x1 * x2 * y1 * y2 % P
    x3 = (x1 * y2 + x2 * y1) * pow(1 + t, -1, P) % P
    return x3, (y1 * y2 + x1 * x2) * pow(1 - t, -1, P) % P


def times(n, point):
    made = (0, 1)
    while n:
        if n & 1:
            made = affine_add(made, point)
        point = affine_add(point, point)
        n >>= 1
    return made


def pack(point):
    return (point[1] | (point[0] & 1) << 255).to_bytes(32, "little")


def unpack(raw):
    """Return the point of 32 bytes (RFC 8032 5.1.3)."""
    y = int.from_bytes(raw, "little")
    sign, y = y >> 255, y & (1 << 255) - 1
    square = (y * y - 1) * pow(D * y * y + 1, -1, P) % P
    x = pow(square, (P + 3) // 8, P)
    if x * x % P != square:
        x = x * pow(2, (P - 1) // 4, P) % P
    assert x * x % P == square
    return (x if x & 1 == sign else P - x), y


BASE = unpack((4 * pow(5, -1, P) % P).to_bytes(32, "little"))
TORSION = unpack(  # a point of order 8
    bytes.fromhex("c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a")
)


class Odd:
    """A signer that signs as no library does. ``nonce`` 0 makes R the identity."""

    def __init__(self, secret, torsion=0, nonce=None, fits="plainly"):
        self.secret, self.nonce, self.wanted = secret, nonce, fits
        self.torsion = times(torsion, TORSION)
        self.raw = pack(affine_add(times(secret, BASE), self.torsion))

    @property
    def x(self):
        return encode64(self.raw)

    @property
    def thumbprint(self):
        jwk = f'{{"crv":"Ed25519","kty":"OKP","x":"{self.x}"}}'
        return encode64(hashlib.sha256(jwk.encode()).digest())

    def sign(self, message):
        """Return a signature that fits plainly, or only with the cofactor."""
        low = [times(i, TORSION) for i in range(8)]
        drawn = (attempt * 7919 for attempt in range(1, 400))
        for nonce in drawn if self.nonce is None else [self.nonce]:
            for point in low if self.nonce == 0 else [(0, 1)]:
                r = affine_add(times(nonce, BASE), point)
                k = int.from_bytes(
                    hashlib.sha512(pack(r) + self.raw + message).digest(), "little"
                )
                k %= L
                s = (nonce + k * self.secret) % L
                rest = affine_add(point, times(k % 8, self.torsion))
                if (rest == (0, 1)) == (self.wanted == "plainly"):
                    return pack(r) + s.to_bytes(32, "little")
        raise LookupError(self.wanted)


class Key:
    """A signer with an ordinary key."""

    def __init__(self, number):
        self.private = PrivateKey.from_seed(bytes([number]) * 32)
        self.raw = self.private.public.raw
        self.x = self.private.public.x
        self.thumbprint = self.private.public.thumbprint

    def sign(self, message):
        return self.private.sign(message)


LOG, MECHANIC, SECOND = Key(1), Key(2), Key(3)
KIND = {"kind": "code_clear"}


def base64url(text):
    return encode64(text.encode())


class Forge:
    """A log with whatever is asked for, signed and proven as a shop could do it."""

    def __init__(self, origin=ORIGIN, log=LOG, opened=None, **members):
        self.origin, self.log = origin, log
        self.made: list[Entry] = []
        self.disclosures: list[tuple[int, str]] = []
        event = {"kind": "log_opened", "origin": origin, "log_key": log.x, "shop": "X"}
        self.add(opened or event, "log", log, None, **members)

    def add(self, event, by="mechanic-1", signer=MECHANIC, order="RO-1", **members):
        text, header = members.pop("text", None), members.pop("header", HEADER)
        alter = members.pop("alter", lambda signature: signature)
        encode = members.pop("encode", None)
        value = {
            "_sd_alg": "sha-256",
            "by": by,
            "event": event,
            "form": None,
            "format": "auditkit/entry@1",
            "key": signer.thumbprint,
            "log": self.origin,
            "prev": self.made[-1].leaf.hex() if self.made else None,
            "recorded_at": "2026-03-02T09:00:00+01:00",
            "repair_order": order,
            "root": merkle.root([e.leaf for e in self.made]).hex(),
            "seq": len(self.made),
            "withheld": [],
        }
        value.update(members)
        written = canonical(value) if text is None else text(canonical(value))
        unsigned = Entry(len(self.made), header, written, b"")
        message = unsigned.signing_input
        if encode is not None:  # RFC 7515 section 5.1: the payload in base64url
            message = f"{encode64(header.encode())}.{encode(written)}".encode()
        signature = alter(signer.sign(message))
        self.made.append(Entry(unsigned.seq, header, written, signature))
        return self

    def enrol(
        self,
        person="mechanic-1",
        key=MECHANIC,
        by="log",
        signer=None,
        role="technician",
        **members,
    ):
        x = key if isinstance(key, str) else key.x
        event = {"kind": "person_enrolled", "person": person, "key": x, "role": role}
        return self.add(event, by, signer or self.log, None, **members)

    def revoke(self, person="mechanic-1", key=MECHANIC):
        name = key if isinstance(key, str) else key.thumbprint
        event = {"kind": "key_revoked", "person": person, "key": name}
        return self.add(event, "log", self.log, None)

    def work(self, **event):
        return self.add({"kind": "code_clear", "tool": "tool 0", **event})

    def verdict(self, judged=None, statement=STATEMENT, **how):
        own = [
            e.seq
            for e in self.made
            if '"repair_order":"RO-1"' in e.payload and '"verdict"' not in e.payload
        ]
        judged = own if judged is None else judged
        event = {"kind": "verdict", "judged": judged, "statement": statement}
        return self.add(event, **how)

    def attest(self, size, *, root=None, origin=None, **members):
        """Add an attestation of the first ``size`` entries so far."""
        found = merkle.root([e.leaf for e in self.made][:size])
        text = f"{origin or self.origin}\n{size}\n{pad64(root or found)}\n"
        event = {"kind": "attestation", "checkpoint": self.sign_note(text)}
        return self.add(event | members, "log", self.log, None)

    def packet(self, *, sign=None, edit=None, size=None, log_key=None, earlier=()):
        """Return the packet's text; ``sign`` makes the checkpoint's note."""
        leaves = [e.leaf for e in self.made]
        point = Checkpoint(self.origin, size or len(leaves), merkle.root(leaves))
        text = note.format_checkpoint(point)
        checkpoint = (sign or self.sign_note)(text)
        vkey = vkey_of(self.origin, self.log)
        proofs = [
            note.format_proof(e.seq, merkle.prove_inclusion(leaves, e.seq), checkpoint)
            for e in self.made
        ]
        made = format_packet(
            Packet(
                "RO-1",
                tuple(STATEMENT),
                log_key or vkey,
                checkpoint,
                tuple(
                    EarlierTree(
                        old,
                        merkle.root(leaves[:old]),
                        tuple(merkle.prove_consistency(leaves, old)),
                    )
                    for old in earlier
                ),
                tuple(zip(self.made, proofs, strict=True)),
                tuple(self.disclosures),
            )
        )
        return edited(made, edit) if edit else made

    def line(self, text, alter=lambda signature: signature):
        blob = note.key_id(self.origin, self.log) + alter(self.log.sign(text.encode()))
        return f"\u2014 {self.origin} {pad64(blob)}\n"

    def sign_note(self, text):
        return f"{text}\n{self.line(text)}"


def vkey_of(name, key, number=None, kind=b"\x01"):
    """Return a verifier key with any id and algorithm."""
    number = note.key_id(name, key).hex() if number is None else number
    return f"{name}+{number}+{pad64(kind + key.raw)}"


def pad64(raw):
    return base64.b64encode(raw).decode()


def edited(packet, edit):
    content = json.loads(packet)
    edit(content)
    return packet_text(content)


def packet_text(content):
    """Return a packet's JSON laid out as it is written: what was signed on one line."""
    lines = []

    def one_line(value):
        lines.append(json.dumps(value, ensure_ascii=False, separators=(",", ":")))
        return f"@@{len(lines) - 1}@@"

    def marked(item):
        if not isinstance(item, dict):
            return item
        signed = ("header", "payload")
        return {k: one_line(v) if k in signed else v for k, v in item.items()}

    entries = content.get("entries")
    if isinstance(entries, list):
        content = content | {"entries": [marked(item) for item in entries]}
    text = json.dumps(content, ensure_ascii=False, indent=2) + "\n"
    return re.sub('"@@([0-9]+)@@"', lambda m: lines[int(m[1])], text)


@dataclass(frozen=True, slots=True)
class Case:
    """A packet to judge, and what its reader got elsewhere."""

    name: str
    raw: bytes
    expect_key: str | None = None
    trust: str | None = None


def plain(origin=ORIGIN, log=LOG):
    return Forge(origin, log).enrol().work().work(tool="Schlüssel ✓").verdict()


def add_l(signature):
    s = int.from_bytes(signature[32:], "little") + L
    return signature[:32] + s.to_bytes(32, "little")


def edge_signatures() -> Iterator[tuple[str, str]]:
    """Packets of one odd signature each (RFC 8032 5.1.7 and its known edges)."""
    for name, alter in {
        "S + L": add_l,
        "S with a top bit": lambda s: s[:63] + bytes([s[63] | 0x80]),
        "S is zero": lambda s: s[:32] + bytes(32),
        "S is L": lambda s: s[:32] + L.to_bytes(32, "little"),
        "R negated": lambda s: s[:31] + bytes([s[31] ^ 0x80]) + s[32:],
        "R is not reduced": lambda s: (P + 1).to_bytes(32, "little") + s[32:],
        "R is no point": lambda s: (2).to_bytes(32, "little") + s[32:],
        "all zero": lambda _s: bytes(64),
        "the constant signature": lambda _s: b"\x01" + bytes(63),
        "short": lambda s: s[:63],
        "long": lambda s: s + b"\x00",
        "empty": lambda _s: b"",
    }.items():
        yield (
            f"entry: {name}",
            Forge().enrol().add({"kind": "code_clear"}, alter=alter).verdict().packet(),
        )
        forge = plain()
        yield (
            f"checkpoint: {name}",
            forge.packet(sign=lambda t, f=forge, a=alter: f"{t}\n{f.line(t, a)}"),
        )
    for name, odd in {
        "R is the identity": Odd(12345, nonce=0),
        "mixed-order key, fits plainly": Odd(12345, torsion=1),
        "mixed-order key, fits with the cofactor": Odd(1234, torsion=1, fits="loosely"),
        "order-2 mix, fits plainly": Odd(999, torsion=4),
        "order-2 mix, fits with the cofactor": Odd(999, torsion=4, fits="loosely"),
    }.items():
        yield f"entry: {name}", signed_oddly(odd)
        yield f"log: {name}", plain(log=odd).packet()
    for fits in ("plainly", "loosely"):
        yield f"mixed-order key, low-order R, fits {fits}", low_order_r(fits)


def signed_oddly(odd):
    forge = Forge().enrol(key=odd).enrol("second", SECOND)
    forge.add({"kind": "code_clear"}, signer=odd)
    return forge.verdict(by="second", signer=SECOND).packet()


def low_order_r(fits):
    """Try keys until a signature with a low-order R fits that way."""
    for secret in range(2, 200):
        try:
            return signed_oddly(Odd(secret, torsion=1, nonce=0, fits=fits))
        except LookupError:
            continue
    raise LookupError(fits)


def keys() -> Iterator[tuple[str, str]]:
    """Packets about who may sign, and when."""
    yield "revoked before", Forge().enrol().work().revoke().work().verdict().packet()
    ends = Forge().enrol().work().verdict().revoke()
    yield "revoked after", ends.packet()
    yield "revoked twice", Forge().enrol().work().verdict().revoke().revoke().packet()
    yield (
        "revoked for another",
        Forge().enrol().revoke("else").work().verdict().packet(),
    )
    yield "revoked, unknown key", Forge().enrol().revoke(key="A" * 43).packet()
    yield "not enrolled", Forge().work().verdict().packet()
    yield from (
        (f"role {role!r}", Forge().enrol(role=role).work().verdict().packet())
        for role in ("manager", "onlooker", "Manager", "", None, 5, ["technician"])
    )
    looks_on = Forge().enrol().enrol("second", SECOND, role="onlooker").work().verdict()
    yield "an onlooker is enrolled and signs nothing", looks_on.packet()
    yield "enrolled too late", Forge().work().enrol().verdict().packet()
    yield "enrolled twice", Forge().enrol().enrol("else").work().verdict().packet()
    yield "another's name", Forge().enrol("else").work().verdict().packet()
    yield (
        "enrolled by a person",
        Forge()
        .enrol()
        .enrol("x", SECOND, "mechanic-1", MECHANIC)
        .work()
        .verdict()
        .packet(),
    )
    yield (
        "opened twice",
        Forge()
        .enrol()
        .add(
            {"kind": "log_opened", "origin": ORIGIN, "log_key": LOG.x}, "log", LOG, None
        )
        .work()
        .verdict()
        .packet(),
    )
    for person in (
        "log",
        "",
        5,
        None,
        True,
        ["a", "b\"'", "\u00a0\u200b"],
        {"a": None},
    ):
        forge = Forge().enrol(person)
        yield f"person {person!r}", forge.work().verdict().packet()
        forge.revoke(person)
        yield f"person {person!r} revoked", forge.packet()
        named = Forge().enrol(person).add({"kind": "code_clear"}, by=str(person))
        yield f"person {person!r} by name", named.verdict(by=str(person)).packet()
    for raw in (*sorted(LOW_ORDER), (P + 1).to_bytes(32, "little"), bytes(31), b""):
        low = Forge().enrol(key=encode64(raw)).work().verdict()
        yield f"enrolled key {raw.hex()}", low.packet()
        line = f"{ORIGIN}+00000000+" + pad64(b"\x01" + raw)
        yield f"log key {raw.hex()}", plain().packet(log_key=line)
    off = next(n for n in range(2, 99) if not is_square(n))
    no_point = Forge().enrol(key=encode64(off.to_bytes(32, "little"))).work()
    yield "enrolled key is no point", no_point.verdict().packet()
    for key in (
        5,
        None,
        True,
        ["x"],
        {"a": 1},
        "A" * 43 + "=",
        "é" * 43,
        "\U0001f527" * 70,
    ):
        event = {"kind": "person_enrolled", "person": "mechanic-1", "key": key}
        event["role"] = "technician"
        forge = Forge().add(event, "log", LOG, None).work().verdict()
        yield f"enrolled key {key!r}", forge.packet()
    for opened in (
        {"kind": "log_opened", "origin": "other.example", "log_key": LOG.x},
        {"kind": "log_opened", "origin": ORIGIN, "log_key": MECHANIC.x},
        {"kind": "log_opened", "origin": ORIGIN},
        {"kind": "person_enrolled", "person": "mechanic-1", "key": MECHANIC.x},
    ):
        yield (
            f"opening {opened}",
            Forge(opened=opened).enrol().work().verdict().packet(),
        )
    yield (
        "log signs work",
        Forge().add({"kind": "code_clear"}, "log", LOG).enrol().verdict().packet(),
    )
    yield (
        "log signs with another key",
        Forge().enrol().add({"kind": "code_clear"}, "log", MECHANIC).verdict().packet(),
    )


def is_square(y):
    """Return whether 32 bytes that spell ``y`` are a point of the curve."""
    square = (y * y - 1) * pow(D * y * y + 1, -1, P) % P
    return square == 0 or pow(square, (P - 1) // 2, P) == 1


def payloads() -> Iterator[tuple[str, str]]:
    """Packets with one payload of an unusual text or content, soundly signed."""

    def swap(old, new):
        return lambda text: text.replace(old, new, 1)

    deep = "[" * 62 + "]" * 62
    for old, new in (
        ('"tool":"T"', '"tool":"T" '),
        ('"tool":"T"', '"tool":"\\u0054"'),
        ('"tool":"T"', '"tool":"\\ud83d\\ude00"'),
        ('"tool":"T"', '"tool":"\\ud83d"'),
        ('"tool":"T"', '"tool":"\\u00e9"'),
        ('"tool":"T"', '"tool":"é\u2028\x7f\ufeff\U0001f527"'),
        ('"tool":"T"', '"tool":"a\\/b"'),
        ('"tool":"T"', '"tool":"\\u001f\\b\\f\n\\r\\t\\"\\\\"'),
        ('"tool":"T"', '"tool":"\\u001F"'),
        ('"tool":"T"', '"tool":"\t"'),
        ('"tool":"T"', '"tool":"T","tool":"T"'),
        ('"tool":"T"', '"10":1,"9":2,"tool":"T"'),
        ('"tool":"T"', '"9":2,"10":1,"tool":"T"'),
        ('"kind"', '"__proto__":{"a":1},"constructor":1,"kind"'),
        ('"tool":"T"', '"tool":"T","é":1'),
        ('"tool":"T"', '"tool":"T","\\u00e9":1'),
        ('"tool":"T"', f'"tool":{deep}'),
        ('"tool":"T"', f'"tool":[{deep}]'),
        ('"tool":"T"', f'"tool":["é",{deep}]'),
        ('"tool":"T"', f'"tool":"{"[" * 80}"'),
        ('"tool":"T"', f'"tool":[{"[]," * 80}1]'),
        ('"tool":"T"', f'"tool":"{"x" * 65500}"'),
        ('"tool":"T"', f'"tool":"{"é" * 32600}"'),
        *(('"tool":"T"', f'"tool":{number}') for number in NUMBERS.split()),
        ('"_sd_alg":"sha-256",', ""),
        ('"sha-256"', '"sha-512"'),
        ('"_sd_alg"', '"_other":1,"_sd_alg"'),
        ('"repair_order":"RO-1"', '"repair_order":"RO-2"'),
        ('"repair_order":"RO-1"', '"repair_order":"it\'s \\"é\\u0007\u00ad"'),
        ('"repair_order":"RO-1"', '"repair_order":"it\'s é\u00ad\U000e0001"'),
        ('"repair_order":"RO-1"', '"repair_order":""'),
        ('"repair_order":"RO-1"', '"repair_order":null'),
        ('"repair_order":"RO-1"', '"repair_order":7'),
        ('"seq":2', '"seq":3'),
        ('"seq":2', '"seq":true'),
        ('"seq":2', '"seq":-2'),
        ('"kind":"code_clear"', '"kind":"person_enrolled"'),
        ('"kind":"code_clear"', '"kind":5'),
        ('"kind":"code_clear",', ""),
        ('"by":"mechanic-1"', '"by":"Mechanic-1"'),
        ('"by":"mechanic-1"', '"by":5'),
        ('"format":"auditkit/entry@1"', '"format":"auditkit/entry@2"'),
        ('"log":"garage', '"log":"Garage'),
    ):
        event = {"kind": "code_clear", "tool": "T"}
        forge = Forge().enrol().add(event, text=swap(old, new)).work().verdict([2, 3])
        yield f"payload {old} -> {new[:60]}", forge.packet()
    for text in ("", "null", "[]", "{}", '"é"', "\ufeff{}", "{", "nul"):
        forge = Forge().enrol().add({}, text=lambda _, t=text: t).work().verdict()
        yield f"payload is {text!r}", forge.packet()


def places() -> Iterator[tuple[str, str]]:
    """Packets with false places: ``prev``, ``root`` (RFC 9162) and the form's id."""
    zeros = "0" * 64
    for name, values in {
        "prev": (None, "", "00", 0, zeros),
        "root": (None, "", "00", 0, zeros, merkle.EMPTY_ROOT.hex(), [zeros]),
    }.items():
        for value in values:
            forge = Forge().enrol().add({"kind": "code_clear"}, **{name: value})
            yield f"{name} is {value!r}", forge.verdict().packet()
    for name in ("prev", "root"):
        forge = Forge().enrol()

        def without(text, name=name):
            value = json.loads(text)
            del value[name]
            return canonical(value)

        forge.add({"kind": "code_clear"}, text=without)
        yield f"no {name}", forge.verdict().packet()
        forge = Forge().enrol()

        def loud(text, name=name):
            value = json.loads(text)
            return canonical(value | {name: value[name].upper()})

        forge.add({"kind": "code_clear"}, text=loud)
        yield f"{name} in capitals", forge.verdict().packet()
    for form in ("f-1_A", "x" * 64, "x" * 65, "", " ", "é", "a.b", 5, True, [], {}):
        forge = Forge().enrol().add({"kind": "code_clear"}, form=form)
        yield f"form {form!r}", forge.verdict(form=form).packet()
    for seq in (0, 1, 4):
        forge = Forge(root=zeros) if seq == 0 else Forge()
        forge.enrol(**({"root": zeros} if seq == 1 else {})).work().work()
        told = {"root": zeros} if seq == 4 else {}
        yield f"false root of entry {seq}", forge.verdict(**told).packet()


def headers() -> Iterator[tuple[str, str]]:
    """Packets with an entry of another header (RFC 7515, RFC 7797), soundly signed."""
    for header in (
        "",
        '{"alg":"none"}',
        HEADER + " ",
        HEADER.replace("Ed", "ed"),
        HEADER,
        HEADER.replace("false", "true"),
        HEADER.replace("false", "0"),
        HEADER.replace('["b64"]', "[]"),
        HEADER.replace('["b64"]', '["alg"]'),
        HEADER.replace('"crit":["b64"],', ""),
        HEADER.replace('"b64":false,"crit":["b64"],', ""),
    ):
        forge = Forge().enrol().add({"kind": "code_clear"}, header=header)
        yield f"header {header!r}", forge.verdict().packet()
        forge = Forge().enrol().add(KIND, header=header, encode=base64url)
        yield f"header {header!r}, payload encoded", forge.verdict().packet()


def verdicts() -> Iterator[tuple[str, str]]:
    """Packets whose verdict judged or says something else."""
    for judged in (
        [],
        [2],
        [3, 2],
        [2, 3, 4],
        ["2", 3],
        "23",
        None,
        {"a": [1]},
        [True, "é'", None],
    ):
        forge = Forge().enrol().work().work()
        event = {"kind": "verdict", "judged": judged, "statement": STATEMENT}
        yield f"judged {judged!r}", forge.add(event).packet()
    early = Forge().add({"kind": "code_clear"}, "log", LOG)
    yield "judged true for 1", early.verdict([True], by="log", signer=LOG).packet()
    yield "judged false for 1", early.verdict([False], by="log", signer=LOG).packet()
    for said in ([], STATEMENT[:1], [*STATEMENT, ""], "x", None, [STATEMENT[0], 5]):
        event = {"kind": "verdict", "judged": [2], "statement": said}
        yield f"statement {said!r}", Forge().enrol().work().add(event).packet()
    yield "no verdict", Forge().enrol().work().packet()
    yield "nothing of the order", Forge().enrol().packet()
    yield "two verdicts", Forge().enrol().work().verdict().work().verdict().packet()
    yield "goes on after", Forge().enrol().work().verdict().work().packet()


def notes() -> Iterator[tuple[str, str]]:
    """Packets with unusual checkpoints and log keys."""
    forge = plain()

    def signed(make):
        return forge.packet(sign=make)

    def text_as(change):
        return lambda text: forge.sign_note(change(text))

    other = "\u2014 {} " + pad64(bytes(70)) + "\n"
    for name in (
        "witness.example",
        "a\u200b",
        "\ufeff",
        "é",
        "a b",
        "a+b",
        "a\x85",
        "",
    ):
        yield (
            f"another signer {name!r}",
            signed(lambda t, n=name: forge.sign_note(t) + other.format(n)),
        )
        yield (
            f"another signer {name!r} first",
            signed(lambda t, n=name: f"{t}\n{other.format(n)}{forge.line(t)}"),
        )
        yield f"origin {name!r}", plain(origin=name or "\u3000").packet()
    for origin in ("a\u00ad", "\U000e0001", "x\ue000", "log", "ü.example/Ω", "\u2028"):
        yield f"origin {origin!r}", plain(origin=origin).packet()
    for count in (1, 99, 100):
        yield (
            f"{count} more signatures",
            signed(lambda t, n=count: forge.sign_note(t) + other.format("w") * n),
        )
    for name, make in {
        "signed twice": lambda t: forge.sign_note(t) + forge.line(t),
        "no signature": lambda t: f"{t}\n",
        "no gap": lambda t: t + forge.line(t),
        "two gaps": lambda t: f"{t}\n\n{forge.line(t)}",
        "no last line end": lambda t: forge.sign_note(t)[:-1],
        "a hyphen": lambda t: forge.sign_note(t).replace("\u2014", "-"),
        "id only": lambda t: f"{t}\n\u2014 {ORIGIN} {pad64(bytes(4))}\n",
        "not base64": lambda t: f"{t}\n\u2014 {ORIGIN} !!!!\n",
        "no blob": lambda t: f"{t}\n\u2014 {ORIGIN}\n",
        "loose base64": lambda t: f"{t}\n\u2014 w AAAAAAB=\n",
        "control": text_as(lambda t: t.replace("garage", "gar\tage")),
        "carriage return": text_as(lambda t: t.replace("\n", "\r\n")),
        "extension": text_as(lambda t: t + "more\n"),
        "leading zero": text_as(lambda t: t.replace("\n5\n", "\n05\n")),
        "size zero": text_as(lambda t: t.replace("\n5\n", "\n0\n")),
        "size of 16 digits": text_as(lambda t: t.replace("\n5\n", f"\n{'9' * 16}\n")),
        "size of 17 digits": text_as(lambda t: t.replace("\n5\n", f"\n{'9' * 17}\n")),
        "size six": text_as(lambda t: t.replace("\n5\n", "\n6\n")),
        "arabic size": text_as(lambda t: t.replace("\n5\n", "\n\u0665\n")),
        "short root": text_as(lambda t: f"{ORIGIN}\n5\n{pad64(bytes(31))}\n"),
        "other root": text_as(lambda t: f"{ORIGIN}\n5\n{pad64(bytes(32))}\n"),
        "other origin": text_as(lambda t: t.replace("garage", "garden")),
        "long": text_as(lambda t: t + "x" * 65536 + "\n"),
    }.items():
        yield f"checkpoint: {name}", signed(make)
    right = json.loads(forge.packet())["log_key"]
    name, number, key = right.split("+", 2)
    for line in (
        "",
        name,
        f"{name}+{number}",
        f"{name}+{number.upper()}+{key}",
        f"{name}+00000000+{key}",
        f"{name}+{number}+{key}=",
        vkey_of(name, LOG, kind=b"\x02"),
        f"{name}+{number}+",
        vkey_of("other", LOG),
        vkey_of("a b", LOG),
        right + "\n",
        vkey_of(ORIGIN, MECHANIC),
    ):
        yield f"log key {line!r}", forge.packet(log_key=line)


def proofs() -> Iterator[tuple[str, str]]:
    """Packets with one altered proof (RFC 9162 2.1.3.2)."""
    whole = plain().packet()
    proof = json.loads(whole)["entries"][2]["proof"]
    head, _, tail = proof.partition("\n\n")
    lines = head.split("\n")
    for name, text in {
        "another's": json.loads(whole)["entries"][3]["proof"],
        "no step": "\n".join(lines[:-1]) + "\n\n" + tail,
        "no steps": "\n".join(lines[:2]) + "\n\n" + tail,
        "one more": "\n".join([*lines, lines[-1]]) + "\n\n" + tail,
        "many more": "\n".join([*lines, *[lines[-1]] * 61]) + "\n\n" + tail,
        "too many": "\n".join([*lines, *[lines[-1]] * 64]) + "\n\n" + tail,
        "swapped": "\n".join([*lines[:2], *reversed(lines[2:])]) + "\n\n" + tail,
        "short hash": "\n".join([*lines[:3], pad64(bytes(31))]) + "\n\n" + tail,
        "url hash": head.replace("+", "-").replace("/", "_") + "\n\n" + tail,
        "no index": "\n".join([lines[0], *lines[2:]]) + "\n\n" + tail,
        "index word": proof.replace("index 2", "Index 2"),
        "index zero": proof.replace("index 2", "index 02"),
        "index 3": proof.replace("index 2", "index 3"),
        "index two": proof.replace("index 2", "index  2"),
        "format": proof.replace("@v1", "@v2"),
        "no gap": head + "\n" + tail,
        "extra": proof.replace("index 2", "extra eA==\nindex 2"),
        "checkpoint": proof[:-1],
        "empty": "",
    }.items():

        def put(content, text=text):
            content["entries"][2]["proof"] = text

        yield f"proof: {name}", edited(whole, put)
    for size in (1, 2, 3, 4, 6, 7, 8, 9, 16, 17):
        forge = Forge().enrol()
        for _ in range(size):
            forge.work()
        yield f"a tree of {size + 3}", forge.verdict().packet()


def earlier() -> Iterator[tuple[str, str]]:
    """Packets that reach back, rightly and not (RFC 9162 2.1.4.2)."""
    for size in (1, 2, 3, 4, 7, 8, 12):
        forge = Forge().enrol()
        for _ in range(size):
            forge.work()
        every = range(1, size + 3)
        yield f"reaches back over {size + 3}", forge.verdict().packet(earlier=every)
    whole = plain().packet(earlier=[1, 2, 3, 4])

    def put(index, **members):
        return edited(whole, lambda content: content["earlier"][index].update(members))

    hashes = [old["path"] for old in json.loads(whole)["earlier"]]
    for name, members in {
        "another root": {"root": pad64(bytes(32))},
        "short root": {"root": pad64(bytes(31))},
        "url root": {"root": "_" * 43 + "="},
        "no path": {"path": []},
        "a step less": {"path": hashes[2][:-1]},
        "a step more": {"path": [*hashes[2], hashes[2][-1]]},
        "swapped": {"path": hashes[2][::-1]},
        "another's": {"path": hashes[1]},
        "short step": {"path": [pad64(bytes(31))]},
        "not base64": {"path": ["!"]},
        "not text": {"path": [1]},
        "no list": {"path": None},
        "size text": {"size": "3"},
        "size true": {"size": True},
        "size below zero": {"size": -1},
        "size zero": {"size": 0},
        "size again": {"size": 2},
        "size of the packet": {"size": 5},
        "size beyond": {"size": 6},
        "size large": {"size": 2**53 - 1},
        "size too large": {"size": 2**53},
        "more": {"more": 1},
    }.items():
        yield f"earlier: {name}", put(2, **members)
    for name, change in {
        "reversed": lambda c: c["earlier"].reverse(),
        "twice": lambda c: c["earlier"].append(c["earlier"][-1]),
        "no list": lambda c: c.update(earlier={}),
        "gone": lambda c: c.pop("earlier"),
        "no object": lambda c: c.update(earlier=[1]),
    }.items():
        yield f"earlier: {name}", edited(whole, change)


def log_events() -> Iterator[tuple[str, str]]:
    """Packets with attestations and a closed log."""

    def told(size=2, earlier=(2,), **members):
        forge = Forge().enrol().work().attest(size, **members)
        return forge.verdict().packet(earlier=earlier)

    yield "attested", told()
    yield "attested, stamped", told(token=pad64(b"token"))
    yield "attested, not reached back to", told(earlier=())
    yield "attested, another root", told(root=bytes(32))
    yield "attested, another log", told(origin="garden.example/log")
    yield "attested, of itself", told(size=3, earlier=(3,))
    yield "attested, of later", told(size=4)
    yield "attested, of nothing", told(size=0)
    for token in ("A", "A===", "AAAB=", 1, None, [], "__8="):
        yield f"token {token!r}", told(token=token)
    for text in ("", 1, None, "x\n\n", "x\n1\n", "x\n1\nAA==\n\nx\n"):
        yield f"attests {text!r}", told(checkpoint=text)
    by_owner = Forge().enrol().work()
    note_text = by_owner.sign_note(f"{ORIGIN}\n1\n{pad64(by_owner.made[0].leaf)}\n")
    event = {"kind": "attestation", "checkpoint": note_text}
    by_owner.add(event, order=None)
    yield "attested by a person", by_owner.verdict().packet(earlier=[1])
    closing = {"kind": "log_closed", "successor": "s", "log_key": "k", "reason": "r"}
    forge = Forge().enrol().work().verdict()
    yield "closed", forge.add(closing, "log", LOG, None).packet()
    yield "closed twice", forge.add(closing, "log", LOG, None).packet()
    forge = Forge().enrol().add(closing, "log", LOG, None)
    yield "closed, and goes on", forge.work().verdict().packet()
    yield "closed, and enrols", forge.enrol("second", SECOND).packet()
    yield "closed by a person", Forge().enrol().add(closing, order=None).packet()
    opened = {"kind": "log_opened", "origin": ORIGIN, "log_key": LOG.x, "shop": "X"}
    for before in ({}, [], "x", {"origin": 1}, {"checkpoint": "a\nb\nc"}):
        forge = Forge(opened=opened | {"predecessor": before}).enrol().work()
        yield f"continues {before!r}", forge.verdict().packet()


digest_of = disclosure.digest
NAMES = ("contact", "name")
SOUND = disclosure.make("name", "Somebody (invented) é", b"0" * 16)
OTHER = disclosure.make("contact", {"a": [1, None]}, b"1" * 16)


def erasures() -> Iterator[tuple[str, str]]:
    """Packets with erasures of their order's texts, rightly and not."""
    pair = [OTHER, SOUND]
    name = digest_of(SOUND)
    right = {"seq": 2, "path": "customer.name", "digest": name}

    def told(texts, *, given=(), order="RO-1", by=None, **event):
        kept = {
            "kind": "code_clear",
            "customer": {"_sd": [digest_of(text) for text in pair]},
        }
        withheld = [f"customer.{name}" for name in NAMES]
        forge = Forge().enrol().add(kept, withheld=withheld).verdict()
        erasing = {"kind": "text_erased", "repair_order": order, "reason": "asked"}
        if texts is not None:
            erasing["texts"] = texts
        forge.add(erasing | event, *(by or ("log", LOG, None)))
        forge.disclosures = [(2, text) for text in given]
        return forge.packet()

    yield "erased", told([right])
    yield "the other is given", told([right], given=[OTHER])
    yield "given still", told([right], given=[SOUND])
    for order in ("RO-2", "", None, 5):
        yield f"of order {order!r}", told([right], order=order)
    for member in (
        {"seq": 3},
        {"seq": 1},
        {"seq": True},
        {"seq": "2"},
        {"path": "customer.contact"},
        {"path": "name"},
        {"path": None},
        {"digest": digest_of(OTHER)},
        {"digest": "A" * 43},
        {"digest": 5},
    ):
        yield f"with {member}", told([right | member])
    yield "named twice", told([right, right])
    yield "and nothing", told([right, {}])
    for texts in ([], None, {}, "x", [5]):
        yield f"of {str(texts)[:20]}", told(texts)
    for reason in (None, 5, "", "it's \u200b\x1b"):
        yield f"reason {reason!r}", told([right], reason=reason)
    for files in ([], ["0" * 64], [5], "x", None):
        yield f"of attachments {files!r}", told(None, attachments=files)
    digest = "ab" * 32
    attachment = {"kind": "attachment", "sha256": digest, "size": 3, "kept": True}
    erased = {"kind": "text_erased", "repair_order": "RO-1", "reason": "asked"}
    forge = Forge().enrol().add(attachment).verdict()
    forge.add(erased | {"attachments": [digest]}, "log", LOG, None)
    yield "of an attachment", forge.packet()
    yield "by a person", told([right], by=("mechanic-1", MECHANIC, None))
    yield "on the order", told([right], by=("log", LOG, "RO-1"))


def with_hidden(hidden, given, names=None, **event):
    """Hide at ``customer``, a digest a name, and disclose (entry, text) each."""
    digests = [digest_of(d) for d in hidden]
    names = NAMES[2 - len(hidden) :] if names is None else names
    forge = Forge().enrol()
    kept = {"kind": "code_clear", "customer": {"_sd": digests}, **event}
    forge.add(kept, withheld=[f"customer.{name}" for name in names])
    forge.disclosures = given
    return forge.verdict().packet()


def disclosed() -> Iterator[tuple[str, str]]:
    """Packets with names and digests, fit and unfit (RFC 9901)."""
    sound, other = SOUND, OTHER
    twin = disclosure.make("name", "Somebody else (invented)", b"3" * 16)
    pair = [other, sound]
    both = [(2, text) for text in sorted(pair)]
    yield "none", with_hidden(pair, [])
    yield "one", with_hidden(pair, [(2, sound)])
    yield "both", with_hidden(pair, both)
    yield "not in order", with_hidden(pair, both[::-1])
    yield "twice", with_hidden([sound], [(2, sound), (2, sound)])
    yield "not signed for", with_hidden([sound], [(2, other)])
    yield "of another entry", with_hidden([sound], [(1, sound)])
    yield "of no entry", with_hidden([sound], [(9, sound)])
    yield "of a negative entry", with_hidden([sound], [(-1, sound)])
    yield "signed for twice", with_hidden([sound, sound], [(2, sound)])
    yield "names the other way round", with_hidden(pair[::-1], both)
    for which, told in (("1st", twin), ("2nd", sound)):
        for what, names in {
            "one name": NAMES,
            "one name, named twice": ["name", "name"],
            "the one name there is": ["name"],
        }.items():
            made = with_hidden([twin, sound], [(2, told)], names)
            yield f"two values of {what}, {which}", made
    for names in ([], ["contact"], ["x", "y"], ["name", "contact"], [*NAMES, "x"]):
        yield f"names {names}", with_hidden(pair, [], names)
    for digests in ([], None, "x", {}, [5], [None, "x"], ["x", "x"], [["x"], "x"]):
        hidden = with_hidden(pair, [], customer={"_sd": digests})
        yield f"digests {digests!r}", hidden
    for event in (
        {"a.b": {"_sd": ["x"]}},
        {"a": {"b": {"_sd": ["x"]}}},
        {"a": {"b": {"_sd": ["x"]}}, "a.b": {"_sd": ["y"]}},
        {"a.b": {}, "a": {"b": {"_sd": ["x"]}}},
    ):
        for given in ([], [SOUND]):
            deep = json.loads(json.dumps(event).replace('"x"', f'"{digest_of(SOUND)}"'))
            forge = Forge().enrol().add(KIND | deep, withheld=["a.b.name"])
            forge.disclosures = [(2, text) for text in given]
            yield f"at {event}, {len(given)} given", forge.verdict().packet()
    named = {"name": "plain", "_sd": [digest_of(d) for d in pair]}
    yield "a member that is withheld too", with_hidden(pair, [], customer=named)
    yield "digests elsewhere too", with_hidden(pair, [], _sd=["x"])
    for listed in (None, "customer.name", {}, [5], [["customer.name"]], ["tool"], [""]):
        forge = Forge().enrol().add({"kind": "code_clear"}, withheld=listed)
        yield f"withheld {listed!r}", forge.verdict().packet()
    hiding = disclosure.make("name", {"_sd": [digest_of(sound)]}, b"4" * 16)
    yield "a disclosure with digests in it", with_hidden([hiding], [(2, hiding)])


def disclosure_texts() -> Iterator[tuple[str, str]]:
    """Packets with texts of disclosures, fit and unfit (RFC 9901 section 4.2.1)."""
    sound, pair = SOUND, [OTHER, SOUND]
    for array in (
        '["s", "name", "x"]',
        '["s","name","x"]',
        ' [ "s" ,\n"name",\t"x" ]\r ',
        '["s", "name", "\\ud83d"]',
        '["s", "n\\u00e9", "x"]',
        '["s", "né", "x"]',
        '["s", "name", {"né": 1}]',
        '["s", "name", {"a": 1, "a": 1}]',
        '["s", "name", 1.0]',
        '["s", "name", 9007199254740993]',
        '["s", "name"]',
        '["s", "name", "x", 1]',
        '["s", 5, "x"]',
        '[5, "name", "x"]',
        '["s", "_sd", "x"]',
        '["s", "...", "x"]',
        '["s", "_sd_alg", "x"]',
        '["s", "__proto__", {"a": 1}]',
        '["s", "name", "x"',
        '["s", "name", "x"]x',
        '\ufeff["s", "name", "x"]',
        '{"s": "name"}',
        '"s"',
        f'["s", "name", {"[" * 63}{"]" * 63}]',
        f'["s", "name", {"[" * 64}{"]" * 64}]',
        "",
    ):
        given = encode64(array.encode())
        yield f"disclosure {array[:50]!r}", with_hidden([given], [(2, given)])
    for given in ("=", "é", "WyJ", sound + "=", sound + "\n", "\ue000", "\U0001f527"):
        yield f"disclosure text {given!r}", with_hidden([given], [(2, given)])
    yield "unfit, in order", with_hidden(pair, [(2, "\ue000"), (2, "\U0001f527")])
    yield "unfit, not in order", with_hidden(pair, [(2, "\U0001f527"), (2, "\ue000")])
    again = disclosure.make("tool", "hammer", b"2" * 16)
    kept = {"kind": "code_clear", "tool": "T", "_sd": [digest_of(again)]}
    forge = Forge().enrol().add(kept, withheld=["tool"])
    forge.disclosures = [(2, again)]
    yield "repeats a member", forge.verdict().packet()
    for inner in (
        {"_sd": [digest_of(sound)]},
        {"...": digest_of(sound)},
    ):
        inside = Forge().enrol().work(list=[inner])
        inside.disclosures = [(2, sound)]
        yield f"digest inside a list, {list(inner)}", inside.verdict().packet()


def edits() -> Iterator[tuple[str, str]]:
    """A sound packet with its outer JSON altered."""
    whole = plain().packet()

    def spelled(old, new):
        assert old in whole
        return whole.replace(old, new, 1)

    for i in range(5):
        yield f"left out {i}", edited(whole, lambda c, i=i: c["entries"].pop(i))
        yield (
            f"twice {i}",
            edited(whole, lambda c, i=i: c["entries"].insert(i, c["entries"][i])),
        )
        yield (
            f"moved {i}",
            edited(whole, lambda c, i=i: c["entries"].append(c["entries"].pop(i))),
        )
    for name in json.loads(whole):
        for value in (None, 5, "x", [], {}, ["x"], [5], [{}], True):
            yield (
                f"{name} is {value!r}",
                edited(whole, lambda c, n=name, v=value: c.update({n: v})),
            )
        yield f"no {name}", edited(whole, lambda c, n=name: c.pop(n))
    for name in json.loads(whole)["entries"][0]:
        for value in (None, 5, -1, True, "x", "", [], 2**53, 2**53 - 1):
            yield (
                f"entry {name} is {value!r}",
                edited(
                    whole, lambda c, n=name, v=value: c["entries"][2].update({n: v})
                ),
            )
        yield (
            f"entry without {name}",
            edited(whole, lambda c, n=name: c["entries"][2].pop(n)),
        )
    yield "one more member", edited(whole, lambda c: c.update(more=1))
    yield (
        "a member of an entry",
        edited(whole, lambda c: c["entries"][0].update(more=1)),
    )
    for old, new in (
        ('"seq": 2', '"seq": 2.0'),
        ('"seq": 2', '"seq": 2e0'),
        ('"seq": 2', '"seq":2'),
        ('"seq": 0', '"seq": -0'),
        ('"statement"', '"format": "auditkit/packet@1",\n "statement"'),
        ("🔧", "\\ud83d\\udd27"),
        ("🔧", "\\ud83d"),
        ("Ω", "\\u03a9"),
        ("Ω", "\ufeff"),
        ("\n ", "\n  "),
        ("\n ", "\r\n "),
        ("}\n", "}"),
        ("}\n", "}\n\n"),
        ("packet@1", "packet@2"),
        ("RO-1", "RO-2"),
    ):
        yield f"{old!r} -> {new!r}", spelled(old, new)
    yield "a byte-order mark", "\ufeff" + whole
    yield "compact", json.dumps(json.loads(whole)) + "\n"
    for text in (
        "",
        "\n",
        "null",
        "[]",
        "{}",
        "{",
        "x",
        '{"format": "auditkit/packet@1"}',
    ):
        yield f"text {text!r}", text


def random_edits(packets, count=300) -> Iterator[tuple[str, str]]:
    """Seeded damage: a text inside the packet is altered, moved or put elsewhere."""
    chance = random.Random(20260302)
    for number in range(count):
        content = json.loads(chance.choice(packets))
        spots = []

        def walk(value, spots=spots):
            items = value.items() if isinstance(value, dict) else enumerate(value)
            for name, item in items:
                if isinstance(item, (dict, list)):
                    walk(item)
                else:
                    spots.append((value, name))

        walk(content)
        holder, name = chance.choice(spots)
        elsewhere, other = chance.choice(spots)
        value = holder[name]
        how = chance.randrange(4)
        if how == 0:
            holder[name], elsewhere[other] = elsewhere[other], value
        elif how == 1 and isinstance(value, str) and value:
            at = chance.randrange(len(value))
            holder[name] = value[:at] + chance.choice("aA0+-_=\n é") + value[at + 1 :]
        elif how == 2 and isinstance(value, str) and value:
            at = chance.randrange(len(value))
            holder[name] = value[:at] + value[at + 1 :]
        elif isinstance(value, int):
            holder[name] = value + chance.choice((-1, 1, 2**40))
        else:
            holder[name] = (value or "") + chance.choice(("A", "\n", "=", "==", " "))
        yield f"random {number}", packet_text(content)


def bytes_of(packet: str, step: int) -> Iterator[tuple[str, bytes]]:
    """One bit flipped in every part of the packet, and the packet cut short."""
    raw = packet.encode()
    for place in range(0, len(raw), step):
        changed = bytearray(raw)
        changed[place] ^= 1 << (place // step % 8)
        yield f"bit of byte {place}", bytes(changed)
    for end in range(0, len(raw), len(raw) // 20):
        yield f"cut at {end}", raw[:end]


@functools.lru_cache(2)
def corpus(ledger_packet: str) -> list[Case]:
    """Return every case; ``ledger_packet`` is one that a ledger made."""
    own = [Case("a ledger's", ledger_packet.encode())]
    both = [plain().packet(), ledger_packet]
    own += [Case(name, text.encode()) for name, text in random_edits(both)]
    own += [Case(name, raw) for name, raw in bytes_of(ledger_packet, 29)]
    return [*own, *_forged()]


@functools.cache
def _forged() -> list[Case]:
    """Return the cases that are the same whatever a ledger made."""
    sound = plain().packet()
    made = [Case("sound", sound.encode())]
    for source in (
        edge_signatures,
        keys,
        payloads,
        places,
        headers,
        verdicts,
        notes,
        proofs,
        earlier,
        log_events,
        disclosed,
        disclosure_texts,
        erasures,
        edits,
    ):
        made += [
            Case(f"{source.__name__}: {name}", text.encode()) for name, text in source()
        ]
    raw = sound.encode()
    for expected in (LOG.thumbprint, MECHANIC.thumbprint, "", "x"):
        made.append(Case(f"expects {expected!r}", raw, expect_key=expected))
    checkpoint = json.loads(sound)["checkpoint"]
    forge = plain()
    longer = json.loads(plain().work().packet())["checkpoint"]
    forked = json.loads(plain().packet(size=5))["checkpoint"]
    root = forge.sign_note(f"{ORIGIN}\n5\n{pad64(bytes(32))}\n")
    for trust in (checkpoint, longer, forked, root, "", "x", checkpoint + "\n"):
        made.append(Case(f"trusts {trust[:40]!r}", raw, trust=trust))
    back = plain().packet(earlier=[2, 4]).encode()
    tops = [merkle.root([e.leaf for e in forge.made][:n]) for n in range(6)]
    for size, top in ((2, 2), (4, 4), (3, 3), (4, 3), (1, 1)):
        trust = forge.sign_note(f"{ORIGIN}\n{size}\n{pad64(tops[top])}\n")
        made.append(Case(f"trusts {size} with root {top}", back, trust=trust))
    elsewhere = Forge(origin="garden.example/log").sign_note(
        f"garden.example/log\n4\n{pad64(tops[4])}\n"
    )
    made.append(Case("trusts another log", back, trust=elsewhere))
    return made


def receipt_edits() -> Iterator[str]:
    """Yield receipts of the sound packet and of others, and texts that are none."""
    own = receipt_of(plain().packet())
    text = format_receipt(own)
    yield text
    yield receipt_address("https://checker.example/check.html", own)
    other = digest_of_lines(["other"])
    for change in (
        {"repair_order": "RO-2"},
        {"repair_order": "RO-2", "statement": other, "entries": other, "story": other},
        {"repair_order": "RO-2", "size": 9},
        {"entries": other},
        {"statement": other},
        {"story": other},
        {"entries": other, "statement": other, "story": other},
        {"origin": "garden.example/log"},
        {"origin": "garden.example/log", "log_key": MECHANIC.thumbprint, "size": 77},
        {"origin": "l\u00f6g&a#b%20"},
        {"root": pad64(bytes(32))},
        {"root": pad64(bytes(32)), "size": 4},
        {"root": pad64(bytes(32)), "size": 6},
        {"log_key": MECHANIC.thumbprint},
        {"log_key": MECHANIC.thumbprint, "root": pad64(bytes(32))},
        *({"size": size} for size in (1, 2, 3, 4, 6, 9_999_999_999_999_999)),
    ):
        made = replace(own, **change)
        yield format_receipt(made)
        yield receipt_address("https://checker.example/check.html", made)
    # What an earlier checkpoint of the same log said: a later packet agrees.
    tops = [e.leaf for e in plain().made]
    for size in (2, 3, 4):
        top = pad64(merkle.root(tops[:size]))
        yield format_receipt(replace(own, size=size, root=top))
    size = f"checkpoint_size: {own.size}\n"
    for old, new in (
        (text, ""),
        (text, "auditkit/receipt@1"),
        (text, "auditkit/receipt@1\n"),
        (text, "auditkit/receipt@1\n\n"),
        ("@1", "@2"),
        ("auditkit", "\ufeffauditkit"),
        ("\n", "\r\n"),
        ("\n", ""),
        ("\n", " "),
        (": ", ":"),
        (": ", ":\u00a0\u200b"),
        ("log_key", "log_ key"),
        ("log_key", "log_\nkey"),
        ("origin: ", "Origin: "),
        ("origin: ", "__proto__: "),
        ("origin: ", "constructor: x\norigin: "),
        (f"origin: {ORIGIN}\n", ""),
        (f"origin: {ORIGIN}\n", "origin: \n"),
        (f"origin: {ORIGIN}\n", f"origin: {'x' * 70_000}\n"),
        (f"origin: {ORIGIN}\n", f"origin: {chr(0x1F527) * 200}\n"),
        ("repair_order: RO-1\n", "repair_order: \n"),
        ("repair_order: RO-1\n", "repair_order: RO-1\n" * 2),
        ("repair_order: RO-1\n", "repair_order: RO-1\u2029\n"),
        ("repair_order: RO-1\n", "repair_order: RO-1\udc80\n"),
        ("repair_order: RO-1\n", "repair_order: RO-1\x1b\n"),
        ("repair_order: RO-1\n", "repair_order: it's-\u00e9\\\n"),
        *(
            (size, f"checkpoint_size: {odd}\n")
            for odd in ("05", "\u0665", "+5", "5 ", "", "0", "5_0", "1" * 17, "9" * 99)
        ),
        ("checkpoint_root: ", "checkpoint_root: A"),
        (f"checkpoint_root: {own.root}", f"checkpoint_root: {pad64(bytes(31))}"),
        (f"checkpoint_root: {own.root}", f"checkpoint_root: {own.root[:-1]}"),
        ("log_key: ", "log_key: AAAA"),
        ("log_key: ", "log_key: \u00e9"),
        (f"log_key: {own.log_key}", f"log_key: {own.log_key[:-1]}"),
        ("statement: ", "statement: \u2028"),
        ("statement: ", "statement: \x85"),
        ("story: ", "story: \x1b"),
        ("story: ", "entries: "),
    ):
        assert old in text
        yield text.replace(old, new)
    yield text[:-1]
    yield f"{text}\n"
    yield f"{text}note: x\n"
    yield "".join(sorted(text.splitlines(keepends=True)))
    yield "https://checker.example/check.html#auditkit/receipt@1&repair_order=%FF%zz"
    yield "https://checker.example/check.html#limits"
    yield "a text\n"


def receipt_packets() -> Iterator[bytes]:
    """Yield packets to hold receipts against: sound, altered, later, and none."""
    back = plain().work()
    odd = ["Repair order RO-1\nholds a line end \x1b"]
    for text in (
        plain().packet(),
        plain().packet().replace("tool 0", "tool 1"),
        back.verdict().packet(),
        back.packet(earlier=[3, 4, 5]),
        Forge()
        .enrol()
        .work()
        .verdict(statement=odd)
        .packet(edit=lambda content: content.update(statement=odd)),
        "a text",
    ):
        yield text.encode()
