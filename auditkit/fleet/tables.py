"""The tables of a collection, as DuckDB makes them.

Times are UTC (``TIMESTAMP``, microseconds); where people's hours matter, the offset
that was written stands beside in minutes. Quantities keep the text that was read and a
double in the coherent SI unit. Digests are 32 bytes. Ids (``*_id BIGINT``) live inside
one file alone; what leaves it is named by SHA-256, log and entry.

What a packet leaves out is no null by itself: a column that can be withheld has a
companion ``*_state``.
"""

from __future__ import annotations

FORMAT = "auditkit/collection@1"

ENUMS = {
    "verdict": ("proven", "vouched", "unproven", "contradicted"),
    "answered": ("shown", "waiting", "not shown", "against", "not asked"),
    "given": ("given", "withheld", "erased", "absent"),
    "fault_kind": ("stored", "pending", "permanent", "other"),
    "of_part": ("old", "new", "known-good", "other"),
    "conflict_kind": ("fork", "entries missing", "order number reused", "shared key"),
    "key_state": ("no list", "listed", "not listed", "outside its dates"),
}
"""The enumerations, by name: each becomes a DuckDB ``ENUM``."""

TABLES = {
    # One row: what this file is.
    "collection": """
        format VARCHAR NOT NULL, program VARCHAR NOT NULL, is_pseudonymous BOOLEAN,
        rules_sha256 BLOB NOT NULL, policy_sha256 BLOB NOT NULL,
        keys_sha256 BLOB, pseudonym_check BLOB""",
    # One run of the loader; `finished` is null where it was stopped.
    "run": """
        run_id BIGINT NOT NULL, started TIMESTAMP NOT NULL, finished TIMESTAMP,
        program VARCHAR NOT NULL, seen BIGINT, added BIGINT, held_before BIGINT,
        refused BIGINT""",
    # One packet; a file that was refused says why and has no order. `sha256` is of the
    # packet itself, wherever it lay: `path` says where it was seen last ("a.zip!b" is
    # b in an archive). `own_seqs` are the order's entries in it, `disclosed` the
    # digests (RFC 9901) of what it discloses; `withheld` counts decoys too.
    "packet": """
        packet_id BIGINT NOT NULL, sha256 BLOB NOT NULL, run_id BIGINT NOT NULL,
        path VARCHAR NOT NULL, bytes BIGINT NOT NULL, log_id BIGINT,
        order_id BIGINT, order_no VARCHAR, entries BIGINT, checkpoint_size BIGINT,
        checkpoint_root BLOB, is_verified BOOLEAN NOT NULL, refused_because VARCHAR,
        withheld BIGINT, vin VARCHAR, last_recorded TIMESTAMP, key_is key_state,
        own_seqs BIGINT[], disclosed BLOB[]""",
    # A page, an exhibit or another file that holds a packet which is here.
    "wrapping": """
        sha256 BLOB NOT NULL, packet_sha256 BLOB NOT NULL, path VARCHAR NOT NULL""",
    # A log: its origin and its key. `shop` is the name in the reader's own list of
    # keys, `is_trusted` whether its key stands there. `entries_delivered` counts its
    # entries that are here, out of `largest_size`.
    "log": """
        log_id BIGINT NOT NULL, origin VARCHAR NOT NULL, key_id VARCHAR NOT NULL,
        shop VARCHAR, shop_claimed VARCHAR, is_trusted BOOLEAN NOT NULL,
        opened_at TIMESTAMP, predecessor VARCHAR, largest_size BIGINT,
        entries_delivered BIGINT, is_forked BOOLEAN NOT NULL""",
    "person": """
        log_id BIGINT NOT NULL, person VARCHAR NOT NULL, key_id VARCHAR,
        role VARCHAR, enrolled_seq BIGINT, revoked_seq BIGINT""",
    # One repair order, judged by the packet with the largest checkpoint that no other
    # of its packets extends, with all texts that any of them discloses: those of
    # `texts_from` were put to it. It is incomplete where another packet has entries of
    # it that this one lacks. `make` is what begins the VIN (ISO 3780: who made it),
    # `model` what the shop wrote.
    "repair_order": """
        order_id BIGINT NOT NULL, log_id BIGINT NOT NULL, order_no VARCHAR NOT NULL,
        packet_id BIGINT NOT NULL, vin VARCHAR, vin_state given NOT NULL,
        vin_is_from_vehicle BOOLEAN, make VARCHAR, model VARCHAR, model_year INTEGER,
        odometer_m BIGINT, odometer_text VARCHAR,
        opened_at TIMESTAMP, offset_min SMALLINT,
        first_repair_at TIMESTAMP, last_repair_at TIMESTAMP, closed_at TIMESTAMP,
        verdict verdict NOT NULL, signed_verdict verdict,
        is_overstated BOOLEAN, is_waiting BOOLEAN NOT NULL, weakest VARCHAR,
        is_incomplete BOOLEAN NOT NULL, texts_from BIGINT[]""",
    # One fault of an order, or one code that the vehicle reported and nobody named.
    # `fixed_first` tells what came of the first repair: shown, against, or not shown;
    # null where nothing was repaired for it. `repaired_at` are the repairs for it, none
    # later than it was written down; `seen_at` the readouts that hold it as stored or
    # pending.
    "fault": """
        order_id BIGINT NOT NULL, module VARCHAR NOT NULL, code VARCHAR NOT NULL,
        kind fault_kind NOT NULL, fault_group VARCHAR NOT NULL,
        is_addressed BOOLEAN NOT NULL, set_aside_because VARCHAR, verdict verdict,
        attempts INTEGER NOT NULL, fixed_first answered, came_back_here BOOLEAN,
        repaired_at TIMESTAMP[], seen_at TIMESTAMP[]""",
    "answer": """
        order_id BIGINT NOT NULL, question VARCHAR NOT NULL, subject VARCHAR NOT NULL,
        answer answered NOT NULL, strength VARCHAR, because VARCHAR""",
    "part": """
        order_id BIGINT NOT NULL, part_id VARCHAR NOT NULL, name VARCHAR NOT NULL,
        system VARCHAR, action VARCHAR, part_number VARCHAR,
        was_worked_on BOOLEAN NOT NULL, was_tested_good BOOLEAN NOT NULL""",
    # One reading of a bench test; the limit stands at the readings that it limits, or
    # at the quantity that is computed from them, which then is a row of its own. With
    # a `bound` the display showed only that it lies above or below. `resolution` is the
    # instrument's, in `unit`. `conditions` stand at the first reading of a test.
    "bench_reading": """
        order_id BIGINT NOT NULL, log_id BIGINT NOT NULL, seq BIGINT NOT NULL,
        place INTEGER NOT NULL, test_kind VARCHAR NOT NULL, method VARCHAR,
        part_id VARCHAR, of_part of_part NOT NULL, quantity VARCHAR NOT NULL,
        is_computed BOOLEAN, value_text VARCHAR NOT NULL, bound VARCHAR,
        unit VARCHAR NOT NULL, value DOUBLE,
        value_si DOUBLE, u_si DOUBLE, low_si DOUBLE, high_si DOUBLE,
        limit_source VARCHAR, outcome VARCHAR, resolution DOUBLE,
        instrument VARCHAR, hold_s DOUBLE, starts_at TIMESTAMP, ends_at TIMESTAMP,
        by_person VARCHAR, conditions VARCHAR""",
    "instrument": """
        log_id BIGINT NOT NULL, instrument VARCHAR NOT NULL, order_id BIGINT NOT NULL,
        description VARCHAR, serial VARCHAR, unit VARCHAR, resolution DOUBLE,
        has_specification BOOLEAN NOT NULL, calibrated_on DATE, due DATE,
        certificate VARCHAR, used_on DATE NOT NULL""",
    # One result of the vehicle's own self-tests.
    "self_test": """
        order_id BIGINT NOT NULL, log_id BIGINT NOT NULL, seq BIGINT NOT NULL,
        module VARCHAR NOT NULL, monitor VARCHAR NOT NULL, test VARCHAR NOT NULL,
        value DOUBLE, low DOUBLE, high DOUBLE, unit VARCHAR, outcome VARCHAR,
        is_typed BOOLEAN""",
    # `answered_sha256` is of the decoded answers; `less_marks_sha256` of the same
    # without VIN, calibration numbers, counters, distances and times, `varying_bits` at
    # most what those hold: 8 for each byte that is no filler. `minutes` are the times
    # run since a clear and with the lamp on, as they were sent, where one is not zero.
    "readout": """
        order_id BIGINT NOT NULL, log_id BIGINT NOT NULL, seq BIGINT NOT NULL,
        captured TIMESTAMP, tool VARCHAR, protocol VARCHAR, is_typed BOOLEAN NOT NULL,
        vin_read VARCHAR, answered_sha256 BLOB, less_marks_sha256 BLOB,
        varying_bits DOUBLE, minutes VARCHAR""",
    # One entry of a log; `order_id` is null for the log's own events.
    "event": """
        log_id BIGINT NOT NULL, seq BIGINT NOT NULL, order_id BIGINT,
        kind VARCHAR NOT NULL, by_person VARCHAR, key_id VARCHAR,
        happened_at TIMESTAMP, offset_min SMALLINT, recorded_at TIMESTAMP,
        not_before TIMESTAMP, not_after TIMESTAMP, leaf BLOB NOT NULL,
        root BLOB NOT NULL,
        packet_id BIGINT NOT NULL""",
    # What a packet says of a stretch of its log: the hash of `entries` entries from
    # `first` on (RFC 9162). Two hashes of one stretch prove two histories.
    "stretch": """
        log_id BIGINT NOT NULL, first BIGINT NOT NULL, entries BIGINT NOT NULL,
        hash BLOB NOT NULL, packet_id BIGINT NOT NULL""",
    # Packets that are kept whole, for good: the proof of a fork. None is kept where
    # vehicles have pseudonyms.
    "kept_packet": """
        packet_id BIGINT NOT NULL, content BLOB NOT NULL""",
    # Two packets that cannot both be true, or neither of which tells all.
    "conflict": """
        kind conflict_kind NOT NULL, log_id BIGINT NOT NULL, seq BIGINT,
        first_packet_id BIGINT NOT NULL, second_packet_id BIGINT NOT NULL,
        sentence VARCHAR NOT NULL""",
}
"""The columns of each table, by its name, in DuckDB's SQL."""


def statements() -> list[str]:
    """Return the SQL that makes an empty collection, in order."""
    made = []
    for name, members in ENUMS.items():
        listed = ", ".join(f"'{member}'" for member in members)
        made.append(f"CREATE TYPE {name} AS ENUM ({listed})")
    made += [f"CREATE TABLE {name} ({columns})" for name, columns in TABLES.items()]
    return made
