"""The kinds of bench test that the core brings, one module each."""
