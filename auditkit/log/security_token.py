"""Ed25519 keys that live in a security token, reached through PKCS#11.

PKCS#11 v3.1 (OASIS): key type CKK_EC_EDWARDS, mechanism CKM_EDDSA. RFC 7512: the URI
that names a key, such as
``pkcs11:token=Shop;object=log?module-path=/usr/lib/softhsm/libsofthsm2.so``. The URI
says which library to run: keep it where only its owner writes. The PIN never stands
in it.

The key does not leave the token, so no copy of it can be made or stolen; a lost token
is a lost key. Each signature is verified before it is handed on.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from threading import RLock
from typing import TYPE_CHECKING, cast
from urllib.parse import quote_from_bytes

from auditkit.errors import AuditkitError, InputError, KeyProblem, VerificationError
from auditkit.log.token_uri import TokenUri, parse_uri
from auditkit.proof.keys import KEY_BYTES, PublicKey

if TYPE_CHECKING:
    import pkcs11
    from pkcs11._pkcs11 import lib as library
    from pkcs11.types import SignMixin

# The curve's names: RFC 8410's OID, PKCS#11 v3.0's word, an OID older than RFC 8410.
_ED25519 = bytes.fromhex("06032b6570")
_OLDER = bytes.fromhex("06092b06010401da470f01")
_CURVES = (_ED25519, b"\x13\x0cedwards25519", _OLDER)
_OCTETS = b"\x04\x20"  # DER: an OCTET STRING of 32 bytes


class NoKey(KeyProblem):
    """The token holds no key of the name that a URI gives."""


class TokenKey:
    """A private key in a token. It signs as ``auditkit.proof.keys.PrivateKey`` does."""

    __slots__ = ("_sign", "public", "uri")

    def __init__(
        self, public: PublicKey, sign: Callable[[bytes], bytes], uri: str
    ) -> None:
        self.public = public
        self.uri = uri
        self._sign = sign

    @classmethod
    def open(cls, uri: str, pin: bytes) -> TokenKey:
        """Return the key that a URI names; NoKey where the token holds none.

        KeyProblem where the token is missing or does not open; InputError for an unfit
        URI, or where the library for tokens is missing.
        """
        named = parse_uri(uri)
        with _told(uri):
            return _key(_entered(named, pin), named, uri)

    def sign(self, message: bytes) -> bytes:
        """Return the signature of 64 bytes, verified; KeyProblem if there is none."""
        with _told(self.uri):
            signature = self._sign(message)
            try:
                self.public.verify(signature, message)
            except VerificationError as error:
                raise KeyProblem(
                    "the token gave a signature that does not fit its public key",
                    what_to_do="do not use this token; enrol a new key",
                ) from error
        return signature


def make_key(uri: str, pin: bytes) -> TokenKey:
    """Make an Ed25519 key inside the token, under the name in the URI; return it.

    The key is sensitive and not extractable (PKCS#11 v3.1 section 4.9): no program
    reads it. KeyProblem where a key of this name is there already, or where the token
    cannot make one; then nothing is left in it.
    """
    named = parse_uri(uri)
    with _told(uri):
        from pkcs11 import Mechanism, ObjectClass

        token = _token(named)
        if Mechanism.EC_EDWARDS_KEY_PAIR_GEN not in token.slot.get_mechanisms():
            raise KeyProblem(
                "the token cannot make Ed25519 keys",
                what_to_do="use a token with "
                "CKM_EC_EDWARDS_KEY_PAIR_GEN, or a key file",
            )
        entered = _entered(named, pin)
        with entered.lock:
            for label, ident in ((named.object, b""), ("", named.id)):
                kind = ObjectClass.PRIVATE_KEY
                if (label or ident) and _objects(entered.session, kind, label, ident):
                    raise KeyProblem(
                        "the token holds a key of this name or id already",
                        what_to_do="choose another object name",
                    )
            return _made(entered, named, uri)


def _made(entered: _Entered, named: TokenUri, where: str) -> TokenKey:
    from pkcs11 import Attribute, KeyType, Mechanism

    with entered.token.open(rw=True) as session:
        curve = session.create_domain_parameters(
            KeyType.EC_EDWARDS, {Attribute.EC_PARAMS: _ED25519}, local=True
        )
        public, private = curve.generate_keypair(
            mechanism=Mechanism.EC_EDWARDS_KEY_PAIR_GEN,
            store=True,
            label=named.object or None,
            id=named.id or secrets.token_bytes(8),
            private_template={
                Attribute.SENSITIVE: True,
                Attribute.EXTRACTABLE: False,
                Attribute.PRIVATE: True,
                Attribute.SIGN: True,
            },
        )
        try:
            _refuse_readable(private)
            made = _key(entered, named, where)
            made.sign(b"a first signature")
        except BaseException:
            private.destroy()
            public.destroy()
            raise
    return made


def _refuse_readable(private: pkcs11.PrivateKey) -> None:
    from pkcs11 import Attribute

    if not private[Attribute.SENSITIVE] or private[Attribute.EXTRACTABLE]:
        raise KeyProblem(
            "the token made a key that programs can read",
            what_to_do="use another token",
        )


@dataclass(frozen=True, slots=True)
class _Entered:
    """A token that is open: one login serves all its keys, as PKCS#11 wants it."""

    token: pkcs11.Token
    session: pkcs11.Session
    pin: bytes = field(repr=False)
    lock: RLock = field(default_factory=RLock)


_OPEN: dict[tuple[str, str, bytes], _Entered] = {}
_OPENING = RLock()


def close_all() -> None:
    """Log out of every token that this program opened."""
    with _OPENING, _told(""):
        while _OPEN:
            _OPEN.popitem()[1].session.close()


def _entered(named: TokenUri, pin: bytes) -> _Entered:
    """Return the token, logged in; a wrong PIN is refused every time."""
    try:
        word = pin.decode()
    except UnicodeDecodeError:
        word = ""
    if not word:
        raise KeyProblem(
            "the PIN is empty, or no UTF-8 text", what_to_do="give the token's PIN"
        )
    with _OPENING:
        token = _token(named)
        place = (named.module, token.label, token.serial)
        known = _OPEN.get(place)
        if known is None:
            _OPEN[place] = known = _Entered(token, token.open(user_pin=word), pin)
        elif not hmac.compare_digest(known.pin, pin):
            raise _wrong_pin()
        return known


def _token(named: TokenUri) -> pkcs11.Token:
    """Return the one token that is meant; it signs with CKM_EDDSA."""
    from pkcs11 import Mechanism

    found = [
        token
        for token in _library(named).get_tokens()
        if all(_stated(token, name) == value for name, value in named.token)
    ]
    if not found:
        raise KeyProblem(
            "the token is not present",
            what_to_do="plug it in, or correct 'token' and 'serial' in the URI",
        )
    if len(found) > 1:
        serials = ", ".join(_stated(token, "serial") for token in found)
        raise KeyProblem(
            f"{len(found)} tokens are called so, with serials {serials}",
            what_to_do="add ;serial=... to the URI",
        )
    if Mechanism.EDDSA not in found[0].slot.get_mechanisms():
        raise KeyProblem(
            "the token cannot sign with Ed25519 (CKM_EDDSA)",
            what_to_do="use a token that can, or a key file",
        )
    return found[0]


def _stated(token: pkcs11.Token, name: str) -> str:
    called = {"token": "label", "manufacturer": "manufacturer_id"}
    value = getattr(token, called.get(name, name))
    return value.decode(errors="replace") if isinstance(value, bytes) else str(value)


def _library(named: TokenUri) -> library:
    import pkcs11

    if not Path(named.module).is_file():
        raise InputError(
            f"there is no PKCS#11 module {named.module}",
            what_to_do="install the token's software, or correct "
            "'module-path' in the URI",
        )
    try:
        return pkcs11.lib(named.module)
    except pkcs11.PKCS11Error as error:
        raise InputError(
            f"{named.module} does not start as a PKCS#11 module",
            what_to_do="correct 'module-path' in the URI, or the token's own settings",
        ) from error


def _objects(
    session: pkcs11.Session, kind: pkcs11.ObjectClass, label: str, ident: bytes
) -> list[SignMixin]:
    """Return the objects of one class under a label and an id, where stated."""
    from pkcs11 import Attribute

    asked = {Attribute.CLASS: kind, Attribute.LABEL: label, Attribute.ID: ident}
    wanted = {name: value for name, value in asked.items() if value not in ("", b"")}
    return [cast("SignMixin", found) for found in session.get_objects(wanted)]


def _key(entered: _Entered, named: TokenUri, where: str) -> TokenKey:
    """Return the one key that is meant, after checking that it is an Ed25519 key."""
    from pkcs11 import Attribute, KeyType, Mechanism, ObjectClass

    with entered.lock:
        kind = ObjectClass.PRIVATE_KEY
        found = _objects(entered.session, kind, named.object, named.id)
        if not found:
            raise NoKey(
                "the token holds no such key",
                what_to_do="correct 'object' and 'id' in the URI, or make the key",
            )
        if len(found) > 1:
            ids = ", ".join(
                quote_from_bytes(bytes(key[Attribute.ID]), "") for key in found
            )
            raise KeyProblem(
                f"{len(found)} keys in the token are called so, with ids {ids}",
                what_to_do="add ;id=... to the URI",
            )
        private = found[0]
        algorithm = private[Attribute.KEY_TYPE]
        if algorithm != KeyType.EC_EDWARDS:
            shown = getattr(algorithm, "name", algorithm)
            raise KeyProblem(
                f"the key in the token is of another kind, {shown}",
                what_to_do="name an Ed25519 key",
            )
        ident = bytes(private[Attribute.ID])
        label = "" if ident else named.object
        halves = _objects(entered.session, ObjectClass.PUBLIC_KEY, label, ident)
        points = {
            bytes(half[Attribute.EC_POINT])
            for half in halves
            if bytes(half[Attribute.EC_PARAMS]) in _CURVES
        }
    if len(points) != 1:
        raise KeyProblem(
            f"the token holds {len(points)} Ed25519 public keys beside the key",
            what_to_do="make a new key in the token: both halves have one name and id",
        )

    def sign(message: bytes) -> bytes:
        with entered.lock:
            return bytes(private.sign(message, mechanism=Mechanism.EDDSA))

    return TokenKey(_point(points.pop()), sign, where)


def _point(data: bytes) -> PublicKey:
    """Return the public key: its 32 bytes, in DER or bare (versions differ)."""
    bare = data.removeprefix(_OCTETS) if len(data) > KEY_BYTES else data
    return PublicKey.from_raw(bare)


def _wrong_pin() -> KeyProblem:
    what_to_do = "check the PIN: a token locks itself after a few wrong ones"
    return KeyProblem("the PIN is wrong", what_to_do=what_to_do)


@contextmanager
def _told(where: str) -> Iterator[None]:
    """Return in words what the token's library complains about."""
    try:
        import pkcs11
    except ImportError as error:
        raise InputError(
            "the library for security tokens is not installed",
            what_to_do="in the project's folder: pip install '.[token]'",
        ) from error
    try:
        yield
    except AuditkitError as error:
        error.where = error.where or where
        raise
    except (pkcs11.PinIncorrect, pkcs11.PinInvalid, pkcs11.PinLenRange) as error:
        raise _wrong_pin().at(where) from error
    except pkcs11.PinLocked as error:
        raise KeyProblem(
            "the token has locked its PIN",
            where=where,
            what_to_do="unlock it with its security officer's PIN",
        ) from error
    except pkcs11.PKCS11Error as error:
        what = str(error) or type(error).__name__
        raise KeyProblem(
            f"the token refuses: {type(error).__name__} ({what})",
            where=where,
            what_to_do="plug the token in anew and start again; then see "
            "the token's manual",
        ) from error
