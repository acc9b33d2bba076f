"""What a page about a packet cannot know, in words."""

from __future__ import annotations

CANNOT_KNOW = (
    (
        "Whose key it is. A packet brings its own key: without a fingerprint from "
        "elsewhere the check shows only that the packet fits together, and anyone can "
        "make one that does."
    ),
    (
        "Whether the work was done as written. It shows what was written, by which "
        "key, and that it was not changed since."
    ),
    (
        "The time. Dates are what people and computers at the shop claimed. Where the "
        "packet keeps what witnesses or time stamp authorities said, auditkit's own "
        "program tells what that proves to someone who trusts them."
    ),
    (
        "What came after. Entries written to the repair order after the verdict shown "
        "here would not be seen."
    ),
    (
        "What was left out. A key's revocation, the log's closing or what outsiders "
        "said of it would not be seen either where the shop left that out."
    ),
    (
        "What is right for the vehicle. The record reminds and computes; the vehicle "
        "maker's procedure, local codes and licensed practice decide."
    ),
)
