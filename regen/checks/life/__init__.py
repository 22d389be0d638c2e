"""Firings to a crack, creep and wear."""
