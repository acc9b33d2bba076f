"""A packet as a stranger sees it, alone or among many. Pure but for the files read."""
