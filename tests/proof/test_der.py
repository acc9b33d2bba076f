"""Elements of DER, against ITU-T X.690 and asn1crypto, an independent encoder."""

import pytest
from asn1crypto.core import Integer, OctetString, Sequence

from auditkit.proof import der


@pytest.mark.parametrize("size", [0, 1, 127, 128, 200, 255, 256, 65535, 65536, 2**24])
def test_octets_of_every_length_of_length(size):
    assert der.octets(bytes(size)) == OctetString(bytes(size)).dump()


def test_the_standards_own_length():
    """X.690 section 8.1.3.5, the example: 201 octets are announced as 81 c9."""
    assert der.octets(bytes(201))[:3] == bytes.fromhex("04 81 c9")


@pytest.mark.parametrize(
    "number", [0, 1, 127, 128, 255, 256, 600_000, 2**63, 2**64 - 1]
)
def test_whole_numbers(number):
    assert der.integer(number) == Integer(number).dump()


def test_a_sequence_holds_its_elements():
    made = der.sequence(der.integer(5), der.octets(b"x"))
    read = Sequence.load(made, strict=True)
    assert [read[0].native, read[1].native] == [5, b"x"]
    assert der.sequence() == bytes.fromhex("3000")
