"""One request as the views see it, and who may make which."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from typing import TYPE_CHECKING

from starlette.responses import RedirectResponse

from auditkit.errors import InputError
from auditkit.proof.role import Role

if TYPE_CHECKING:
    from starlette.responses import Response

    from auditkit.bay.pages.desk import Desk
    from auditkit.bay.signed_in import SignedIn


_ONCE = re.compile(r"[A-Za-z0-9_-]{1,128}")
"""The id of a form: base64url, as the pages write it (RFC 4648 section 5)."""


class Who(IntEnum):
    """Who may make a request; each may what those before it may."""

    ANYBODY = 0
    LOOKS = 1
    WRITES = 2
    MANAGES = 3


class InTheLog(Exception):  # noqa: N818  no error: it was recorded
    """What is asked for again was recorded; ``path`` is the page that says so.

    Its answer never came: the bay was stopped between the two.
    """

    def __init__(self, path: str) -> None:
        self.path = path
        super().__init__(path)


@dataclass(frozen=True, slots=True)
class Visit:
    """A request: by whom, to which place, with which answers.

    ``place`` are the parts of the path by name, ``asked`` what stands behind its
    question mark, ``answers`` what a form brought, ``files`` name and bytes of
    each file in it. ``is_own`` is whether a form of this very sign-in sent it.
    ``signed_in`` is None for anybody;
    ``token`` is that of the session, ``tablet`` the secret that its browser was given.
    """

    desk: Desk
    signed_in: SignedIn | None
    token: str
    tablet: str
    address: str
    path: str
    place: Mapping[str, str] = field(default_factory=dict)
    asked: Mapping[str, str] = field(default_factory=dict)
    answers: Mapping[str, str] = field(default_factory=dict)
    files: Mapping[str, tuple[str, bytes]] = field(default_factory=dict, repr=False)
    is_own: bool = False

    @property
    def person(self) -> SignedIn:
        """Return who is signed in; the route has seen to it that somebody is."""
        if self.signed_in is None:
            raise RuntimeError(f"{self.path} is served to nobody")
        return self.signed_in

    @property
    def once(self) -> str:
        """The id of the form that was sent; InputError where it has none.

        Nothing else that lies among the drafts has such an id: a timer has a colon.
        """
        found = self.answers.get("once", "")
        if not _ONCE.fullmatch(found):
            raise InputError(
                "this form has no id of its own", what_to_do="open the form again"
            )
        return found

    @property
    def signed_in_as(self) -> str:
        """Who is signed in, locked or not; empty for anybody."""
        return self.signed_in.person if self.signed_in else ""

    @property
    def shown(self) -> str:
        """The one order that is shown at the counter; empty elsewhere."""
        return self.signed_in.shown if self.signed_in else ""

    @property
    def order(self) -> str:
        """The repair order that the path names."""
        return self.place["order"]

    def page(self, name: str, status: int = 200, /, **values: object) -> Response:
        """Return a page of this visit."""
        from auditkit.bay.pages.draw import page

        who = self.signed_in
        return page(
            name,
            status,
            shop=self.desk.shop,
            person=who.person if who and not who.is_locked else None,
            may_write=self.may >= Who.WRITES,
            may_manage=self.may >= Who.MANAGES,
            form_token=form_token(self.token) if who else "",
            path=self.path,
            **values,
        )

    @property
    def may(self) -> Who:
        """What whoever is signed in may do; while locked, nothing."""
        who = self.signed_in
        if who is None or who.is_locked:
            return Who.ANYBODY
        if who.role is Role.MANAGER:
            return Who.MANAGES
        return Who.WRITES if who.role.signs else Who.LOOKS


def form_token(token: str) -> str:
    """Return what a form must hold to count in a session: another page cannot know."""
    return hashlib.sha256(f"form {token}".encode()).hexdigest()


def see_other(path: str) -> Response:
    """Return an answer that leads to a page (RFC 9110 section 15.4.4)."""
    return RedirectResponse(path, 303)
