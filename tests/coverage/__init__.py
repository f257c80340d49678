"""Coverage bench: how often 95% intervals hold a truth that is known, in simulated practices."""
