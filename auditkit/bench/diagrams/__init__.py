"""The forms of diagram that the kinds of bench test here share, as data. Pure."""
