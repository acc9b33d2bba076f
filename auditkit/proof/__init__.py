"""Is it unchanged? Keys, entries, the tree, packets and their check. Pure."""
