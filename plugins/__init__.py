"""Shop rules, one file a subject. Found by entry points, never imported by name."""
