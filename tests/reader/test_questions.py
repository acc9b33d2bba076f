"""What the page makes of what a browser tells of signatures: OpenSSL's answer."""

import hashlib
import random

import pytest
from page_hosts import NODE, look

from auditkit.proof import ed25519 as openssl
from auditkit.proof.keys import PrivateKey
from auditkit.reader.one_file import ed25519 as plain
from auditkit.reader.page import questions as page
from auditkit.reader.page.questions import SignatureQuestions

HEAD = 101
FITS, UNFIT, NO_ANSWER = 1, 0, 2

# ed25519-speccheck cases.json (github.com/novifinancial/ed25519-speccheck, commit
# 336651b): message, key, signature. In case 2 R is of low order, which browsers
# following the W3C draft refuse; 6 and 7 have S above the group order.
SPECCHECK = """
8c93255d71dcab10e8f379c26200f3c7bd5f09d9bc3068d3ef4edeb4853022b6 c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a0000000000000000000000000000000000000000000000000000000000000000
9bd9f44f4dcc75bd531b56b2cd280b0bb38fc1cd6d1230e14861d861de092e79 c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa f7badec5b8abeaf699583992219b7b223f1df3fbbea919844e3f7c554a43dd43a5bb704786be79fc476f91d3f3f89b03984d8068dcf1bb7dfc6637b45450ac04
aebf3f2601a0c8c5d39cc7d8911642f740b78168218da8471772b35f9d35b9ab f7badec5b8abeaf699583992219b7b223f1df3fbbea919844e3f7c554a43dd43 c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa8c4bd45aecaca5b24fb97bc10ac27ac8751a7dfe1baff8b953ec9f5833ca260e
9bd9f44f4dcc75bd531b56b2cd280b0bb38fc1cd6d1230e14861d861de092e79 cdb267ce40c5cd45306fa5d2f29731459387dbf9eb933b7bd5aed9a765b88d4d 9046a64750444938de19f227bb80485e92b83fdb4b6506c160484c016cc1852f87909e14428a7a1d62e9f22f3d3ad7802db02eb2e688b6c52fcd6648a98bd009
e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec4011eaccd55b53f56c cdb267ce40c5cd45306fa5d2f29731459387dbf9eb933b7bd5aed9a765b88d4d 160a1cb0dc9c0258cd0a7d23e94d8fa878bcb1925f2c64246b2dee1796bed5125ec6bc982a269b723e0668e540911a9a6a58921d6925e434ab10aa7940551a09
e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec4011eaccd55b53f56c cdb267ce40c5cd45306fa5d2f29731459387dbf9eb933b7bd5aed9a765b88d4d 21122a84e0b5fca4052f5b1235c80a537878b38f3142356b2c2384ebad4668b7e40bc836dac0f71076f9abe3a53f9c03c1ceeeddb658d0030494ace586687405
85e241a07d148b41e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec40 442aad9f089ad9e14647b1ef9099a1ff4798d78589e66f28eca69c11f582a623 e96f66be976d82e60150baecff9906684aebb1ef181f67a7189ac78ea23b6c0e547f7690a0e2ddcd04d87dbc3490dc19b3b3052f7ff0538cb68afb369ba3a514
85e241a07d148b41e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec40 442aad9f089ad9e14647b1ef9099a1ff4798d78589e66f28eca69c11f582a623 8ce5b96c8f26d0ab6c47958c9e68b937104cd36e13c33566acd2fe8d38aa19427e71f98a473474f2f13f06f97c20d58cc3f54b8bd0d272f42b695dd7e89a8c22
fdaebc429f4a735932a160da1301080c13280eea8bc280d1b392c6b9e6ba3a5a f7badec5b8abeaf699583992219b7b223f1df3fbbea919844e3f7c554a43dd43 edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f454d370c8d9fc323a41450f8d513eafeb5b0697390c1e505a0d4ddc71f566607
84b698d39be126ff55fe45079e6c8bf64a0d7db6994560b4e96b7021eb39c1a1 f7badec5b8abeaf699583992219b7b223f1df3fbbea919844e3f7c554a43dd43 edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f084d5b99c2a9463d9c8bd5026916996984eeec87ddf1d3be329006ace1b37b09
"""  # noqa: E501

CASES = [
    tuple(bytes.fromhex(text) for text in line.split())
    for line in SPECCHECK.strip().split("\n")
]


def crafted():
    """Yield (message, key, signature) with every torsion part, S in range and out."""
    torsion = plain.decode(
        bytes.fromhex(
            "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05"
        )
    )
    for n in range(64):
        a, r = 5 + n * 7919, 11 + n * 104729
        key = plain.encode(plain.both(plain.BASE, a, torsion, n % 8))
        point = plain.encode(plain.both(plain.BASE, r, torsion, n // 8))
        message = b"message %d" % n
        digest = hashlib.sha512(point + key + message).digest()
        s = (r + int.from_bytes(digest, "little") * a) % plain.L
        for value in (s, s + plain.L, s ^ 1):
            yield message, key, point + value.to_bytes(32, "little")
    for point in (b"\x01" + bytes(31), bytes(32), (plain.P + 1).to_bytes(32, "little")):
        yield b"m", PrivateKey.from_seed(bytes(32)).public.raw, point + bytes(32)


def records(asked):
    """Yield how, key, signature and message of each record."""
    while asked:
        end = HEAD + int.from_bytes(asked[HEAD - 4 : HEAD], "big")
        yield asked[0], asked[1:33], asked[33:97], asked[HEAD:end]
        asked = asked[end:]


def by_arithmetic(key, signature, k):
    point = plain.decode(key)
    if point is None:
        return UNFIT
    s = int.from_bytes(signature[32:], "little")
    k = int.from_bytes(k, "little")
    found = plain.encode(plain.both(plain.BASE, s, plain.negate(point), k))
    return FITS if found == signature[:32] else UNFIT


def engine(answer):
    """Return a browser whose own engine answers so; its arithmetic is sound."""

    def tell(asked):
        return bytes(
            by_arithmetic(*rest) if how else answer(*rest)
            for how, *rest in records(asked)
        )

    return tell


def no_key(key, signature, message):
    """Refuse keys that are no point, as some engines do."""
    if plain.decode(key) is None:
        return NO_ANSWER
    return FITS if openssl.fits(key, signature, message) else UNFIT


def strict_r(key, signature, message):
    """Refuse R of low order, as the W3C draft asks."""
    if signature[:32] in page.LOW_ORDER:
        return UNFIT
    return FITS if openssl.fits(key, signature, message) else UNFIT


BROWSERS = {
    "like OpenSSL": engine(lambda *asked: int(openssl.fits(*asked))),
    "refuses keys": engine(no_key),
    "refuses R of low order": engine(strict_r),
    "always yes": engine(lambda *_: FITS),
    "always no": engine(lambda *_: UNFIT),
    "no Ed25519": engine(lambda *_: NO_ANSWER),
}
if NODE:
    BROWSERS["node"] = look
    BROWSERS["node, plain"] = lambda asked: look(asked, plain=True)


def settled(browser, cases, monkeypatch):
    """Return what is known of the signatures once the browser has told all."""
    asked = SignatureQuestions()
    monkeypatch.setattr(page, "questions", asked)
    rounds = 0
    for message, key, signature in cases:
        page.fits(key, signature, message)
    while waiting := asked.asked():
        asked.told(browser(waiting))
        rounds += 1
        assert rounds < 4
    return [page.fits(key, signature, message) for message, key, signature in cases]


@pytest.mark.parametrize("name", BROWSERS)
def test_every_browser_comes_to_the_answer_of_openssl(name, monkeypatch):
    published = [openssl.fits(key, s, message) for message, key, s in CASES]
    assert published == [i in {0, 1, 2, 3} for i in range(10)], "without the cofactor"
    # Keys of low order, those of the first two, are refused before anybody asks.
    asked = [*CASES, *crafted()]
    cases = [case for case in asked if case[1] not in page.LOW_ORDER]
    assert len(asked) - len(cases) == 2
    expected = [openssl.fits(key, s, message) for message, key, s in cases]
    assert sum(expected) > 10
    assert settled(BROWSERS[name], cases, monkeypatch) == expected


def test_hope_and_its_end(monkeypatch):
    """What nobody looked at fits, until one that does not is told."""
    asked = SignatureQuestions()
    monkeypatch.setattr(page, "questions", asked)
    key = PrivateKey.from_seed(bytes(32))
    good = key.sign(b"good")
    assert page.fits(key.public.raw, good, b"good")
    assert page.fits(key.public.raw, good, b"bad")
    assert not asked.told(BROWSERS["no Ed25519"](asked.asked()))
    assert page.fits(key.public.raw, good, b"bad"), "nobody has looked yet"
    assert asked.told(BROWSERS["no Ed25519"](asked.asked()))
    assert not page.fits(key.public.raw, good, b"bad")
    assert page.fits(key.public.raw, good, b"good")
    assert asked.asked() == b""
    assert not page.fits(key.public.raw, good[:63], b"good")


def test_the_engine_is_tried_once(monkeypatch):
    asked = SignatureQuestions()
    monkeypatch.setattr(page, "questions", asked)
    key = PrivateKey.from_seed(bytes(32))
    counts = []
    for number in range(3):
        message = b"%d" % number
        page.fits(key.public.raw, key.sign(message), message)
        sent = asked.asked()
        counts.append(len([*records(sent)]))
        assert not asked.told(BROWSERS["like OpenSSL"](sent))
    assert counts == [5, 1, 1]


def test_random_signatures(monkeypatch):
    chance = random.Random(7)
    cases = []
    for number in range(40):
        key = PrivateKey.from_seed(chance.randbytes(32))
        message = chance.randbytes(number)
        signature = bytearray(key.sign(message))
        if number % 2:
            signature[chance.randrange(64)] ^= 1 << chance.randrange(8)
        cases.append((message, key.public.raw, bytes(signature)))
    expected = [openssl.fits(k, s, m) for m, k, s in cases]
    assert expected.count(True) == 20
    for browser in BROWSERS.values():
        assert settled(browser, cases, monkeypatch) == expected
