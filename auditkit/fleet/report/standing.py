"""What every audit says, whatever it found: pure words."""

from __future__ import annotations

from auditkit.order.statement import DEFERS, NO_RECORD_SHOWS

BEFORE_QUESTIONS = (
    (
        "A question is no accusation. It says where a shop's records differ from "
        "those of other shops, and that this is worth asking about; many honest "
        "reasons can stand behind it."
    ),
    (
        "Nothing follows from a question by itself. A person looks into the packets "
        "that it names and hears the shop before anything is decided."
    ),
    (
        "The shop sees its own page before others do, and what it answers is printed "
        "beside the question."
    ),
)
NO_QUESTION = (
    "There is no question to a shop. That is no proof that all is well: such screens "
    "often miss a shop that invents a small part of its records."
)
TO_WATCH = (
    "This is not yet a question. It becomes one only if packets that are delivered "
    "from now on show it again."
)
ITS_ANSWER = "The shop's answer, with its date:"
NO_ANSWER = "The shop has not answered yet."
OF_PACKETS = (
    "A packet is named by the SHA-256 of its bytes: 'auditkit verify PACKET' checks "
    "and judges it again."
)
_ABSENT = (
    "A packet that is absent is no evidence of a bad repair. A shop that looks good, "
    "and delivered little, or rests on word alone, or began a new log again and again, "
    "is not shown to be good."
)
_NO_PERSON = (
    "No person is ranked here. Local law decides what may be done with data about "
    "people, and whether a machine's answer may have consequences."
)
AT_THE_END = (
    (
        '"Too few" stands where there are not enough repairs, tests or shops to say '
        "anything; it is neither good nor bad."
    ),
    (
        "A 95 % interval is how far chance alone reaches: taken of such numbers again "
        "and again, 95 of 100 of them hold the share that lies behind."
    ),
    _ABSENT,
    (
        "Ratios of two shops cannot be compared with each other, only each with all "
        "shops; there is no order of merit, and no number adds up unlike things."
    ),
    (
        "A shop far from the others tends to look more usual the next time, whatever "
        "was done. One far better is asked too: how, and whether comebacks went "
        "elsewhere."
    ),
    (
        "Whoever pays for an audit may have chosen the shops. This report speaks of "
        "those whose packets were given, and of no other."
    ),
    _NO_PERSON,
    NO_RECORD_SHOWS,
    DEFERS,
)
OF_ONE_VEHICLE = (_ABSENT, _NO_PERSON, NO_RECORD_SHOWS, DEFERS)
