"""Many packets of many shops: the collection, and what is computed from it."""
