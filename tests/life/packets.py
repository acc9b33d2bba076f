"""Packets of a life, and what they disclose."""

import pytest
from life.checks import check_packet
from life.model import Held

from auditkit.errors import InputError, VerificationError
from auditkit.proof import note
from auditkit.proof.check_packet import verify_packet


def hand_out_a_packet(life, site, order, reveal, since):
    ledger = site.open()
    if not site.log.is_closed_order(order):
        with pytest.raises(InputError, match="is not closed"):
            ledger.packet(order)
        return
    seqs = {seq for seq, _ in site.log.order(order)}
    open_texts = {
        path: {
            v
            for (q, p), (state, v) in site.log.texts.items()
            if p == path and q in seqs and state == "withheld"
        }
        for path in {p for _, p in site.log.texts}
    }
    wanted = set()
    if reveal == "*":
        wanted = set().union(*open_texts.values())
    elif reveal:
        wanted = open_texts.get(reveal, set())
        if not wanted:
            with pytest.raises(
                InputError, match=r"nothing is withheld|was erased, by entry"
            ):
                ledger.packet(order, reveal=[reveal])
            return
    back_to = []
    if life.held and since < 8:
        held = life.held[since % len(life.held)]
        found = note.parse_checkpoint(note.split_note(held.text)[0])
        if site.log.ids[: len(held.ids)] != held.ids:
            with pytest.raises(VerificationError, match="does not extend"):
                ledger.packet(order, since=[(found.size, found.root)])
        else:
            back_to = [(found.size, found.root)]
    size = max(site.log.sizes)
    if back_to and back_to[0][0] > size:
        return
    text = ledger.packet(order, reveal=[reveal] if reveal else [], since=back_to)
    own = Held("", site.log.origin, site.log.key, site.log.ids[:size])
    life.packets.append((text, site.log.key, frozenset(wanted), own))
    life.handed_out(site)
    check_packet(life, len(life.packets) - 1)
    life.met(f"packet; behind: {site.is_behind}; reveals {len(wanted)}")
    if back_to and site.extends(held):
        assert verify_packet(text, trust=held.text).verified
