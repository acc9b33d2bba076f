"""What stands in the checker page where the package has ``auditkit.proof.ed25519``."""

from __future__ import annotations

from auditkit.reader.page.questions import fits

__all__ = ["fits"]
