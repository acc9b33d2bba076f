"""Withheld text: RFC 9901 digests, a second library, and what may not pass."""

import json
from pathlib import Path

import pytest
from sd_jwt.common import SDJWTCommon

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


def test_sd_jwt_library_computes_the_same_digests():
    """sd-jwt, the working group's reference library (PyPI), hashes as we do.

    Its verifier wants whole tokens under an older algorithm name, so its digest
    routine alone is the second opinion here.
    """
    library = SDJWTCommon(serialization_format="compact")
    library.hash_alg = {"name": "sha-256", "fn": SDJWTCommon.HASH_ALG["fn"]}
    _, given = disclosure.withhold(EVENT, PATHS)
    for text in given:
        assert library._b64hash(text.encode("ascii")) == disclosure.digest(text)


def test_withheld_and_revealed():
    hidden, given = disclosure.withhold(EVENT, PATHS)
    assert "Möbius" not in json.dumps(hidden, ensure_ascii=False)
    assert len(hidden["customer"]["_sd"]) == 2
    assert disclosure.reveal(hidden, given) == (EVENT, 0)
    shown, left = disclosure.reveal(hidden, given[:1])
    assert (shown["customer"], left) == ({"name": "Möbius (invented)"}, 1)
    assert disclosure.path_of(hidden, given[0]) == "customer.name"


def test_number_of_digests_tells_nothing():
    short = {**EVENT, "customer": {"name": "N"}}
    hidden, given = disclosure.withhold(short, PATHS)
    assert (len(hidden["customer"]["_sd"]), len(given)) == (2, 1)
    assert disclosure.reveal(hidden, given) == (short, 1)


def test_salts_differ():
    first, _ = disclosure.withhold(EVENT, PATHS)
    second, _ = disclosure.withhold(EVENT, PATHS)
    assert not disclosure.digests(first) & disclosure.digests(second)


def test_strange_disclosures_are_refused():
    hidden, given = disclosure.withhold(EVENT, PATHS)
    false = disclosure.make("name", "Somebody", b"0123456789abcdef")
    for texts in ([false], [given[0], given[0]], [given[0] + "A"], ["***"]):
        with pytest.raises(VerificationError):
            disclosure.reveal(hidden, texts)


def test_member_may_not_be_given_twice():
    twin = disclosure.make("complaint", "other", b"0123456789abcdef")
    event = {**EVENT, "_sd": [disclosure.digest(twin)]}
    with pytest.raises(VerificationError, match="repeats"):
        disclosure.reveal(event, [twin])


@pytest.mark.parametrize("name", ["_sd", "...", "_sd_alg"])
def test_reserved_names(name):
    with pytest.raises(InputError, match="reserved"):
        disclosure.withhold({"kind": "x", "deep": [{name: "1"}]}, PATHS)
