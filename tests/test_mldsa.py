"""ML-DSA-44 signatures of checkpoints: a published one fits, every change is refused.

FIPS 204; C2SP tlog-cosignature v1.1.0-rc.1; RFC 5958 and RFC 8018 for the key file.
The oracle is dilithium-py, pure Python, which shares no code with OpenSSL.
"""

import base64
import hashlib
import shutil
import struct
import subprocess
import sys

import pytest

from auditkit import cosign, mldsa, note
from auditkit.errors import AuditkitError, InputError, KeyProblem, VerificationError
from auditkit.keys import KDF_ROUNDS
from auditkit.keys import PrivateKey as Ed25519Key

pytest.importorskip(
    "cryptography.hazmat.primitives.asymmetric.mldsa",
    reason="the installed cryptography library has no ML-DSA",
)
dilithium = pytest.importorskip(
    "dilithium_py.ml_dsa", reason="dilithium-py, the oracle, is not installed"
)
ORACLE = dilithium.ML_DSA_44

# A checkpoint signed by the reference implementation of the specification:
# FiloSottile/torchwood, cmd/litewitness/testdata/mldsa.txt at commit fac5716. The seed
# stands there too; the key id commits to the whole public key.
PUBLISHED_SEED = "2886adc2b0eabfce67c0472939127998bf886cf256bfee8ba76a253fce1146e0"
PUBLISHED_NAME = "example.com/mldsa-log"
PUBLISHED_ID = "b5df45c5"
PUBLISHED_KEY_BEGINS = "BuhtcL97l3dcitjZ8Y9J54gmQ1TWn/BMF0yePKpTzhlFCkN6ouJDf+9kT9wv"
PUBLISHED_KEY_ENDS = "pyiJQ/n8sObkAPXr+1rImK3lQJnxif/B6p5/tsh4rrcUht4yVIvFAaqsgAAE="
PUBLISHED_TEXT = """\
example.com/mldsa-log
1
+zoErtsZtGO6sfiSV/v4UJSIyowisE8hvjw0q5+bD38=
"""
PUBLISHED_BLOB = """\
td9FxQAAAAAAAAAAkjFvCxC6244QGemHL0hurmk5M3Hj6noQQtBM1TiwnC1lFmT+t+cUG9W0ENlRQtV20lJF
LKCzoJ08ulQEkfiVueKHeMyURh97Iup0R9d41Monv472jkyfDoX3ILyX/kEOuSV4Ed2tU4VmtDSbP0rofMWA
bKJRMnzCpNIT5xMe3tRbWLVTvAtnX9OB4UMKL1dvGS/uuhqW9Ddjik2D8veitBvk3TbQcT8fanSyZqCbDZ5z
zw5JS3Gu5oD1zK7z+KiyqbzKUhglESs7YXFbeU0E03FrXdAPYS6GAuZtBWTJp4DEm4rL+NqU6Xp0n2ehhqd1
rFAJUAcsE5CFakQdlmKkkzVMy3VZYll5ptS0amlYfGqX6/N9bJAYdAoWWpdgCep5eXCutQcTQXc69UocKT99
/vholeAP1097GfS+hNL2ndNS2ieMnj8XLD1LCHVoBjKZUIObB0lx3leGRe9VjYgTRAY2WlE+K32b6Iz1rKzz
DD8YBNQdkHgdx44uPOU3I+8szYS6NzQ2Z0QlqAtz0j9vZu9yEUUxCEORAiMAHLtV5oWZ/RvSE7qq5B0b8WrH
GPGoR/qUNK4ECmlIe/SRo6M7yRrPs3das3ox1bkC3f92c98ewHLeQtLwwsqQJny6rlYaiaiPMxgdT2CVcJEc
KOfaK8pdy2fucBDxHrQitpGkeLJLmWk6LLxR/Ut6s6xNyyKSuZlVslS40n9MJ837uMmJFyecKPliwAj8HzTW
QywSkMpEQfJyr4i2Kfa2paOZ4izmotRTfdvbFWlWFwuGLWOQ0X/pKaExpdNDwqahAwbfGkw/iHbsV7ZIlNIu
SNs2ccQvnjM8xqkT6sYYVxYiHpmk5sOwGsdeiMdwQqn7Q/Lz+uc3F6k/r0Ox7MJTX6fPhFdhe8RJg/77USR/
MIGiT4YZHV+XgrtbV0jvMEgB4yEOircsScaBmLv18tTn1GiGlzFjK/s7gOzjk70jf1qCZ1MNgDAPstd/5sXd
wYON0FnA5zPUp9yMkq1/wZq+DuePQDT6nj8zgFrkrvl8s7nibKKaL2bKcje5YP3CFcXLZoESZnC3BJkV85Vq
XlAKl+dctM3vNfMVrqk3/boBARw27mdKLsysIREkWR4caByW0csjL3Js9tn1hB0yf6hIGo8mvPIUjPIXn1rF
SSKWkQlq15wu2gwEo9FdVF5beMdF4LVwuO9PZ1Y4oXuRE2pIzMWq/jEzHAZ7GucP7yzU78X767ucrwO/AXjM
lLUsLLFZaQcHHBsrQJLpy5w1Jn/L7XFyR2g0lBOdT+lSOhx7j33oIlzxmqdR47ovtkg+LJpbAJG7n/JiQ/h/
xffe3VdqSsrB8S4ltKz+rq51swoZ59zmRzWaoNkyWX0eu0E7y6EfpfrKEmr0H+fYtVnJvCznWFKzbv7oDXKC
0pOyKZsNctvFwhSGEEURCs1G+4IrAEWG2Y231thQ8HdMvaMcm+ocvBGhZjmE7bXFkdiJ7S09csFjljFDGCiG
RiU+flxkyiqpa1DDgeFRWOEyNAdMeY2iQMTJU9ApqNVrPpjGbg7kL0HrfKCQM236d16DKfXIiUmZw/NONKnr
liAIs6/WSzKdW/JUyTLiKfPV1ItODmw5eNz7lV36dR8g3us/bpWp4OaDIInrLxYZRfkLHLvXGGg5ogY2k/FM
no/3UBbS0QfstK+ByB/pFVYCHWgDjctwpOHaqAAXAiWHAUh1KOpXBMv8qndpzhsYhvKbrL371aBST0e3iPW/
K4x+kFfgdeClsftS9RnE8KDCf4Uz+9QMP9sxj4+ZACztE19eBVaSvCqv54wO6n5248UzbqPXzA1dweKQziw/
FnPWC7qMrcs3jDi6PBPhpruk1xBy08MQg58l4YzuXrPm5gAyiUAyfNszvhTotaU02oljhvg24CycDo/2PvQY
7sBmisIsVVeHssiRxg23CMgWHaPMDn6OM+IhF2xaAqJOjfnsFBWlvMg8LxsrBnOQ1YABVLLtMvCSaIvgBjPt
8XtLn9gZ0HL9OvGsR3efWHTR5p4nZyuHH2Nm8F3nWKVkEI4p4H6Yo5O0hkzCi1ZB7QT3uEIeR0Hq3g/bLTzm
m6XzsjWSmQ8CtPapmXX476QT44wU0CWJ096SqUGUq2ZCDg3kFkV0BuKPIfLCt4sYK9bjj8UZCqkhyHbVm2x+
HQwk8mNnDbUd7PK89riPjA33KX0Sw32RE0uKtB0sC8m7t028aEupsRx56/M0jBgeYmEHuRrXpW9nuOkQPTBa
HdmYBHNkzTF2arPzZK3diFuhKPvmSQh2CN6g8r0p3EN+dmps1fIUfHM6emkEuaod+ZG83vyJsyd5B2oPMTVP
12z8VJtDRAYfA5bRj+HEw2aD4f23u/Zq3PHk2C9T5LTAu28WCuO/EpXGSIkq1/hRpyE0qhJSnPN9/iE74PoU
1OgjGBv6uSUsNhNZJeMe2W23s8EAyStB5+u83IBgUctrGwXzNdoC9LY1p+kNFSAZXIggNB3alVzoS+D9rcCY
TUAafpkdwLaYq5/w0wRchljkG61rl+gZCiwtqZv3SHVxO7kRTAzfHsGDB1yc/9Sz++IMGyFHYvuqtclhpHPP
ToFByaVl687b1P4t2i/U4fWPZ4BBhN5Q7HGTxubspw1GY2MjBYU5OXvEJu9aWeibkM/fg6QrxPRYNsJBNJQR
ywMjYHj6AefrZeGXGxSNgS50kCNBvV7XTli/17y3MFgR4WfNmBK3BqKb87v3DBMVnLHcqvw1ZVjFPv91q0XY
aDdVFHqOnS4Fh5nfwh1qfuvKrUZlwFPcwW+pG4YDyjx90MTFugpQ6KfEusmUhB5Dqr79nYWbOhW3e0PCEZtx
mVrH9EtCHEgO6wnkWjPke6XULARu0ECF1gZvQczEjKfzxCt6Rknz+27lXyzgzRyHWxr0kB/pFty+8IebrDfI
W9757d+1QLonDTmkLQiirF0ygsgQALmk1KljcHD/qiAZPHh5YX+Q2VdDfIfGeMXmCg3nX5r5DINcx47fNHtg
WeGn8MjF8Hnff6x+ZU/7YqcBrDOvGqn46FBvuRY0+mWkRo576207vQR/023owl7pXZ5p/75V5yDkTZWDtXsf
KjpypcxrWIBsg5GC25nZdjQQGBtFUF1pfn+xvunq9AEIFidYY2Vyc3mYw8TW7PkVKis5PENhdbfJHDtIdIiQ
sLe+1Nr+/wAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA4eKDU=
""".replace("\n", "")

# NIST ACVP-Server v1.1.0.35, ML-DSA-keyGen-FIPS204, group 1, cases 1 to 5: seed, and
# SHA-256 of the public key that stands there.
KEY_GENERATION = [
    (
        "93EF2E6EF1FB08999D142ABE0295482370D3F43BDB254A78E2B0D5168ECA065F",
        "6995b20ecd5cde41719035028a712ccf35b1adf53b913030423d9d6fa188d673",
    ),
    (
        "D6A5D2325B94CA1B993A0151E24AB95B396F415831DC14A08404820AE58A2AD1",
        "51bced8954e17da402e93fc5275f723aed1b9101bdf4fac5afc2b5c227d9e674",
    ),
    (
        "8A5E79B82DC81553BBE821EE367F0ADFA54F59A3E8A71CA626F873F638636DD7",
        "190ba0b968c4fc62435a5269c72a81bfdcfa1531f95abed1c03be42733c9620d",
    ),
    (
        "6137CAB1DBF57A5CFCD0079BA87FAF2C7141EBB92DABBD45FD8B478D24AB8946",
        "820f4546691b68c62f09f496d1613dd37dce3348bda09a36add4865c6da9e683",
    ),
    (
        "B9E2F48349350D30A5342783C915A608C905E0DA4BEBE2067FB62C714207C62B",
        "5eaaffe6bc10962b450f6ac45fc40febf263d43c2d7dc8c49f4ee6489d088ef0",
    ),
]
# C2SP/wycheproof testvectors_v1/mldsa_44_sign_seed_test.json, tcId 1 "baseline": the
# published signature is deterministic. Its first 32 bytes are the hash over message
# and commitment (FIPS 204 algorithm 7, c~), its last 20 the hint.
WYCHEPROOF_SEED = "2a" * 32
WYCHEPROOF_MESSAGE = b"Hello world"
WYCHEPROOF_BEGINS = "1aa69cb5ed35204534f25f40a17eb0d767f8981f5e7cec46d3bf3252bfc78e09"
WYCHEPROOF_ENDS = "00000000000000000000000000000000121f323e"

NAME = "garage.example/log"
AT = 1_700_000_000
KEY = mldsa.PrivateKey.from_seed(bytes(range(32)))
SIGNER = mldsa.make_cosigner(NAME, KEY.public)
ROOT = hashlib.sha256(b"root").digest()
TEXT = note.format_checkpoint(note.Checkpoint(NAME, 8, ROOT))
LINE = mldsa.sign_line(TEXT, NAME, KEY, AT)
LOG_KEY = Ed25519Key.from_seed(bytes(range(32, 64)))
SIGNED = note.sign_note(TEXT, NAME, LOG_KEY)
BOTH = cosign.add_line(SIGNED, LINE)


def blob_of(line):
    return base64.b64decode(line.split(" ")[2])


def with_blob(blob, name=NAME):
    return f"\u2014 {name} {base64.b64encode(blob).decode()}\n"


def verify_line(text, line, signer):
    """Return the time of a line that is this signer's; raise where it is not."""
    dash, name, blob64 = line.removesuffix("\n").split(" ")
    blob = note.from_base64(blob64)
    if (dash, name, blob[:4]) != ("\u2014", signer.name, signer.key_id):
        text = "not signed by this key"
        raise VerificationError(text)
    return signer.verified(blob, text)


def test_published_checkpoint_signature_fits():
    key = mldsa.PrivateKey.from_seed(bytes.fromhex(PUBLISHED_SEED))
    signer = mldsa.make_cosigner(PUBLISHED_NAME, key.public)
    assert signer.key_id.hex() == PUBLISHED_ID
    encoded = signer.vkey.removeprefix(f"{PUBLISHED_NAME}+{PUBLISHED_ID}+")
    assert encoded.startswith(PUBLISHED_KEY_BEGINS)
    assert encoded.endswith(PUBLISHED_KEY_ENDS)
    line = f"\u2014 {PUBLISHED_NAME} {PUBLISHED_BLOB}\n"
    assert verify_line(PUBLISHED_TEXT, line, signer) == 0
    for changed in (
        PUBLISHED_TEXT.replace("\n1\n", "\n2\n"),
        PUBLISHED_TEXT.replace("mldsa-log", "mldsa-lag"),
        PUBLISHED_TEXT.replace("+zoE", "+zoF"),
    ):
        with pytest.raises(VerificationError, match="does not fit"):
            verify_line(changed, line, signer)


@pytest.mark.parametrize(("seed", "digest"), KEY_GENERATION)
def test_published_key_generation(seed, digest):
    key = mldsa.PrivateKey.from_seed(bytes.fromhex(seed))
    assert hashlib.sha256(key.public.raw).hexdigest() == digest
    assert ORACLE.key_derive(bytes.fromhex(seed))[0] == key.public.raw


def test_published_deterministic_signature():
    """The oracle makes the published signature, and ours accepts it."""
    seed = bytes.fromhex(WYCHEPROOF_SEED)
    _, secret = ORACLE.key_derive(seed)
    signature = ORACLE.sign(secret, WYCHEPROOF_MESSAGE, deterministic=True)
    assert signature.hex().startswith(WYCHEPROOF_BEGINS)
    assert signature.hex().endswith(WYCHEPROOF_ENDS)
    public = mldsa.PrivateKey.from_seed(seed).public
    public.verify(signature, WYCHEPROOF_MESSAGE)
    with pytest.raises(VerificationError):
        public.verify(signature, WYCHEPROOF_MESSAGE + b"!")
    in_context = ORACLE.sign(secret, WYCHEPROOF_MESSAGE, ctx=b"Context")
    with pytest.raises(VerificationError):
        public.verify(in_context, WYCHEPROOF_MESSAGE)


def test_oracle_and_library_accept_each_other():
    message = mldsa.signed_message(TEXT, NAME, AT)
    public, secret = ORACLE.key_derive(bytes(range(32)))
    assert public == KEY.public.raw
    assert ORACLE.verify(public, message, blob_of(LINE)[12:])
    signature = ORACLE.sign(secret, message)
    theirs = with_blob(SIGNER.key_id + struct.pack(">Q", AT) + signature)
    assert verify_line(TEXT, theirs, SIGNER) == AT


def test_sizes_are_those_of_fips_204():
    """FIPS 204, table 2: ML-DSA-44."""
    assert len(KEY.public.raw) == 1312
    assert len(KEY.sign(b"")) == 2420
    assert len(blob_of(LINE)) == 4 + 8 + 2420
    assert len(base64.b64decode(SIGNER.vkey.split("+", 2)[2])) == 1 + 1312
    assert KEY.sign(b"x") != KEY.sign(b"x"), "hedged: fresh randomness each time"


def test_specified_message():
    """The layout of cosigned_message, written out by hand."""
    name = NAME.encode()
    assert mldsa.signed_message(TEXT, NAME, AT) == (
        b"subtree/v1\n\x00"
        + bytes([18])
        + name
        + bytes.fromhex("000000006553f100")
        + bytes([18])
        + name
        + bytes(8)
        + bytes.fromhex("0000000000000008")
        + ROOT
    )


def test_key_id_and_verifier_key():
    expected = hashlib.sha256(NAME.encode() + b"\n\x06" + KEY.public.raw).digest()[:4]
    assert SIGNER.key_id == blob_of(LINE)[:4] == expected
    assert mldsa.parse_vkey(SIGNER.vkey) == SIGNER
    for unfit in (
        SIGNER.vkey[:-4],
        SIGNER.vkey.replace(expected.hex(), "00000000"),
        SIGNER.vkey.replace("garage", "garbge"),
        SIGNER.vkey + "\n",
        "garage.example/log",
        note.vkey(NAME, LOG_KEY.public),
        cosign.make_cosigner(NAME, LOG_KEY.public).vkey,
    ):
        with pytest.raises((InputError, KeyProblem)):
            mldsa.parse_vkey(unfit)


def test_ed25519_and_ml_dsa_in_one_note():
    assert note.open_note(BOTH, NAME, LOG_KEY.public) == TEXT
    assert note.open_checkpoint(BOTH, LOG_KEY.public).size == 8
    assert cosign.cosignatures(BOTH, [SIGNER]) == (cosign.Cosignature(SIGNER, AT),)
    witness = cosign.make_cosigner(
        "w.example/1", Ed25519Key.from_seed(bytes(32)).public
    )
    line = cosign.cosign(TEXT, "w.example/1", Ed25519Key.from_seed(bytes(32)), AT + 1)
    three = cosign.add_line(BOTH, line)
    assert [c.at for c in cosign.cosignatures(three, [witness])] == [AT + 1]
    assert [s.at for s in cosign.cosignatures(three, [SIGNER])] == [AT]
    assert cosign.cosignatures(SIGNED, [SIGNER]) == ()


def test_newest_of_two_and_none_of_a_stranger():
    twice = BOTH
    for at in (AT + 9, AT + 1):
        twice = cosign.add_line(twice, mldsa.sign_line(TEXT, NAME, KEY, at))
    assert [s.at for s in cosign.cosignatures(twice, [SIGNER])] == [AT + 9]
    assert cosign.cosignatures(twice, []) == ()
    other = mldsa.make_cosigner("garage.example/other", KEY.public)
    assert cosign.cosignatures(twice, [other]) == (), "another name is another key"


def test_every_byte_of_the_line():
    """One changed bit in each byte of the text: refused, or of no known key."""
    line = LINE.encode()
    silent = []
    for place in range(len(line)):
        changed = bytearray(line)
        changed[place] ^= 1 << place % 8
        text = changed.decode(errors="replace")
        try:
            found = cosign.cosignatures(SIGNED + text, [SIGNER])
        except AuditkitError:
            found = ()
        if found:
            silent.append(place)
    assert not silent
    assert len(line) > 3000


def test_every_byte_of_time_and_signature():
    """One changed bit in each byte below the base64: always refused."""
    blob = blob_of(LINE)
    for place in range(4, len(blob)):
        changed = bytearray(blob)
        changed[place] ^= 1 << place % 8
        with pytest.raises(VerificationError):
            cosign.cosignatures(SIGNED + with_blob(bytes(changed)), [SIGNER])


@pytest.mark.parametrize(
    "length", [4, 11, 12, 13, 4 + 8 + 64, 4 + 2420, 4 + 8 + 2419, 4 + 8 + 2421]
)
def test_truncated_and_lengthened(length):
    blob = (blob_of(LINE) + b"\x00")[:length]
    with pytest.raises(VerificationError, match="malformed"):
        cosign.cosignatures(SIGNED + with_blob(blob), [SIGNER])


@pytest.mark.parametrize(
    "changed",
    [
        note.Checkpoint("garage.example/other", 8, ROOT),
        note.Checkpoint(NAME, 9, ROOT),
        note.Checkpoint(NAME, 8, bytes(32)),
    ],
    ids=["origin", "size", "root"],
)
def test_other_checkpoint_is_refused(changed):
    with pytest.raises(VerificationError, match="does not fit"):
        verify_line(note.format_checkpoint(changed), LINE, SIGNER)


def test_other_name_key_and_time_are_refused():
    """The message commits to name and time, not the line alone."""
    renamed = mldsa.make_cosigner("garage.example/lag", KEY.public)
    blob = blob_of(LINE)
    line = with_blob(renamed.key_id + blob[4:], renamed.name)
    with pytest.raises(VerificationError, match="does not fit"):
        verify_line(TEXT, line, renamed)
    later = with_blob(blob[:4] + struct.pack(">Q", AT + 1) + blob[12:])
    with pytest.raises(VerificationError, match="does not fit"):
        verify_line(TEXT, later, SIGNER)
    other = mldsa.PrivateKey.generate()
    stranger = mldsa.make_cosigner(NAME, other.public)
    with pytest.raises(VerificationError, match="not signed by"):
        verify_line(TEXT, LINE, stranger)
    forged = with_blob(stranger.key_id + blob[4:])
    with pytest.raises(VerificationError, match="does not fit"):
        verify_line(TEXT, forged, stranger)


def test_times_at_the_limits():
    for at in (0, 2**63 - 1):
        assert verify_line(TEXT, mldsa.sign_line(TEXT, NAME, KEY, at), SIGNER) == at
    for at in (-1, 2**63):
        with pytest.raises(InputError, match="no time"):
            mldsa.sign_line(TEXT, NAME, KEY, at)
    blob = blob_of(LINE)
    with pytest.raises(VerificationError, match="malformed"):
        verify_line(TEXT, with_blob(blob[:4] + b"\x80" + blob[5:]), SIGNER)


def test_names_at_the_limits():
    """The counts in the message are one byte: 1 to 255."""
    longest = "g" * 255
    line = mldsa.sign_line(TEXT, longest, KEY, AT)
    assert verify_line(TEXT, line, mldsa.make_cosigner(longest, KEY.public)) == AT
    for unfit in ("g" * 256, "\u00e9" * 128, "", "a b", "a+b"):
        with pytest.raises(InputError):
            mldsa.sign_line(TEXT, unfit, KEY, AT)
    origin = note.format_checkpoint(note.Checkpoint("g" * 256, 8, ROOT))
    with pytest.raises(InputError, match="origin is 256 bytes"):
        mldsa.sign_line(origin, NAME, KEY, AT)
    with pytest.raises(VerificationError, match="origin is 256 bytes"):
        verify_line(origin, LINE, SIGNER)


@pytest.mark.parametrize("line", ["\n", LINE[:-1], LINE[1:], LINE[:40] + "\n"])
def test_no_line_at_all(line):
    with pytest.raises(VerificationError):
        cosign.cosignatures(SIGNED + line, [SIGNER])


def test_extension_lines_are_not_signed_over():
    with pytest.raises(VerificationError, match="three lines"):
        mldsa.sign_line(TEXT + "extension\n", NAME, KEY, AT)


def test_sixteen_signatures_fit_a_note():
    """signed-note asks verifiers to take at least 16 signatures."""
    full, known = SIGNED, []
    for number in range(15):
        name = f"w.example/{number}"
        full = cosign.add_line(full, mldsa.sign_line(TEXT, name, KEY, AT))
        known.append(mldsa.make_cosigner(name, KEY.public))
    assert len(cosign.cosignatures(full, known)) == 15
    assert len(full.encode()) < note.MAX_NOTE


def test_key_file_opens_and_stays_shut():
    data = KEY.to_pkcs8(b"a passphrase")
    assert mldsa.PrivateKey.from_pkcs8(data, b"a passphrase").public == KEY.public
    assert KEY.to_pkcs8(b"a passphrase") != data, "salt and start are fresh"
    for unfit in (b"a passphrasf", b""):
        with pytest.raises(KeyProblem, match="does not open"):
            mldsa.PrivateKey.from_pkcs8(data, unfit)
    for damaged in (data[:-60], data[200:], b"", b"\x00\xff", data.replace(b"M", b"N")):
        with pytest.raises(KeyProblem):
            mldsa.PrivateKey.from_pkcs8(damaged, b"a passphrase")
    with pytest.raises(KeyProblem, match="passphrase is empty"):
        KEY.to_pkcs8(b"")


def test_key_file_states_its_cost():
    """RFC 8018 as OpenSSL reads it: PBES2, PBKDF2, HMAC-SHA-256, rounds, AES-256."""
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("the openssl program is not installed")
    found = subprocess.run(
        [openssl, "asn1parse"],
        input=KEY.to_pkcs8(b"a passphrase"),
        capture_output=True,
        check=True,
    ).stdout.decode()
    fields = [line.rsplit(":", 1)[-1] for line in found.splitlines()]
    for wanted in ("PBES2", "PBKDF2", "hmacWithSHA256", "aes-256-cbc"):
        assert wanted in fields
    assert f"{KDF_ROUNDS:06X}" in fields
    assert KDF_ROUNDS >= 600_000


def test_key_file_of_another_kind_is_refused():
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import (
        BestAvailableEncryption,
        Encoding,
        NoEncryption,
        PrivateFormat,
    )

    other = Ed25519PrivateKey.generate()
    pem = other.private_bytes(
        Encoding.PEM, PrivateFormat.PKCS8, BestAvailableEncryption(b"x")
    )
    with pytest.raises(KeyProblem, match="no ML-DSA-44 key"):
        mldsa.PrivateKey.from_pkcs8(pem, b"x")
    plain = other.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    with pytest.raises(KeyProblem, match="not encrypted"):
        mldsa.PrivateKey.from_pkcs8(plain, b"x")


def test_seed_and_key_of_other_lengths():
    for length in (0, 31, 33):
        with pytest.raises(KeyProblem, match="32 bytes"):
            mldsa.PrivateKey.from_seed(bytes(length))
    for length in (32, 1311, 1313, 1952):
        with pytest.raises(KeyProblem, match="1312 bytes"):
            mldsa.PublicKey.from_raw(bytes(length))


def test_library_without_ml_dsa_is_said_so(monkeypatch):
    """None in sys.modules makes the import fail, as where the module is absent."""
    where = "cryptography.hazmat.primitives.asymmetric.mldsa"
    monkeypatch.setitem(sys.modules, where, None)
    data = KEY.to_pkcs8(b"x", kdf_rounds=1000)
    unseen = mldsa.PublicKey.from_raw(bytes(1311) + b"\x07")
    for attempt in (
        mldsa.PrivateKey.generate,
        lambda: mldsa.PrivateKey.from_pkcs8(data, b"x"),
        lambda: unseen.verify(bytes(2420), b""),
    ):
        with pytest.raises(InputError, match="no ML-DSA") as caught:
            attempt()
        assert "pip install" in caught.value.mend
