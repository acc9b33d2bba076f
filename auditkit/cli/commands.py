"""Which commands there are, by who uses them. Data alone: none is imported here."""

from __future__ import annotations

# heading -> name -> (module of auditkit.cli, what --help says)
SECTIONS = {
    "In the bay": {
        "open": ("opening", "Open a repair order, perhaps with its first readout."),
        "add": ("add", "Record one step of an order as it happens."),
        "bay": ("bay", "Serve the page on which a repair is recorded."),
        "status": ("status", "Show what is shown of an order, and the next step."),
        "close": (
            "closing",
            "Judge an order, write its verdict, say what to hand out.",
        ),
        "capture": ("capture", "Read a vehicle over CAN, or a CAN log file."),
        "decode": ("decode", "Show what the vehicle said in a readout."),
        "compare": ("compare", "Show what changed between two readouts."),
        "why-not-run": (
            "why_not_run",
            "Show which conditions keep monitors from running.",
        ),
        "bench": ("bench", "Compute one bench test with its uncertainty."),
        "cautions": ("cautions", "List the cautions, or show one before its step."),
        "instruments": ("instruments", "List a register of instruments."),
    },
    "The log": {
        "init": ("init", "Begin a shop's log and its keys."),
        "check": ("records", "Judge repair records; write nothing."),
        "record": ("records", "Judge, sign and append repair records; close them."),
        "list": ("logs", "List the repair orders of the log."),
        "show": ("logs", "Show one repair order of the log."),
        "packet": ("logs", "Write the packet of one closed repair order."),
        "receipt": ("receipt", "Write the customer's receipt of a packet."),
        "exhibit": ("exhibit", "Write a packet's exhibit for a lawyer, or check it."),
        "report": ("report", "Write the report page of a record's bench tests."),
        "erase": ("erase", "Erase withheld text of a repair order on request."),
        "checkpoint": ("checkpoint", "Print the newest checkpoint; stamp it, keep it."),
        "key": ("keys", "Enrol people, revoke and replace keys."),
        "backup": ("backup", "Copy the log whole, while it is written to."),
        "succeed": ("succeed", "Continue a log under a new name."),
    },
    "Readers": {
        "verify": ("verify", "Check a log or a packet."),
        "readiness": ("readiness", "Show what an inspection station would see."),
        "audit": ("audit", "Show how well the repairs of a collection hold."),
        "collect": ("collect", "Verify and judge packets of many logs, and keep them."),
        "checker": ("checker", "Write what checks packets where nothing is installed."),
    },
    "Others": {
        "witness": ("witness", "Be a witness of logs, or have a log witnessed."),
        "rules": ("rules", "List the shop rules, or show one rule's page."),
        "demo": ("demo", "Run an invented shop's week, and alter a log."),
    },
}
COMMANDS = tuple(name for section in SECTIONS.values() for name in section)
