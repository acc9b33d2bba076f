"""The one-file verifier: checks packets on a bare Python, with nothing installed.

``build`` packs the very modules that ``auditkit verify`` runs, and ``ed25519`` in the
place of ``auditkit.proof.ed25519``, which takes a library.
"""
