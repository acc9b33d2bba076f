"""Outsiders of a life: a reader, a witness, a time stamp authority."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from conftest import PASSPHRASE
from life.edges import authority
from life.model import COSIGNER, SECOND, Held, Spoken

from auditkit.errors import InputError, VerificationError
from auditkit.outsiders.cosigned import cosigned_checkpoint
from auditkit.proof import note


def hand_out_a_checkpoint(life, site):
    text = site.open().checkpoint()
    size = note.parse_checkpoint(note.split_note(text)[0]).size
    assert size == max(site.log.sizes)
    life.handed_out(site)
    life.held.append(Held(text, site.log.origin, site.log.key, site.log.ids[:size]))


def ask_the_witness(life, site, which):
    """Ask with the newest, or with an earlier one that perhaps does not fit."""
    if which < 8 or not life.held:
        hand_out_a_checkpoint(life, site)
        held = life.held[-1]
    else:
        held = life.held[which % len(life.held)]
    others = [h for h, _, _ in life.cosigned if h.origin == held.origin]
    seen = others[-1].ids if others else ()
    fits = site.extends(held) and held.ids[: len(seen)] == seen

    def call():
        return cosigned_checkpoint(
            site.path, "http://127.0.0.1:9", COSIGNER, checkpoint_note=held.text
        )

    if not fits:
        with pytest.raises(InputError):
            call()
        life.met("the witness refused")
        return
    made = call()
    life.met("the witness cosigned")
    at = datetime.fromtimestamp(made.cosignature.at, UTC)
    true = not life.witness_off and at <= life.true < at + SECOND
    if not life.witness_off and not life.cosigned:
        assert true
    life.cosigned.append((replace(held, text=made.note), at, true))


def attest(life, site, which, how):
    held, at, is_true = life.cosigned[-1 - which % len(life.cosigned)]
    attest_with(life, site, held, at, is_true, None, how)


def attest_a_time_stamp(life, site, which, how):
    held = life.held[-1 - which % len(life.held)]
    at = life.true.replace(microsecond=0) + SECOND
    life.true = at  # the authority states whole seconds
    life.set_clock()
    token = authority()[1](held.text, at)
    attest_with(life, site, held, at, True, token, how)  # noqa: FBT003


def attest_with(life, site, held, at, is_true, token, how):  # noqa: PLR0913, PLR0917
    errors = life.refused(site)
    if not site.extends(held):
        errors = [(InputError, ""), (VerificationError, "")]

    def so(seq):
        size = len(held.ids)
        site.log.spoken.append(Spoken(seq, size, at, is_true, token is not None))

    call = life.log_call(
        site,
        lambda ledger: ledger.attest(held.text, passphrase=PASSPHRASE, token=token),
        [life.line("attestation")],
        so,
        errors=errors,
    )
    life.perform(site, call, how)


def attest_what_nobody_said(life, site):
    before = site.open().store.head()[0]
    with pytest.raises(InputError, match="nobody but the log itself"):
        site.open().attest(site.open().checkpoint(), passphrase=PASSPHRASE)
    life.handed_out(site)
    assert site.open().store.head()[0] == before
