"""The kinds of bench test that the core brings, a module a kind."""
