"""What a long or repeated text costs: each line is looked at a bounded number of times.

That the answers are right is held by the tests of what is decoded.
"""

import time

import pytest

from auditkit.obd import decode
from auditkit.obd.isotp import messages_in
from auditkit.obd.left_out import second_words
from auditkit.obd.transcript import read

LINES = 3000
LONG = 200_000
MOST_SECONDS = 10
"""Of processor time: each takes well under one; at a cost by the square, minutes."""


class Counted:
    """A message that counts how often it is looked at."""

    looks = 0

    def __init__(self, message):
        self.message = message

    def __getattr__(self, name):
        type(self).looks += 1
        return getattr(self.message, name)


def repeated(_):
    return "(1.0) can0 7E8#0443010401\n"


def distinct(number):
    return f"(1.0) can0 7E8#044301{number:04X}\n"


def asked_and_commented(_):
    return "7DF 01 03\n7E8 04 43 01 04 01\n# 7E8 04 43 01 04 01\n"


@pytest.mark.parametrize("line", [repeated, distinct, asked_and_commented])
def test_each_message_is_looked_at_a_few_times(line):
    text = "".join(map(line, range(LINES)))
    messages, _ = messages_in(text)
    assert len(messages) == LINES
    Counted.looks = 0
    found = list(second_words(read(text), map(Counted, messages)))
    assert found == list(second_words(read(text), messages))
    assert LINES <= Counted.looks <= 10 * LINES


def test_a_frame_beside_many_answers_is_still_a_second_word():
    text = "".join(map(distinct, range(LINES)))
    broken = "7E8 10 08 43 03 01 04 02 05\n"  # begins an answer that never ends
    found = list(second_words(read(text + broken), messages_in(text + broken)[0]))
    assert [(one.line, one.is_second_word) for one in found] == [(LINES + 1, True)]


@pytest.mark.parametrize(
    "line",
    [
        repeated(0) * 30_000,
        "can0 7E8 [8]" + " " * LONG + "X",
        "0:" + " " * LONG + "X",
        " #" * LONG,
    ],
    ids=["repeated", "viewed", "numbered", "comments"],
)
def test_a_long_text_is_decoded_in_bounded_time(line):
    started = time.process_time()
    decode("7E8 04 43 01 04 01\n" + line)
    assert time.process_time() - started < MOST_SECONDS
