"""Studies: many solves of one case."""
