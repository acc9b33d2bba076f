"""A served bay is killed at any moment, and written to by eight at once."""

import signal
import socket
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, suppress

import pytest
import sampling
from bay_desk import desk_over
from bay_served import HERE, Bay, Client, served
from bay_writing import form, hands
from conftest import PASSPHRASE

from auditkit.bay.writer import LogWriter
from auditkit.log.ledger import Ledger
from auditkit.plugin.loading import load_canon

WORD = PASSPHRASE.decode()
KILLS = sampling.count(4, 60)
PATH = "/orders/RO-1/add/code_clear"


@pytest.fixture
def path(ledger):
    """Return the path of a log with an order open."""
    who = hands(ledger.store.path, PASSPHRASE)
    with LogWriter(ledger.store.path, who.log_key) as writer:
        writer.take("RO-1", form(0), who).result()
    return ledger.store.path


def recorded(path):
    """Return the forms of an order's entries, by the log's own reading."""
    with Ledger.open(path) as ledger:
        report = ledger.verify()
        assert report.verified, report.problems
        return [line.form for line in ledger.show("RO-1").lines]


def sent(client, once, answers):
    """Send a form; a server that is killed does not answer."""
    with suppress(OSError):
        answers.append(client.ask("POST", PATH, {"once": once, "tool": once})[0])


def test_after_a_kill_the_page_says_whether_a_form_is_in_the_log(path):
    """kill -9 around the moment of submit; then the form again, which is there once."""
    chance = sampling.chance("kills of a served bay")
    before, answers = "", []
    outcomes = []
    with ExitStack() as bays:
        for number in range(KILLS + 1):
            bay = bays.enter_context(Bay(path, WORD))
            client = Client(bay.port)
            client.sign_in("mechanic-1", WORD)
            if before:
                is_in = before in recorded(path)
                assert is_in or answers != [303], "what was answered is in the log"
                outcomes.append(is_in)
                told = client.ask("GET", f"/orders/RO-1?once={before}")[2]
                assert ("This is in the log as entry" in told) is is_in
                assert ("This was not recorded. Send it again." in told) is not is_in
                status, headers, page = client.ask("GET", PATH)
                if is_in:
                    # Its draft went with the answer, or the kill came between the two.
                    told = f"/orders/RO-1?once={before}"
                    assert (status, headers["Location"]) in {(303, told), (200, None)}
                    assert f'value="{before}"' not in page
                else:
                    assert (status, f'value="{before}"' in page) == (200, True)
                again = client.ask("POST", PATH, {"once": before, "tool": before})
                assert again[0] == 303, again[2]
                assert recorded(path).count(before) == 1
            if number == KILLS:
                assert bay.stop()[0] == 0
                break
            before, answers = f"kill-{number}", []
            client.ask("GET", PATH)
            typed = {"once": before, "tool": before}
            kept = client.ask("POST", "/orders/RO-1/draft/code_clear", typed)[2]
            assert kept.startswith("Draft kept")
            sending = threading.Thread(target=sent, args=(client, before, answers))
            sending.start()
            if number:  # the first is killed once it is answered
                time.sleep(chance.uniform(0, 0.06))
            else:
                sending.join()
            bay.process.kill()
            bay.process.communicate()
            sending.join()
            assert bay.process.returncode == -signal.SIGKILL
    assert outcomes[0] is True
    forms = recorded(path)
    assert len(forms) == KILLS + 1
    told = bay.errors.read_text()
    assert told == ""


def test_eight_writers_at_once_make_one_chain(path):
    """Each sends its own, and all of them one form that is the same."""
    barrier = threading.Barrier(8, timeout=60)
    with desk_over(path, PASSPHRASE, load_canon()) as desk, served(desk) as port:
        clients = [Client(port) for _ in range(8)]
        for client in clients:  # at once they would be guesses, by their number
            client.sign_in("mechanic-1", WORD)

        def write(number):
            client = clients[number]
            barrier.wait()
            led = set()
            for turn in range(5):
                once = f"w{number}-{turn}"
                fields = {"once": once, "tool": f"tool {once}"}
                status, headers, text = client.ask("POST", PATH, fields)
                assert status == 303, text
                led.add(headers["Location"])
            shared = {"once": "shared", "tool": "one tool"}
            status, headers, _ = client.ask("POST", PATH, shared)
            assert status == 303
            return led, headers["Location"]

        with ThreadPoolExecutor(8) as tablets:
            answers = list(tablets.map(write, range(8)))
    assert len(set.union(*(led for led, _ in answers))) == 40, "each has its own entry"
    assert len({shared for _, shared in answers}) == 1
    forms = recorded(path)
    assert len(forms) == len(set(forms)) == 1 + 40 + 1


SECRETS = {
    "a wrong passphrase": "wrong horse, wrong battery",
    "the right one": WORD,
    "a new person's": "tech-b's own words",
    "the customer": "Customer Seven (invented)",
    "the contact": "seven@customer.invalid",
}


def test_nothing_secret_stands_in_what_it_prints_or_in_what_it_refuses(path):
    with Bay(path, WORD) as bay:
        client = Client(bay.port)
        bad = {"person": "mechanic-1", "passphrase": SECRETS["a wrong passphrase"]}
        refused = [client.ask("POST", "/sign-in", bad)]
        client.sign_in("mechanic-1", WORD)
        token, session = client.token, client.cookies["auditkit_bay"]
        customer = {
            "customer.name": SECRETS["the customer"],
            "customer.contact": SECRETS["the contact"],
        }
        own = SECRETS["a new person's"]
        enrolled = {"person": "tech-b", "role": "technician", "own": own, "again": own}
        refused += [
            client.ask("POST", "/shop/enrol", {**enrolled, "log_passphrase": own}),
            client.ask("POST", "/shop/enrol", {**enrolled, "log_passphrase": "x"}),
            client.ask("GET", "/orders/RO-77"),
            client.ask("GET", "/no/such/page"),
            client.ask("POST", PATH, {"tool": "x"}),
            client.ask("POST", "/orders/RO-77/add/repair", {"once": "x", **customer}),
        ]
        assert client.ask("POST", "/shop/enrol", {**enrolled, "log_passphrase": WORD})[
            0
        ]
        client.token = ""
        refused.append(client.ask("POST", PATH, {"once": "y", **customer}))
        with socket.create_connection((HERE, bay.port)) as one:
            one.sendall(f"{WORD} {session}\r\n\r\n".encode())
            refused.append((400, {}, one.recv(1000).decode()))
        assert {status for status, _, _ in refused} >= {400, 403, 404, 422}
        status, said = bay.stop()
        assert status == 0
        told = bay.errors.read_text() + said
        assert "Invalid HTTP request" in told  # it does print what it could not read
        texts = [told, *(text for _, _, text in refused)]
        for what, secret in {**SECRETS, "the session": session}.items():
            assert not any(secret in text for text in texts), what
        assert token not in told
