"""Withheld text: RFC 9901 digests, a second library, and what may not pass."""

import json
from pathlib import Path

import pytest
from jwcrypto.jwk import JWK
from jwcrypto.jws import JWS
from sd_jwt.common import SDJWTCommon
from sd_jwt.verifier import SDJWTVerifier

from auditkit.errors import InputError, VerificationError
from auditkit.proof import disclosure

VECTORS = json.loads(
    (Path(__file__).parent.parent / "vectors" / "log.json").read_text()
)
EVENT = {
    "kind": "opening",
    "complaint": "lamp on",
    "customer": {"name": "Möbius (invented)", "contact": "none"},
}
PATHS = ("customer.name", "customer.contact", "vehicle.plate")


@pytest.mark.parametrize("vector", VECTORS["sd_jwt_rfc9901"], ids=lambda v: v["digest"])
def test_rfc_9901_digests(vector):
    assert disclosure.digest(vector["disclosure"]) == vector["digest"]


def test_rfc_9901_object_member():
    """Section 4.2.1, the family_name claim."""
    vector = VECTORS["sd_jwt_rfc9901"][0]
    said = disclosure.parse(vector["disclosure"])
    assert (said.name, said.value) == ("family_name", "Möbius")
    array = json.loads(vector["json"])
    assert [said.salt, said.name, said.value] == array


def sealed(event=EVENT, paths=PATHS):
    return disclosure.withhold(event, paths)


def revealed(made, given):
    return disclosure.reveal(made.event, made.withheld, given)


def test_sd_jwt_library_computes_the_same_digests():
    """sd-jwt, the working group's reference library (PyPI), hashes as we do."""
    library = SDJWTCommon(serialization_format="compact")
    library.hash_alg = {"name": "sha-256", "fn": SDJWTCommon.HASH_ALG["fn"]}
    for text in sealed().disclosures:
        assert library._b64hash(text.encode("ascii")) == disclosure.digest(text)


@pytest.mark.parametrize("count", [0, 1, 2])
def test_sd_jwt_library_reveals_the_same(count):
    """The reference library takes the event, signed as an SD-JWT, for what we do.

    It knows the algorithm by its older name (RFC 8037); the order of the digests is
    no business of its.
    """
    made = sealed()
    given = made.disclosures[:count]
    key = JWK.generate(kty="OKP", crv="Ed25519")
    token = JWS(json.dumps({"_sd_alg": "sha-256", **made.event}))
    token.add_signature(key, alg="EdDSA", protected='{"alg":"EdDSA"}')
    whole = "~".join([token.serialize(compact=True), *given, ""])
    verifier = Verifier(whole, lambda *_: key)
    assert verifier.get_verified_payload() == revealed(made, given)[0]


class Verifier(SDJWTVerifier):
    """The library's verifier, which asks for no algorithm but its default."""

    def _verify_sd_jwt(self, key, sign_alg=None):
        super()._verify_sd_jwt(key, sign_alg or "EdDSA")


def test_withheld_and_revealed():
    made = sealed()
    assert "Möbius" not in json.dumps(made.event, ensure_ascii=False)
    assert len(made.event["customer"]["_sd"]) == 2
    assert made.withheld == ("customer.contact", "customer.name")
    assert revealed(made, made.disclosures) == (EVENT, ())
    given = made.disclosures[1]
    shown, left = revealed(made, [given])
    assert shown["customer"] == {"name": "Möbius (invented)"}
    assert left == ("customer.contact",)
    assert disclosure.path_of(made.event, made.withheld, given) == "customer.name"


def test_number_and_order_of_digests_tell_nothing():
    """They follow the sorted names; a decoy stands for the one that is absent."""
    for customer in ({"name": "N"}, {"contact": "C"}, {}):
        short = {**EVENT, "customer": customer}
        made = sealed(short)
        assert len(made.event["customer"]["_sd"]) == 2
        assert made.withheld == ("customer.contact", "customer.name")
        assert len(made.disclosures) == len(customer)
        shown, left = revealed(made, made.disclosures)
        assert shown == short
        assert left == tuple(p for p in made.withheld if p[9:] not in customer)
    turned = {**EVENT, "customer": dict(reversed(EVENT["customer"].items()))}
    names = [disclosure.parse(text).name for text in sealed(turned).disclosures]
    assert names == ["contact", "name"]


def test_paths_of_objects_that_are_not_there_are_not_listed():
    assert sealed(paths=("vehicle.plate",)) == (EVENT, (), (), ())
    whole = sealed(paths=("customer", "customer.name", "complaint"))
    assert whole.withheld == ("complaint", "customer")
    assert revealed(whole, whole.disclosures) == (EVENT, ())


def test_salts_differ():
    first, second = sealed(), sealed()
    places = [disclosure.digests(made.event, made.withheld) for made in (first, second)]
    assert not places[0].keys() & places[1].keys()


def test_strange_disclosures_are_refused():
    made = sealed()
    given = made.disclosures[0]
    false = disclosure.make("name", "Somebody", b"0123456789abcdef")
    for texts in ([false], [given, given], [given + "A"], ["***"]):
        with pytest.raises(VerificationError):
            revealed(made, texts)


TWINS = [
    disclosure.make("name", value, bytes([i]) * 16)
    for i, value in enumerate(("First", "Second", "Third"))
]


def twice(withheld, given):
    """Return an event that holds digests of several values of one name."""
    listed = [disclosure.digest(text) for text in given]
    return {"kind": "opening", "customer": {"_sd": listed}}, withheld


def test_two_values_of_one_name_cannot_be_shown_to_two_readers():
    """RFC 9901 alone lets it: each reader sees one value, and the other withheld."""
    event, withheld = twice(("customer.contact", "customer.name"), TWINS[:2])
    with pytest.raises(VerificationError, match="gives 'name' in place of"):
        disclosure.reveal(event, withheld, [TWINS[0]])
    shown, left = disclosure.reveal(event, withheld, [TWINS[1]])
    assert (shown["customer"], left) == ({"name": "Second"}, ("customer.contact",))


@pytest.mark.parametrize(
    "withheld",
    [
        (),
        ("customer.name",),
        ("customer.name", "customer.name"),
        ("customer.name", "customer.contact"),
        ("customer.contact", "customer.name", "customer.note"),
        ("customer.name", "name"),
        ("contact", "customer.name"),
        ("customer.x.name", "customer.name"),
        ("other.contact", "other.name"),
    ],
)
def test_names_and_digests_that_do_not_match_are_refused(withheld):
    event, _ = twice(withheld, TWINS[:2])
    for call in (
        lambda: disclosure.digests(event, withheld),
        lambda: disclosure.reveal(event, withheld, ()),
    ):
        with pytest.raises(InputError, match="one to one"):
            call()


def test_a_digest_may_not_stand_twice_nor_for_a_member_that_is_there():
    names = ("customer.contact", "customer.name")
    event, _ = twice(names, [TWINS[0], TWINS[0]])
    with pytest.raises(InputError, match="one to one"):
        disclosure.digests(event, names)
    event, _ = twice(names, TWINS[:2])
    event["customer"]["name"] = "plain"
    with pytest.raises(InputError, match="one to one"):
        disclosure.digests(event, names)
    listed = {"kind": "x", "list": [{"_sd": [disclosure.digest(TWINS[0])]}]}
    with pytest.raises(InputError, match="reserved"):
        disclosure.digests(listed, ("list.name",))
    odd = {"kind": "x", "_sd": [5]}
    with pytest.raises(InputError, match="one to one"):
        disclosure.digests(odd, ("name",))


def test_a_full_stop_in_a_name_leads_nowhere_else():
    given = TWINS[0]
    inner = {"_sd": [disclosure.digest(given)]}
    dotted = {"kind": "x", "a.b": inner}
    shown, _ = disclosure.reveal(dotted, ("a.b.name",), [given])
    assert shown == {"kind": "x", "a.b": {"name": "First"}}
    with pytest.raises(InputError, match="one to one"):
        disclosure.digests({**dotted, "a": {"b": inner}}, ("a.b.name",))


def test_a_disclosure_hides_no_digests():
    """RFC 9901 lets one disclosure hold digests of others; none of ours does."""
    hiding = disclosure.make("name", {"_sd": [disclosure.digest(TWINS[0])]}, b"0" * 16)
    event, _ = twice((), [hiding])
    with pytest.raises(VerificationError, match="reserved"):
        disclosure.reveal(event, ("customer.name",), [hiding])


@pytest.mark.parametrize("name", ["_sd", "...", "_sd_alg"])
def test_reserved_names(name):
    with pytest.raises(InputError, match="reserved"):
        disclosure.withhold({"kind": "x", "deep": [{name: "1"}]}, PATHS)
