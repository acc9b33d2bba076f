"""What an enrolled person may do, as the enrolment says it. Pure."""

from __future__ import annotations

from enum import StrEnum


class Role(StrEnum):
    """What a person may do. One key has one role, from its enrolment on.

    What a manager does beyond a technician (enrol, revoke, close the log) is signed by
    the log's key: the log itself tells technicians from onlookers alone.
    """

    TECHNICIAN = "technician"
    MANAGER = "manager"
    ONLOOKER = "onlooker"

    @property
    def signs(self) -> bool:
        """Whether entries that a key of this role signs count."""
        return self is not Role.ONLOOKER
