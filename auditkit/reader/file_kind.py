"""How a log is told from other files: by the first bytes of its file."""

LOG_HEAD = b"SQLite format 3\x00"  # the SQLite file format, section 1.3.1
