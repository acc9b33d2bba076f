"""Run with ``python -m auditkit``."""

from auditkit.cli import main

if __name__ == "__main__":
    main()
