"""The one-file verifier: checks packets on a bare Python, with nothing installed.

``build`` packs the very modules that ``auditkit verify`` runs, and two of its own:
``ed25519`` in the place of the ``cryptography`` library, and ``quick_json``.
"""
