"""The shop's log: disk, keys and clock."""
