"""Random and mutated transcripts: nothing but the project's own error may come out.

A seeded sample of 20,000 texts; 100,000 where all is run.
"""

from __future__ import annotations

import json
import random

from sampling import chance, count

from auditkit.errors import DecodeError
from auditkit.obd.decoding import decode

COUNT = count(20_000, 100_000)
SEEDS = [
    "7E8 10 13 46 3C C9 FD 01 2C\n7E8 21 00 00 01 90 3C CA FD\n7E8 22 00 64 00 00 01",
    "014\n0: 49 02 01 31 47 31\n1: 4A 43 35 34 34 34 52\n2: 37 32 35 32 33 36 37",
    "41 01 81 07 65 04\n43 01 04 42\n47 00\n4A 00",
    "(1.5) can0 7E8#064101810765040000",
    ">0101\r41 00 BE 3F A8 13\r>",
    "18 DA F1 10 06 41 41 00 07 65 04\n7F 09 78",
    "49 06 02 17 91 BC 82 16 E0 62 BE\n49 0A 01 45 43 4D 00 2D",
    "46 01 01 0A 0B B0 0B B0 0B B0\n7E8 7F0322",
]
ALPHABET = "0123456789ABCDEF" * 3 + "  \n\r\t>:#;.()[]?Gxż\x00\ud800"


def mutated(source: random.Random) -> str:
    text = list(source.choice(SEEDS))
    for _ in range(source.randint(1, 4)):
        at = source.randrange(len(text))
        fault = source.randrange(4)
        if fault == 0:
            text[at] = source.choice(ALPHABET)
        elif fault == 1:
            text.insert(at, source.choice(ALPHABET))
        elif fault == 2 and len(text) > 1:
            del text[at]
        else:
            end = at + source.randint(1, 20)
            text[at:at] = text[at:end]
    return "".join(text)


def made(source: random.Random) -> str:
    kind = source.randrange(3)
    if kind == 0:
        return mutated(source)
    if kind == 1:
        return "".join(source.choices(ALPHABET, k=source.randint(0, 60)))
    head = source.choice([0x41, 0x43, 0x46, 0x47, 0x49, 0x4A, 0x7F, 0x44])
    body = bytes([head, source.choice([1, 2, 4, 6, 10, source.randrange(256)])])
    body += source.randbytes(source.randint(0, 24))
    who = source.choice(["", "7E8 ", "18DAF110 "])
    return f"{who}{bytes([len(body) & 7]).hex() if who else ''}{body.hex()}"


def test_random_text_raises_only_the_projects_own_error():
    source = chance("transcripts")
    whole = decode.__wrapped__  # past the cache
    decoded = refused = 0
    for _ in range(COUNT):
        text = made(source)
        try:
            readout = whole(text)
        except DecodeError:
            refused += 1
            continue
        decoded += bool(readout.responders)
        assert readout.responders or readout.problems, text
        assert json.dumps(readout.to_json())
    assert refused == 0
    assert decoded > COUNT // 10
