"""Text for people: the answer first, then why, then what to do next. No I/O."""
