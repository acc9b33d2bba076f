"""A bay without a network: its pages answered in this process, people signed in."""

import re
from contextlib import contextmanager
from urllib.parse import quote

import pytest
from starlette.testclient import TestClient

from auditkit.bay import unlocked
from auditkit.bay.pages.app import make_app
from auditkit.bay.serve import desk_of
from auditkit.log.ledger import Ledger
from auditkit.order.policy import DEFAULT
from auditkit.plugin.loading import load_canon

HOST = "shop.test"


@contextmanager
def desk_over(path, passphrase, catalogue, **more):
    """Yield the desk of a log; ``more`` as ``desk_of`` has it.

    Keys are opened in this process, whose key files cost little, unless ``keys_apart``.
    """
    keys_apart = more.pop("keys_apart", False)
    with Ledger.open(path) as ledger:
        log_key = ledger.log_signer(passphrase)
    with (
        pytest.MonkeyPatch.context() as patch,
        desk_of(
            path,
            log_key=log_key,
            catalogue=catalogue,
            policy=DEFAULT,
            register=more.pop("register", {}),
            **more,
        ) as desk,
    ):
        if not keys_apart:
            patch.setattr(unlocked, "_asked", unlocked._answer)
        yield desk


@contextmanager
def new_desk(folder, passphrase):
    """Yield the desk of a shop that begins in a folder; boss-1 manages it."""
    path = folder / "shop.auditlog"
    Ledger.create(
        path, shop="Example Yard Garage", person="boss-1", passphrase=passphrase
    ).close()
    with desk_over(path, passphrase, load_canon()) as desk:
        yield desk


class Tablet(TestClient):
    """A browser at the bay. Forms are sent with the token of the last page seen."""

    def __init__(self, desk, address="192.0.2.50"):
        super().__init__(
            make_app(desk, [HOST]),
            base_url=f"http://{HOST}",
            follow_redirects=False,
            client=(address, 50000),
        )

    def sign_in(self, person, passphrase, **more):
        """Sign in, and return the answer."""
        form = {"person": person, "passphrase": passphrase, **more}
        return self.post("/sign-in", data=form)

    def seen(self, path):
        """Return a page's text, after where it leads to."""
        answer = self.get(path, follow_redirects=True)
        assert answer.status_code == 200, (path, answer.status_code, answer.text)
        return answer.text

    def hidden(self, path):
        """Return the hidden fields of the form on a page."""
        text = self.seen(path)
        forms = re.finditer(
            r'<form method="post" action="/(?:orders/|new-order")', text
        )
        form = text[max(found.start() for found in forms) :]
        found = re.findall(
            r'<input type="hidden" name="([^"]+)" value="([^"]*)">', form
        )
        return dict(found)

    def fill(self, path, page=None, **answers):
        """Fill the form of a page with answers and send it; return the answer."""
        fields = {**self.hidden(page or path), **answers.pop("fields", {}), **answers}
        return self.post(path, data=fields)


def order_path(order, *rest):
    """Return the path of an order's page."""
    return "/".join(("/orders", quote(order, safe=""), *rest))
