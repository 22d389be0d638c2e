"""Command line of regen."""
