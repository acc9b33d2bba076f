"""Logs in memory, signed with keys of their own, and packets of them. All invented.

A log is cheap: its keys come from its number, nothing is written, and an order's
verdict says no more than it has to. What a shop could do, honest or not, can be done.
"""

import copy
import json
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from importlib.resources import files

from auditkit.log.packet_maker import build_packet
from auditkit.proof import disclosure, entry, merkle, note
from auditkit.proof.check_packet import format_packet
from auditkit.proof.entry import LOG_SIGNER, Payload
from auditkit.proof.keys import PrivateKey

PERSON = "mechanic-1"
WITHHELD = {"opening": ("customer.contact", "customer.name", "vehicle.plate")}
VIN = "0ZZTB1A18CA000123"
OTHER_VIN = "0ZZTB1A1XCA000124"
PLATE, CUSTOMER = "INV 77", "Customer One (invented)"


@lru_cache(maxsize=8)
def demo_text(name: str) -> str:
    """Return the events of one of the demo's orders, as JSON."""
    source = files("auditkit_demo") / f"{name}.json"
    return json.dumps(json.loads(source.read_text())["events"])


def demo_events(name="RO-1001", vin=VIN, days=0):
    """Return the events of a demo's order, for another vehicle or some days later."""
    events = json.loads(demo_text(name).replace(VIN, vin))
    for event in events:
        for member in ("at", "captured", "start", "end", "started"):
            if member in event:
                moved = datetime.fromisoformat(event[member]) + timedelta(days=days)
                event[member] = moved.isoformat()
        for part in (slice(3, 10), slice(10, 17)) if "raw" in event else ():
            event["raw"] = event["raw"].replace(
                in_frame(VIN[part]), in_frame(vin[part])
            )
    events[0]["vehicle"]["plate"] = PLATE
    events[0]["customer"] = {"name": CUSTOMER, "contact": "none"}
    return events


def in_frame(text):
    """Return letters as the bytes of a frame."""
    return " ".join(f"{ord(letter):02X}" for letter in text)


class MadeLog:
    """A log of entries; ``packet`` makes packets of it at any size."""

    def __init__(self, number=1, origin=None, log_key=None, predecessor=None):
        seed = number.to_bytes(4, "big") * 8
        self.log_key = log_key or PrivateKey.from_seed(seed)
        self.person = PrivateKey.from_seed(bytes(255 - byte for byte in seed))
        self.origin = origin or f"shop-{number}.example/log"
        self.entries, self.leaves, self.given = [], [], {}
        self.tree = merkle.Frontier()
        at = "2026-03-01T08:00:00.000+00:00"
        opened = {
            "kind": "log_opened",
            "origin": self.origin,
            "shop": f"Shop {number} (invented)",
            "log_key": self.log_key.public.x,
        }
        if predecessor:
            opened["predecessor"] = {"origin": predecessor, "reason": "tried"}
        enrolled = {
            "kind": "person_enrolled",
            "person": PERSON,
            "role": "technician",
            "key": self.person.public.x,
        }
        for event in (opened, enrolled):
            self.add(None, {**event, "at": at, "by": LOG_SIGNER})

    def fork(self):
        """Return the same log, to go on in another way."""
        return copy.deepcopy(self)

    def add(self, order, event, withheld=(), recorded=None):
        """Append an event; its withheld texts are kept to be disclosed.

        It is written down when it happens, unless ``recorded`` is another time.
        """
        sealed = disclosure.withhold(event, withheld) if withheld else None
        key = self.log_key if order is None else self.person
        seq = len(self.entries)
        at = (recorded or datetime.fromisoformat(event["at"])).astimezone(UTC)
        said = Payload(
            by=LOG_SIGNER if order is None else PERSON,
            event=sealed.event if sealed else event,
            key=key.public.thumbprint,
            log=self.origin,
            prev=self.leaves[-1].hex() if seq else None,
            recorded_at=at.isoformat(timespec="milliseconds"),
            repair_order=order,
            root=self.tree.root().hex(),
            seq=seq,
            withheld=sealed.withheld if sealed else (),
        )
        signed = entry.sign(said, key)
        self.entries.append((order, signed))
        self.leaves.append(signed.leaf)
        self.tree.append(signed.leaf)
        self.given[seq] = sealed.disclosures if sealed else ()
        return seq

    def close(self, order, events=(), verdict="unproven", since=0):
        """Append events and the verdict on all that the order has by now."""
        for event in events:
            self.add(order, event, WITHHELD.get(event["kind"], ()))
        last = json.loads(self.entries[-1][1].payload)["event"]["at"]
        return self.verdict(order, last, verdict, since)

    def verdict(self, order, at, verdict="unproven", since=0):
        """Append the verdict on all that an order has by now, from an entry on."""
        judged = [
            signed.seq
            for name, signed in self.entries[since:]
            if name == order and '"kind":"verdict"' not in signed.payload
        ]
        said = {
            "kind": "verdict",
            "at": at,
            "by": PERSON,
            "verdict": verdict,
            "judged": judged,
            "statement": [f"Repair order {order} is {verdict}."],
        }
        return self.add(order, said)

    def packet(self, order, size=None, reveal=(), leave_out=()):
        """Return an order's packet at a size of the log.

        ``reveal`` are names of withheld members to disclose, ``leave_out`` entries that
        a dishonest shop leaves out (the verdict has to fit).
        """
        size = size or len(self.entries)
        own = [
            signed
            for name, signed in self.entries[:size]
            if name in {None, order} and signed.seq not in leave_out
        ]
        leaves = self.leaves[:size]
        stated = note.Checkpoint(self.origin, size, merkle.root(leaves))
        texts = [
            (signed.seq, text)
            for signed in own
            for text in self.given[signed.seq]
            if disclosure.parse(text).name in reveal
        ]
        said = json.loads(own[-1].payload)["event"]["statement"]
        return format_packet(
            build_packet(
                order,
                own,
                [merkle.prove_inclusion(leaves, signed.seq) for signed in own],
                note.sign_checkpoint(stated, self.log_key),
                self.log_key.public,
                texts,
                said,
            )
        )
