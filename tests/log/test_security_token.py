"""Keys in a security token, against SoftHSM2: a PKCS#11 token in software.

RFC 7512 (the URI), PKCS#11 v3.1, RFC 8032 section 7.1 (a published signature).
"""

import os
import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from types import SimpleNamespace

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import (
    Ed25519PrivateKey,
    Ed25519PublicKey,
)
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
)

from auditkit.errors import InputError, KeyProblem
from auditkit.log import security_token as token
from auditkit.log.security_token import NoKey, TokenKey, make_key
from auditkit.log.token_uri import parse_uri
from auditkit.proof import note
from auditkit.proof.keys import PrivateKey

MODULES = (
    os.environ.get("SOFTHSM2_MODULE", ""),
    "/usr/lib/softhsm/libsofthsm2.so",
    "/usr/lib64/softhsm/libsofthsm2.so",
    "/usr/lib64/pkcs11/libsofthsm2.so",
    "/usr/local/lib/softhsm/libsofthsm2.so",
    "/opt/homebrew/lib/softhsm/libsofthsm2.so",
)
MODULE = next((path for path in MODULES if path and Path(path).is_file()), "")
UTIL = shutil.which("softhsm2-util")
PIN = b"314159"
# RFC 8032 section 7.1, TEST 3.
RFC_SEED = "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7"
RFC_PUBLIC = "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025"
RFC_SIGNATURE = (
    "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac"
    "18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a"
)


@pytest.fixture(scope="module")
def hsm(tmp_path_factory):
    """Return the folder of a software token's files; tokens shop and two twins."""
    pkcs11 = pytest.importorskip("pkcs11", reason="python-pkcs11 is not installed")
    if UTIL is None or not MODULE:
        pytest.skip("SoftHSM2 (Debian package softhsm2) is not installed")
    folder = tmp_path_factory.mktemp("softhsm")
    (folder / "tokens").mkdir()
    settings = folder / "softhsm2.conf"
    settings.write_text(
        f"directories.tokendir = {folder / 'tokens'}\n"
        "objectstore.backend = file\nlog.level = ERROR\n"
    )
    before = os.environ.get("SOFTHSM2_CONF")
    os.environ["SOFTHSM2_CONF"] = str(settings)
    for label in ("shop", "twin", "twin"):
        util("--init-token", "--free", "--label", label, "--so-pin", "27182818")
    seed = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(RFC_SEED))
    pem = folder / "rfc.pem"
    pem.write_bytes(
        seed.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    )
    util("--import", str(pem), "--token", "shop", "--label", "rfc 8032", "--id", "0103")
    pkcs11.unload(MODULE)
    yield folder
    token.close_all()
    pkcs11.unload(MODULE)
    if before is None:
        del os.environ["SOFTHSM2_CONF"]
    else:
        os.environ["SOFTHSM2_CONF"] = before


def util(*words, env=None):
    words = [UTIL, *words, "--pin", PIN.decode()]
    subprocess.run(words, check=True, capture_output=True, env=env)


def uri(name, label="shop", *, more=""):
    return f"pkcs11:token={label};object={name}{more}?module-path={MODULE}"


def raw_session(label="shop"):
    """Return a session of the token itself; the login of the module serves it."""
    import pkcs11

    found = pkcs11.lib(MODULE).get_token(token_label=label)
    return found.open(rw=True)


def raw_key(session, label, ident, curve="1.3.101.112"):
    from pkcs11 import Attribute, KeyType, Mechanism
    from pkcs11.util.ec import encode_named_curve_parameters

    return session.create_domain_parameters(
        KeyType.EC_EDWARDS,
        {Attribute.EC_PARAMS: encode_named_curve_parameters(curve)},
        local=True,
    ).generate_keypair(
        mechanism=Mechanism.EC_EDWARDS_KEY_PAIR_GEN, store=True, label=label, id=ident
    )


def test_published_signature(hsm):
    """The key of RFC 8032's TEST 3, put into the token, signs as published."""
    key = TokenKey.open(uri("rfc%208032"), PIN)
    assert key.public.raw.hex() == RFC_PUBLIC
    assert key.sign(bytes.fromhex("af82")).hex() == RFC_SIGNATURE


def test_made_key_signs_as_a_key_file_does(hsm):
    made = make_key(uri("log"), PIN)
    again = TokenKey.open(uri("log"), PIN)
    assert (again.public, again.uri) == (made.public, uri("log"))
    for message in (b"", b"x", b"y" * 100_000):
        signature = again.sign(message)
        assert len(signature) == 64
        Ed25519PublicKey.from_public_bytes(made.public.raw).verify(signature, message)
    checkpoint = note.Checkpoint("garage.example/log", 8, bytes(32))
    signed = note.sign_checkpoint(checkpoint, again)
    assert note.open_checkpoint(signed, made.public) == checkpoint


def test_made_key_does_not_leave_the_token(hsm):
    from pkcs11 import Attribute, AttributeSensitive, ObjectClass

    make_key(uri("kept"), PIN)
    with raw_session() as session:
        (private,) = session.get_objects(
            {Attribute.LABEL: "kept", Attribute.CLASS: ObjectClass.PRIVATE_KEY}
        )
        assert private[Attribute.SENSITIVE]
        assert private[Attribute.ALWAYS_SENSITIVE]
        assert not private[Attribute.EXTRACTABLE]
        assert private[Attribute.NEVER_EXTRACTABLE]
        assert private[Attribute.LOCAL]
        with pytest.raises(AttributeSensitive):
            private[Attribute.VALUE]


def test_name_is_not_taken_twice(hsm):
    make_key(uri("once", more=";id=%AA"), PIN)
    for again in (uri("once"), uri("once", more=";id=%BB"), uri("new", more=";id=%AA")):
        with pytest.raises(KeyProblem, match="already"):
            make_key(again, PIN)
    TokenKey.open(uri("once"), PIN).sign(b"still one")


def test_unfit_key_is_taken_back(hsm, monkeypatch):
    def refuse(private):
        message = "readable"
        raise KeyProblem(message)

    with monkeypatch.context() as patch:
        patch.setattr(token, "_refuse_readable", refuse)
        with pytest.raises(KeyProblem, match="readable"):
            make_key(uri("back"), PIN)
    with pytest.raises(KeyProblem, match="no such key"):
        TokenKey.open(uri("back"), PIN)


@pytest.mark.parametrize(("sensitive", "extractable"), [(False, False), (True, True)])
def test_readable_key_is_refused(sensitive, extractable):
    pkcs11 = pytest.importorskip("pkcs11", reason="python-pkcs11 is not installed")
    given = {
        pkcs11.Attribute.SENSITIVE: sensitive,
        pkcs11.Attribute.EXTRACTABLE: extractable,
    }
    with pytest.raises(KeyProblem, match="programs can read"):
        token._refuse_readable(given)


def test_wrong_pin_before_and_after_the_right_one(hsm):
    token.close_all()
    for _ in range(2):
        for wrong in (b"314158", b"777", b"9" * 300):
            with pytest.raises(KeyProblem, match="PIN is wrong") as caught:
                TokenKey.open(uri("rfc%208032"), wrong)
            assert wrong.decode() not in str(caught.value)
        TokenKey.open(uri("rfc%208032"), PIN)
    for unfit in (b"", b"\xff\xfe"):
        with pytest.raises(KeyProblem, match="PIN is empty, or"):
            TokenKey.open(uri("rfc%208032"), unfit)


def test_missing_object_and_token(hsm):
    with pytest.raises(NoKey, match="no such key") as caught:
        TokenKey.open(uri("nothing"), PIN)
    assert caught.value.where == uri("nothing")
    assert caught.value.what_to_do
    with pytest.raises(KeyProblem, match="no such key"):
        TokenKey.open(uri("rfc%208032", more=";id=%09"), PIN)
    with pytest.raises(KeyProblem, match="not present"):
        TokenKey.open(uri("log", "nowhere"), PIN)
    for name in ("model", "manufacturer", "serial"):
        with pytest.raises(KeyProblem, match="not present"):
            TokenKey.open(uri("rfc%208032", more=f";{name}=Other"), PIN)
    whole = ";model=SoftHSM%20v2;manufacturer=SoftHSM%20project"
    TokenKey.open(uri("rfc%208032", more=whole), PIN).sign(b"x")


def test_two_keys_of_one_name(hsm):
    TokenKey.open(uri("rfc%208032"), PIN)
    with raw_session() as session:
        raw_key(session, "double", b"\x01")
        raw_key(session, "double", b"\x02")
    with pytest.raises(KeyProblem, match="2 keys") as caught:
        TokenKey.open(uri("double"), PIN)
    assert "%01" in caught.value.message
    assert "%02" in caught.value.message
    one = TokenKey.open(uri("double", more=";id=%01"), PIN)
    two = TokenKey.open(uri("double", more=";id=%02"), PIN)
    assert one.public != two.public
    one.public.verify(one.sign(b"x"), b"x")


def test_two_tokens_of_one_name(hsm):
    import pkcs11

    with pytest.raises(KeyProblem, match="2 tokens"):
        make_key(uri("log", "twin"), PIN)
    serials = [
        found.serial.decode()
        for found in pkcs11.lib(MODULE).get_tokens()
        if found.label == "twin"
    ]
    made = [make_key(uri("log", f"twin;serial={s}"), PIN) for s in serials]
    assert made[0].public != made[1].public
    for key in made:
        key.public.verify(key.sign(b"x"), b"x")


def test_key_of_another_kind(hsm):
    from pkcs11 import Attribute, KeyType
    from pkcs11.util.ec import encode_named_curve_parameters

    TokenKey.open(uri("rfc%208032"), PIN)
    with raw_session() as session:
        session.create_domain_parameters(
            KeyType.EC,
            {Attribute.EC_PARAMS: encode_named_curve_parameters("secp256r1")},
            local=True,
        ).generate_keypair(store=True, label="p256", id=b"\x10")
        session.generate_keypair(KeyType.RSA, 2048, store=True, label="rsa", id=b"\x11")
        raw_key(session, "ed448", b"\x12", curve="1.3.101.113")
    for name, kind in (("p256", "another kind, EC"), ("rsa", "another kind, RSA")):
        with pytest.raises(KeyProblem, match=kind):
            TokenKey.open(uri(name), PIN)
    with pytest.raises(KeyProblem, match="0 Ed25519 public keys"):
        TokenKey.open(uri("ed448"), PIN)


def test_key_without_its_public_half(hsm):
    TokenKey.open(uri("rfc%208032"), PIN)
    with raw_session() as session:
        public, _ = raw_key(session, "half", b"\x20")
        public.destroy()
    with pytest.raises(KeyProblem, match="0 Ed25519 public keys"):
        TokenKey.open(uri("half"), PIN)


def test_public_half_of_another_key(hsm):
    """A public key put beside a private key that it does not belong to."""
    from pkcs11 import Attribute, KeyType, ObjectClass

    TokenKey.open(uri("rfc%208032"), PIN)
    other = PrivateKey.from_seed(bytes(32)).public.raw
    with raw_session() as session:
        public, _ = raw_key(session, "swapped", b"\x21")
        session.create_object(
            {
                Attribute.CLASS: ObjectClass.PUBLIC_KEY,
                Attribute.KEY_TYPE: KeyType.EC_EDWARDS,
                Attribute.TOKEN: True,
                Attribute.LABEL: "swapped",
                Attribute.ID: b"\x21",
                Attribute.EC_PARAMS: bytes(public[Attribute.EC_PARAMS]),
                Attribute.EC_POINT: b"\x04\x20" + other,
            }
        )
        with pytest.raises(KeyProblem, match="2 Ed25519 public keys"):
            TokenKey.open(uri("swapped"), PIN)
        public.destroy()
    with pytest.raises(KeyProblem, match="does not fit its public key"):
        TokenKey.open(uri("swapped"), PIN).sign(b"x")


def test_threads_sign_one_after_the_other(hsm):
    key = TokenKey.open(uri("rfc%208032"), PIN)
    messages = [b"%d" % number for number in range(100)]
    with ThreadPoolExecutor(4) as pool:
        signatures = list(pool.map(key.sign, messages))
    for message, signature in zip(messages, signatures, strict=True):
        key.public.verify(signature, message)


USE = """
import sys
from pathlib import Path
from auditkit.errors import AuditkitError
from auditkit.log.security_token import NoKey, TokenKey, make_key
uri, task, tokens = sys.argv[1:]
if task in ("make", "pull"):
    key = make_key(uri, b"314159")
    print(key.public.x)
if task == "pull":
    for path in Path(tokens).glob("*/*.object"):
        path.unlink()
if task != "make":
    attempts = [lambda: TokenKey.open(uri, b"314159")]
    if task == "pull":
        attempts.append(lambda: key.sign(b"after"))
    for attempt in attempts:
        try:
            attempt()
        except AuditkitError as error:
            print(type(error).__name__, error.exit_code, bool(error.what_to_do))
        else:
            print("went well")
"""


@pytest.fixture
def use(hsm, tmp_path):
    """Return what uses a token of its own in a process of its own."""
    tokens = tmp_path / "tokens"
    tokens.mkdir()
    settings = tmp_path / "softhsm2.conf"
    settings.write_text(f"directories.tokendir = {tokens}\n")
    environment = {**os.environ, "SOFTHSM2_CONF": str(settings)}
    words = ["--init-token", "--free", "--label", "own", "--so-pin", "27182818"]
    util(*words, env=environment)

    def run(task):
        done = subprocess.run(
            [sys.executable, "-c", USE, uri("key", "own"), task, str(tokens)],
            capture_output=True,
            text=True,
            env=environment,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout.splitlines()

    return run, tokens


def test_token_pulled_while_in_use(use):
    run, _ = use
    assert run("pull")[1:] == ["KeyProblem 2 True"] * 2


@pytest.mark.parametrize("length", [0, 100, 250])
def test_cut_token(use, length):
    """The files of a software token cut short: no traceback, and no signature."""
    run, tokens = use
    run("make")
    assert run("open") == ["went well"]
    cut = [path for path in tokens.glob("*/*.object") if path.name != "token.object"]
    assert len(cut) == 2, "a private and a public key"
    for path in cut:
        path.write_bytes(path.read_bytes()[:length])
    assert run("open") == ["NoKey 2 True"]


def test_token_whose_own_file_is_cut(use):
    run, tokens = use
    run("make")
    (own,) = tokens.glob("*/token.object")
    own.write_bytes(own.read_bytes()[:100])
    assert run("open") == ["KeyProblem 2 True"]


def test_lying_token_is_refused():
    real = PrivateKey.from_seed(bytes(32))
    honest = TokenKey(real.public, real.sign, "pkcs11:invented")
    assert honest.sign(b"x") == real.sign(b"x")
    for lie in (
        lambda message: bytes(64),
        lambda message: b"",
        lambda message: real.sign(message)[:63],
        lambda message: real.sign(message) + b"\x00",
        lambda message: real.sign(message + b"!"),
        PrivateKey.generate().sign,
    ):
        pytest.importorskip("pkcs11", reason="python-pkcs11 is not installed")
        with pytest.raises(KeyProblem, match="does not fit its public key") as caught:
            TokenKey(real.public, lie, "pkcs11:invented").sign(b"x")
        assert caught.value.where == "pkcs11:invented"


def fake_token(*mechanisms):
    return SimpleNamespace(
        label="shop",
        serial=b"1",
        slot=SimpleNamespace(get_mechanisms=lambda: set(mechanisms)),
    )


def test_token_without_eddsa(monkeypatch):
    pkcs11 = pytest.importorskip("pkcs11", reason="python-pkcs11 is not installed")
    plain = SimpleNamespace(get_tokens=lambda: [fake_token(pkcs11.Mechanism.ECDSA)])
    monkeypatch.setattr(token, "_library", lambda named: plain)
    with pytest.raises(KeyProblem, match="cannot sign with Ed25519"):
        TokenKey.open("pkcs11:token=shop;object=x?module-path=/m.so", PIN)
    signs = SimpleNamespace(get_tokens=lambda: [fake_token(pkcs11.Mechanism.EDDSA)])
    monkeypatch.setattr(token, "_library", lambda named: signs)
    with pytest.raises(KeyProblem, match="cannot make Ed25519 keys"):
        make_key("pkcs11:token=shop;object=x?module-path=/m.so", PIN)


def test_library_that_is_missing(monkeypatch):
    monkeypatch.setitem(sys.modules, "pkcs11", None)
    for attempt in (TokenKey.open, make_key):
        with pytest.raises(InputError, match="not installed") as caught:
            attempt("pkcs11:token=shop;object=x?module-path=/m.so", PIN)
        assert (
            caught.value.what_to_do == "in the project's folder: pip install '.[token]'"
        )


def test_module_that_is_missing_or_none(tmp_path):
    pytest.importorskip("pkcs11", reason="python-pkcs11 is not installed")
    text = "pkcs11:token=shop;object=x?module-path="
    with pytest.raises(InputError, match="there is no PKCS#11 module"):
        TokenKey.open(text + str(tmp_path / "none.so"), PIN)
    (tmp_path / "text.so").write_text("no library")
    with pytest.raises(InputError, match="does not start"):
        TokenKey.open(text + str(tmp_path / "text.so"), PIN)


def test_uri_as_rfc_7512_writes_it():
    """The forms of RFC 7512 section 3, with our module and a private key."""
    found = parse_uri(
        "pkcs11:token=The%20Software%20PKCS%2311%20Softtoken;"
        "manufacturer=Snake%20Oil,%20Inc.;model=1.0;serial=4711;"
        "object=my-signing-key;type=private;"
        "id=%69%95%3E%5C%F4%BD%EC%91?module-path=/usr/lib/p11.so"
    )
    assert dict(found.token) == {
        "token": "The Software PKCS#11 Softtoken",
        "manufacturer": "Snake Oil, Inc.",
        "model": "1.0",
        "serial": "4711",
    }
    assert found.object == "my-signing-key"
    assert found.id == bytes.fromhex("69953e5cf4bdec91")
    assert found.module == "/usr/lib/p11.so"


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "no PKCS#11 URI"),
        ("file:///x", "no PKCS#11 URI"),
        ("pkcs11:", "malformed"),
        ("pkcs11:token=a;object=b", "full path of a module"),
        ("pkcs11:token=a;object=b?module-path=m.so", "full path of a module"),
        ("pkcs11:token=a;object=b?module-name=m", "'module-name'"),
        ("pkcs11:token=a?module-path=/m.so", "no token, or no key"),
        ("pkcs11:object=b?module-path=/m.so", "no token, or no key"),
        ("pkcs11:model=a;object=b?module-path=/m.so", "no token, or no key"),
        ("pkcs11:token=a;token=a;object=b?module-path=/m.so", "twice"),
        ("pkcs11:token=a;object=b;type=cert?module-path=/m.so", "another thing"),
        ("pkcs11:token=a b;object=b?module-path=/m.so", "malformed"),
        ("pkcs11:token=;object=b?module-path=/m.so", "malformed"),
        ("pkcs11:token=%zz;object=b?module-path=/m.so", "malformed"),
        ("pkcs11:token=%ff;object=b?module-path=/m.so", "not UTF-8"),
        ("pkcs11:token=a;slot-id=1;object=b?module-path=/m.so", "'slot-id'"),
        ("pkcs11:token=a;object=b?module-path=/m.so\n", "malformed"),
        ("pkcs11:token=a;object=b;?module-path=/m.so", "malformed"),
    ],
)
def test_unfit_uri(text, reason):
    with pytest.raises(InputError) as caught:
        parse_uri(text)
    assert reason in caught.value.message
    assert "module-path=" in caught.value.what_to_do


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("pkcs11:token=a;object=b?module-path=/m.so&pin-value=271828", "the PIN has"),
        ("pkcs11:token=a;object=b?pin-source=/e/271828&module-path=/m", "the PIN has"),
        ("pkcs11:token=a;pin-value=271828;object=b?module-path=/m.so", "the PIN has"),
        ("pkcs11:token=a;object=b?module-path=/m.so&pin-value=27 1828", "malformed"),
        ("pkcs11:token=a;object=b;271828?module-path=/m.so", "malformed"),
    ],
)
def test_pin_in_the_uri_is_refused_and_not_repeated(text, reason):
    with pytest.raises(InputError) as caught:
        TokenKey.open(text, PIN)
    assert reason in caught.value.message
    assert "1828" not in str(caught.value)


def test_a_shop_with_its_keys_in_a_token_records_and_proves(
    hsm, tmp_path, monkeypatch, capsys
):
    from auditkit.cli import main

    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", "of the key files")
    monkeypatch.setenv("AUDITKIT_PIN", PIN.decode())
    demo = Path(__file__).parents[2] / "demo"

    def call(*words):
        with pytest.raises(SystemExit) as end:
            main([*map(str, words)])
        return end.value.code, *capsys.readouterr()

    shop = ("--shop", "Example Yard Garage", "--person", "mechanic-1")
    status, out, _ = call("init", *shop, "--token", uri("log%20key"))
    assert (status, "a lost token ends this log" in out) == (0, True)
    assert call("key", "enrol", "tech-t", "--token", uri("tech%20t"))[0] == 0
    kept = sorted(path.name for path in Path("shop.auditlog.keys").iterdir())
    assert kept == [
        "log.pkcs11",
        "mechanic-1.p12",
        "newest.checkpoint",
        "tech-t.pkcs11",
    ]
    by = ("--by", "tech-t")
    assert call("record", demo / "RO-1001.json", *by)[0] == 0
    assert call("packet", "RO-1001", "--out", "p.json")[0] == 0
    status, out, _ = call("verify", "p.json")
    assert (status, "Signed by tech-t with key" in out) == (0, True)
    assert call("verify", "shop.auditlog")[0] == 0
    monkeypatch.setenv("AUDITKIT_PIN", "000000")
    token.close_all()
    status, _, err = call("key", "revoke", "tech-t", "--reason", "left")
    assert (status, "PIN" in err) == (2, True)
    monkeypatch.setenv("AUDITKIT_PIN", PIN.decode())
    assert call("key", "revoke", "tech-t", "--reason", "left")[0] == 0
