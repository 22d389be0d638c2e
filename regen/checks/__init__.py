"""Checks of a solved design against limits."""
