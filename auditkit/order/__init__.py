"""Is the repair shown? A repair order's events, rules and verdict. Pure."""
