"""Statistics of shops: numbers in, numbers out. Pure."""
