"""Many takes: each tightened by itself, with one table over all."""
