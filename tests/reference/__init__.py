"""Published and recomputed check values, run against the public statistics."""
